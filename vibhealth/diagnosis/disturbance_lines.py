"""Lines in the bearing band that keep to their Hz whatever the shaft does.

A line of noise over its local mean is exponentially distributed, so what noise alone
shows anywhere in the band with a stated probability is known. What is locked to the
shaft spreads in a long transform as the speed wanders; a line that stays as sharp as the
transform allows, although its place in orders wandered by more than a turn, is not from
the shaft. Where the speed is too steady for that, a whole order tells.
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

# A line locked to the shaft is spread where the shaft's angle, times the order, strays from a
# steady turn by this many turns.
STRAY_TURNS = 1.0

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
    numbers : ndarray of int
        All lines of the spectrum that belong to them.
    """

    frequencies_hz: NDArray[np.float64]
    energies: NDArray[np.float64]
    numbers: NDArray[np.int64]


def fixed_lines(
    spectrum: RecordSpectrum,
    band_hz: tuple[float, float],
    *,
    shaft_frequency_hz: float | None,
    stray_turns: float,
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

    Returns
    -------
    FixedLines

    Raises
    ------
    InputError
        If the band is outside the spectrum.
    """
    low, high = check_band(band_hz, nyquist_hz=spectrum.nyquist_hz)
    first, last = (round(edge / spectrum.line_spacing_hz) for edge in (low, high))
    power = np.abs(spectrum.lines[first:last]) ** 2
    nothing = FixedLines(
        frequencies_hz=np.zeros(0), energies=np.zeros(0), numbers=np.zeros(0, dtype=np.int64)
    )
    if shaft_frequency_hz is None or power.size < 2 * SAME_LINE:
        return nothing
    floor = np.max(
        [
            local_floor(np.append(0.0, power), min(width, power.size // 2 + 8))[1:]
            for width in FLOOR_LINES
        ],
        axis=0,
    )
    level = math.log(power.size / FALSE_ALARM_PROBABILITY)
    standing = np.flatnonzero(power > level * floor)
    if standing.size == 0:
        return nothing
    excess = power - floor
    frequencies, energies, numbers = [], [], []
    for group in np.split(standing, np.flatnonzero(np.diff(standing) > SAME_LINE) + 1):
        span = slice(max(0, group[0] - SHARP_HALF_WIDTH), group[-1] + SHARP_HALF_WIDTH + 1)
        peak = int(group[np.argmax(power[group])])
        middle = slice(max(0, peak - SHARP_HALF_WIDTH), peak + SHARP_HALF_WIDTH + 1)
        whole = float(np.maximum(excess[span], 0.0).sum())
        if float(np.maximum(excess[middle], 0.0).sum()) < SHARP_SHARE * whole:
            continue
        frequency_hz = (first + peak) * spectrum.line_spacing_hz
        if _may_be_the_shafts(frequency_hz / shaft_frequency_hz, stray_turns):
            continue
        frequencies.append(frequency_hz)
        energies.append(whole / float(power.sum()))
        numbers.append(first + np.arange(power.size)[span])
    if not frequencies:
        return nothing
    return FixedLines(
        frequencies_hz=np.array(frequencies),
        energies=np.array(energies),
        numbers=np.concatenate(numbers),
    )


def _may_be_the_shafts(order: float, stray_turns: float) -> bool:
    """Whether a sharp line at this order could be locked to the shaft."""
    if order * stray_turns > STRAY_TURNS:
        return False
    return abs(order - round(order)) <= WHOLE_ORDER_SHARE + SPEED_SHARE * order
