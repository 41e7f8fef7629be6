"""Subtract the lines that are locked to the shaft, with all they leak.

Gear, coupling and motion leave steady lines at whole multiples of the shaft speed in the bearing
band. In the envelope their differences stand at whole orders, and their leakage beside them.
In the angle domain a synchronous average takes them out (S. Braun, Acustica 32 (1975) 69-77;
R. B. Randall and J. Antoni, MSSP 25 (2011) 485-520; both from memory); here the same is done line
by line in the spectrum, where a speed known to a part of a line is enough: the strongest line is
fitted with the window's own shape, subtracted with its skirts, and so on
(J. A. Hoegbom, Astronomy and Astrophysics Supplement 15 (1974) 417-426, from memory).
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from vibhealth._check import check_positive
from vibhealth.errors import InputError
from vibhealth.signal.whitening import RecordSpectrum

__all__ = ["remove_shaft_lines", "tapered_line"]

# A line is subtracted where it stands this far above the geometric mean of its surroundings: noise
# (Rayleigh, geometric mean 0.75 of its rms) does so once in 2e5 lines.
STANDS_OUT = 4.7
SURROUNDING_SHARE = 0.005

# Where it is looked for: so many lines and this share of its frequency beside the whole order.
SEARCH_LINES = 1.0
SEARCH_SHARE = 5e-5

# Skirts are subtracted over so many lines on each side.
REACH_LINES = 400
MOST_LINES = 3000
FIT_LINES = 3
POLE = 1e-6


def tapered_line(distance_lines: NDArray[np.float64], taper: float) -> NDArray[np.complex128]:
    """Spectrum of a steady tone at a distance from it, in lines, for a record faded at its ends.

    Parameters
    ----------
    distance_lines : ndarray
        Line number minus the tone's place in lines.
    taper : float
        Faded fraction of the record (Tukey window), 0 to 1.

    Returns
    -------
    ndarray of complex128
        1 - taper / 2 at the tone. Closed form: a rectangle convolved with a cosine
        lobe (F. J. Harris, Proc. IEEE 66 (1978) 51-83, Tukey window).
    """
    d = distance_lines
    near = 1.0 - (taper * d) ** 2
    is_pole = np.abs(near) < POLE
    # cos(pi x / 2) / (1 - x^2) goes to pi / 4 as x goes to 1.
    lobe = np.cos(np.pi * taper * d / 2) / np.where(is_pole, 1.0, near)
    lobe = np.where(is_pole, np.pi / 4, lobe)
    magnitude = (1 - taper / 2) * np.sinc((1 - taper / 2) * d) * lobe
    shape: NDArray[np.complex128] = magnitude * np.exp(-1j * np.pi * d)
    return shape


def remove_shaft_lines(
    spectrum: RecordSpectrum,
    *,
    shaft_frequency_hz: float,
    lowest_hz: float,
    taper: float = 0.01,
) -> RecordSpectrum:
    """Spectrum without the steady lines at whole multiples of the shaft frequency.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As from `vibhealth.signal.record_spectrum` with the same ``taper``.
    shaft_frequency_hz : float
        Above 0.
    lowest_hz : float
        Lines below it stay as they are; 0 or more.
    taper : float
        Faded fraction of the record.

    Returns
    -------
    RecordSpectrum
        Lines that do not stand out of their surroundings stay as they are.

    Raises
    ------
    InputError
        If a value is outside its range.
    """
    check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    if not lowest_hz >= 0:
        msg = f"lowest_hz must be 0 or more, got {lowest_hz:g}"
        raise InputError(msg)
    if not 0 <= taper <= 1:
        msg = f"taper must lie in [0, 1], got {taper}"
        raise InputError(msg)
    lines = spectrum.lines.copy()
    places = _standing_out(lines, spectrum, shaft_frequency_hz, lowest_hz)
    for place, least in places:
        if abs(lines[place]) > least:
            _subtract(lines, place, taper)
    below = int(np.ceil(lowest_hz / spectrum.line_spacing_hz))
    lines[:below] = spectrum.lines[:below]
    return RecordSpectrum(
        lines=lines, n_samples=spectrum.n_samples, sampling_rate_hz=spectrum.sampling_rate_hz
    )


def _standing_out(
    lines: NDArray[np.complex128],
    spectrum: RecordSpectrum,
    shaft_frequency_hz: float,
    lowest_hz: float,
) -> list[tuple[int, float]]:
    """Line numbers near whole orders that stand out, strongest first, and their threshold."""
    magnitude = np.maximum(np.abs(lines), np.finfo(np.float64).tiny)
    width = max(33, round(SURROUNDING_SHARE * lines.size))
    least = STANDS_OUT * np.exp(uniform_filter1d(np.log(magnitude), width, mode="nearest"))
    spacing = spectrum.line_spacing_hz
    first = max(1, int(np.ceil(lowest_hz / shaft_frequency_hz)))
    found = []
    for order in range(first, int(spectrum.nyquist_hz / shaft_frequency_hz) + 1):
        middle = order * shaft_frequency_hz / spacing
        reach = SEARCH_LINES + SEARCH_SHARE * middle
        low, high = max(FIT_LINES, round(middle - reach)), round(middle + reach) + 1
        if high + FIT_LINES >= lines.size:
            break
        at = low + int(np.argmax(magnitude[low:high]))
        if magnitude[at] > least[at]:
            found.append((at, float(least[at])))
    found.sort(key=lambda place: -magnitude[place[0]])
    return found[:MOST_LINES]


def _subtract(lines: NDArray[np.complex128], place: int, taper: float) -> None:
    """Fit a tone about a line and subtract it, skirts and all, in place."""
    near = np.arange(-FIT_LINES, FIT_LINES + 1)
    values = lines[place + near]
    shifts = np.linspace(-0.75, 0.75, 61)
    shapes = tapered_line(near[np.newaxis, :] - shifts[:, np.newaxis], taper)
    energy = np.sum(np.abs(shapes) ** 2, axis=1)
    match = np.abs(shapes.conj() @ values) ** 2 / energy
    best = int(np.argmax(match))
    shift = shifts[best]
    if 0 < best < shifts.size - 1:
        left, middle, right = match[best - 1 : best + 2]
        bend = left - 2 * middle + right
        shift += 0.5 * (left - right) / bend * (shifts[1] - shifts[0]) if bend else 0.0
    shape = tapered_line(near - shift, taper)
    amplitude = np.vdot(shape, values) / np.vdot(shape, shape).real
    low, high = max(1, place - REACH_LINES), min(lines.size, place + REACH_LINES + 1)
    lines[low:high] -= amplitude * tapered_line(np.arange(low, high) - place - shift, taper)
