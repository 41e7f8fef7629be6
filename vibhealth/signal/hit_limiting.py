"""Limit hard hits in a record before its spectrum is whitened.

A handful of hard hits (falling material) is coherent over the whole spectrum: whitened, the
record turns into those hits, and what ticks softly in between is lost. So the record is
made flat in frequency by a smooth curve, its broad-band squared envelope is compared with
its own median, and where it stands far above, the samples are scaled down to the limit
(a clipping nonlinearity of the envelope, the phase is kept: the locally optimum detector in
impulsive noise is a limiter; J. H. Miller and J. B. Thomas, IEEE Transactions on
Information Theory 18 (1972) 241-250, from memory).
"""

import numpy as np
from scipy import fft
from scipy.ndimage import uniform_filter1d

from vibhealth.errors import InputError
from vibhealth.signal.whitening import RecordSpectrum

__all__ = ["LIMIT_OVER_MEDIAN_SQUARE", "limit_hits"]

# Squared envelope over its median at which a sample is limited: stationary Gaussian noise, whose
# squared envelope is exponential, exceeds it for 2 ** -12 of the time.
LIMIT_OVER_MEDIAN_SQUARE = 12.0

# The smooth curve is a mean over this share of the range.
SMOOTHED_SHARE = 0.01


def limit_hits(
    spectrum: RecordSpectrum,
    *,
    lowest_hz: float,
    limit_over_median: float = LIMIT_OVER_MEDIAN_SQUARE,
) -> RecordSpectrum:
    """Spectrum of the record above ``lowest_hz``, evened in frequency and with its hits limited.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As recorded.
    lowest_hz : float
        Below it the record is set to zero (the working motion would hide the hits);
        0 to below the Nyquist frequency.
    limit_over_median : float
        Largest squared envelope over its median, above 1.

    Returns
    -------
    RecordSpectrum
        Of the same length; its magnitudes are not those of the record.

    Raises
    ------
    InputError
        If a value is outside its range.
    """
    if not 0 <= lowest_hz < spectrum.nyquist_hz:
        msg = f"lowest_hz must lie in [0, {spectrum.nyquist_hz:g}), got {lowest_hz:g}"
        raise InputError(msg)
    if not limit_over_median > 1:
        msg = f"limit_over_median must be above 1, got {limit_over_median:g}"
        raise InputError(msg)
    first = max(1, round(lowest_hz / spectrum.line_spacing_hz))
    lines = spectrum.lines[first:]
    magnitude = np.abs(lines)
    width = max(3, round(SMOOTHED_SHARE * lines.size))
    # A mean of logarithms: a few huge lines do not pull it up.
    floor = np.maximum(magnitude, np.finfo(np.float64).tiny)
    even = lines / np.exp(uniform_filter1d(np.log(floor), width, mode="nearest"))
    whole = np.zeros(spectrum.n_samples, dtype=np.complex128)
    whole[first : first + even.size] = even
    analytic = fft.ifft(whole)
    square = analytic.real**2 + analytic.imag**2
    limit = limit_over_median * float(np.median(square))
    gain = np.sqrt(np.minimum(1.0, limit / np.maximum(square, np.finfo(np.float64).tiny)))
    limited = fft.rfft(2.0 * analytic.real * gain)
    limited[:first] = 0.0
    return RecordSpectrum(
        lines=limited, n_samples=spectrum.n_samples, sampling_rate_hz=spectrum.sampling_rate_hz
    )
