"""Which known family a line fits, in words; empty where none does."""

from collections.abc import Iterator, Sequence

from vibhealth.bearing import family_orders
from vibhealth.errors import VibhealthError
from vibhealth.model import Element, RollingBearing

__all__ = ["explain_order"]

HARMONICS = 5
# Centre of the window of a family is its kinematic order: its cage may slip, and a line is wide.
LEAST_REACH = 0.04
LOCK_REACH = 0.04


def explain_order(order: float, bearings: Sequence[RollingBearing], *, slip_percent: float) -> str:
    """Say which line of which family an order fits, the plainest one first.

    Parameters
    ----------
    order : float
        Multiple of the shaft speed, above 0.
    bearings : sequence of RollingBearing
        Of the card.
    slip_percent : float
        Half width of a family's window about its kinematic order.

    Returns
    -------
    str
        For example ``"fits 2x the outer ring of bearing upper, minus 1.00 orders"``.
    """
    half = round(2 * order) / 2
    if half > 0 and abs(order - half) <= LOCK_REACH:
        return f"{half:g}x the shaft speed"
    fits = sorted(
        (harmonic + 2 * abs(side), abs(away), words)
        for harmonic, side, away, words in _candidates(order, bearings, slip_percent)
    )
    return fits[0][2] if fits else ""


def _candidates(
    order: float, bearings: Sequence[RollingBearing], slip_percent: float
) -> Iterator[tuple[int, int, float, str]]:
    for bearing in bearings:
        for element in Element:
            try:
                comb = family_orders(bearing, element, harmonics=HARMONICS)
            except VibhealthError:  # orders of this element are not known
                continue
            for line in comb:
                away = order - line.order
                centre = line.order - line.side_band * line.spacing_order
                if abs(away) <= max(LEAST_REACH, 0.01 * slip_percent * max(centre, line.order)):
                    times = f"{line.harmonic}x the " if line.harmonic > 1 else "the "
                    side = line.side_band * line.spacing_order
                    beside = (
                        f", {'plus' if side > 0 else 'minus'} {abs(side):.2f} orders"
                        if side
                        else ""
                    )
                    words = f"{times}{element.words} of bearing {bearing.name}{beside}"
                    yield line.harmonic, line.side_band, away, words
