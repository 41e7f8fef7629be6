"""Which known family a line fits, in words; empty where none does."""

from collections.abc import Iterator, Sequence

from vibhealth.bearing import family_orders
from vibhealth.errors import VibhealthError
from vibhealth.model import Element, RollingBearing

__all__ = ["Found", "explain_order"]

HARMONICS = 5
# Centre of the window of a family is its kinematic order: its cage may slip, and a line is wide.
LEAST_REACH = 0.04
LOCK_REACH = 0.04
# A family that was found explains its own lines before any that was not.
FOUND_FIRST = -100

# Bearing, element and the order at which the family was found.
Found = tuple[str, Element, float]


def explain_order(
    order: float,
    bearings: Sequence[RollingBearing],
    *,
    slip_percent: float,
    found: Sequence[Found] = (),
) -> str:
    """Say which line of which family an order fits: of a found family first, then the plainest.

    Parameters
    ----------
    order : float
        Multiple of the shaft speed, above 0.
    bearings : sequence of RollingBearing
        Of the card.
    slip_percent : float
        Half width of a family's window about its kinematic order.
    found : sequence of (str, Element, float)
        Families that were found, with the order of their first centre line: their lines are
        looked for where they are, not where the card puts them.

    Returns
    -------
    str
        For example ``"2x the outer ring of bearing upper, minus 1.00 orders"``.
    """
    half = round(2 * order) / 2
    if half > 0 and abs(order - half) <= LOCK_REACH:
        return f"{half:g}x the shaft speed"
    fits = sorted(_candidates(order, bearings, slip_percent, found))
    return fits[0][2] if fits else ""


def _candidates(
    order: float,
    bearings: Sequence[RollingBearing],
    slip_percent: float,
    found: Sequence[Found],
) -> Iterator[tuple[float, float, str]]:
    """How far-fetched each fit is, how far away, and its words."""
    at = {(bearing, element): measured for bearing, element, measured in found}
    for bearing in bearings:
        for element in Element:
            try:
                comb = family_orders(bearing, element, harmonics=HARMONICS)
            except VibhealthError:  # orders of this element are not known
                continue
            centres = [line.order for line in comb if (line.harmonic, line.side_band) == (1, 0)]
            measured = at.get((bearing.name, element))
            is_found = measured is not None and bool(centres) and element is not Element.CAGE
            for line in comb:
                side = line.side_band * line.spacing_order
                centre, place = line.order - side, line.order
                reach = max(LEAST_REACH, 0.01 * slip_percent * max(centre, line.order))
                if is_found and measured is not None:
                    place = line.harmonic * measured + side
                    reach = LEAST_REACH * max(1, line.harmonic)
                if abs(order - place) > reach:
                    continue
                times = f"{line.harmonic}x the " if line.harmonic > 1 else "the "
                beside = (
                    f", {'plus' if side > 0 else 'minus'} {abs(side):.2f} orders" if side else ""
                )
                words = f"{times}{element.words} of bearing {bearing.name}{beside}"
                fetched = line.harmonic + 2 * abs(line.side_band)
                yield fetched + (FOUND_FIRST if is_found else 0), abs(order - place), words
