"""Squared envelope of a band, its robust twin, and their spectra.

The squared envelope is the sound form for cyclic strikes (R. B. Randall and
J. Antoni, "Rolling element bearing diagnostics - a tutorial", Mechanical Systems
and Signal Processing 25 (2011) 485-520). A band is cut from the record's
spectrum and transformed back as an analytic signal at a low rate, so that a
whole bank of bands costs little more than one transform.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth._check import check_band, check_positive
from vibhealth.errors import InputError
from vibhealth.signal.whitening import RecordSpectrum

__all__ = [
    "Detector",
    "EnvelopeSpectrum",
    "analytic_band",
    "band_envelope_spectrum",
    "local_floor",
    "squared_envelope",
]

Detector = Literal["squared", "limited"]

# The robust twin is cut at this multiple of the median of the squared envelope.
# Common practice, no source; a Gaussian record exceeds it for 1/8 of the time.
LIMIT_OVER_MEDIAN = 3.0

# Median of an exponential variable over its mean: ln 2 (closed form).
MEDIAN_OVER_MEAN = float(np.log(2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvelopeSpectrum:
    """Spectrum of a squared envelope in units of its mean.

    Attributes
    ----------
    lines : ndarray of complex128, shape (n_lines,)
        ``2 E(f) / N`` over the mean squared envelope: its magnitude is the
        modulation depth of a line. ``lines[0]`` is set to 0.
    line_spacing_hz : float
    mean_square : float
        Mean squared envelope of the band, in squared sample units: twice the
        band's mean square.
    band_hz : tuple of float
    detector : {"squared", "limited"}
    """

    lines: NDArray[np.complex128]
    line_spacing_hz: float
    mean_square: float
    band_hz: tuple[float, float]
    detector: Detector

    @property
    def depth(self) -> NDArray[np.float64]:
        """Modulation depth of each line."""
        return np.abs(self.lines)


def analytic_band(spectrum: RecordSpectrum, band_hz: tuple[float, float]) -> NDArray[np.complex128]:
    """Analytic signal of one band, shifted to zero and decimated.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As recorded or whitened.
    band_hz : tuple of float
        ``0 < low < high <= nyquist``; the band is cut with sharp edges and must
        hold at least 8 lines.

    Returns
    -------
    ndarray of complex128
        Its squared magnitude is the squared envelope; at least twice as many
        values as the band has lines, so that squaring does not fold.

    Raises
    ------
    InputError
        If the band is outside the spectrum or too narrow for the record.
    """
    low, high = check_band(band_hz, nyquist_hz=spectrum.nyquist_hz)
    first = round(low / spectrum.line_spacing_hz)
    last = round(high / spectrum.line_spacing_hz)
    if last - first < 8:
        msg = f"band_hz {band_hz} must hold at least 8 lines, got {last - first}: record longer"
        raise InputError(msg)
    n_values = fft.next_fast_len(2 * (last - first))
    cut: NDArray[np.complex128] = fft.ifft(spectrum.lines[first:last], n=n_values)
    cut *= 2.0 * n_values / spectrum.n_samples
    return cut


def squared_envelope(
    spectrum: RecordSpectrum, band_hz: tuple[float, float], *, detector: Detector = "squared"
) -> NDArray[np.float64]:
    """Squared envelope of a band, decimated to about twice the band's width.

    ``"limited"`` cuts it at three times its median, so that a few huge strikes
    cannot carry the spectrum.
    """
    signal = analytic_band(spectrum, band_hz)
    envelope = signal.real**2 + signal.imag**2
    if detector == "limited":
        envelope = np.minimum(envelope, LIMIT_OVER_MEDIAN * np.median(envelope))
    return envelope


def band_envelope_spectrum(
    spectrum: RecordSpectrum,
    band_hz: tuple[float, float],
    *,
    highest_hz: float,
    detector: Detector = "squared",
) -> EnvelopeSpectrum:
    """Envelope spectrum of a band up to ``highest_hz``, in units of its mean.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As recorded or whitened.
    band_hz : tuple of float
        See `analytic_band`.
    highest_hz : float
        Above 0. Modulation faster than the band is wide does not exist; the
        spectrum ends there at the latest.
    detector : {"squared", "limited"}
        See `squared_envelope`.

    Returns
    -------
    EnvelopeSpectrum

    Raises
    ------
    InputError
        See `analytic_band`; or if the band is silent (all zero).
    """
    check_positive(highest_hz, name="highest_hz")
    envelope = squared_envelope(spectrum, band_hz, detector=detector)
    mean = float(envelope.mean())
    if mean <= 0:
        msg = f"band_hz {band_hz} must hold some signal, got silence"
        raise InputError(msg)
    n_lines = min(
        int(highest_hz / spectrum.line_spacing_hz),
        round((band_hz[1] - band_hz[0]) / spectrum.line_spacing_hz),
    )
    lines = fft.rfft(envelope)[: n_lines + 1] * (2.0 / (envelope.shape[-1] * mean))
    lines[0] = 0.0
    return EnvelopeSpectrum(
        lines=lines,
        line_spacing_hz=spectrum.line_spacing_hz,
        mean_square=mean,
        band_hz=band_hz,
        detector=detector,
    )


def local_floor(power: NDArray[np.float64], width_lines: int) -> NDArray[np.float64]:
    """Noise floor of a power spectrum as a running median, scaled to the mean.

    The envelope spectrum of stationary noise is not flat: for a band of width B
    it falls as ``1 - alpha / B``. Its lines are exponentially distributed about
    that floor, and the median of an exponential variable is ln 2 of its mean, so
    the running median over ``width_lines`` is divided by ln 2. A few strong
    lines do not move it. The median is taken at every eighth of the width and
    joined by straight lines.

    Parameters
    ----------
    power : ndarray, shape (n_lines,)
        Squared depths; the first line (zero frequency) is left out.
    width_lines : int
        At least 8.

    Returns
    -------
    ndarray, shape (n_lines,)

    Raises
    ------
    InputError
        If ``width_lines`` is below 8.
    """
    if width_lines < 8:
        msg = f"width_lines must be at least 8, got {width_lines}"
        raise InputError(msg)
    n_lines = power.shape[-1]
    half = min(width_lines // 2, n_lines - 2)
    centres = np.unique(np.append(np.arange(1, n_lines, max(1, width_lines // 8)), n_lines - 1))
    # Mirrored at both ends, so that every window has the same number of lines.
    mirrored = np.pad(power[1:], half, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(mirrored, 2 * half + 1)[centres - 1]
    median = np.median(windows, axis=-1)
    floor: NDArray[np.float64] = np.interp(np.arange(n_lines), centres, median) / MEDIAN_OVER_MEAN
    return np.maximum(floor, np.finfo(np.float64).tiny)
