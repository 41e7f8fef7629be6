"""Time stamps: how even they are, what rate they mean, and resampling where it is asked for."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from vibhealth.errors import RecordingError

__all__ = ["Stamps", "TimeAxis", "even_samples", "measure_time_axis"]

# A step may differ from the others by this fraction (or by the printed resolution of the stamps).
STEP_TOLERANCE = 1e-3
# Widest step, in usual steps, that an interpolation may bridge: two missing samples.
WIDEST_BRIDGED_STEP = 3.0
# A stated rate may differ by this fraction from that of the stamps.
RATE_TOLERANCE = 1e-4
_MOST_DECIMALS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamps:
    """Time stamps as printed, where they stand, and the seconds of their unit.

    ``line_of`` gives the line of the file that holds the stamp of an index.
    """

    values: NDArray[np.float64]
    seconds_per_unit: float
    path: str
    place: str
    line_of: Callable[[int], int]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeAxis:
    """Measured spacing of time stamps in seconds; ``is_even`` within the tolerance."""

    time_s: NDArray[np.float64]
    sampling_rate_hz: float
    rate_tolerance_hz: float
    is_even: bool
    worst_deviation_percent: float


def printed_resolution(stamps: NDArray[np.float64], step: float) -> float:
    """Spacing of the decimal grid on which all stamps lie, 0 if finer than matters.

    >>> printed_resolution(np.array([0.0, 0.04, 0.08, 0.11]), 0.037)
    0.01
    """
    for decimals in range(_MOST_DECIMALS + 1):
        resolution = 10.0**-decimals
        if resolution < 0.5 * STEP_TOLERANCE * step:
            return 0.0
        scaled = stamps / resolution
        round_off = 4 * np.finfo(np.float64).eps * float(np.max(np.abs(scaled)))
        if float(np.max(np.abs(scaled - np.rint(scaled)))) <= 1e-6 + round_off:
            return resolution
    return 0.0


def measure_time_axis(column: Stamps, *, resample: bool) -> TimeAxis:
    """Measure the spacing of time stamps.

    Parameters
    ----------
    column : Stamps
        At least two of them.
    resample : bool
        Whether uneven stamps are accepted, to be resampled.

    Returns
    -------
    TimeAxis

    Raises
    ------
    RecordingError
        If time stands still or runs backwards; if the spacing is uneven and
        ``resample`` is not set; if a gap is too wide to bridge.
    """
    stamps, scale_s = column.values, column.seconds_per_unit
    steps = np.diff(stamps)
    _check_rising(column, steps)
    usual = float(np.median(steps))
    mean = float((stamps[-1] - stamps[0]) / steps.size)
    resolution = max(
        printed_resolution(stamps, usual), 2 * float(np.spacing(np.max(np.abs(stamps))))
    )
    first_bad = _first_uneven(stamps, usual, mean, resolution)
    deviation = np.abs(steps - usual)
    worst_percent = 100 * float(np.max(deviation)) / usual
    if first_bad is not None:
        worst = int(np.argmax(deviation))
        _check_uneven(
            f"{column.path}: {column.place} is not evenly spaced: the step at line "
            f"{column.line_of(first_bad + 1)} is "
            f"{steps[first_bad] * scale_s:.6g} s, the usual one {usual * scale_s:.6g} s, the "
            f"largest deviation {worst_percent:.3g} % (line {column.line_of(worst + 1)})",
            widest=float(np.max(steps)) / usual,
            resample=resample,
        )
    span = stamps[-1] - stamps[0]
    # Gaps and doubled-up stamps do not belong to the rate.
    ordinary = steps[deviation < 0.5 * usual]
    step = float(np.mean(ordinary)) if first_bad is not None else mean
    # 12 digits: removes the round-off of the division, 10^-12 of the rate.
    rate_hz = float(f"{1.0 / (step * scale_s):.12g}")
    relative = 0.01 if first_bad is not None else max(RATE_TOLERANCE, 2 * resolution / span)
    return TimeAxis(
        time_s=(stamps - stamps[0]) * scale_s,
        sampling_rate_hz=rate_hz,
        rate_tolerance_hz=rate_hz * relative,
        is_even=first_bad is None,
        worst_deviation_percent=worst_percent,
    )


def _check_rising(column: Stamps, steps: NDArray[np.float64]) -> None:
    backwards = np.flatnonzero(steps <= 0)
    if not backwards.size:
        return
    i = int(backwards[0])
    what = "repeats" if steps[i] == 0 else "runs backwards"
    msg = (
        f"{column.path}: {column.place} {what} at line {column.line_of(i + 1)} "
        f"({column.values[i]:.12g} then {column.values[i + 1]:.12g}); "
        "time must increase from line to line, export the file again"
    )
    raise RecordingError(msg)


def _first_uneven(
    stamps: NDArray[np.float64], usual: float, mean: float, resolution: float
) -> int | None:
    """Index of the first step that is uneven, None when all are even.

    Single steps may be off by the printed resolution; so many steps together that
    the resolution no longer matters must keep the tolerance on their own.
    """
    # Round-off of the difference of two stamps, each off by half a spacing at most.
    round_off = 2 * float(np.spacing(np.max(np.abs(stamps))))
    allowed = max(STEP_TOLERANCE * usual, resolution) + round_off
    single = np.flatnonzero(np.abs(np.diff(stamps) - usual) > allowed)
    if single.size:
        return int(single[0])
    together = math.ceil(2 * resolution / (STEP_TOLERANCE * mean))
    if together < 2 or together >= stamps.size:
        return None
    joint = stamps[together:] - stamps[:-together]
    limit = STEP_TOLERANCE * mean * together + resolution + round_off
    bad = np.flatnonzero(np.abs(joint - mean * together) > limit)
    return int(bad[0]) if bad.size else None


def _check_uneven(found: str, *, widest: float, resample: bool) -> None:
    if not resample:
        msg = f"{found}; record again, or ask for resampling to an even spacing"
        raise RecordingError(msg)
    if widest > WIDEST_BRIDGED_STEP:
        msg = (
            f"{found}; a gap of {widest:.3g} steps is too wide to resample across "
            f"(at most {WIDEST_BRIDGED_STEP:g}), record again"
        )
        raise RecordingError(msg)


def even_samples(
    samples: NDArray[np.float64], axis: TimeAxis, sampling_rate_hz: float
) -> NDArray[np.float64]:
    """Samples on an even grid from the first to the last stamp, by cubic spline.

    Parameters
    ----------
    samples : ndarray, shape (n_channels, n)
        At the times of ``axis``.
    axis : TimeAxis
        Their times.
    sampling_rate_hz : float
        Of the result.

    Returns
    -------
    ndarray, shape (n_channels, m)
    """
    count = int(axis.time_s[-1] * sampling_rate_hz * (1 + 1e-12)) + 1
    grid_s = np.minimum(np.arange(count) / sampling_rate_hz, axis.time_s[-1])
    return np.ascontiguousarray(CubicSpline(axis.time_s, samples, axis=-1)(grid_s))
