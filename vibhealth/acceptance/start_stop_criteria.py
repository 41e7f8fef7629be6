"""Criteria of starting and stopping: strikes, swing, time to speed, coasting, isolators."""

import math
from collections.abc import Callable, Iterator

from vibhealth.acceptance._evidence import Evidence, graded, not_judged
from vibhealth.acceptance._start_stop import Seen, across, line, seen_at
from vibhealth.acceptance.start_stop_recorded import recorded_criteria
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Stage,
    Transient,
)
from vibhealth.units import hz_to_rpm

__all__ = ["start_stop_criteria"]

TIME_TO_QUARTER = "Time from working speed to a quarter of it"
# Standard deviations of a Poisson count, and how long after the start its hits are counted.
CHANCE, DYING_AWAY_S = 3.0, 3.0


def start_stop_criteria(evidence: Evidence) -> list[Criterion]:
    """Criteria of recorded starts and stops; in a job also that they were recorded at all."""
    if evidence.card.exciter is None:
        return []
    seen = list(seen_at(evidence, Stage.AS_LEFT))
    criteria = list(recorded_criteria(evidence, seen)) if evidence.job is not None else []
    if not seen:
        return criteria
    return [
        *criteria,
        _strikes(evidence, seen),
        *_swing(evidence, seen),
        *_run_up_time(evidence, seen),
        *_coast_down_time(evidence, seen),
        *_isolators(evidence, seen),
    ]


def _strikes(evidence: Evidence, seen: list[Seen]) -> Criterion:
    """Hard strikes that come only while starting or stopping, at the point that has most."""
    limit = evidence.limits.value("transient_strikes_hold")
    read = [item for item in seen if item.transient.strikes is not None]
    if not read:
        return not_judged(
            "transient-strikes",
            Group.START_AND_STOP,
            "Nothing strikes while starting or stopping",
            reason="What strikes while starting or stopping could not be looked for "
            f"({seen[0].transient.missing}).",
            advice="Record start and stop as fast as the other recordings.",
            limit=limit,
            unit="strikes",
            limit_source=evidence.limits.source("transient_strikes_hold"),
        )
    worst = max(read, key=lambda item: len(item.transient.strikes or ()) - _usual(item.transient))
    strikes, usual = worst.transient.strikes or (), _usual(worst.transient)
    # As many as come by chance in so many turns at speed belong to the running machine.
    count = len(strikes) if len(strikes) > usual + CHANCE * math.sqrt(usual) else 0
    result = CriterionResult.PASS if count == 0 else CriterionResult.WATCH
    if count >= limit:
        result = CriterionResult.HOLD
    bad = result is CriterionResult.HOLD
    speeds = sorted(hz_to_rpm(strike.shaft_frequency_hz) for strike in strikes)
    between = f"between {speeds[0]:.0f} and {speeds[-1]:.0f} r/min" if speeds else ""
    return line(
        "transient-strikes",
        "Nothing strikes while starting or stopping",
        result=result,
        value=float(count),
        unit="strikes",
        limit=limit,
        source=evidence.limits.source("transient_strikes_hold"),
        advice="Lock out. Look for witness marks where moving and standing parts come close: "
        "guard, locating stop, braces, cables. Check the clearance against the swing."
        if count
        else "",
        reason=f"Something strikes {count} times during {worst.where}, {between}, and not at "
        "working speed."
        if bad
        else "",
    )


def _usual(transient: Transient) -> float:
    """Hits that a start or stop would hold if they came as often as at speed.

    Counted over its turns at half the speed on average, and those while the swing dies away.
    """
    steady_hz = transient.steady_frequency_hz or 0.0
    turns = steady_hz * (0.5 * (transient.end_s - transient.start_s) + DYING_AWAY_S)
    return transient.steady_strikes_per_turn * turns


def _swing(evidence: Evidence, seen: list[Seen]) -> Iterator[Criterion]:
    readings = [(ratio, item) for item in seen if (ratio := item.transient.swing_ratio) is not None]
    if not readings:
        return
    ratio, worst = max(readings, key=lambda reading: reading[0])
    limits, exciter = evidence.limits, evidence.card.exciter
    noted = exciter.swing_ratio if exciter is not None else None
    if noted is None:
        hold = limits.value("swing_unstated_hold_ratio")
        result = CriterionResult.HOLD if ratio > hold else CriterionResult.PASS
        source = limits.source("swing_unstated_hold_ratio")
    else:
        hold = noted * limits.value("swing_hold_ratio")
        result = graded(ratio, noted * limits.value("swing_watch_ratio"), hold)
        source = f"card, exciter.swing_ratio {noted:g}; {limits.source('swing_hold_ratio')}"
    millimetres = worst.transient.swing_mm
    size = f" ({millimetres:.1f} mm to one side)" if millimetres is not None else ""
    bad = result is CriterionResult.HOLD
    yield line(
        "swing",
        "Swing while starting and stopping",
        result=result,
        value=ratio,
        unit="1",
        limit=hold,
        source=source,
        detail=f"{ratio:.1f} times the swing at speed during {worst.where}{size}",
        advice="Lock out. Check the isolators, that the machine is empty, and how long drive and "
        "ramp dwell in the resonance."
        if result is not CriterionResult.PASS
        else "",
        reason=f"The body swings {ratio:.1f} times as far during {worst.where} as at speed{size}; "
        f"at most {hold:.1f} times is usual here."
        if bad
        else "",
    )


def _times(
    evidence: Evidence, seen: list[Seen], kind: str, pick: Callable[[list[float]], float]
) -> tuple[float, float | None, str] | None:
    """Measured time, the time to compare with, and where that comes from."""
    measured = _durations(seen, kind)
    if not measured:
        return None
    exciter = evidence.card.exciter
    noted = None
    if exciter is not None:
        noted = exciter.run_up_s if kind == "run-up" else exciter.coast_down_s
    if noted is not None:
        name = "run_up_s" if kind == "run-up" else "coast_down_s"
        return pick(measured), noted, f"card, exciter.{name}"
    before = _durations(list(seen_at(evidence, Stage.AS_FOUND)), kind)
    if before:
        return pick(measured), sorted(before)[len(before) // 2], "as found, before the rebuild"
    return pick(measured), None, ""


def _durations(seen: list[Seen], kind: str) -> list[float]:
    """Times of one kind, one for each start or stop: the middle of its points.

    Points along the shaft, which hardly move, count only where there are no others.
    """
    of_event: dict[tuple[str, int], list[float]] = {}
    number: dict[tuple[str, int], int] = {}
    for item in across(seen):
        transient, recording = item.transient, item.analysis.recording
        if transient.kind != kind:
            continue
        channel = (recording.path, recording.channel)
        number[channel] = number.get(channel, 0) + 1
        seconds = transient.duration_s if kind == "run-up" else transient.to_quarter_s
        if seconds is not None:
            of_event.setdefault((recording.path, number[channel]), []).append(seconds)
    return [sorted(times)[len(times) // 2] for times in of_event.values()]


def _run_up_time(evidence: Evidence, seen: list[Seen]) -> Iterator[Criterion]:
    times = _times(evidence, seen, "run-up", max)
    if times is None:
        return
    seconds, noted, source = times
    if noted is None:
        yield _without_reference("run-up-time", "Time to speed", seconds, "exciter.run_up_s")
        return
    limits = evidence.limits
    hold = noted * limits.value("run_up_hold_ratio")
    result = graded(seconds, noted * limits.value("run_up_watch_ratio"), hold)
    yield line(
        "run-up-time",
        "Time to speed",
        result=result,
        value=seconds,
        unit="s",
        limit=hold,
        source=f"{source} {noted:.3g} s; {limits.source('run_up_hold_ratio')}",
        advice="Lock out. Check that the machine is empty, braces and stops are released, nothing "
        "drags, and the ramp of the drive."
        if result is not CriterionResult.PASS
        else "",
        reason=f"It needs {seconds:.1f} s to reach its speed, {seconds / noted:.1f} times the "
        f"{noted:.1f} s noted before."
        if result is CriterionResult.HOLD
        else "",
    )


def _coast_down_time(evidence: Evidence, seen: list[Seen]) -> Iterator[Criterion]:
    times = _times(evidence, seen, "coast-down", min)
    if times is None:
        return
    seconds, noted, source = times
    if noted is None:
        yield _without_reference(
            "coast-down-time", TIME_TO_QUARTER, seconds, "exciter.coast_down_s"
        )
        return
    limits = evidence.limits
    hold = noted * limits.value("coast_down_hold_ratio")
    result = graded(-seconds, -noted * limits.value("coast_down_watch_ratio"), -hold)
    yield line(
        "coast-down-time",
        TIME_TO_QUARTER,
        result=result,
        value=seconds,
        unit="s",
        limit=f"{hold:.3g} s or longer",
        source=f"{source} {noted:.3g} s; {limits.source('coast_down_hold_ratio')}",
        advice="Lock out. Turn the shaft by hand: does it rub, is the bearing tight, is there too "
        "much oil?"
        if result is not CriterionResult.PASS
        else "",
        reason=f"It stops {100 * (1 - seconds / noted):.0f} % faster than before ({seconds:.1f} s to "
        f"a quarter of its speed; {source}: {noted:.1f} s): something drags."
        if result is CriterionResult.HOLD
        else "",
    )


def _without_reference(id_: str, title: str, seconds: float, key: str) -> Criterion:
    return line(
        id_,
        title,
        result=CriterionResult.WATCH,
        value=seconds,
        unit="s",
        source="nothing to compare with",
        advice=f"Write it on the card ({key}): next time it is the reference.",
    )


def _isolators(evidence: Evidence, seen: list[Seen]) -> Iterator[Criterion]:
    exciter = evidence.card.exciter
    stated = exciter.isolator_frequency_hz if exciter is not None else None
    found = [
        (hz, item)
        for item in seen
        if item.analysis.recording.direction != "z"
        and (hz := item.transient.isolator_frequency_hz) is not None
    ]
    if stated is None or not found:
        return
    hz, worst = max(found, key=lambda reading: abs(reading[0] / stated - 1))
    away = 100 * (hz / stated - 1)
    limits = evidence.limits
    hold = limits.value("isolator_frequency_hold_percent")
    result = graded(abs(away), limits.value("isolator_frequency_watch_percent"), hold)
    damping = worst.transient.damping_ratio
    damped = f", damping ratio {damping:.3f}" if damping is not None else ""
    yield line(
        "isolator-frequency",
        "Isolators: frequency of the free swing",
        result=result,
        value=hz,
        unit="Hz",
        limit=f"{stated:g} Hz ± {hold:g} %",
        source=f"card, exciter.isolator_frequency_hz; "
        f"{limits.source('isolator_frequency_hold_percent')}",
        detail=f"{hz:.2f} Hz{damped} after {worst.where}",
        advice="Lock out. Look at every isolator: broken, unseated, bridged, of unequal height; "
        "is the machine empty?"
        if result is not CriterionResult.PASS
        else "",
        reason=f"The body swings freely at {hz:.2f} Hz, the card says {stated:g} Hz ({away:+.0f} %)."
        if result is CriterionResult.HOLD
        else "",
    )
