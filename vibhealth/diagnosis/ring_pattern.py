"""One mark on a ring, or marks at the spacing of the elements all round it.

A single spall is carried through the load zone (or the load past it), so its strikes swell and
fade at the load's spacing. Marks at every element spacing, as standing or knocking at rest leaves
them (true and false brinelling: ISO 15243, from memory), are struck by all elements at once:
some are always in the load zone, and the strikes keep their strength. That is only telling
where a single spall would show strong side bands at all.
"""

from typing import Literal

from vibhealth.diagnosis.comb import HARMONICS, harmonic_widths
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.sizes import line_depth
from vibhealth.model import Element

__all__ = ["Pattern", "ring_pattern", "side_to_centre"]

Pattern = Literal["", "single-mark", "marks-at-every-element"]

# Power of a load side band over its centre line. A load that falls as the 1.5th power over a zone
# of +-60 to +-180 degrees gives 0.5 to 0.9 (closed form by quadrature in the tests); marks all round
# give what the changing path leaves, below 0.1.
SINGLE_ABOVE = 0.40
MARKS_BELOW = 0.20
# Centre lines must stand so deep that a side band of the larger limit would be seen.
LEAST_CENTRE_DEPTH = 0.15
SIDE_BAND_SEARCH_LINES = 2


def side_to_centre(family: FoundFamily, envelope: EnvelopeOrders) -> float | None:
    """Mean power of the strong side bands over that of the centre lines, three harmonics summed.

    Parameters
    ----------
    family : FoundFamily
        Of a ring.
    envelope : EnvelopeOrders
        Squared envelope in which it is read.

    Returns
    -------
    float or None
        None where the load case makes no strong side bands, or nothing stands at the centre.
    """
    strong = [band for band in family.comb.spacings if band.strength == "strong"]
    if not strong:
        return None
    centre = sides = 0.0
    for harmonic, width in zip(HARMONICS, harmonic_widths(family.width_lines), strict=True):
        middle = harmonic * family.order
        centre += line_depth(envelope, middle, width) ** 2
        pair = [
            _largest(envelope, abs(middle + sign * strong[0].spacing_order), width)
            for sign in (-1, 1)
        ]
        sides += 0.5 * sum(pair)
    return sides / centre if centre > 0 else None


def _largest(envelope: EnvelopeOrders, order: float, width: int) -> float:
    """Largest power within a few lines: the shaft's speed is known no better in a short record."""
    offsets = range(-SIDE_BAND_SEARCH_LINES, SIDE_BAND_SEARCH_LINES + 1)
    step = envelope.order_spacing
    return max(line_depth(envelope, order + offset * step, width) ** 2 for offset in offsets)


def ring_pattern(family: FoundFamily, envelope: EnvelopeOrders, depth: float) -> Pattern:
    """What the side bands say of a ring's marks; empty where they cannot say.

    Parameters
    ----------
    family : FoundFamily
        Any element; only rings have a pattern.
    envelope : EnvelopeOrders
        Squared envelope in which it is read.
    depth : float
        Its depth there.
    """
    if family.comb.element not in {Element.OUTER_RING, Element.INNER_RING}:
        return ""
    ratio = side_to_centre(family, envelope)
    if ratio is None or depth < LEAST_CENTRE_DEPTH:
        return ""
    if ratio >= SINGLE_ABOVE:
        return "single-mark"
    return "marks-at-every-element" if ratio <= MARKS_BELOW else ""
