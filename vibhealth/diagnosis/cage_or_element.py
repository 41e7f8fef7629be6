"""Cage or rolling element: both show lines at the cage rate; the shape of the pulse tells them apart.

A defect on a rolling element is carried through the load zone at the cage rate, so its
envelope swings at that rate too (W. A. Smith and R. B. Randall, MSSP 64-65 (2015)
100-131, table 1): a smooth swing, whose harmonics die out after the third or fourth, as
the load over the zone does. A cage that strikes once per turn, against the load or against
its land, makes sharp pulses, whose harmonics go on (a train of short pulses has a flat
spectrum: closed form).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vibhealth.diagnosis.comb import SHAFT_LINE_HALF_WIDTH
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.family_sizing import FamilyContext, deepest_reading, judged
from vibhealth.diagnosis.sizes import line_depth
from vibhealth.model import Element, FamilyFinding

__all__ = ["name_cage_or_element", "pulse_sharpness"]

LOW_HARMONICS = (1, 2, 3)
HIGH_HARMONICS = (5, 6, 7, 8, 9, 10)
# Mean power of the high harmonics over that of the low ones: 1 for short pulses, below 0.01 for a
# load that falls as the 1.5th power over a zone of +-60 degrees and more (closed form by
# quadrature in the tests).
SHARP = 0.12
SMOOTH = 0.05
FEWEST_HARMONICS = 3
NARROWEST_WIDTH = 3


def pulse_sharpness(envelope: EnvelopeOrders, order: float, width_lines: int) -> float | None:
    """Mean power of the 5th to 10th harmonic over that of the first three.

    Parameters
    ----------
    envelope : EnvelopeOrders
        Squared envelope, whitened.
    order : float
        First line of the cage family, above 0.
    width_lines : int
        Lines over which the first line is spread; the n-th is spread over n times as many.

    Returns
    -------
    float or None
        None where fewer than three of the high harmonics are clear of the shaft's own lines.
    """
    width = max(NARROWEST_WIDTH, width_lines)

    def powers(harmonics: Sequence[int]) -> list[float]:
        return [
            _power(envelope, number * order, (number * width) | 1)
            for number in harmonics
            if _is_clear(envelope, number * order)
        ]

    low, high = powers(LOW_HARMONICS), powers(HIGH_HARMONICS)
    if len(high) < FEWEST_HARMONICS or not low or sum(low) <= 0:
        return None
    return float(np.mean(high) / np.mean(low))


def _power(envelope: EnvelopeOrders, order: float, width: int) -> float:
    return line_depth(envelope, order, width) ** 2


def _is_clear(envelope: EnvelopeOrders, order: float) -> bool:
    distance = abs(2 * order - round(2 * order)) / 2
    is_inside = order + envelope.order_spacing < envelope.order[-1]
    return is_inside and distance > (SHAFT_LINE_HALF_WIDTH + 2) * envelope.order_spacing


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
    sharpness = pulse_sharpness(envelope, family.order, family.width_lines)
    is_harmonic = _is_cage_line(envelope, family, element.order)
    if element.present and not (is_harmonic and sharpness is not None and sharpness > SHARP):
        detail = "the cage-rate lines are those of the rolling element in the load zone"
        others = (Element.CAGE.value,) if is_harmonic else ()
        return (
            replace(cage, present=False, detail=detail, ambiguous_with=("rolling-element",)),
            replace(element, ambiguous_with=others),
        )
    if sharpness is not None and sharpness > SHARP:
        detail = f"sharp pulses at the cage rate (high harmonics at {sharpness:.2f} of the low)"
        quiet = replace(element, present=False, detail="its lines are the cage's")
        return replace(cage, detail=detail), quiet if element.present else element
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


def _is_cage_line(envelope: EnvelopeOrders, family: FoundFamily, order: float) -> bool:
    """Whether an order is a harmonic of the cage family, as far as the lines can tell."""
    number = max(1, round(order / family.order))
    reach = (1.5 + 0.5 * number * max(NARROWEST_WIDTH, family.width_lines)) * envelope.order_spacing
    return abs(order - number * family.order) <= min(reach, 0.2 * family.order)
