"""Shaft frequency over time from the 1x motion, down to where it is lost."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from vibhealth.diagnosis.transient_motion import (
    SlowMotion,
    analytic_motion,
    followed_turns,
)
from vibhealth.model import Recording, RunSegment

__all__ = ["ShaftCourse", "shaft_course"]

# Above this share of the steady speed 1x is read alone; below it what moves most is taken for it.
ALONE_SHARE = 0.7
SLOPE_FACTOR = 1.5  # up to so many times the trusted speed its slope is read, to go on to rest
POWERS = (0.4, 4.0)
# A pulse rises through the first share of the channel's range after it was below the second.
PULSE_LEVELS, LEAST_PULSES = (0.6, 0.4), 8

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftCourse:
    """Shaft frequency and forced motion, one value per sample of a slow record.

    ``forced`` is the 1x displacement as an analytic signal, but for a constant factor.
    """

    shaft_hz: Values
    forced: NDArray[np.complex128]


def shaft_course(
    recording: Recording,
    motion: SlowMotion,
    segments: tuple[RunSegment, ...],
    *,
    steady_hz: float,
    trusted_hz: float,
) -> ShaftCourse:
    """Shaft frequency at each sample of the slow record, 0 Hz at standstill, and its forced motion.

    From the tachometer where its pulses can be followed; else from the frequency of the
    motion, carried on from where that is lost to where the body stands still.

    Parameters
    ----------
    recording : Recording
        With its tachometer, if it has one.
    motion : SlowMotion
        Of the same recording.
    segments : tuple of RunSegment
        Of the same recording.
    steady_hz : float
        Shaft frequency at speed.
    trusted_hz : float
        Above this the acceleration is mostly 1x; in and below the resonance of the isolators
        the course is carried on.

    Returns
    -------
    ShaftCourse
    """
    by_pulses = _tachometer_course(recording, motion)
    rough = by_pulses
    if rough is None:
        rough = _course_of_motion(motion, segments, steady_hz, trusted_hz)
    trusted = rough > trusted_hz
    turns, amplitude = followed_turns(motion, rough)
    followed = np.where(trusted, np.gradient(turns) * motion.rate_hz, rough)
    shown = rough
    if by_pulses is None:
        shown = _monotone(motion, segments, _held_at_ends(followed, motion.rate_hz, steady_hz))
    forced = amplitude / np.maximum(followed, trusted_hz) ** 2
    return ShaftCourse(
        shaft_hz=np.maximum(shown, 0),
        forced=forced * np.exp(2j * np.pi * np.cumsum(followed) / motion.rate_hz),
    )


def _held_at_ends(followed: Values, rate_hz: float, steady_hz: float) -> Values:
    """Averages over a turn; in the first and last turn, seen from one side only, they stay."""
    turn = max(1, round(rate_hz / steady_hz))
    averaged = uniform_filter1d(followed, turn)
    if averaged.size > 4 * turn:
        averaged[:turn], averaged[-turn:] = averaged[turn], averaged[-turn - 1]
    return np.asarray(averaged)


def _monotone(motion: SlowMotion, segments: tuple[RunSegment, ...], shown: Values) -> Values:
    """The mean of the least rising courses above and below: a free swing makes 1x wobble."""
    for segment in segments:
        first, last = (round(s * motion.rate_hz) for s in (segment.start_s, segment.end_s))
        part = shown[first:last]
        if segment.kind == "coast-down":
            part = part[::-1]
        if segment.kind in {"run-up", "coast-down"} and part.size:
            above = np.maximum.accumulate(part)
            below = np.minimum.accumulate(part[::-1])[::-1]
            part[:] = 0.5 * (above + below)
    return shown


def _course_of_motion(
    motion: SlowMotion, segments: tuple[RunSegment, ...], steady_hz: float, trusted_hz: float
) -> Values:
    smooth_s = 2 / steady_hz
    _, upper = analytic_motion(
        motion, band_hz=(0.45 * steady_hz, 1.6 * steady_hz), smooth_s=smooth_s
    )
    _, lower = analytic_motion(
        motion, band_hz=(0.7 * trusted_hz, 1.6 * steady_hz), smooth_s=smooth_s
    )
    course = np.where(upper > ALONE_SHARE * steady_hz, upper, lower)
    for segment in segments:
        first, last = (round(s * motion.rate_hz) for s in (segment.start_s, segment.end_s))
        if segment.kind == "standstill":
            course[first:last] = 0.0
        elif segment.kind == "run-up":
            begins = _stands_before(segments, segment)
            course[first:last] = _rising(course[first:last], trusted_hz, from_rest=begins)
        elif segment.kind == "coast-down":
            ends = _stands_after(segments, segment)
            course[first:last] = _rising(course[first:last][::-1], trusted_hz, from_rest=ends)[::-1]
    return course


def _stands_before(segments: tuple[RunSegment, ...], segment: RunSegment) -> bool:
    return any(s.kind == "standstill" and s.end_s == segment.start_s for s in segments)


def _stands_after(segments: tuple[RunSegment, ...], segment: RunSegment) -> bool:
    return any(s.kind == "standstill" and s.start_s == segment.end_s for s in segments)


def _rising(course: Values, trusted_hz: float, *, from_rest: bool) -> Values:
    """A course that never falls; a power of time from rest to where it can be trusted.

    The power is that which goes on with the slope found there: 1 is a straight line.
    """
    slow = np.flatnonzero(course < trusted_hz)
    trusted = int(slow[-1]) + 1 if slow.size else 0
    rising = np.minimum.accumulate(course[::-1])[::-1]
    if from_rest and 0 < trusted < course.size:
        faster = np.flatnonzero(rising[trusted:] > SLOPE_FACTOR * trusted_hz)
        steps = int(faster[0]) if faster.size and faster[0] > 0 else 1
        last = min(trusted + steps, course.size - 1)
        slope = (rising[last] - rising[trusted]) / max(last - trusted, 1)
        power = float(np.clip(slope * trusted / rising[trusted], *POWERS))
        rising[:trusted] = rising[trusted] * (np.arange(trusted) / trusted) ** power
    return np.asarray(rising)


def _tachometer_course(recording: Recording, motion: SlowMotion) -> Values | None:
    """Speed from pulse to pulse, 0 before the first and after the last; None without pulses.

    Unlike the phase of a tachometer at steady speed it may begin and end at standstill. A
    median of three intervals passes over a single missing or double pulse.
    """
    if recording.tachometer is None:
        return None
    low, high = (float(edge) for edge in np.quantile(recording.tachometer, (0.001, 0.999)))
    if not high > low:
        return None
    upper, lower = (low + share * (high - low) for share in PULSE_LEVELS)
    state = np.where(recording.tachometer > upper, 1, np.where(recording.tachometer < lower, -1, 0))
    known = np.flatnonzero(state)
    rises = known[1:][np.diff(state[known]) > 0]
    if rises.size < LEAST_PULSES:
        return None
    pulse_s = rises / recording.sampling_rate_hz
    intervals_s = median_filter(np.diff(pulse_s), size=3, mode="nearest")
    speed = 1 / (intervals_s * recording.tachometer_pulses_per_turn)
    middle_s = 0.5 * (pulse_s[1:] + pulse_s[:-1])
    rest_s = np.array([pulse_s[0] - intervals_s[0], pulse_s[-1] + intervals_s[-1]])
    course = np.interp(motion.time_s, middle_s, speed)
    course[(motion.time_s < rest_s[0]) | (motion.time_s > rest_s[1])] = 0.0
    return np.asarray(course)
