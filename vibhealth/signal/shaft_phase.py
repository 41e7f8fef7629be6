"""Angle of the shaft at each sample, from the 1x motion itself."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError, RecordingError

__all__ = [
    "add_correction",
    "demodulate_orders",
    "phase_from_demodulation",
    "refine_phase",
]

_STEPS_PER_WINDOW = 8  # positions of the demodulation window per window length


def phase_from_demodulation(
    acceleration: ArrayLike,
    sampling_rate_hz: float,
    shaft_frequency_hz: float,
    *,
    bandwidth_hz: float,
    minimum_relative_amplitude: float = 0.1,
) -> NDArray[np.float64]:
    """Shaft angle of each sample from the phase of the 1x motion itself.

    The band-limited analytic signal around the shaft frequency: the record times
    ``exp(-2 pi i f t)``, averaged under a sliding Hann window of
    ``4 / bandwidth_hz`` seconds, whose first zeros lie half a bandwidth to either
    side; its unwrapped phase added back to ``f t``. With a bandwidth of
    ``2 f / m``, m whole, all other multiples of ``f / 2`` that are at least half
    a bandwidth away fall on or near zeros. Between window positions the
    phase is a cubic spline; in the first and last half window it goes on as a
    parabola through the nearest two windows (method: phase demodulation, Bonnardot, El Badaoui,
    Randall, Daniere, Guillet, MSSP 19 (2005) 766-785, from memory).

    Parameters
    ----------
    acceleration : array_like, shape (n_samples,)
        One channel in which 1x stands out, at least two windows long.
    sampling_rate_hz : float
        Above 0.
    shaft_frequency_hz : float
        Mean shaft frequency, right within a quarter of the bandwidth.
    bandwidth_hz : float
        Above 0, not above the shaft frequency.
    minimum_relative_amplitude : float
        Least 1x amplitude over its median below which the phase counts as
        lost, 0 to below 1.

    Returns
    -------
    ndarray of float64, shape (n_samples,)
        Angle in turns; the 1x motion is ``A cos(2 pi angle)``.

    Raises
    ------
    InputError
        If a setting is outside its range or the record is too short.
    RecordingError
        If the 1x motion fades so far that its phase is lost, or the phase does
        not rise everywhere.

    Examples
    --------
    >>> t = np.arange(8000) / 1000.0
    >>> turns = phase_from_demodulation(
    ...     np.cos(2 * np.pi * 16.3 * t + 1.0), 1000.0, 16.25, bandwidth_hz=8.0
    ... )
    >>> bool(np.abs(turns - 16.3 * t - 1.0 / (2 * np.pi)).max() < 1e-3)
    True
    """
    values = check_samples(acceleration, name="acceleration")
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    if not 0 < bandwidth_hz <= shaft_hz < rate / 4:
        msg = (
            f"need 0 < bandwidth_hz <= shaft_frequency_hz < {rate / 4:g} (half Nyquist), "
            f"got {bandwidth_hz} and {shaft_hz}"
        )
        raise InputError(msg)
    window = round(4.0 * rate / bandwidth_hz)
    if values.ndim != 1 or values.size < 2 * window:
        msg = (
            f"phase demodulation over {bandwidth_hz:g} Hz needs one channel of at least "
            f"{8.0 / bandwidth_hz:g} s, got shape {values.shape} at {rate:g} Hz"
        )
        raise InputError(msg)
    centre, motion = _demodulated(values, shaft_hz / rate, window)
    _check_amplitude(np.abs(motion), centre / rate, minimum_relative_amplitude)
    return _phase_at_samples(centre, motion, shaft_hz / rate, values.size)


def demodulate_orders(
    samples: ArrayLike,
    *,
    phase_turns: ArrayLike,
    orders: ArrayLike,
    turns_per_window: float,
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Complex amplitude of orders along a record whose shaft angle is roughly known.

    Each sample is turned back by its angle times the order and averaged under a
    Hann window over shaft angle, eight windows per window length: a component
    ``A cos(2 pi order angle + c)`` gives ``A exp(i c)``. What stands ``m /
    turns_per_window`` orders away, m whole and 2 or more, falls on a zero of the
    window. So the argument is what the known angle is wrong by, times the order.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        One channel or more.
    phase_turns : array_like, shape (n_samples,)
        Known shaft angle, strictly rising, at least two windows long.
    orders : array_like, shape (n_orders,)
        Above 0.
    turns_per_window : float
        Above 0.

    Returns
    -------
    centre_turns : ndarray, shape (n_windows,)
        Angle at the middle of each window.
    amplitude : ndarray of complex128, shape (..., n_orders, n_windows)

    Raises
    ------
    InputError
        If a value is outside its range.

    Examples
    --------
    >>> turns = 16.0 * np.arange(2000) / 1000.0
    >>> x = 3.0 * np.cos(2 * np.pi * 2 * turns + 0.5)
    >>> _, found = demodulate_orders(x, phase_turns=turns, orders=[2.0], turns_per_window=8.0)
    >>> bool(np.allclose(found, 3.0 * np.exp(0.5j), atol=1e-3))
    True
    """
    values = check_samples(samples, minimum=8)
    phase = check_samples(phase_turns, name="phase_turns", minimum=8)
    window = check_positive(turns_per_window, name="turns_per_window")
    order = np.atleast_1d(np.asarray(orders, dtype=np.float64))
    if phase.ndim != 1 or values.shape[-1] != phase.size:
        msg = f"samples and phase must be of one length, got {values.shape} and {phase.shape}"
        raise InputError(msg)
    if not np.diff(phase).min() > 0 or phase[-1] - phase[0] < 2 * window:
        msg = (
            f"phase_turns must rise everywhere, over at least {2 * window:g} turns, got "
            f"{phase[-1] - phase[0]:.4g} turns; cut the record to where the shaft turns"
        )
        raise InputError(msg)
    if order.size == 0 or not order.min() > 0:
        msg = f"orders must lie above 0, got {order.tolist()}"
        raise InputError(msg)
    first, last = phase[0] + 0.5 * window, phase[-1] - 0.5 * window
    count = int(np.ceil((last - first) * _STEPS_PER_WINDOW / window)) + 1
    centre = np.linspace(first, last, count)
    ends = np.searchsorted(phase, [centre - 0.5 * window, centre + 0.5 * window])
    amplitude = np.empty((*values.shape[:-1], order.size, count), dtype=np.complex128)
    # Over angle the Hann window is 1 + cos(slow angle - slow centre): three running sums, of the
    # turned-back samples and of these turned once each way by the slow angle, serve all windows.
    slow, slow_centre = np.exp(2j * np.pi / window * phase), np.exp(2j * np.pi / window * centre)
    turned = _between(slow, ends)
    weight = np.diff(ends, axis=0)[0] + (turned * slow_centre.conj()).real
    for number, one in enumerate(order):
        back = values * np.exp(-2j * np.pi * one * phase)
        ahead, behind = _between(back * slow, ends), _between(back * slow.conj(), ends)
        sides = 0.5 * (ahead * slow_centre.conj() + behind * slow_centre)
        amplitude[..., number, :] = (_between(back, ends) + sides) * (2.0 / weight)
    return centre, amplitude


def _between(values: NDArray[np.complex128], ends: NDArray[np.intp]) -> NDArray[np.complex128]:
    """Sums of the last axis from the first row of ``ends`` up to the second, excluded."""
    running = np.zeros((*values.shape[:-1], values.shape[-1] + 1), dtype=np.complex128)
    np.cumsum(values, axis=-1, out=running[..., 1:])
    return running[..., ends[1]] - running[..., ends[0]]


def refine_phase(
    samples: ArrayLike,
    *,
    phase_turns: ArrayLike,
    order: float = 1.0,
    turns_per_window: float = 8.0,
) -> NDArray[np.float64]:
    """Shaft angle, corrected by what is left of the phase of one order about it.

    A window of finite length rounds the course of the phase; what it rounded off
    is still there when the record is demodulated about the angle found, and is
    added here. Each pass leaves ``1 - H`` of the error, H being the response of
    the window to the frequency of the speed's change (`demodulate_orders`).
    Beyond the middle of the first and last window the correction stays as it is.

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        One channel in which the order stands out.
    phase_turns : array_like, shape (n_samples,)
        Known angle, wrong by less than half a turn of the order from window to
        window, strictly rising.
    order : float
        Above 0.
    turns_per_window : float
        Above 0; the record must hold two windows.

    Returns
    -------
    ndarray of float64, shape (n_samples,)
        Angle in turns. It keeps the mean of the known angle: one order does not
        tell where a turn begins.

    Raises
    ------
    InputError
        If a value is outside its range.
    RecordingError
        If the corrected phase does not rise everywhere.

    Examples
    --------
    >>> turns = 16.0 * np.arange(4000) / 1000.0
    >>> wrong = turns + 0.01 * np.sin(2 * np.pi * turns / 40)
    >>> better = refine_phase(np.cos(2 * np.pi * turns), phase_turns=wrong)
    >>> bool(np.std((better - turns)[500:-500]) < 0.2 * np.std((wrong - turns)[500:-500]))
    True
    """
    centre, amplitude = demodulate_orders(
        samples, phase_turns=phase_turns, orders=[order], turns_per_window=turns_per_window
    )
    phase = np.asarray(phase_turns, dtype=np.float64)
    error = np.unwrap(np.angle(amplitude[0])) / (2 * np.pi * order)
    return add_correction(phase, centre, error - error.mean())


def add_correction(
    phase: NDArray[np.float64], centre: NDArray[np.float64], error: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Angle plus an error known at some angles, held beyond the first and last of them.

    Raises
    ------
    RecordingError
        If the sum does not rise everywhere.
    """
    inside = np.clip(phase, centre[0], centre[-1])
    turns = np.asarray(phase + CubicSpline(centre, error)(inside), dtype=np.float64)
    falling = np.flatnonzero(np.diff(turns) <= 0)
    if falling.size:
        msg = (
            f"the corrected phase runs backwards at sample {falling[0]}; samples may be missing "
            "there, or the shaft frequency is wrong"
        )
        raise RecordingError(msg)
    return turns


def _demodulated(
    values: NDArray[np.float64], shaft_per_sample: float, window: int
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Centres of the sliding Hann window and the complex 1x amplitude there."""
    weights = np.hanning(window + 1)[:window]  # periodic
    kernel = weights * np.exp(-2j * np.pi * shaft_per_sample * np.arange(window))
    starts = np.linspace(
        0,
        values.size - window,
        int(np.ceil((values.size - window) * _STEPS_PER_WINDOW / window)) + 1,
    ).astype(np.intp)
    motion = np.array([values[start : start + window] @ kernel for start in starts])
    motion *= np.exp(-2j * np.pi * shaft_per_sample * starts) * 2.0 / weights.sum()
    return np.asarray(starts + 0.5 * window, dtype=np.float64), motion


def _check_amplitude(
    amplitude: NDArray[np.float64], time_s: NDArray[np.float64], least: float
) -> None:
    if not 0 <= least < 1:
        msg = f"minimum_relative_amplitude must lie in [0, 1), got {least}"
        raise InputError(msg)
    weakest = int(np.argmin(amplitude))
    if not amplitude[weakest] > least * float(np.median(amplitude)):
        msg = (
            f"the 1x motion fades at {time_s[weakest]:.2f} s to {amplitude[weakest]:.3g} of a "
            f"usual {np.median(amplitude):.3g}, its phase cannot be followed; "
            "record at steady speed or use a tachometer"
        )
        raise RecordingError(msg)


def _phase_at_samples(
    centre: NDArray[np.float64],
    motion: NDArray[np.complex128],
    shaft_per_sample: float,
    n_samples: int,
) -> NDArray[np.float64]:
    deviation = np.unwrap(np.angle(motion)) / (2.0 * np.pi)
    grid = np.arange(n_samples, dtype=np.float64)
    track: NDArray[np.float64] = CubicSpline(centre, deviation)(grid)
    count = 2 * _STEPS_PER_WINDOW + 1  # two windows
    for ends, outside in (
        (slice(count), grid < centre[0]),
        (slice(-count, None), grid > centre[-1]),
    ):
        anchor = centre[ends][0] if outside[0] else centre[ends][-1]
        bend, slope, _ = np.polyfit((centre[ends] - anchor) / centre[0], deviation[ends], 2)
        distance = (grid[outside] - anchor) / centre[0]
        track[outside] = track[int(anchor)] + distance * (slope + bend * distance)
    turns = track + shaft_per_sample * grid
    falling = np.flatnonzero(np.diff(turns) <= 0)
    if falling.size:
        msg = (
            f"the phase of the 1x motion runs backwards at sample {falling[0]}; samples may be "
            "missing there, or the shaft frequency is wrong"
        )
        raise RecordingError(msg)
    return turns
