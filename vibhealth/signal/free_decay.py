"""Free swing of a body on springs: closed forms, and a least-squares fit of its decay.

A body on springs whose unbalance has passed the resonance goes on swinging at its own
natural frequency and dies away, beside the motion that the unbalance forces on it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.fft import next_fast_len, rfft, rfftfreq
from scipy.optimize import least_squares

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError

__all__ = ["FreeDecay", "fit_free_decay", "logarithmic_decrement", "unbalance_amplification"]

_START_LINES = (-0.5, 0.0, 0.5)  # frequencies tried about the highest line, in lines
_START_DAMPING = (0.01, 0.04, 0.12)
_LARGEST_DAMPING = 0.4
_FORCED_POWERS = 3  # the forced part's amplitude and phase drift as a polynomial of this length


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeDecay:
    """A fitted free swing.

    ``natural_frequency_hz`` is the undamped one; ``amplitude`` that of the free part at the
    first sample, in the unit of the samples; ``residual_share`` what the model leaves of the
    power of the samples without their forced part, 0 to 1.
    """

    natural_frequency_hz: float
    damping_ratio: float
    amplitude: float
    residual_share: float
    free: NDArray[np.float64]


def unbalance_amplification(
    frequency_ratio: ArrayLike, damping_ratio: float
) -> NDArray[np.float64]:
    """Displacement under a rotating unbalance over that far above resonance.

    ``r^2 / sqrt((1 - r^2)^2 + (2 zeta r)^2)`` (J. P. Den Hartog, Mechanical Vibrations, 4th
    edition 1956, chapter 2, from memory).

    Parameters
    ----------
    frequency_ratio : array_like
        Shaft frequency over the undamped natural frequency, 0 or more.
    damping_ratio : float
        Above 0.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    InputError
        If a value is outside its range.

    Examples
    --------
    >>> unbalance_amplification([0.0, 1.0, 100.0], 0.05).round(3).tolist()
    [0.0, 10.0, 1.0]
    """
    zeta = check_positive(damping_ratio, name="damping_ratio")
    ratio = np.asarray(frequency_ratio, dtype=np.float64)
    if not (ratio >= 0).all():
        msg = f"frequency_ratio must be 0 or more, got {ratio.min()}"
        raise InputError(msg)
    return np.asarray(ratio**2 / np.hypot(1 - ratio**2, 2 * zeta * ratio))


def logarithmic_decrement(damping_ratio: float) -> float:
    """Natural logarithm of the ratio of one swing to the next.

    ``2 pi zeta / sqrt(1 - zeta^2)`` (term and formula of ISO 2041, from memory).

    Parameters
    ----------
    damping_ratio : float
        Above 0 and below 1.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If the damping ratio is outside its range.

    Examples
    --------
    >>> logarithmic_decrement(0.05)
    0.31455
    """
    zeta = check_positive(damping_ratio, name="damping_ratio")
    if zeta >= 1:
        msg = f"damping_ratio must lie below 1 for a swing to exist, got {damping_ratio}"
        raise InputError(msg)
    return float(2 * np.pi * zeta / np.sqrt(1 - zeta**2))


def fit_free_decay(
    samples: ArrayLike,
    sampling_rate_hz: float,
    *,
    range_hz: tuple[float, float],
    forced: ArrayLike | None = None,
) -> FreeDecay:
    """Natural frequency and damping of a free swing beside a forced one.

    The samples are the sum of ``exp(-zeta w t) (a cos(w_d t) + b sin(w_d t))`` with
    ``w_d = w sqrt(1 - zeta^2)``, a mean, and, where it is given, a forced motion whose size
    and phase may be off by polynomials in time. All but ``w`` and ``zeta`` enter linearly and are eliminated (variable projection: G. H. Golub and V. Pereyra, SIAM
    Journal on Numerical Analysis 10 (1973) 413-432, from memory).

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        One channel, any unit: displacement shows the swing best.
    sampling_rate_hz : float
        Above 0.
    range_hz : tuple of float
        Natural frequencies that are possible, ``0 < low < high < Nyquist``.
    forced : array_like of complex, shape (n_samples,), optional
        The forced motion as an analytic signal, of any size: ``exp(2 pi i turns)`` at steady
        speed.

    Returns
    -------
    FreeDecay

    Raises
    ------
    InputError
        If a value is outside its range or there are fewer than 16 samples.

    Examples
    --------
    >>> t = np.arange(400) / 100.0
    >>> x = np.exp(-0.05 * 2 * np.pi * 3.0 * t) * np.cos(2 * np.pi * 3.0 * np.sqrt(1 - 0.05**2) * t)
    >>> found = fit_free_decay(x, 100.0, range_hz=(1.0, 8.0))
    >>> found.natural_frequency_hz, found.damping_ratio
    (3.0, 0.05)
    """
    values = check_samples(samples, minimum=16)
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    low, high = range_hz
    if values.ndim != 1 or not 0 < low < high < rate / 2:
        msg = (
            f"need one channel and 0 < low < high < {rate / 2:g} Hz, got shape {values.shape} "
            f"and {range_hz}"
        )
        raise InputError(msg)
    time = np.arange(values.size) / rate
    # What the forced part alone explains is taken out of samples and columns alike.
    basis, _ = np.linalg.qr(_forced_columns(forced, time))
    cleared = values - basis @ (basis.T @ values)
    size = float(np.sqrt(cleared @ cleared / cleared.size)) or 1.0
    cleared = cleared / size
    start = _start(cleared, basis, rate, low, high)

    def residual(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
        return _projected(cleared, basis, time, parameters)[0]

    bounds = ([np.log(low), 1e-4], [np.log(high), _LARGEST_DAMPING])
    found = least_squares(residual, start, bounds=bounds, x_scale=[0.05, 0.02], xtol=1e-6)
    left, weights = _projected(cleared, basis, time, found.x)
    power = float(cleared @ cleared)
    free = size * _free_columns(time, found.x) @ weights
    return FreeDecay(
        natural_frequency_hz=float(np.exp(found.x[0])),
        damping_ratio=float(found.x[1]),
        amplitude=size * float(np.hypot(*weights)),
        residual_share=float(left @ left) / power if power > 0 else 1.0,
        free=free,
    )


def _forced_columns(forced: ArrayLike | None, time: NDArray[np.float64]) -> NDArray[np.float64]:
    columns = [np.ones_like(time)]
    if forced is not None:
        wave = np.asarray(forced, dtype=np.complex128)
        if wave.shape != time.shape:
            msg = f"forced must have {time.size} values, got shape {wave.shape}"
            raise InputError(msg)
        position = 2 * time / time[-1] - 1
        for power in range(_FORCED_POWERS):
            columns += [position**power * wave.real, position**power * wave.imag]
    return np.stack(columns, axis=1)


def _free_columns(
    time: NDArray[np.float64], parameters: NDArray[np.float64]
) -> NDArray[np.float64]:
    omega, zeta = 2 * np.pi * np.exp(parameters[0]), parameters[1]
    decay = np.exp(-zeta * omega * time)
    swing = omega * np.sqrt(1 - zeta**2) * time
    return np.stack([decay * np.cos(swing), decay * np.sin(swing)], axis=1)


def _projected(
    cleared: NDArray[np.float64],
    basis: NDArray[np.float64],
    time: NDArray[np.float64],
    parameters: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What no free swing of this frequency and damping explains, and the best one's weights."""
    free = _free_columns(time, parameters)
    own = free - basis @ (basis.T @ free)
    weights = np.asarray(np.linalg.lstsq(own, cleared, rcond=None)[0], dtype=np.float64)
    return cleared - own @ weights, weights


def _start(
    cleared: NDArray[np.float64],
    basis: NDArray[np.float64],
    rate: float,
    low: float,
    high: float,
) -> NDArray[np.float64]:
    """Best of a few about the highest line: the sum of squares has many minima over frequency."""
    length = next_fast_len(4 * cleared.size)
    frequency = rfftfreq(length, 1 / rate)
    lines = np.where((frequency >= low) & (frequency <= high), np.abs(rfft(cleared, length)), 0)
    highest = float(frequency[int(np.argmax(lines))])
    time = np.arange(cleared.size) / rate
    best, least = np.array([np.log(highest), _START_DAMPING[0]]), np.inf
    for shift in _START_LINES:
        for zeta in _START_DAMPING:
            hz = float(np.clip(highest + shift / time[-1], 1.001 * low, 0.999 * high))
            parameters = np.array([np.log(hz), zeta])
            left, _ = _projected(cleared, basis, time, parameters)
            if (power := float(left @ left)) < least:
                best, least = parameters, power
    return best
