"""The largest line near a frequency, read between the lines."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth._check import check_positive
from vibhealth.errors import InputError
from vibhealth.signal.spectrum import Spectrum

__all__ = ["LinePeak", "line_peak"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePeak:
    """The highest line in a search range, refined between the lines.

    ``is_interpolated`` is False when the values are those of the line itself
    (then the amplitude may be low by the window's scallop loss and the frequency
    off by half a line); ``is_local_maximum`` is False when the largest value
    stands at an edge of the range and still rises beyond it.
    """

    frequency_hz: float
    amplitude: float
    line_frequency_hz: float
    is_interpolated: bool
    is_local_maximum: bool


def line_peak(spectrum: Spectrum, near_hz: float, half_width_hz: float) -> LinePeak:
    r"""Largest line near a frequency, refined between the lines for the Hann window.

    With the amplitude ratio :math:`\alpha` of the larger neighbour to the
    largest line, a sinusoid stands :math:`\delta = (2 \alpha - 1)/(\alpha + 1)`
    lines towards that neighbour and has the amplitude of the line times
    :math:`\pi \delta (1 - \delta^2) / \sin \pi \delta` (Grandke, IEEE Trans.
    Instrum. Meas. 32 (1983) 350-355, from memory). Exact for one steady sinusoid
    far from line 0 and from others; a line that has no room for both neighbours,
    or another window, is given as it stands.

    Parameters
    ----------
    spectrum : Spectrum
        Amplitude spectrum of one channel.
    near_hz : float
        Centre of the search range.
    half_width_hz : float
        Half of the search range, above 0.

    Returns
    -------
    LinePeak

    Raises
    ------
    InputError
        If the spectrum is not an amplitude spectrum of one channel, or no line
        lies in the range.

    Examples
    --------
    >>> from vibhealth.signal.spectrum import amplitude_spectrum
    >>> t = np.arange(1000) / 1000.0
    >>> spectrum = amplitude_spectrum(3.0 * np.cos(2 * np.pi * 100.3 * t), 1000.0)
    >>> peak = line_peak(spectrum, 100.0, 2.0)
    >>> round(peak.frequency_hz, 2), round(peak.amplitude, 2)
    (100.3, 3.0)
    """
    values = spectrum.values
    if spectrum.quantity != "amplitude" or values.ndim != 1:
        msg = (
            "line_peak needs the amplitude spectrum of one channel, "
            f"got {spectrum.quantity} of shape {values.shape}"
        )
        raise InputError(msg)
    half_width = check_positive(half_width_hz, name="half_width_hz")
    inside = np.flatnonzero(np.abs(spectrum.frequency_hz - near_hz) <= half_width)
    if inside.size == 0:
        msg = (
            f"no spectral line within {half_width:g} Hz of {near_hz:g} Hz "
            f"at a line spacing of {spectrum.line_spacing_hz:g} Hz"
        )
        raise InputError(msg)
    line = int(inside[np.argmax(values[inside])])
    has_neighbours = 1 < line < values.size - 2  # lines 0 and Nyquist are scaled differently
    is_local = has_neighbours and bool(
        values[line] >= values[line - 1] and values[line] >= values[line + 1]
    )
    is_interpolated = is_local and spectrum.window == "hann" and bool(values[line] > 0)
    offset, factor = _hann_offset(values[line - 1 : line + 2]) if is_interpolated else (0.0, 1.0)
    line_hz = float(spectrum.frequency_hz[line])
    return LinePeak(
        frequency_hz=line_hz + offset * spectrum.line_spacing_hz,
        amplitude=float(values[line]) * factor,
        line_frequency_hz=line_hz,
        is_interpolated=is_interpolated,
        is_local_maximum=is_local,
    )


def _hann_offset(three: NDArray[np.float64]) -> tuple[float, float]:
    """Offset in lines and amplitude factor from the largest line and its neighbours."""
    left, centre, right = (float(value) for value in three)
    ratio = max(left, right) / centre
    offset = max(0.0, (2.0 * ratio - 1.0) / (ratio + 1.0))  # below 0 only by noise
    factor = (1.0 - offset**2) / float(np.sinc(offset))
    return (offset if right >= left else -offset), factor
