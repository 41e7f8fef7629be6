"""Naming a family: blind spots, cage or rolling element, what it cannot be told from."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.comb import Comb
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, envelope_orders
from vibhealth.diagnosis.explained import explained_lines
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.family_sizing import FamilyContext, deepest_reading, judged
from vibhealth.diagnosis.shaft_locked import shaft_locked_family
from vibhealth.diagnosis.sizes import line_to_floor_db, modulation_depth
from vibhealth.model import Element, FamilyFinding, RollingBearing

__all__ = ["excludes_element", "name_cage_or_element", "name_coinciding", "with_blind_spot"]

# A rolling element is excluded beside a cage family where, between the cage's own lines, its comb
# reaches at most this share of the cage family's depth anywhere in its slip window, and where at
# least this share of the window lies between them (starting values, from simulated cage defects
# and the open recordings of rolling-element defects).
EXCLUDED_SHARE = 0.12
LEAST_WINDOW = 0.2
EXCLUSION_WIDTH = 3


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


def excludes_element(context: FamilyContext, family: FoundFamily, combs: Sequence[Comb]) -> bool:
    """Whether this cage family's band shows that nothing strikes at twice the spin order."""
    comb = next(
        (
            comb
            for comb in combs
            if comb.bearing == family.comb.bearing and comb.element is Element.ROLLING_ELEMENT
        ),
        None,
    )
    if family.comb.element is not Element.CAGE or comb is None:
        return False
    _, envelope = deepest_reading(family)
    masked = explained_lines(
        envelope.order,
        family.order,
        order_spacing=envelope.order_spacing,
        width_lines=family.width_lines,
    )
    low, high = (comb.strike_order * (1 + sign * context.slip) for sign in (-1, 1))
    window = np.arange(low, high, 0.5 * envelope.order_spacing)
    number = np.minimum(np.rint(window / envelope.order_spacing).astype(int), masked.size - 1)
    between = window[~masked[number]]
    if between.size < LEAST_WINDOW * window.size:
        return False
    cage_depth = modulation_depth(envelope, family.order, family.width_lines)
    largest = max(modulation_depth(envelope, order, EXCLUSION_WIDTH) for order in between)
    return largest <= EXCLUDED_SHARE * cage_depth


def name_cage_or_element(
    context: FamilyContext, findings: list[FamilyFinding], excluded: set[str]
) -> list[FamilyFinding]:
    """A cage-rate family belongs to the rolling element too, unless that is excluded.

    A defect on a rolling element is carried through the load zone at the cage
    rate, so its family includes the cage's lines (W. A. Smith and R. B. Randall,
    MSSP 64-65 (2015) 100-131, table 1). Only where the recording is sharp enough
    to show that nothing strikes at twice the spin order is the cage named alone.
    """
    named = list(findings)
    for i, cage in enumerate(findings):
        if cage.element is not Element.CAGE or not cage.present:
            continue
        if (cage.bearing, Element.ROLLING_ELEMENT) not in {
            (f.bearing, f.element) for f in findings
        }:
            named[i] = replace(
                cage,
                ambiguous_with=(Element.ROLLING_ELEMENT.value,),
                detail="the card gives no order for the rolling element, so it was not searched",
            )
        for j, other in enumerate(findings):
            if other.bearing != cage.bearing or other.element is not Element.ROLLING_ELEMENT:
                continue
            if cage.bearing in excluded and not other.present:
                continue
            named[i] = replace(
                cage,
                present=False,
                ambiguous_with=(Element.ROLLING_ELEMENT.value,),
                detail="cage-rate lines are explained by the rolling element or by the cage",
            )
            if not other.present:
                joint = replace(
                    other,
                    false_alarm_probability=cage.false_alarm_probability,
                    depth=cage.depth,
                    depth_whitened=cage.depth_whitened,
                    impact_m_s2=cage.impact_m_s2,
                    depth_interval=cage.depth_interval,
                    impact_interval_m_s2=cage.impact_interval_m_s2,
                    evidence=cage.evidence,
                    band_hz=cage.band_hz,
                    detail="size and significance are those of its lines at the cage rate "
                    f"({cage.order:.3f}x)",
                )
                named[j] = judged(joint, context.limits)
            named[j] = replace(named[j], ambiguous_with=(Element.CAGE.value,))
    return named


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
