"""Angle of the shaft at each sample, from tachometer pulses."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError, RecordingError

__all__ = ["tachometer_phase"]


def tachometer_phase(
    tachometer: ArrayLike,
    sampling_rate_hz: float,
    *,
    pulses_per_turn: float = 1.0,
    hysteresis: float = 0.2,
) -> NDArray[np.float64]:
    """Shaft angle of each sample from a pulse channel.

    A pulse counts where the channel rises through the upper of two levels after
    it was below the lower one; the levels stand ``hysteresis`` of the channel's
    range apart around its middle. The crossing is interpolated linearly between
    two samples, the angle between the crossings by a cubic spline; before the
    first and after the last crossing the speed of the next interval is kept.
    Turn 0 is the first pulse.

    Parameters
    ----------
    tachometer : array_like, shape (n_samples,)
        Pulse channel in any unit.
    sampling_rate_hz : float
        Above 0.
    pulses_per_turn : float
        Above 0; need not be whole (gear).
    hysteresis : float
        Fraction of the range, above 0 and below 1.

    Returns
    -------
    ndarray of float64, shape (n_samples,)
        Angle in turns, strictly rising.

    Raises
    ------
    InputError
        If a setting is outside its range.
    RecordingError
        If fewer than four pulses are found, one is missing or too many (an
        interval beyond 1.5 times or below 0.5 times the median of its
        neighbours), or the pulses do not reach to both ends of the record.

    Examples
    --------
    >>> pulses = np.tile([0.0, 0.0, 1.0, 1.0, 0.0], 8)
    >>> turns = tachometer_phase(pulses, 100.0)
    >>> bool(np.allclose(np.diff(turns), 0.2))
    True
    """
    values = check_samples(tachometer, name="tachometer", minimum=8)
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    per_turn = check_positive(pulses_per_turn, name="pulses_per_turn")
    if not 0 < hysteresis < 1:
        msg = f"hysteresis must lie above 0 and below 1, got {hysteresis}"
        raise InputError(msg)
    crossing = _rising_crossings(values, hysteresis)
    _check_intervals(crossing, values.size, rate)
    pulse = np.arange(crossing.size, dtype=np.float64)
    grid = np.arange(values.size, dtype=np.float64)
    turns: NDArray[np.float64] = CubicSpline(crossing, pulse)(grid)
    before, after = grid < crossing[0], grid > crossing[-1]
    turns[before] = (grid[before] - crossing[0]) / (crossing[1] - crossing[0])
    turns[after] = pulse[-1] + (grid[after] - crossing[-1]) / (crossing[-1] - crossing[-2])
    return turns / per_turn


def _rising_crossings(values: NDArray[np.float64], hysteresis: float) -> NDArray[np.float64]:
    """Fractional positions where the channel rises through its upper level."""
    lowest, highest = float(values.min()), float(values.max())
    middle, half_gap = 0.5 * (lowest + highest), 0.5 * hysteresis * (highest - lowest)
    upper = middle + half_gap
    state = np.where(values > upper, 1, np.where(values < middle - half_gap, -1, 0))
    decided = np.flatnonzero(state)
    rising = decided[1:][(state[decided[1:]] == 1) & (state[decided[:-1]] == -1)]
    before = values[rising - 1]
    position: NDArray[np.float64] = rising - (values[rising] - upper) / (values[rising] - before)
    return position


def _check_intervals(crossing: NDArray[np.float64], n_samples: int, rate: float) -> None:
    """Refuse too few, missing or surplus pulses, and a record the pulses do not cover."""
    if crossing.size < 4:
        msg = f"the tachometer channel shows {crossing.size} pulses, 4 are needed; check its cable"
        raise RecordingError(msg)
    interval = np.diff(crossing)
    padded = np.pad(interval, 2, mode="edge")
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=-1)
    odd = np.flatnonzero((interval > 1.5 * usual) | (interval < 0.5 * usual))
    if odd.size:
        first = odd[0]
        kind = "is missing" if interval[first] > usual[first] else "is too many"
        msg = (
            f"a tachometer pulse {kind} near {crossing[first] / rate:.3f} s (interval "
            f"{interval[first] / rate:.4g} s where {usual[first] / rate:.4g} s is usual); "
            "check mark and sensor, or measure the speed from the recording"
        )
        raise RecordingError(msg)
    gaps = crossing[0] / interval[0], (n_samples - 1 - crossing[-1]) / interval[-1]
    if max(gaps) > 1.5:
        msg = (
            f"tachometer pulses reach only from {crossing[0] / rate:.3f} s to "
            f"{crossing[-1] / rate:.3f} s of {n_samples / rate:.3f} s; cut the record to that range"
        )
        raise RecordingError(msg)
