"""Zero-phase Butterworth filters that refuse a band they cannot pass."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import butter, sosfiltfilt

from vibhealth._check import check_band, check_positive, check_samples
from vibhealth.errors import InputError

__all__ = ["band_pass", "high_pass", "low_pass"]

_ORDER = 4  # of one pass; run forwards and backwards
_PAD_PERIODS = 3.0  # of the lowest edge, added at both ends by odd reflection


def band_pass(
    acceleration: ArrayLike, sampling_rate_hz: float, *, band_hz: tuple[float, float]
) -> NDArray[np.float64]:
    """Pass a band without phase shift.

    Fourth-order Butterworth run forwards and backwards: gain 1/2 (-6 dB) at both
    edges, gain 1 at the centre, no delay. A band that ends at the Nyquist
    frequency becomes a high-pass. The ends are extended by odd reflection; about
    two periods of the lower edge at each end still carry its mark (below 0.2 %
    beyond, measured on a sinusoid at twice the edge).

    Parameters
    ----------
    acceleration : array_like, shape (..., n_samples)
        Samples, time on the last axis.
    sampling_rate_hz : float
        Above 0.
    band_hz : tuple of float
        Edges with ``0 < low < high <= Nyquist``.

    Returns
    -------
    ndarray of float64, shape (..., n_samples)

    Raises
    ------
    InputError
        If samples are not finite or the band lies outside (0, Nyquist].

    Examples
    --------
    >>> t = np.arange(4000) / 1000.0
    >>> passed = band_pass(np.cos(2 * np.pi * 100.0 * t) + 5.0, 1000.0, band_hz=(50.0, 200.0))
    >>> float(np.abs(passed[1000:3000]).max())
    1.0
    """
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    low, high = check_band(band_hz, nyquist_hz=rate / 2)
    if high >= rate / 2:
        return high_pass(acceleration, rate, edge_hz=low)
    return _both_ways(acceleration, rate, (low, high), "bandpass", low)


def high_pass(
    acceleration: ArrayLike, sampling_rate_hz: float, *, edge_hz: float
) -> NDArray[np.float64]:
    """Pass what lies above an edge without phase shift; gain 1/2 (-6 dB) at the edge.

    Parameters
    ----------
    acceleration : array_like, shape (..., n_samples)
        Samples, time on the last axis.
    sampling_rate_hz : float
        Above 0.
    edge_hz : float
        Above 0 and below the Nyquist frequency.

    Returns
    -------
    ndarray of float64, shape (..., n_samples)

    Raises
    ------
    InputError
        If samples are not finite or the edge lies outside (0, Nyquist).

    Examples
    --------
    >>> float(np.abs(high_pass(np.full(1000, 7.0), 1000.0, edge_hz=10.0)).max())
    0.0
    """
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    edge = _check_edge(edge_hz, rate / 2)
    return _both_ways(acceleration, rate, edge, "highpass", edge)


def low_pass(
    acceleration: ArrayLike, sampling_rate_hz: float, *, edge_hz: float
) -> NDArray[np.float64]:
    """Pass what lies below an edge without phase shift; gain 1/2 (-6 dB) at the edge.

    Parameters
    ----------
    acceleration : array_like, shape (..., n_samples)
        Samples, time on the last axis.
    sampling_rate_hz : float
        Above 0.
    edge_hz : float
        Above 0 and below the Nyquist frequency.

    Returns
    -------
    ndarray of float64, shape (..., n_samples)

    Raises
    ------
    InputError
        If samples are not finite or the edge lies outside (0, Nyquist).

    Examples
    --------
    >>> float(low_pass(np.full(1000, 7.0), 1000.0, edge_hz=10.0).min())
    7.0
    """
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    edge = _check_edge(edge_hz, rate / 2)
    return _both_ways(acceleration, rate, edge, "lowpass", edge)


def _check_edge(edge_hz: float, nyquist_hz: float) -> float:
    if not 0 < edge_hz < nyquist_hz:
        msg = f"edge_hz must satisfy 0 < edge < {nyquist_hz:g}, got {edge_hz}"
        raise InputError(msg)
    return float(edge_hz)


def _both_ways(
    acceleration: ArrayLike, rate: float, edges: Any, kind: str, lowest_hz: float
) -> NDArray[np.float64]:
    """Second-order sections forwards and backwards, padded by periods of the lowest edge."""
    samples = check_samples(acceleration, name="acceleration", minimum=16)
    sections = butter(_ORDER, edges, btype=kind, fs=rate, output="sos")
    padding = min(samples.shape[-1] - 1, int(_PAD_PERIODS * rate / lowest_hz) + 1)
    filtered: NDArray[np.float64] = sosfiltfilt(sections, samples, padlen=padding)
    return filtered
