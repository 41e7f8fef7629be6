"""Acceleration to velocity and displacement in the frequency domain, with a stated lower cut."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.fft import irfft, rfft, rfftfreq

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError

__all__ = ["integrate_samples", "integrate_spectrum", "lower_cut_weights"]


def lower_cut_weights(frequency_hz: ArrayLike, lower_cut_hz: float) -> NDArray[np.float64]:
    """Weights that keep integration from blowing up towards 0 Hz.

    0 up to half of the cut, 1 from the cut on, a half cosine between: what lies
    above the cut is integrated exactly.

    Parameters
    ----------
    frequency_hz : array_like
        Frequencies in Hz, 0 or more.
    lower_cut_hz : float
        Lowest frequency that is kept whole, above 0.

    Returns
    -------
    ndarray of float64
        Weights 0 to 1, same shape.

    Raises
    ------
    InputError
        If the cut is not above 0.

    Examples
    --------
    >>> lower_cut_weights([0.0, 1.0, 1.5, 2.0, 9.0], 2.0).tolist()
    [0.0, 0.0, 0.5, 1.0, 1.0]
    """
    cut = check_positive(lower_cut_hz, name="lower_cut_hz")
    position = np.clip(2.0 * np.asarray(frequency_hz, dtype=np.float64) / cut - 1.0, 0.0, 1.0)
    return 0.5 - 0.5 * np.cos(np.pi * position)


def integrate_spectrum(
    values: ArrayLike, frequency_hz: ArrayLike, times: int, lower_cut_hz: float
) -> NDArray[Any]:
    """Integrate spectral lines once (to velocity) or twice (to displacement).

    Complex lines are divided by ``(i 2 pi f)^times``, real ones (amplitudes) by
    ``(2 pi f)^times``; below the cut they fall to 0, see `lower_cut_weights`.

    Parameters
    ----------
    values : array_like, shape (..., n_lines)
        Complex spectrum or amplitudes of an acceleration in m/s^2.
    frequency_hz : array_like, shape (n_lines,)
        Frequency of each line, 0 or more.
    times : int
        1 for velocity in m/s, 2 for displacement in m.
    lower_cut_hz : float
        Lowest frequency that is kept whole, above 0.

    Returns
    -------
    ndarray, shape (..., n_lines)
        Real where ``values`` are real, complex where they are complex.

    Raises
    ------
    InputError
        If ``times`` is not 1 or 2, the cut is not above 0, or values and
        frequencies differ in length.

    Examples
    --------
    One g at 1000 rad/s is 9.80665 mm/s:

    >>> integrate_spectrum([9.80665], [1000.0 / (2 * np.pi)], 1, 10.0).tolist()
    [0.00980665]
    """
    if times not in {1, 2}:
        msg = f"times must be 1 (velocity) or 2 (displacement), got {times}"
        raise InputError(msg)
    lines = np.asarray(values)
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    if lines.shape[-1:] != frequency.shape:
        msg = f"values of shape {lines.shape} need as many frequencies, got {frequency.shape}"
        raise InputError(msg)
    weights = lower_cut_weights(frequency, lower_cut_hz)
    omega = 2.0 * np.pi * np.where(weights > 0, frequency, 1.0)
    divisor = (1j * omega) ** times if np.iscomplexobj(lines) else omega**times
    return np.asarray(lines * weights / divisor)


def integrate_samples(
    acceleration: ArrayLike, sampling_rate_hz: float, *, times: int, lower_cut_hz: float
) -> NDArray[np.float64]:
    """Velocity or displacement over time by one transform of the whole record.

    The record is taken as one period: where its two ends do not join, the first
    and last ``1 / lower_cut_hz`` seconds carry the mark of the jump.

    Parameters
    ----------
    acceleration : array_like, shape (..., n_samples)
        Acceleration in m/s^2.
    sampling_rate_hz : float
        Above 0.
    times : int
        1 for velocity in m/s, 2 for displacement in m.
    lower_cut_hz : float
        Lowest frequency that is kept whole, above 0 and below the Nyquist
        frequency; content below half of it is removed.

    Returns
    -------
    ndarray of float64, shape (..., n_samples)

    Raises
    ------
    InputError
        If samples are not finite or a setting is outside its range.

    Examples
    --------
    >>> t = np.arange(1000) / 1000.0
    >>> velocity = integrate_samples(np.cos(2 * np.pi * 20.0 * t), 1000.0, times=1, lower_cut_hz=5)
    >>> float(velocity.max() * 2 * np.pi * 20.0)
    0.998
    """
    samples = check_samples(acceleration, name="acceleration")
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    if check_positive(lower_cut_hz, name="lower_cut_hz") >= rate / 2:
        msg = f"lower_cut_hz must lie below {rate / 2:g} Hz (Nyquist), got {lower_cut_hz}"
        raise InputError(msg)
    n_samples = samples.shape[-1]
    lines = integrate_spectrum(rfft(samples), rfftfreq(n_samples, 1.0 / rate), times, lower_cut_hz)
    integrated: NDArray[np.float64] = irfft(lines, n_samples)
    return integrated
