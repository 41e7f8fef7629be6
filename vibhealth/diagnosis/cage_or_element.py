"""Cage or rolling element: both show lines at the cage rate; the shape of the pulse tells them apart.

A defect on a rolling element is carried through the load zone at the cage rate, so its
envelope swings at that rate too (W. A. Smith and R. B. Randall, MSSP 64-65 (2015)
100-131, table 1), smoothly, as the load over the zone does. A cage that strikes once per
turn, against the load or against its land, makes sharp pulses.
"""

from collections.abc import Sequence
from dataclasses import replace

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.cage_speed import cage_reading
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.family_sizing import FamilyContext, deepest_reading, judged
from vibhealth.diagnosis.pulse_shape import is_cage_line, pulse_shape
from vibhealth.model import CriterionResult, Element, FamilyFinding

__all__ = ["name_cage_or_element"]

# Twice the spin this near (a share of it) to a multiple of the cage's line cannot be told from it.
MEETING_SHARE = 0.004


def name_cage_or_element(
    context: FamilyContext,
    findings: Sequence[FamilyFinding],
    found: Sequence[FoundFamily],
) -> list[FamilyFinding]:
    """Give the cage-rate lines of each bearing to the cage, the rolling element, or either.

    Where the rolling element shows lines of its own, the cage-rate lines are its load zone.
    Where it does not, sharp pulses are the cage's and a smooth swing may be either's: it is
    reported as rolling element, ambiguous with the cage, since a defect on a ball that
    tumbles shows little else.

    Parameters
    ----------
    context : FamilyContext
        Limits and bearings.
    findings : sequence of FamilyFinding
        One per family.
    found : sequence of FoundFamily
        What the search made of them.

    Returns
    -------
    list of FamilyFinding
        In the same order.
    """
    named = list(findings)
    for i, cage in enumerate(findings):
        if cage.element is not Element.CAGE or not cage.present:
            continue
        family = next(f for f in found if f.comb.key == (cage.bearing, Element.CAGE))
        j = next(
            (
                j
                for j, other in enumerate(findings)
                if (other.bearing, other.element) == (cage.bearing, Element.ROLLING_ELEMENT)
            ),
            None,
        )
        if j is None:
            named[i] = replace(
                cage,
                ambiguous_with=(Element.ROLLING_ELEMENT.value,),
                detail="the card gives no order for the rolling element, so it was not searched",
            )
            continue
        named[i], named[j] = _pair(context, cage, findings[j], family)
    return named


def _pair(
    context: FamilyContext, cage: FamilyFinding, element: FamilyFinding, family: FoundFamily
) -> tuple[FamilyFinding, FamilyFinding]:
    """Cage and rolling element of one bearing, the cage family present."""
    _, envelope = deepest_reading(family)
    shape = pulse_shape(envelope, family.order, family.width_lines)
    is_harmonic = is_cage_line(
        family.order,
        element.order,
        order_spacing=envelope.order_spacing,
        width=family.width_lines,
    )
    is_met = _meets_cage_line(context, cage, element, envelope, family)
    is_stronger = cage.evidence > element.evidence
    is_shown = element.false_alarm_probability <= context.limits.false_alarm_probability
    if is_shown and not (is_harmonic and shape.is_sharp and is_stronger):
        # The rolling element has lines of its own.
        detail = "the cage-rate lines are those of the rolling element in the load zone"
        others = (Element.CAGE.value,) if is_harmonic or is_met else ()
        larger = max(element, cage, key=lambda finding: finding.depth_whitened)
        return (
            replace(
                cage,
                present=False,
                result=CriterionResult.PASS,
                detail=detail,
                ambiguous_with=(Element.ROLLING_ELEMENT.value,),
            ),
            judged(
                replace(
                    element,
                    depth=larger.depth,
                    depth_whitened=larger.depth_whitened,
                    depth_interval=larger.depth_interval,
                    band_hz=larger.band_hz,
                    ambiguous_with=others,
                ),
                context.limits,
            ),
        )
    if shape.is_sharp:
        detail = (
            f"sharp pulses at the cage rate (high harmonics at {shape.sharpness:.2f} of the low)"
        )
        quiet = replace(
            element, present=False, result=CriterionResult.PASS, detail="its lines are the cage's"
        )
        if is_met:
            detail += "; but twice the spin meets a multiple of the cage's line in this bearing"
        both = (Element.ROLLING_ELEMENT.value,) if is_met else ()
        return replace(cage, detail=detail, ambiguous_with=both), quiet if is_shown else element
    joint = replace(
        element,
        false_alarm_probability=cage.false_alarm_probability,
        depth=cage.depth,
        depth_whitened=cage.depth_whitened,
        impact_m_s2=cage.impact_m_s2,
        depth_interval=cage.depth_interval,
        impact_interval_m_s2=cage.impact_interval_m_s2,
        evidence=cage.evidence,
        band_hz=cage.band_hz,
        ambiguous_with=(Element.CAGE.value,),
        detail=f"size and significance are those of its lines at the cage rate ({cage.order:.3f}x)",
    )
    detail = "cage-rate lines are explained by the rolling element or by the cage"
    return (
        replace(cage, present=False, detail=detail, ambiguous_with=("rolling-element",)),
        judged(joint, context.limits),
    )


def _meets_cage_line(
    context: FamilyContext,
    cage: FamilyFinding,
    element: FamilyFinding,
    envelope: EnvelopeOrders,
    family: FoundFamily,
) -> bool:
    """Whether, at the found cage speed, pure rolling puts twice the spin on a line of the cage."""
    bearing = next(b for b in context.bearings if b.name == cage.bearing)
    reading = cage_reading(bearing, family)
    if reading is None:
        return False
    kinematic = element.order / (1 + element.slip_percent / 100)
    rolling = kinematic * reading.order / defect_orders(bearing).cage
    return any(
        is_cage_line(
            family.order,
            rolling * (1 + off),
            order_spacing=envelope.order_spacing,
            width=family.width_lines,
        )
        for off in (-MEETING_SHARE, -MEETING_SHARE / 2, 0.0, MEETING_SHARE / 2, MEETING_SHARE)
    )
