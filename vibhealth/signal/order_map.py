"""Spectrogram in shaft orders over time, while the speed changes."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError
from vibhealth.model import SpeedTimeMap

__all__ = ["order_map"]

LOWEST_DB = -80.0
LOWEST_ORDER, ORDER_STEP = 0.25, 0.125
_WINDOW_S = (0.25, 1.0)


def order_map(  # noqa: PLR0913 (a record, its course, and the size of the map)
    acceleration: ArrayLike,
    sampling_rate_hz: float,
    *,
    course_time_s: ArrayLike,
    course_shaft_frequency_hz: ArrayLike,
    highest_order: float = 12.0,
    turns_per_window: float = 8.0,
    n_times: int = 240,
) -> SpeedTimeMap:
    """Amplitude of shaft orders over time, following the speed within each window.

    Each window (Hann, 8 turns long at the speed of its middle, between 0.25 and 1 s) is turned
    back by the shaft angle times the order and averaged, so that an order that keeps to the
    shaft stands still in it however fast the speed changes.

    Parameters
    ----------
    acceleration : array_like, shape (n_samples,)
        One channel, without its mean; sampled at more than twice the highest order.
    sampling_rate_hz : float
        Above 0.
    course_time_s, course_shaft_frequency_hz : array_like, shape (n,)
        Shaft frequency over time, 0 at standstill; held beyond its ends.
    highest_order : float
        Above 0.25.
    turns_per_window : float
        Above 0.
    n_times : int
        Columns of the map, 2 or more.

    Returns
    -------
    SpeedTimeMap
        Orders 0.25 to ``highest_order`` in steps of 0.125; -80 dB stands for that and for less,
        for standstill and for orders above the Nyquist frequency.

    Raises
    ------
    InputError
        If a value is outside its range.

    Examples
    --------
    >>> t = np.arange(4000) / 500.0
    >>> x = np.cos(2 * np.pi * (5.0 * t + t**2))
    >>> found = order_map(x, 500.0, course_time_s=t, course_shaft_frequency_hz=5.0 + 2.0 * t)
    >>> float(found.order[np.argmax(found.level_db[:, 120])])
    1.0
    """
    values = check_samples(acceleration, name="acceleration", minimum=16)
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    turns_wanted = check_positive(turns_per_window, name="turns_per_window")
    course_s = check_samples(course_time_s, name="course_time_s")
    course_hz = check_samples(course_shaft_frequency_hz, name="course_shaft_frequency_hz")
    if values.ndim != 1 or course_s.shape != course_hz.shape or not np.diff(course_s).min() > 0:
        msg = (
            "need one channel and a course of as many rising times as frequencies, got shapes "
            f"{values.shape}, {course_s.shape} and {course_hz.shape}"
        )
        raise InputError(msg)
    if highest_order <= LOWEST_ORDER or n_times < 2 or course_hz.min() < 0:
        msg = (
            f"need highest_order above 0.25, n_times of 2 or more and no speed below 0, got "
            f"{highest_order}, {n_times} and {course_hz.min():g} Hz"
        )
        raise InputError(msg)
    time = np.arange(values.size) / rate
    inside = np.clip(time, course_s[0], course_s[-1])
    shaft = np.maximum(PchipInterpolator(course_s, course_hz)(inside), 0)
    turns = np.cumsum(shaft) / rate
    order = np.arange(LOWEST_ORDER, highest_order + 0.5 * ORDER_STEP, ORDER_STEP)
    centres = np.linspace(0, values.size - 1, n_times).astype(np.intp)
    amplitude = np.zeros((order.size, n_times))
    for column, centre in enumerate(centres):
        hz = float(shaft[centre])
        if hz > 0:
            half = round(0.5 * np.clip(turns_wanted / hz, *_WINDOW_S) * rate)
            amplitude[:, column] = _column(values, turns, int(centre), half, order.size)
            amplitude[order * hz >= rate / 2, column] = 0
    largest = float(amplitude.max())
    relative = amplitude / largest if largest > 0 else amplitude
    return SpeedTimeMap(
        time_s=time[centres],
        order=order,
        level_db=20 * np.log10(np.maximum(relative, 10 ** (LOWEST_DB / 20))),
        shaft_frequency_hz=np.asarray(shaft[centres], dtype=np.float64),
    )


def _column(
    values: NDArray[np.float64], turns: NDArray[np.float64], centre: int, half: int, n_orders: int
) -> NDArray[np.float64]:
    """Amplitude of each order in the window about one sample."""
    part = np.arange(max(0, centre - half), min(values.size, centre + half))
    weight = 1 + np.cos(np.pi * (part - centre) / half)
    step = np.exp(-2j * np.pi * ORDER_STEP * (turns[part] - turns[centre]))
    wave = values[part] * weight * step ** round(LOWEST_ORDER / ORDER_STEP)
    amplitude = np.empty(n_orders)
    for row in range(n_orders):
        amplitude[row] = 2 * np.abs(wave.sum()) / weight.sum()
        wave *= step
    return amplitude
