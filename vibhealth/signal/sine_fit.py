"""Least-squares fits of one sinusoid, and of a family of harmonics, to a record of any length."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError
from vibhealth.signal.line_peak import line_peak
from vibhealth.signal.spectrum import amplitude_spectrum

__all__ = [
    "HarmonicFit",
    "SineFit",
    "fit_harmonics",
    "fit_sine",
    "harmonic_samples",
    "refine_sine",
    "subtract_harmonics",
]

_BLOCK = 32768  # samples per block of the normal equations
_LARGEST_CONDITION = 1e4  # of the normal equations: beyond it noise counts 100 times and more
_MAX_ITERATIONS = 30
_CONVERGED_LINES = 1e-9  # change of frequency, as a fraction of one over the record's length


@dataclass(frozen=True, slots=True, kw_only=True)
class SineFit:
    """``offset + amplitude cos(2 pi f t + phase)``; t = 0 at the first sample."""

    frequency_hz: float
    amplitude: float
    phase_rad: float
    offset: float
    residual_rms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HarmonicFit:
    """``offset + sum of amplitude cos(2 pi order f t + phase)``; t = 0 at the first sample."""

    fundamental_hz: float
    orders: NDArray[np.float64]
    amplitude: NDArray[np.float64]
    phase_rad: NDArray[np.float64]
    offset: float
    residual_rms: float


def fit_sine(samples: ArrayLike, sampling_rate_hz: float, *, frequency_hz: float) -> SineFit:
    """Amplitude, phase and offset of a sinusoid of known frequency.

    Three-parameter least-squares fit (IEEE Std 1057, from memory).

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        One channel, at least 4 samples.
    sampling_rate_hz : float
        Above 0.
    frequency_hz : float
        Above 0 and below the Nyquist frequency.

    Returns
    -------
    SineFit

    Raises
    ------
    InputError
        If samples are not finite, the frequency lies outside its range, or the
        record is too short to tell the sinusoid from the offset.

    Examples
    --------
    >>> t = np.arange(50) / 100.0
    >>> fit = fit_sine(2.0 + 3.0 * np.cos(2 * np.pi * 7.3 * t + 0.5), 100.0, frequency_hz=7.3)
    >>> fit.amplitude, fit.phase_rad, fit.offset
    (3.0, 0.5, 2.0)
    """
    fit = fit_harmonics(samples, sampling_rate_hz, frequency_hz, [1.0])
    return SineFit(
        frequency_hz=fit.fundamental_hz,
        amplitude=float(fit.amplitude[0]),
        phase_rad=float(fit.phase_rad[0]),
        offset=fit.offset,
        residual_rms=fit.residual_rms,
    )


def refine_sine(
    samples: ArrayLike, sampling_rate_hz: float, *, near_hz: float, half_width_hz: float
) -> SineFit:
    """Frequency, amplitude, phase and offset of the strongest sinusoid near a frequency.

    Four-parameter least-squares fit by Gauss-Newton steps (IEEE Std 1057, from
    memory), started at the interpolated peak of the Hann spectrum.

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        One channel with several periods.
    sampling_rate_hz : float
        Above 0.
    near_hz : float
        Centre of the search range, above 0 and below the Nyquist frequency.
    half_width_hz : float
        Half of the search range, above 0.

    Returns
    -------
    SineFit

    Raises
    ------
    InputError
        If samples are not finite, no line lies in the range, or the fit leaves
        the range or does not settle (no steady sinusoid there).

    Examples
    --------
    >>> t = np.arange(1000) / 100.0
    >>> x = 3.0 * np.cos(2 * np.pi * 7.317 * t + 0.5)
    >>> refine_sine(x, 100.0, near_hz=7.0, half_width_hz=1.0).frequency_hz
    7.317
    """
    values = _one_channel(samples)
    start = line_peak(amplitude_spectrum(values, sampling_rate_hz), near_hz, half_width_hz)
    duration_s = values.size / sampling_rate_hz
    frequency_hz = start.frequency_hz
    for _ in range(_MAX_ITERATIONS):
        fit = fit_sine(values, sampling_rate_hz, frequency_hz=frequency_hz)
        step_hz = _frequency_step(values, sampling_rate_hz, fit)
        frequency_hz += step_hz
        if abs(frequency_hz - near_hz) > half_width_hz + 1.0 / duration_s:
            break
        if abs(step_hz) * duration_s <= _CONVERGED_LINES:
            return fit_sine(values, sampling_rate_hz, frequency_hz=frequency_hz)
    msg = (
        f"no steady sinusoid within {half_width_hz:g} Hz of {near_hz:g} Hz: the fit started at "
        f"{start.frequency_hz:g} Hz and did not settle; check the expected frequency"
    )
    raise InputError(msg)


def fit_harmonics(
    acceleration: ArrayLike, sampling_rate_hz: float, fundamental_hz: float, orders: ArrayLike
) -> HarmonicFit:
    """Fit all orders of a fundamental at once, in bounded memory.

    The least-squares problem of `fit_sine` with a pair of columns per order. The
    normal equations are exact sums: their matrix in closed form (geometric
    series), their right-hand side block by block.

    Parameters
    ----------
    acceleration : array_like, shape (n_samples,)
        One channel.
    sampling_rate_hz : float
        Above 0.
    fundamental_hz : float
        Frequency of order 1, above 0.
    orders : array_like, shape (n_orders,)
        Distinct orders above 0, need not be whole; the highest must stay below
        the Nyquist frequency.

    Returns
    -------
    HarmonicFit
        Amplitudes zero-to-peak, in the unit of the samples.

    Raises
    ------
    InputError
        If samples are not finite, an order lies outside its range, or the
        record is too short to tell neighbouring orders apart.

    Examples
    --------
    >>> t = np.arange(400) / 100.0
    >>> x = 3.0 * np.cos(2 * np.pi * 5.0 * t) + 0.5 * np.cos(2 * np.pi * 10.0 * t)
    >>> fit_harmonics(x, 100.0, 5.0, [1, 2]).amplitude.round(6).tolist()
    [3.0, 0.5]
    """
    values = _one_channel(acceleration)
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    fundamental = check_positive(fundamental_hz, name="fundamental_hz")
    order = _check_orders(orders, fundamental, rate)
    omega = 2.0 * np.pi * fundamental * order / rate
    matrix = _normal_matrix(omega, values.size)
    condition = float(np.linalg.cond(matrix / values.size))
    if condition > _LARGEST_CONDITION or values.size < 2 * order.size + 1:
        msg = (
            f"a record of {values.size / rate:g} s is too short to tell "
            f"{order.size} orders of {fundamental:g} Hz and the mean apart; record longer"
        )
        raise InputError(msg)
    solution = np.linalg.solve(matrix, _right_hand_side(values, omega))
    lines = solution[1 : order.size + 1] - 1j * solution[order.size + 1 :]
    fit = HarmonicFit(
        fundamental_hz=fundamental,
        orders=order,
        amplitude=np.abs(lines),
        phase_rad=np.angle(lines),
        offset=float(solution[0]),
        residual_rms=0.0,
    )
    return _with_residual(fit, values, rate)


def harmonic_samples(
    fit: HarmonicFit, sampling_rate_hz: float, n_samples: int
) -> NDArray[np.float64]:
    """Samples of a fitted family, its offset included.

    Parameters
    ----------
    fit : HarmonicFit
        See `fit_harmonics`.
    sampling_rate_hz : float
        Above 0.
    n_samples : int
        Length, 1 or more.

    Returns
    -------
    ndarray of float64, shape (n_samples,)

    Raises
    ------
    InputError
        If a setting is outside its range.
    """
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    if n_samples < 1:
        msg = f"n_samples must be 1 or more, got {n_samples}"
        raise InputError(msg)
    omega = 2.0 * np.pi * fit.fundamental_hz * fit.orders / rate
    lines = fit.amplitude * np.exp(1j * fit.phase_rad)
    block = min(_BLOCK, n_samples)
    basis = np.exp(1j * np.outer(np.arange(block), omega))
    samples = np.empty(n_samples)
    for start in range(0, n_samples, block):
        part = samples[start : start + block]
        part[:] = (basis[: part.size] @ (lines * np.exp(1j * omega * start))).real + fit.offset
    return samples


def subtract_harmonics(
    acceleration: ArrayLike, sampling_rate_hz: float, fit: HarmonicFit
) -> NDArray[np.float64]:
    """What is left of a record without a fitted family (and without its offset).

    Parameters
    ----------
    acceleration : array_like, shape (n_samples,)
        The record that was fitted.
    sampling_rate_hz : float
        Above 0.
    fit : HarmonicFit
        See `fit_harmonics`.

    Returns
    -------
    ndarray of float64, shape (n_samples,)

    Raises
    ------
    InputError
        If samples are not finite or the rate is not above 0.

    Examples
    --------
    >>> t = np.arange(400) / 100.0
    >>> x = 3.0 * np.cos(2 * np.pi * 5.0 * t)
    >>> float(np.abs(subtract_harmonics(x, 100.0, fit_harmonics(x, 100.0, 5.0, [1]))).max())
    0.0
    """
    values = _one_channel(acceleration)
    return values - harmonic_samples(fit, sampling_rate_hz, values.size)


def _one_channel(samples: ArrayLike) -> NDArray[np.float64]:
    values = check_samples(samples, minimum=4)
    if values.ndim != 1:
        msg = f"a sine fit takes one channel, got samples of shape {values.shape}"
        raise InputError(msg)
    return values


def _check_orders(orders: ArrayLike, fundamental_hz: float, rate: float) -> NDArray[np.float64]:
    order = np.atleast_1d(np.asarray(orders, dtype=np.float64))
    highest = rate / 2 / fundamental_hz
    if (
        order.ndim != 1
        or order.size == 0
        or not ((order > 0) & (order < highest)).all()
        or np.unique(order).size != order.size
    ):
        msg = (
            f"orders must be distinct, above 0 and below {highest:g} (Nyquist frequency over "
            f"{fundamental_hz:g} Hz), got {order.tolist()}"
        )
        raise InputError(msg)
    return order


def _geometric_sum(omega: NDArray[np.float64], n_samples: int) -> NDArray[np.complex128]:
    """Sum of ``exp(i omega n)`` over n = 0 ... n_samples - 1."""
    half = np.sin(omega / 2.0)
    small = np.abs(half) < 1e-12
    safe = np.where(small, 1.0, half)
    size = np.where(small, float(n_samples), np.sin(n_samples * omega / 2.0) / safe)
    return np.asarray(size * np.exp(0.5j * (n_samples - 1) * omega))


def _normal_matrix(omega: NDArray[np.float64], n_samples: int) -> NDArray[np.float64]:
    """Products of the columns 1, cos(omega_k n), sin(omega_k n), summed over n."""
    single = _geometric_sum(omega, n_samples)
    plus = _geometric_sum(omega[:, None] + omega[None, :], n_samples)
    minus = _geometric_sum(omega[:, None] - omega[None, :], n_samples)
    cos_sin = 0.5 * (plus.imag - minus.imag)  # row cos(omega_j n), column sin(omega_k n)
    return np.block(
        [
            [np.full((1, 1), float(n_samples)), single.real[None, :], single.imag[None, :]],
            [single.real[:, None], 0.5 * (minus.real + plus.real), cos_sin],
            [single.imag[:, None], cos_sin.T, 0.5 * (minus.real - plus.real)],
        ]
    )


def _right_hand_side(
    values: NDArray[np.float64], omega: NDArray[np.float64]
) -> NDArray[np.float64]:
    block = min(_BLOCK, values.size)
    basis = np.exp(1j * np.outer(np.arange(block), omega))
    sums = np.zeros(omega.size, dtype=np.complex128)
    for start in range(0, values.size, block):
        part = values[start : start + block]
        sums += (part @ basis[: part.size]) * np.exp(1j * omega * start)
    return np.concatenate([[values.sum()], sums.real, sums.imag])


def _with_residual(fit: HarmonicFit, values: NDArray[np.float64], rate: float) -> HarmonicFit:
    left = subtract_harmonics(values, rate, fit)
    return HarmonicFit(
        fundamental_hz=fit.fundamental_hz,
        orders=fit.orders,
        amplitude=fit.amplitude,
        phase_rad=fit.phase_rad,
        offset=fit.offset,
        residual_rms=float(np.sqrt(left @ left / left.size)),
    )


def _frequency_step(values: NDArray[np.float64], rate: float, fit: SineFit) -> float:
    """Gauss-Newton change of frequency in Hz that goes with a full four-parameter step."""
    time = (np.arange(values.size) - (values.size - 1) / 2.0) / rate  # centred: better conditioned
    phase = 2.0 * np.pi * fit.frequency_hz * (time + (values.size - 1) / 2.0 / rate) + fit.phase_rad
    wave, slope = np.cos(phase), -np.sin(phase)
    columns = np.stack([np.ones_like(time), wave, fit.amplitude * slope, time * slope])
    columns[3] *= 2.0 * np.pi * fit.amplitude
    residual = values - fit.offset - fit.amplitude * wave
    scale = np.sqrt(np.einsum("ki,ki->k", columns, columns))
    if not scale.all():
        return 0.0
    columns /= scale[:, None]
    solution = np.linalg.solve(columns @ columns.T, columns @ residual)
    return float(solution[3] / scale[3])
