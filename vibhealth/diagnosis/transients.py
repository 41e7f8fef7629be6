"""Starts and stops of a recording: speed course, time, swing, isolators, hard hits."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.diagnosis.transient_course import ShaftCourse, shaft_course
from vibhealth.diagnosis.transient_motion import (
    SlowMotion,
    WorkingLine,
    followed_turns,
    slow_motion,
    working_line,
)
from vibhealth.diagnosis.transient_segments import run_segments, steady_part
from vibhealth.diagnosis.transient_strikes import (
    HitRecord,
    hit_record,
    hits_between,
    steady_level,
    strikes_per_turn,
)
from vibhealth.diagnosis.transient_swing import (
    FreeSwing,
    displacement_of,
    free_swing,
    swing_frequency_hz,
)
from vibhealth.model import (
    MotionCurve,
    Recording,
    RunSegment,
    SpeedTimeMap,
    Transient,
    TransientAnalysis,
    TransientStrike,
)
from vibhealth.signal.order_map import order_map

__all__ = ["analyze_transients", "run_segments", "steady_part"]

# A sensor whose band begins above this does not show the swing (isolators at 2 to 5 Hz).
HIGHEST_LOW_END_HZ = 1.0
# The largest swing of a fast start comes after the speed is reached.
SWING_AFTER_S = 3.0
# 1x is read from this multiple of the resonance on, within these shares of the working speed.
TRUSTED_FACTOR, TRUSTED_SHARES = 1.7, (0.15, 0.4)
EDGE_TURNS = 3.0  # of a steady stretch that are not steady yet, or seen from one side only
COURSE_STEPS = 400  # points of a course that is handed on

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """What all starts and stops of a recording are read from."""

    recording: Recording
    segments: tuple[RunSegment, ...]
    motion: SlowMotion
    course: ShaftCourse
    steady_hz: float
    has_steady: bool
    steady_amplitude: float
    displacement: Values
    lower_cut_hz: float
    trusted_hz: float
    hits: HitRecord | None


def analyze_transients(recording: Recording, *, card: MachineCard) -> TransientAnalysis:
    """Read every start and stop of a recording.

    Parameters
    ----------
    recording : Recording
        One point, from before a start or until after a stop; uncalibrated ones give ratios.
    card : MachineCard
        Nominal speed and, where known, the isolators' frequency.

    Returns
    -------
    TransientAnalysis
        ``not_judged`` says why where nothing was found to read.
    """
    nominal = card.nominal_shaft_frequency_hz
    segments = run_segments(
        recording, nominal_hz=nominal, tolerance_percent=card.machine.speed_tolerance_percent
    )
    if not any(segment.kind in {"run-up", "coast-down"} for segment in segments):
        return TransientAnalysis(
            recording=recording,
            segments=segments,
            transients=(),
            map=None,
            not_judged="the recording shows neither a start nor a stop: no stretch in which the "
            "working motion clearly grows from, or dies down to, standstill or low speed",
        )
    read = _read(recording, segments, card)
    return TransientAnalysis(
        recording=recording,
        segments=segments,
        transients=tuple(
            _transient(read, place)
            for place, segment in enumerate(segments)
            if segment.kind in {"run-up", "coast-down"}
        ),
        map=_map(read),
        curve=_curve(read),
    )


def _read(recording: Recording, segments: tuple[RunSegment, ...], card: MachineCard) -> _Read:
    nominal = card.nominal_shaft_frequency_hz
    motion = slow_motion(recording, nominal)
    line = working_line(motion, nominal)
    assert line is not None  # noqa: S101 (without it there is one steady segment)
    line = _at_speed(motion, segments, line)
    isolator = card.exciter.isolator_frequency_hz if card.exciter is not None else None
    displacement, cut = displacement_of(
        motion,
        isolator_hz=isolator,
        steady_hz=line.frequency_hz,
        is_steady=(segments[0].kind == "steady", segments[-1].kind == "steady"),
    )
    trusted_hz = _trusted_hz(displacement, motion.rate_hz, segments, line.frequency_hz)
    return _Read(
        recording=recording,
        segments=segments,
        motion=motion,
        course=shaft_course(
            recording,
            motion,
            segments,
            steady_hz=line.frequency_hz,
            trusted_hz=trusted_hz,
        ),
        trusted_hz=trusted_hz,
        steady_hz=line.frequency_hz,
        has_steady=any(segment.kind == "steady" for segment in segments),
        steady_amplitude=line.amplitude / (2 * np.pi * line.frequency_hz) ** 2,
        displacement=displacement,
        lower_cut_hz=cut,
        hits=hit_record(recording, line.frequency_hz),
    )


def _at_speed(
    motion: SlowMotion, segments: tuple[RunSegment, ...], line: WorkingLine
) -> WorkingLine:
    """Frequency and amplitude of the working motion: their medians over the steady stretches."""
    turns, amplitude = followed_turns(motion, np.full(motion.samples.size, line.frequency_hz))
    steady = np.zeros(motion.samples.size, dtype=np.bool_)
    edge_s = EDGE_TURNS / line.frequency_hz
    for segment in segments:
        if segment.kind == "steady":
            first, last = segment.start_s + edge_s, segment.end_s - edge_s
            steady[round(first * motion.rate_hz) : round(last * motion.rate_hz)] = True
    if not steady.any():
        return line
    speed = np.gradient(turns) * motion.rate_hz
    return WorkingLine(
        frequency_hz=float(np.median(speed[steady])), amplitude=float(np.median(amplitude[steady]))
    )


def _transient(read: _Read, place: int) -> Transient:
    segment = read.segments[place]
    missing, notes = [], []
    duration, why = _duration(read.segments, place)
    missing += [why] if why else []
    swing, swing_mm, swung = None, None, None
    usable = read.recording.sensor_usable_hz
    if usable is not None and usable[0] > HIGHEST_LOW_END_HZ:
        why = (
            f"the sensor's band begins at {usable[0]:g} Hz, above {HIGHEST_LOW_END_HZ:g} Hz: "
            "swing and isolators not judged"
        )
        missing.append(why)
        free = FreeSwing(frequency_hz=None, damping_ratio=None, detail=why)
    else:
        swing, swung = _swing(read, segment)
        if read.recording.is_calibrated:
            swing_mm = 1000 * swing * read.steady_amplitude
        notes.append(f"displacement by integration, kept whole from {read.lower_cut_hz:.2g} Hz up")
        free = _free(read, segment, swung)
    strikes, per_turn, why = _strikes(read, segment)
    missing += [why] if why else []
    course_s, course_hz = _course(read, segment)
    return Transient(
        kind=segment.kind,  # type: ignore[arg-type]
        start_s=segment.start_s,
        end_s=segment.end_s,
        steady_frequency_hz=read.steady_hz if read.has_steady else None,
        duration_s=duration,
        swing_ratio=swing,
        swing_mm=swing_mm,
        isolator_frequency_hz=free.frequency_hz,
        damping_ratio=free.damping_ratio,
        fit_detail=free.detail,
        strikes=strikes,
        steady_strikes_per_turn=per_turn,
        course_time_s=course_s,
        course_shaft_frequency_hz=course_hz,
        detail="; ".join([*missing, *notes]),
        missing="; ".join(missing),
    )


def _duration(segments: tuple[RunSegment, ...], place: int) -> tuple[float | None, str]:
    """Length of a start or stop that the recording holds whole, or why it does not."""
    segment = segments[place]
    kinds = [s.kind for s in segments]
    before = kinds[place - 1] if place > 0 else None
    after = kinds[place + 1] if place + 1 < len(kinds) else None
    if segment.kind == "run-up":
        why = {
            None: "the recording begins when the machine is already starting",
            "standstill": "",
        }.get(before, "the machine does not stand still before this start")
        if not why and after != "steady":
            why = "the recording ends before the working speed is reached"
    else:
        why = {
            None: "the recording ends before the body stands still",
            "standstill": "",
        }.get(after, "the machine starts again before the body stands still")
        if not why and before != "steady":
            why = "the recording begins when the machine is already stopping"
    return (None, why) if why else (segment.end_s - segment.start_s, "")


def _largest_at(displacement: Values, rate: float, segment: RunSegment) -> int:
    """Sample of the largest displacement in a start or stop, or soon after the start."""
    first = round(segment.start_s * rate)
    after = SWING_AFTER_S if segment.kind == "run-up" else 0.0
    last = min(displacement.size, round((segment.end_s + after) * rate))
    return first + int(np.argmax(np.abs(displacement[first:last])))


def _trusted_hz(
    displacement: Values, rate: float, segments: tuple[RunSegment, ...], steady_hz: float
) -> float:
    """Speed safely above the resonance, which is taken from the largest swings."""
    found = [
        swing_frequency_hz(displacement, _largest_at(displacement, rate, segment), rate)
        for segment in segments
        if segment.kind in {"run-up", "coast-down"}
    ]
    highest = max((hz for hz in found if hz is not None), default=steady_hz)
    low, high = TRUSTED_SHARES
    return float(np.clip(TRUSTED_FACTOR * highest, low * steady_hz, high * steady_hz))


def _swing(read: _Read, segment: RunSegment) -> tuple[float, int]:
    """Largest swing over the steady amplitude, and the sample at which it comes."""
    at = _largest_at(read.displacement, read.motion.rate_hz, segment)
    return abs(float(read.displacement[at])) / read.steady_amplitude, at


def _free(read: _Read, segment: RunSegment, swung: int) -> FreeSwing:
    """Free swing after the largest one: beside the forced motion of a start, alone after a stop."""
    rate, hz = read.motion.rate_hz, read.course.shaft_hz
    place = read.segments.index(segment)
    after = read.segments[place + 1] if place + 1 < len(read.segments) else segment
    end = min(read.displacement.size, round(after.end_s * rate))
    start, forced = swung, None
    if segment.kind == "run-up":
        forced = read.course.forced
        slow = np.flatnonzero(hz[:end] < read.trusted_hz)
        start = max(swung, int(slow[-1]) + 1 if slow.size else 0)
    return free_swing(
        read.displacement,
        rate,
        forced=forced,
        span=(start, end),
        steady_amplitude=read.steady_amplitude,
        steady_hz=read.steady_hz,
    )


def _strikes(
    read: _Read, segment: RunSegment
) -> tuple[tuple[TransientStrike, ...] | None, float, str]:
    if read.hits is None:
        return None, 0.0, "the sampling rate is too low to look for strikes"
    settled = _settled(read.segments)
    least = steady_level(read.hits, settled)
    place = read.segments.index(segment)
    end_s = segment.end_s
    if segment.kind == "run-up" and place + 1 < len(read.segments):
        end_s = _settled_from(read.segments[place + 1])
    found = hits_between(read.hits, segment.start_s, end_s, least=least)
    strikes = tuple(
        TransientStrike(time_s=time, size=size, shaft_frequency_hz=_speed_at(read, time))
        for time, size in found
    )
    usual = float(np.median([strike.size for strike in strikes])) if strikes else 0.0
    per_turn = strikes_per_turn(read.hits, settled, steady_hz=read.steady_hz, least=0.5 * usual)
    return strikes, per_turn, ""


def _settled_from(steady: RunSegment) -> float:
    """When the free swing after a start is over: until then a hit belongs to the start."""
    return min(steady.start_s + SWING_AFTER_S, 0.5 * (steady.start_s + steady.end_s))


def _settled(segments: tuple[RunSegment, ...]) -> tuple[RunSegment, ...]:
    """Steady stretches without the free swing after a start."""
    return tuple(
        replace(segment, start_s=_settled_from(segment)) if place > 0 else segment
        for place, segment in enumerate(segments)
        if segment.kind == "steady"
    )


def _speed_at(read: _Read, time_s: float) -> float:
    at = min(read.course.shaft_hz.size - 1, round(time_s * read.motion.rate_hz))
    return float(read.course.shaft_hz[at])


def _course(read: _Read, segment: RunSegment) -> tuple[Values, Values]:
    first, last = (round(s * read.motion.rate_hz) for s in (segment.start_s, segment.end_s))
    last = min(last, read.course.shaft_hz.size)
    chosen = np.unique(np.linspace(first, max(first, last - 1), COURSE_STEPS).astype(np.intp))
    return chosen / read.motion.rate_hz, read.course.shaft_hz[chosen]


def _curve(read: _Read) -> MotionCurve:
    millimetres = 1000 * read.steady_amplitude if read.recording.is_calibrated else None
    return MotionCurve(
        time_s=read.motion.time_s,
        displacement_ratio=read.displacement / read.steady_amplitude,
        steady_amplitude_mm=millimetres,
        shaft_frequency_hz=read.course.shaft_hz,
    )


def _map(read: _Read) -> SpeedTimeMap:
    return order_map(
        read.motion.samples,
        read.motion.rate_hz,
        course_time_s=read.motion.time_s,
        course_shaft_frequency_hz=np.maximum(read.course.shaft_hz, 0),
        highest_order=min(12.0, 0.45 * read.motion.rate_hz / read.steady_hz),
    )
