"""Lines in the bearing band that keep to their Hz whatever the shaft does.

A line of noise over its local mean is exponentially distributed, so what noise alone
shows anywhere in the band with a stated probability is known. What is locked to the
shaft spreads in a long transform as the speed wanders; a line that stays as sharp as the
transform allows, although its place in orders wandered by more than a turn, is not from
the shaft. Where the speed is too steady for that, a bearing's lines are as sharp as any, and only
a line with side bands twice the mains frequency to both sides is taken for electrical.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth._check import check_band
from vibhealth.signal import RecordSpectrum, local_floor

__all__ = ["FixedLines", "fixed_lines"]

# The probability that noise alone shows a line anywhere in the band.
FALSE_ALARM_PROBABILITY = 0.01

# The floor is the larger of two running medians over so many lines: the wide one is sure, the
# narrow one follows what is spread over a few lines, as a family with slip or a shaft's order is.
FLOOR_LINES = (2001, 129)

# Lines at most so far apart are one; sharp is what holds this share of its power in the middle
# five lines (the 1 % fade of the record's ends spreads a steady line over no more).
SAME_LINE = 8
SHARP_HALF_WIDTH = 2
SHARP_SHARE = 0.7

# Around a sharp line nothing else stands within the spread that the speed's variation gives a line of
# the shaft, looked at up to this many Hz (side bands of a supply lie farther), from this height
# over the floor.
WIDEST_SPREAD_HZ = 20.0
STANDING = 4.0

# A line locked to the shaft is spread where the shaft's angle, times the order, strays from a
# steady turn by this many turns.
STRAY_TURNS = 1.0

# Twice the mains frequency: distance of the side bands of a converter fed or feeding at 50 or 60 Hz.
TWICE_MAINS_HZ = (100.0, 120.0)

# A line this near to a whole order (as a share of an order, and of the speed's uncertainty) may
# be the shaft's; above the order where that uncertainty fills the turn nothing can be said.
WHOLE_ORDER_SHARE = 0.02
SPEED_SHARE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedLines:
    """Sharp lines of one spectrum that are not the shaft's.

    Attributes
    ----------
    frequencies_hz : ndarray, shape (n_lines,)
        Rising.
    energies : ndarray, shape (n_lines,)
        Share of the band's energy beyond the floor.
    """

    frequencies_hz: NDArray[np.float64]
    energies: NDArray[np.float64]


def fixed_lines(
    spectrum: RecordSpectrum,
    band_hz: tuple[float, float],
    *,
    shaft_frequency_hz: float | None,
    stray_turns: float,
    speed_spread: float,
) -> FixedLines:
    """Find the sharp lines of a band and tell which cannot be the shaft's.

    Parameters
    ----------
    spectrum : RecordSpectrum
        Of samples at equal times.
    band_hz : tuple of float
        Within the spectrum.
    shaft_frequency_hz : float or None
        Mean over the record; without it no line can be told from the shaft's, and none
        is returned.
    stray_turns : float
        By how much the shaft's angle strayed from a steady turn, peak to peak.
    speed_spread : float
        Largest deviation of the shaft frequency from its mean, as a share of it.

    Returns
    -------
    FixedLines

    Raises
    ------
    InputError
        If the band is outside the spectrum.
    """
    low, high = check_band(band_hz, nyquist_hz=spectrum.nyquist_hz)
    spacing_hz = spectrum.line_spacing_hz
    first, last = round(low / spacing_hz), round(high / spacing_hz)
    power = np.abs(spectrum.lines[first:last]) ** 2
    if shaft_frequency_hz is None or power.size < 2 * SAME_LINE:
        return FixedLines(frequencies_hz=np.zeros(0), energies=np.zeros(0))
    wide, narrow = (_floor(power, width) for width in FLOOR_LINES)
    level = math.log(power.size / FALSE_ALARM_PROBABILITY)
    over = np.flatnonzero(power > level * np.maximum(wide, narrow))
    sums = np.concatenate([[0.0], np.cumsum(np.maximum(power - STANDING * wide, 0.0))])
    frequencies, energies, steady = [], [], []
    for group in np.split(over, np.flatnonzero(np.diff(over) > SAME_LINE) + 1):
        if group.size == 0:
            continue
        peak = int(group[np.argmax(power[group])])
        frequency_hz = (first + peak) * spacing_hz
        spread = round(min(WIDEST_SPREAD_HZ, speed_spread * frequency_hz) / spacing_hz)
        is_sharp = _is_sharp(sums, group, peak, spread)
        order = frequency_hz / shaft_frequency_hz
        is_steady = order * stray_turns <= STRAY_TURNS
        if not is_sharp or (is_steady and _is_whole(order)):
            continue
        own = np.arange(group[0] - SHARP_HALF_WIDTH, group[-1] + SHARP_HALF_WIDTH + 1)
        own = own[(own >= 0) & (own < power.size)]
        frequencies.append(frequency_hz)
        steady.append(is_steady)
        energies.append(float(np.maximum(power - wide, 0.0)[own].sum() / power.sum()))
    found_hz = np.array(frequencies, dtype=np.float64)
    kept = ~np.array(steady, dtype=np.bool_) | _is_electrical(
        found_hz, shaft_frequency_hz, SHARP_HALF_WIDTH * spacing_hz
    )
    return FixedLines(
        frequencies_hz=found_hz[kept], energies=np.array(energies, dtype=np.float64)[kept]
    )


def _floor(power: NDArray[np.float64], width_lines: int) -> NDArray[np.float64]:
    """Local floor of all lines (`local_floor` leaves out its first)."""
    return local_floor(np.append(0.0, power), min(width_lines, power.size // 2 + 8))[1:]


def _is_sharp(sums: NDArray[np.float64], group: NDArray[np.int64], peak: int, spread: int) -> bool:
    """Whether the lines about the peak hold what stands within the shaft's spread.

    ``sums[k]`` is what stands in the first ``k`` lines.
    """

    def standing(low: int, high: int) -> float:
        return float(sums[min(sums.size - 1, high + 1)] - sums[max(0, low)])

    reach = SHARP_HALF_WIDTH + spread
    whole = standing(
        min(int(group[0]) - SHARP_HALF_WIDTH, peak - reach),
        max(int(group[-1]) + SHARP_HALF_WIDTH, peak + reach),
    )
    return standing(peak - SHARP_HALF_WIDTH, peak + SHARP_HALF_WIDTH) >= SHARP_SHARE * whole > 0


def _is_whole(order: float) -> bool:
    """Whether a line at this order may be one of the shaft's."""
    return abs(order - round(order)) <= WHOLE_ORDER_SHARE + SPEED_SHARE * order


def _is_electrical(
    frequencies_hz: NDArray[np.float64], shaft_frequency_hz: float, tolerance_hz: float
) -> NDArray[np.bool_]:
    """Lines with side bands at twice the mains frequency, and those side bands.

    Nothing where the shaft's own side bands fall there.
    """
    electrical = np.zeros(frequencies_hz.shape, dtype=np.bool_)
    for distance_hz in TWICE_MAINS_HZ:
        if _is_whole(distance_hz / shaft_frequency_hz):
            continue
        sides = [
            np.abs(frequencies_hz - (frequencies_hz + sign * distance_hz)[:, None]) <= tolerance_hz
            for sign in (-1, 1)
        ]
        carriers = sides[0].any(axis=1) & sides[1].any(axis=1)
        electrical |= carriers
        for side in sides:
            electrical |= side[carriers].any(axis=0)
    return electrical
