"""Naming a family: blind spots, and what it cannot be told from."""

from collections.abc import Sequence
from dataclasses import replace

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, envelope_orders
from vibhealth.diagnosis.family_sizing import FamilyContext, judged
from vibhealth.diagnosis.shaft_locked import shaft_locked_family
from vibhealth.diagnosis.sizes import line_to_floor_db, modulation_depth
from vibhealth.model import CriterionResult, FamilyFinding, RollingBearing

__all__ = ["name_coinciding", "with_blind_spot"]


def with_blind_spot(
    context: FamilyContext, finding: FamilyFinding, envelopes: Sequence[EnvelopeOrders]
) -> FamilyFinding:
    """Mark a family whose slip range holds a whole order, and look at the shaft line itself."""
    spot = next(
        (
            spot
            for spot in context.spots
            if spot.bearing == finding.bearing
            and spot.element is finding.element
            and spot.kind == "shaft-line"
        ),
        None,
    )
    if spot is None:
        return finding
    marked = replace(finding, blind_spot=True, detail=spot.sentence)
    if spot.at_order is None or not float(spot.at_order).is_integer():
        return marked
    if finding.result is CriterionResult.HOLD:
        return marked  # it has lines of its own, beside the shaft's
    locked = shaft_locked_family(envelopes, int(spot.at_order))
    probability = min(1.0, locked.probability * context.n_families)
    if (
        probability > context.limits.false_alarm_probability
        or locked.depth <= finding.depth_whitened
    ):
        return marked
    recorded = envelope_orders(
        context.recorded,
        locked.envelope.band_hz,
        shaft_frequency_hz=context.shaft_frequency_hz,
        highest_order=context.highest_order,
    )
    order = float(spot.at_order)
    at_shaft = replace(
        marked,
        order=order,
        frequency_hz=order * context.shaft_frequency_hz,
        slip_percent=100 * (order / (finding.order / (1 + finding.slip_percent / 100)) - 1),
        false_alarm_probability=probability,
        depth=modulation_depth(recorded, order, 1),
        depth_whitened=locked.depth,
        band_hz=locked.envelope.band_hz,
        line_to_floor_db=line_to_floor_db(locked.envelope, order, 1),
        ambiguous_with=(f"{spot.at_order:g}x of the shaft",),
    )
    return judged(at_shaft, context.limits)


def name_coinciding(
    context: FamilyContext, findings: list[FamilyFinding], bearings: Sequence[RollingBearing]
) -> list[FamilyFinding]:
    """Name every element and bearing that this family could as well belong to."""
    named = []
    for finding in findings:
        others = list(finding.ambiguous_with)
        for other in findings:
            if other is finding or (other.bearing, other.element) == (
                finding.bearing,
                finding.element,
            ):
                continue
            kinematic = other.order / (1 + other.slip_percent / 100)
            if abs(finding.order / kinematic - 1) <= context.slip and finding.present:
                same = other.bearing == finding.bearing
                others.append(
                    other.element.value if same else f"{other.element.value} of {other.bearing}"
                )
        own = next(b for b in context.bearings if b.name == finding.bearing)
        others += [
            f"{finding.element.value} of {bearing.name}"
            for bearing in bearings
            if bearing.name != own.name
            and defect_orders(bearing) == defect_orders(own)
            and bearing.load_case == own.load_case
        ]
        named.append(replace(finding, ambiguous_with=tuple(dict.fromkeys(others))))
    return named
