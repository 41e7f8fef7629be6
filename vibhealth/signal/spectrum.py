"""Averaged one-sided spectra with the scaling and the averaging kept beside the values."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.fft import rfft
from scipy.stats import chi2

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError
from vibhealth.signal.windows import WindowName, overlap_correlation, window_samples

__all__ = [
    "Averaging",
    "Spectrum",
    "amplitude_spectrum",
    "effective_averages",
    "power_spectral_density",
    "psd_interval",
    "to_orders",
]

Averaging = Literal["power", "peak-hold"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """A one-sided spectrum.

    ``values`` has shape (..., n_lines): zero-to-peak amplitude in the unit of
    the samples for ``quantity`` "amplitude", unit squared per hertz for "psd".
    ``n_averages`` counts segments, ``effective_averages`` the independent ones.
    """

    frequency_hz: NDArray[np.float64]
    values: NDArray[np.float64]
    quantity: Literal["amplitude", "psd"]
    line_spacing_hz: float
    noise_bandwidth_hz: float
    n_averages: int
    effective_averages: float
    window: WindowName


def amplitude_spectrum(  # noqa: PLR0913 (settings of one transform)
    acceleration: ArrayLike,
    sampling_rate_hz: float,
    *,
    window: WindowName = "hann",
    segment_seconds: float | None = None,
    line_spacing_hz: float | None = None,
    overlap: float = 0.5,
    averaging: Averaging = "power",
) -> Spectrum:
    """Zero-to-peak amplitude spectrum, corrected for the window.

    ``2 |X| / sum(w)`` per line (line 0 and the Nyquist line without the factor
    2), so a sinusoid of amplitude A that falls on a line reads A. The mean is
    not removed: line 0 shows it.

    Parameters
    ----------
    acceleration : array_like, shape (..., n_samples)
        Samples, time on the last axis.
    sampling_rate_hz : float
        Above 0.
    window : str
        See `vibhealth.signal.windows.window_samples`.
    segment_seconds, line_spacing_hz : float, optional
        Length of a segment, or its inverse; at most one of the two. Without
        either the whole record is one segment.
    overlap : float
        Overlap of neighbouring segments as a fraction, 0 to below 1.
    averaging : {"power", "peak-hold"}
        Root of the mean squared amplitude of all segments, or the largest.

    Returns
    -------
    Spectrum

    Raises
    ------
    InputError
        If samples are not finite, a setting is outside its range, or the
        segment is longer than the record.

    Examples
    --------
    >>> t = np.arange(1000) / 1000.0
    >>> spectrum = amplitude_spectrum(3.0 * np.cos(2 * np.pi * 50.0 * t), 1000.0)
    >>> float(spectrum.values[50])
    3.0
    """
    samples = check_samples(acceleration, name="acceleration")
    check_positive(sampling_rate_hz, name="sampling_rate_hz")
    if averaging not in get_args(Averaging):
        msg = f"averaging must be one of {', '.join(get_args(Averaging))}, got {averaging!r}"
        raise InputError(msg)
    n = _segment_length(samples.shape[-1], sampling_rate_hz, segment_seconds, line_spacing_hz)
    weights = window_samples(window, n)
    step = _segment_step(n, overlap)
    power, count = _combined_power(samples, weights, step, peak_hold=averaging == "peak-hold")
    values = 2.0 * np.sqrt(power) / weights.sum()
    values[..., 0] /= 2.0
    if n % 2 == 0:
        values[..., -1] /= 2.0
    independent = effective_averages(weights, step, count) if averaging == "power" else 1.0
    return _spectrum(values, "amplitude", sampling_rate_hz, weights, window, count, independent)


def power_spectral_density(  # noqa: PLR0913 (settings of one transform)
    acceleration: ArrayLike,
    sampling_rate_hz: float,
    *,
    window: WindowName = "hann",
    segment_seconds: float | None = None,
    line_spacing_hz: float | None = None,
    overlap: float = 0.5,
) -> Spectrum:
    """One-sided power spectral density by averaged modified periodograms.

    ``2 |X|^2 / (rate sum(w^2))`` per line (line 0 and the Nyquist line without
    the factor 2), averaged over the segments (Welch, IEEE Trans. Audio
    Electroacoust. 15 (1967) 70-73, from memory). Summed over all lines times the
    line spacing it gives the mean square of the windowed segments (Parseval).
    The mean is not removed.

    Parameters
    ----------
    acceleration : array_like, shape (..., n_samples)
        Samples, time on the last axis.
    sampling_rate_hz : float
        Above 0.
    window : str
        See `vibhealth.signal.windows.window_samples`.
    segment_seconds, line_spacing_hz : float, optional
        Length of a segment, or its inverse; at most one of the two. Without
        either the whole record is one segment.
    overlap : float
        Overlap of neighbouring segments as a fraction, 0 to below 1.

    Returns
    -------
    Spectrum

    Raises
    ------
    InputError
        If samples are not finite, a setting is outside its range, or the
        segment is longer than the record.

    Examples
    --------
    The mean square of a sinusoid is half its amplitude squared:

    >>> t = np.arange(1000) / 1000.0
    >>> psd = power_spectral_density(3.0 * np.cos(2 * np.pi * 50.0 * t), 1000.0)
    >>> float(psd.values.sum() * psd.line_spacing_hz)
    4.5
    """
    samples = check_samples(acceleration, name="acceleration")
    check_positive(sampling_rate_hz, name="sampling_rate_hz")
    n = _segment_length(samples.shape[-1], sampling_rate_hz, segment_seconds, line_spacing_hz)
    weights = window_samples(window, n)
    step = _segment_step(n, overlap)
    power, count = _combined_power(samples, weights, step, peak_hold=False)
    values = 2.0 * power / (sampling_rate_hz * float(weights @ weights))
    values[..., 0] /= 2.0
    if n % 2 == 0:
        values[..., -1] /= 2.0
    independent = effective_averages(weights, step, count)
    return _spectrum(values, "psd", sampling_rate_hz, weights, window, count, independent)


def effective_averages(window: NDArray[np.float64], step: int, n_averages: int) -> float:
    """Number of independent segments that would average noise as well.

    ``K / (1 + 2 sum_m (1 - m/K) rho_m^2)`` with the correlation ``rho_m`` of
    segments ``m`` steps apart (Welch 1967, from memory). Hann at half overlap:
    ``K / (1 + (2/36) (1 - 1/K))``.

    Parameters
    ----------
    window : ndarray, shape (n_samples,)
        Samples of the window.
    step : int
        Distance of neighbouring segments in samples, 1 or more.
    n_averages : int
        Number of segments K, 1 or more.

    Returns
    -------
    float
        Between 1 and ``n_averages``.

    Raises
    ------
    InputError
        If the step or the number of segments is below 1.

    Examples
    --------
    >>> effective_averages(window_samples("hann", 1024), 512, 31)
    29.418
    """
    if step < 1 or n_averages < 1:
        msg = f"step and n_averages must be 1 or more, got {step} and {n_averages}"
        raise InputError(msg)
    reach = min(n_averages - 1, (window.size - 1) // step)
    shared = sum(
        (1.0 - m / n_averages) * overlap_correlation(window, m * step) ** 2
        for m in range(1, reach + 1)
    )
    return n_averages / (1.0 + 2.0 * shared)


def psd_interval(n_averages_effective: float, probability: float = 0.95) -> tuple[float, float]:
    """Factors from an estimated power spectral density to its confidence interval.

    ``nu / chi2`` at the upper and lower tail with ``nu = 2 n`` degrees of freedom
    (Bendat and Piersol, Random Data, ch. 8, from memory).

    Parameters
    ----------
    n_averages_effective : float
        Independent averages, above 0.
    probability : float
        Confidence, above 0 and below 1.

    Returns
    -------
    tuple of float
        Factors for the low and the high end.

    Raises
    ------
    InputError
        If a value is outside its range.

    Examples
    --------
    >>> low, high = psd_interval(16)
    >>> low, high
    (0.6467, 1.7495)
    """
    degrees = 2.0 * check_positive(n_averages_effective, name="n_averages_effective")
    if not 0.0 < probability < 1.0:
        msg = f"probability must lie above 0 and below 1, got {probability}"
        raise InputError(msg)
    tail = 0.5 * (1.0 - probability)
    return float(degrees / chi2.isf(tail, degrees)), float(degrees / chi2.ppf(tail, degrees))


def to_orders(frequency_hz: ArrayLike, shaft_frequency_hz: float) -> NDArray[np.float64]:
    """Frequencies as multiples of the shaft frequency.

    Parameters
    ----------
    frequency_hz : array_like
        Frequencies in Hz, any shape.
    shaft_frequency_hz : float
        Above 0.

    Returns
    -------
    ndarray of float64
        Orders, same shape.

    Raises
    ------
    InputError
        If the shaft frequency is not above 0.

    Examples
    --------
    >>> to_orders([8.15, 16.3], 16.3).tolist()
    [0.5, 1.0]
    """
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    return np.asarray(frequency_hz, dtype=np.float64) / shaft_hz


def _segment_length(
    n_samples: int,
    sampling_rate_hz: float,
    segment_seconds: float | None,
    line_spacing_hz: float | None,
) -> int:
    if segment_seconds is not None and line_spacing_hz is not None:
        msg = "give either segment_seconds or line_spacing_hz, not both"
        raise InputError(msg)
    if line_spacing_hz is not None:
        segment_seconds = 1.0 / check_positive(line_spacing_hz, name="line_spacing_hz")
    if segment_seconds is None:
        return n_samples
    length = round(check_positive(segment_seconds, name="segment_seconds") * sampling_rate_hz)
    if length > n_samples:
        msg = (
            f"a segment of {segment_seconds:g} s is longer than the record of "
            f"{n_samples / sampling_rate_hz:g} s; record longer or accept wider lines"
        )
        raise InputError(msg)
    return length


def _segment_step(n_segment: int, overlap: float) -> int:
    if not 0.0 <= overlap < 1.0:
        msg = f"overlap must lie in [0, 1), got {overlap}"
        raise InputError(msg)
    return max(1, round(n_segment * (1.0 - overlap)))


def _segments(samples: NDArray[Any], n_segment: int, step: int) -> Iterator[NDArray[np.float64]]:
    for start in range(0, samples.shape[-1] - n_segment + 1, step):
        yield samples[..., start : start + n_segment]


def _combined_power(
    samples: NDArray[Any], weights: NDArray[np.float64], step: int, *, peak_hold: bool
) -> tuple[NDArray[np.float64], int]:
    """Mean (or largest) |X|^2 over the segments, one segment in memory at a time."""
    power = np.zeros((*samples.shape[:-1], weights.size // 2 + 1))
    count = 0
    for segment in _segments(samples, weights.size, step):
        squared = np.abs(rfft(segment * weights)) ** 2
        power = np.maximum(power, squared) if peak_hold else power + squared
        count += 1
    return (power if peak_hold else power / count), count


def _spectrum(  # noqa: PLR0913, PLR0917 (private constructor)
    values: NDArray[np.float64],
    quantity: Literal["amplitude", "psd"],
    sampling_rate_hz: float,
    weights: NDArray[np.float64],
    window: WindowName,
    n_averages: int,
    independent: float,
) -> Spectrum:
    spacing = sampling_rate_hz / weights.size
    return Spectrum(
        frequency_hz=np.asarray(np.arange(values.shape[-1]) * spacing, dtype=np.float64),
        values=values,
        quantity=quantity,
        line_spacing_hz=spacing,
        noise_bandwidth_hz=float(sampling_rate_hz * (weights @ weights) / weights.sum() ** 2),
        n_averages=n_averages,
        effective_averages=independent,
        window=window,
    )
