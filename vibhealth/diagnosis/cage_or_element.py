"""Cage or rolling element: both show lines at the cage rate; the shape of the pulse tells them apart.

A defect on a rolling element is carried through the load zone at the cage rate, so its
envelope swings at that rate too (W. A. Smith and R. B. Randall, MSSP 64-65 (2015)
100-131, table 1), smoothly, as the load over the zone does. A cage that strikes once per
turn, against the load or against its land, makes sharp pulses.
"""

from collections.abc import Sequence
from dataclasses import replace

from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.family_sizing import FamilyContext, deepest_reading, judged
from vibhealth.diagnosis.pulse_shape import pulse_shape
from vibhealth.model import CriterionResult, Element, FamilyFinding

__all__ = ["name_cage_or_element"]


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
    kinematic = element.order / (1 + element.slip_percent / 100)
    shape = pulse_shape(
        envelope,
        family.order,
        family.width_lines,
        spin_window=(kinematic * (1 - context.slip), kinematic * (1 + context.slip)),
    )
    is_shown = element.false_alarm_probability <= context.limits.false_alarm_probability
    if is_shown and not shape.is_sharp:
        # The rolling element has lines of its own.
        detail = "the cage-rate lines are those of the rolling element in the load zone"
        others = (Element.CAGE.value,) if shape.is_doubtful else ()
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
            "sharp pulses at the cage rate (harmonics that a rolling element does not make at "
            f"{shape.sharpness:.2f} of the low ones)"
        )
        quiet = replace(
            element, present=False, result=CriterionResult.PASS, detail="its lines are the cage's"
        )
        if shape.is_doubtful:
            detail += "; but its lines are not clearly apart from those of the rolling element"
        both = (Element.ROLLING_ELEMENT.value,) if shape.is_doubtful else ()
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
