"""Criteria of starting and stopping: strikes, swing, time to speed, coasting, isolators."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from vibhealth.acceptance._evidence import Evidence, graded, is_on_body, not_judged
from vibhealth.acceptance._words import and_list
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    Stage,
    Transient,
    TransientAnalysis,
)
from vibhealth.units import hz_to_rpm

__all__ = ["start_stop_criteria"]

KINDS = ("run-up", "coast-down")
WORDS = {"run-up": "start", "coast-down": "stop"}
ADVICE = {
    "run-up": "Start the recorder 10 s before power-up and let it run until 60 s at full speed.",
    "coast-down": "Start the recorder 10 s before the stop and let it run until all stands still.",
}
TIME_TO_QUARTER = "Time from working speed to a quarter of it"
PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """One run-up or coast-down at one point."""

    transient: Transient
    analysis: TransientAnalysis

    @property
    def where(self) -> str:
        """Point, and whether it started or stopped."""
        point = self.analysis.recording.point or f"channel {self.analysis.recording.channel}"
        return f"the {WORDS[self.transient.kind]} at {point}"


def start_stop_criteria(evidence: Evidence) -> list[Criterion]:
    """Criteria of recorded starts and stops; in a job also that they were recorded at all."""
    if evidence.card.exciter is None:
        return []
    seen = list(_seen(evidence, Stage.AS_LEFT))
    criteria = list(_recorded(evidence, seen)) if evidence.job is not None else []
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


def _seen(evidence: Evidence, stage: Stage) -> Iterator[_Seen]:
    """Starts and stops of points on the moving body."""
    for analysis in evidence.transients:
        recording = analysis.recording
        if recording.stage is stage and is_on_body(evidence.card, recording):
            for transient in analysis.transients:
                yield _Seen(transient=transient, analysis=analysis)


def _recorded(evidence: Evidence, seen: list[_Seen]) -> Iterator[Criterion]:
    for kind in KINDS:
        title = f"The {WORDS[kind]} was recorded"
        of_kind = [item for item in seen if item.transient.kind == kind]
        whole = [item for item in of_kind if _is_whole(evidence, item.transient)]
        if whole:
            points = list(dict.fromkeys(item.where.split(" at ")[1] for item in whole))
            yield _criterion(f"{kind}-recorded", title, value=and_list(points), source=PRACTICE)
            continue
        why = _why_not_read(evidence, kind, of_kind)
        yield not_judged(
            f"{kind}-recorded",
            Group.START_AND_STOP,
            title,
            reason=f"{why}: what strikes or swings only there is not known.",
            advice=ADVICE[kind],
            limit_source=PRACTICE,
        )


def _is_whole(evidence: Evidence, transient: Transient) -> bool:
    """Whether all of a start or stop was read: its time, its swing, what strikes in it.

    Where gaps were measured, the swing has to be known in millimetres.
    """
    gaps = evidence.job.clearance.guard_mm if evidence.job is not None else ()
    times = [transient.duration_s]
    if transient.kind == "coast-down":
        times.append(transient.to_quarter_s)
    return (
        None not in times
        and transient.swing_ratio is not None
        and transient.strikes is not None
        and (not gaps or transient.swing_mm is not None)
    )


def _why_not_read(evidence: Evidence, kind: str, of_kind: list[_Seen]) -> str:
    """What is missing of a start or stop."""
    if of_kind:
        first = of_kind[0]
        detail = first.transient.detail or "its time, swing or strikes could not be read"
        return f"{first.analysis.recording.path} does not hold all of the {WORDS[kind]} ({detail})"
    given = [
        analysis
        for analysis in evidence.transients
        if analysis.recording.stage is Stage.AS_LEFT
        and analysis.recording.moment is not None
        and analysis.recording.moment.value == kind
        and is_on_body(evidence.card, analysis.recording)
    ]
    if not given:
        return f"The {WORDS[kind]} was not recorded"
    why = f" ({given[0].not_judged})" if given[0].not_judged else ""
    return f"{given[0].recording.path} shows no {WORDS[kind]}{why}"


def _strikes(evidence: Evidence, seen: list[_Seen]) -> Criterion:
    """Hard strikes that come only while starting or stopping, at the point that has most."""
    limit = evidence.limits.value("transient_strikes_hold")
    read = [item for item in seen if item.transient.strikes is not None]
    if not read:
        return not_judged(
            "transient-strikes",
            Group.START_AND_STOP,
            "Nothing strikes while starting or stopping",
            reason="What strikes while starting or stopping could not be looked for "
            f"({seen[0].transient.detail}).",
            advice="Record start and stop as fast as the other recordings.",
            limit=limit,
            unit="strikes",
            limit_source=evidence.limits.source("transient_strikes_hold"),
        )
    worst = max(read, key=lambda item: len(item.transient.strikes or ()))
    strikes = worst.transient.strikes or ()
    count = len(strikes)
    result = CriterionResult.PASS if count == 0 else CriterionResult.WATCH
    if count >= limit:
        result = CriterionResult.HOLD
    bad = result is CriterionResult.HOLD
    speeds = sorted(hz_to_rpm(strike.shaft_frequency_hz) for strike in strikes)
    between = f"between {speeds[0]:.0f} and {speeds[-1]:.0f} r/min" if speeds else ""
    return _criterion(
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


def _swing(evidence: Evidence, seen: list[_Seen]) -> Iterator[Criterion]:
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
    yield _criterion(
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
    evidence: Evidence, seen: list[_Seen], kind: str, pick: Callable[[list[float]], float]
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
    before = _durations(list(_seen(evidence, Stage.AS_FOUND)), kind)
    if before:
        return pick(measured), sorted(before)[len(before) // 2], "as found, before the rebuild"
    return pick(measured), None, ""


def _across(seen: list[_Seen]) -> list[_Seen]:
    """Points across the shaft; all of them where there are no such points."""
    return [item for item in seen if item.analysis.recording.direction != "z"] or seen


def _durations(seen: list[_Seen], kind: str) -> list[float]:
    """Times of one kind, one for each start or stop: the middle of its points.

    Points along the shaft, which hardly move, count only where there are no others.
    """
    of_event: dict[tuple[str, int], list[float]] = {}
    number: dict[tuple[str, int], int] = {}
    for item in _across(seen):
        transient, recording = item.transient, item.analysis.recording
        if transient.kind != kind:
            continue
        channel = (recording.path, recording.channel)
        number[channel] = number.get(channel, 0) + 1
        seconds = transient.duration_s if kind == "run-up" else transient.to_quarter_s
        if seconds is not None:
            of_event.setdefault((recording.path, number[channel]), []).append(seconds)
    return [sorted(times)[len(times) // 2] for times in of_event.values()]


def _run_up_time(evidence: Evidence, seen: list[_Seen]) -> Iterator[Criterion]:
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
    yield _criterion(
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


def _coast_down_time(evidence: Evidence, seen: list[_Seen]) -> Iterator[Criterion]:
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
    yield _criterion(
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
    return _criterion(
        id_,
        title,
        result=CriterionResult.WATCH,
        value=seconds,
        unit="s",
        source="nothing to compare with",
        advice=f"Write it on the card ({key}): next time it is the reference.",
    )


def _isolators(evidence: Evidence, seen: list[_Seen]) -> Iterator[Criterion]:
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
    yield _criterion(
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


def _criterion(  # noqa: PLR0913 (one criterion)
    id_: str,
    title: str,
    *,
    result: CriterionResult = CriterionResult.PASS,
    value: float | str | None = None,
    unit: str = "",
    limit: float | str | None = None,
    source: str = "",
    advice: str = "",
    reason: str = "",
    detail: str = "",
) -> Criterion:
    return Criterion(
        id=id_,
        group=Group.START_AND_STOP,
        title=title,
        result=result,
        value=value,
        unit=unit,
        limit=limit,
        limit_source=source,
        advice=advice,
        hold=Hold.FIX if result is CriterionResult.HOLD else None,
        reason=reason,
        detail=detail,
    )
