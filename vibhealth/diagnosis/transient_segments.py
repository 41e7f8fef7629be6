"""Standstill, run-up, steady running and coast-down, told apart by the motion itself."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, uniform_filter1d
from scipy.signal import bilinear, lfilter

from vibhealth._check import check_positive
from vibhealth.diagnosis.transient_motion import (
    SlowMotion,
    WorkingLine,
    analytic_motion,
    followed_turns,
    slow_motion,
    working_line,
)
from vibhealth.model import Recording, RunSegment

__all__ = ["run_segments", "steady_part"]

# Not steady is what falls below these shares of the steady speed or of the steady acceleration,
# for at least this long: a change of load or of a drive's setting is not a stop (starting limits
# of this project, no published source).
LEAST_SPEED, LEAST_MOTION = 0.9, 0.5
LEAST_TRANSIENT_S = 0.3
LEAST_STEADY_S = 0.6
# Beyond doubt is a stretch in which the motion fades below the first share of the steady one, or
# in which the speed falls below the second.
FADED, SLOWED = 0.35, 0.8
# A body neither stops nor starts within a turn: what vanishes at once is a fault of the recording.
LEAST_STOP_TURNS = 2.0
# The acceleration of an unbalance grows with the square of the speed. A stretch without standstill
# must keep to that within this share in the middle (a resonance near by may raise it to 1.8 times).
SQUARE_LAW_SHARE = 0.35
# To speed is what has this share of it (common practice, no source).
AT_SPEED = 0.98
# Shares of the steady displacement: where motion begins, and below which it has ended; or what
# the quietest moment shows, times the factor, unless that is no standstill at all.
FIRST_MOTION_SHARE, STILL_SHARE = 0.005, 0.05
QUIETEST_SHARE = 0.1
QUIET = ((2.0, 1.6), (0.6, 3.0))  # seconds, factor: the lower of both
LEAST_STILL_S = (0.35, 0.6)  # before a start, after a stop
# Slower than this is neither swing nor turning, but drift of the sensor.
DRIFT_HZ = 0.7
# Left out of a steady stretch beside a start or a stop, at most half of the stretch.
SETTLING_S = 5.0

Flags = NDArray[np.bool_]
Values = NDArray[np.float64]


def run_segments(
    recording: Recording, *, nominal_hz: float, tolerance_percent: float
) -> tuple[RunSegment, ...]:
    """Cut a recording into standstill, run-up, steady running and coast-down.

    Read from the 1x motion. A recording in which no line dominates the motion (an ordinary
    machine), or which never stands or turns well below its working speed, is one steady
    segment: it is cut only where a start or a stop is beyond doubt.

    Parameters
    ----------
    recording : Recording
        Any, calibrated or not.
    nominal_hz : float
        Nominal shaft frequency, above 0.
    tolerance_percent : float
        By how much the speed may differ from it, above 0; a speed that stays within it of
        the steady one is never a start or a stop.

    Returns
    -------
    tuple of RunSegment
        In order of time, without gaps, from 0 to the recording's end.

    Raises
    ------
    InputError
        If the nominal frequency or the tolerance is not above 0.
    """
    nominal = check_positive(nominal_hz, name="nominal_hz")
    tolerance = check_positive(tolerance_percent, name="tolerance_percent")
    whole = (RunSegment(kind="steady", start_s=0.0, end_s=recording.duration_s),)
    motion = slow_motion(recording, nominal)
    line = working_line(motion, nominal)
    if line is None:
        return whole
    hz = line.frequency_hz
    amplitude, frequency = analytic_motion(motion, band_hz=(0.45 * hz, 1.6 * hz), smooth_s=3 / hz)
    course = _Course(line=line, rate_hz=motion.rate_hz, amplitude=amplitude, frequency_hz=frequency)
    steady = _steady_samples(course, min(LEAST_SPEED, 1 - 0.01 * tolerance))
    if steady.all() or not steady.any():
        return whole
    still = _still_samples(motion, line, steady)
    for first, last in _runs(~steady):
        stands = still.before_start[first:last].any() or still.after_stop[first:last].any()
        if not stands and not _keeps_square_law(course, first, last):
            steady[first:last] = True
    if steady.all():
        return whole
    at_speed = _to_speed(motion, course, steady)
    marks = _joined(_segments(course, at_speed, still))
    ends = [mark / motion.rate_hz for _, mark in marks[:-1]] + [recording.duration_s]
    return tuple(
        RunSegment(kind=kind, start_s=start, end_s=end)  # type: ignore[arg-type]
        for (kind, _), start, end in zip(marks, [0.0, *ends[:-1]], ends, strict=True)
    )


def steady_part(recording: Recording, segments: tuple[RunSegment, ...]) -> Recording | None:
    """Cut the longest steady stretch out of a recording.

    Beside a start or a stop a margin of 5 s is left out, for the free swing to die away, but
    never more than half of the stretch.

    Parameters
    ----------
    recording : Recording
        As it was cut.
    segments : tuple of RunSegment
        From `run_segments`.

    Returns
    -------
    Recording or None
        With samples and tachometer cut and the start time moved; the recording itself where
        all of it is steady, None where nothing is.
    """
    stretches = [
        (place, segment) for place, segment in enumerate(segments) if segment.kind == "steady"
    ]
    if not stretches:
        return None
    if len(segments) == 1:
        return recording
    place, longest = max(stretches, key=lambda pair: pair[1].end_s - pair[1].start_s)
    length = longest.end_s - longest.start_s
    begins, ends = place > 0, place < len(segments) - 1
    margin = min(SETTLING_S, 0.5 * length / (begins + ends))
    rate = recording.sampling_rate_hz
    first = round((longest.start_s + margin * begins) * rate)
    last = min(recording.samples.size, round((longest.end_s - margin * ends) * rate))
    tachometer, start = recording.tachometer, recording.start_time
    return replace(
        recording,
        samples=recording.samples[first:last],
        tachometer=None if tachometer is None else tachometer[first:last],
        start_time=None if start is None else start + timedelta(seconds=first / rate),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Course:
    """Amplitude and frequency of the working motion at each sample of the slow record."""

    line: WorkingLine
    rate_hz: float
    amplitude: Values
    frequency_hz: Values


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """Starts and ends of the runs of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _without_short(flags: Flags, least: int) -> Flags:
    kept = flags.copy()
    for first, last in _runs(flags):
        if last - first < least:
            kept[first:last] = False
    return kept


def _steady_samples(course: _Course, least_speed: float) -> Flags:
    """Where speed and motion are those of steady running, or a start or stop is in doubt."""
    line = course.line
    at_speed = (course.frequency_hz > least_speed * line.frequency_hz) & (
        course.amplitude > LEAST_MOTION * line.amplitude
    )
    away = _without_short(~at_speed, round(LEAST_TRANSIENT_S * course.rate_hz))
    steady = _without_short(~away, round(LEAST_STEADY_S * course.rate_hz))
    for first, last in _runs(~steady):
        if not _is_beyond_doubt(course, first, last):
            steady[first:last] = True
    return steady


def _is_beyond_doubt(course: _Course, first: int, last: int) -> bool:
    """Whether the motion clearly fades or slows down, and as slowly as a body does."""
    relative = course.amplitude[first:last] / course.line.amplitude
    slowed = course.frequency_hz[first:last] < SLOWED * course.line.frequency_hz
    if not ((relative < FADED).any() or (slowed & (relative < SLOWED)).any()):
        return False
    edges = [side for side in (relative[::-1], relative) if side[0] > FADED]
    least = LEAST_STOP_TURNS / course.line.frequency_hz * course.rate_hz
    passing = [_length_between(side) for side in edges]
    return not passing or min(passing) >= least


def _length_between(relative: Values) -> int:
    """Samples from the edge of steady running to where the motion has all but gone."""
    gone = np.flatnonzero(relative < 0.1)
    return int(gone[0]) if gone.size else relative.size


def _keeps_square_law(course: _Course, first: int, last: int) -> bool:
    """Whether motion and speed fall together, as they do under an unbalance."""
    relative = course.amplitude[first:last] / course.line.amplitude
    middle = (relative > 0.2) & (relative < 0.9)
    if not middle.any():
        return False
    expected = course.line.frequency_hz * np.sqrt(relative[middle])
    away = np.abs(course.frequency_hz[first:last][middle] / expected - 1)
    return bool(np.median(away) < SQUARE_LAW_SHARE)


def _to_speed(motion: SlowMotion, course: _Course, steady: Flags) -> Flags:
    """Steady stretches without their flanks: from where the speed is reached until it is left."""
    turns, _ = followed_turns(motion, course.frequency_hz)
    turn = max(1, round(motion.rate_hz / course.line.frequency_hz))
    followed_hz = uniform_filter1d(np.gradient(turns) * motion.rate_hz, turn)
    narrowed = steady.copy()
    for first, last in _runs(steady):
        speed = followed_hz[first:last]
        slow = speed < AT_SPEED * float(np.median(speed))
        middle = (last - first) // 2
        before, after = np.flatnonzero(slow[:middle]), np.flatnonzero(slow[middle:])
        if first > 0 and before.size:
            narrowed[first : first + int(before[-1]) + 1] = False
        if last < steady.size and after.size:
            narrowed[first + middle + int(after[0]) : last] = False
    return narrowed


@dataclass(frozen=True, slots=True, kw_only=True)
class _Still:
    """Where the body stands still: seen forwards for a start, backwards for a stop."""

    before_start: Flags
    after_stop: Flags


def _still_samples(motion: SlowMotion, line: WorkingLine, steady: Flags) -> _Still:
    """Where the displacement stays below small shares of its steady amplitude."""
    amplitude = line.amplitude / (2 * np.pi * line.frequency_hz) ** 2
    forwards = _drift_free_displacement(motion.samples, motion.rate_hz)
    backwards = _drift_free_displacement(motion.samples[::-1], motion.rate_hz)[::-1]
    still = []
    shares = (FIRST_MOTION_SHARE, STILL_SHARE)
    for displacement, share, least_s in zip(
        (forwards, backwards), shares, LEAST_STILL_S, strict=True
    ):
        size = np.abs(displacement)
        quiet = min(
            factor * float(np.min(maximum_filter1d(size, round(seconds * motion.rate_hz))[~steady]))
            for seconds, factor in QUIET
        )
        limit = max(share * amplitude, quiet)
        quiet_enough = (size < limit) & (quiet < QUIETEST_SHARE * amplitude)
        still.append(_without_short(quiet_enough & ~steady, round(least_s * motion.rate_hz)))
    return _Still(before_start=still[0], after_stop=still[1])


def _drift_free_displacement(acceleration: Values, rate_hz: float) -> Values:
    """Displacement by a filter that knows only the past, so that nothing moves too early.

    Two second-order systems at the drift frequency: one integrates twice above it, the
    other takes out what is slower.
    """
    omega = 2 * np.pi * DRIFT_HZ
    slow = [1.0, 1.4 * omega, omega**2]
    numerator, denominator = bilinear([1.0, 0.0, 0.0], np.polymul(slow, slow), rate_hz)
    return np.asarray(lfilter(numerator, denominator, acceleration), dtype=np.float64)


Mark = tuple[str, int]  # kind of a segment, sample at which it ends


def _segments(course: _Course, steady: Flags, still: _Still) -> Iterator[Mark]:
    """Each stretch that is not steady, cut by where the body stands still."""
    place = 0
    for first, last in _runs(steady):
        yield from _between(course, place, first, still, before=place > 0, after=True)
        yield ("steady", last)
        place = last
    if place < steady.size:
        yield from _between(course, place, steady.size, still, before=True, after=False)


def _between(  # noqa: PLR0913 (a stretch and its neighbours)
    course: _Course, first: int, last: int, still: _Still, *, before: bool, after: bool
) -> Iterator[Mark]:
    """A stretch between steady ones: coast-down, standstill, run-up, as far as they are there."""
    if last <= first:
        return
    stands = _runs(still.after_stop[first:last])
    stopped = first + stands[0][0] if stands else None
    rests = _runs(still.before_start[first:last])
    started = first + rests[-1][1] if rests else None
    if before and after and (stopped is None or started is None or started <= stopped):
        turn = first + int(np.argmin(course.amplitude[first:last]))
        stopped = started = turn
    if before:
        yield ("coast-down", last if stopped is None else stopped)
        if stopped is not None:
            yield ("standstill", last if started is None or not after else started)
    elif started is not None:
        yield ("standstill", started)
    if after:
        yield ("run-up", last)


def _joined(marks: Iterator[Mark]) -> list[Mark]:
    """Segments of some length, neighbours of one kind as one."""
    joined: list[Mark] = []
    end = 0
    for kind, mark in marks:
        if mark <= end:
            continue
        if joined and joined[-1][0] == kind:
            joined[-1] = (kind, mark)
        else:
            joined.append((kind, mark))
        end = mark
    return joined
