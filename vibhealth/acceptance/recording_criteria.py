"""Criteria of the recordings themselves: usable, enough, made in the same state."""

from vibhealth.acceptance._evidence import (
    Evidence,
    graded,
    label,
    not_judged,
    passed,
    point_of,
    worst,
)
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    QualityFinding,
    RecordingAnalysis,
)
from vibhealth.units import hz_to_rpm

__all__ = ["nothing_recorded", "recording_criteria", "state_criteria"]

PRACTICE = "common practice, no source"

LIMIT_IDS = {"length": "minimum_turns", "clipping": "clipped_samples_hold"}
LIMIT_UNITS = {"length": "turns", "clipping": "samples"}


def recording_criteria(evidence: Evidence) -> list[Criterion]:
    """Recording faults: one line per check, the worst of all as-left recordings."""
    criteria = []
    ids = dict.fromkeys(f.id for analysis in evidence.after for f in analysis.quality)
    for check in ids:
        found = [
            (analysis, finding)
            for analysis in evidence.after
            for finding in analysis.quality
            if finding.id == check
        ]
        criteria.append(_quality_criterion(evidence, check, found))
    criteria += [_pair_criterion(finding) for finding in evidence.pair]
    criteria += [_count_criterion(evidence), *_points_criterion(evidence)]
    return criteria


def nothing_recorded(evidence: Evidence) -> Criterion:
    """That no recording of the running machine is there to be judged."""
    wanted = evidence.limits.value("recommended_recordings")
    return not_judged(
        "recording-count",
        Group.RECORDING,
        "Recordings of each point",
        reason="There is no recording of a point on the moving body after the rebuild; the "
        "bearing can only be judged there."
        if evidence.elsewhere
        else "There is no recording of the running machine after the rebuild.",
        advice=f"Record every point {wanted:g} times, warm and empty, a few minutes apart.",
        limit=wanted,
        unit="recordings",
        limit_source=evidence.limits.source("recommended_recordings"),
    )


def _points_criterion(evidence: Evidence) -> list[Criterion]:
    """Points of the card that were not recorded; nothing where the card names none."""
    names = [point.name for point in evidence.card.points]
    if not names:
        return []
    elsewhere = {point_of(analysis) for analysis in evidence.elsewhere}
    missing = [name for name in names if name not in evidence.points and name not in elsewhere]
    return [
        Criterion(
            id="points-recorded",
            group=Group.RECORDING,
            title="All points of the card recorded",
            result=CriterionResult.WATCH if missing else CriterionResult.PASS,
            value=f"not recorded: {', '.join(missing)}" if missing else ", ".join(names),
            unit="",
            limit=None,
            limit_source="card, [[point]]",
            advice=f"Record {', '.join(missing)} too: this verdict is without it."
            if missing
            else "",
        )
    ]


def _quality_criterion(
    evidence: Evidence, check: str, found: list[tuple[RecordingAnalysis, QualityFinding]]
) -> Criterion:
    result = worst(_counted(finding) for _, finding in found)
    analysis, finding = max(found, key=lambda pair: _counted(pair[1]) is result)
    limit_id = LIMIT_IDS.get(check)
    bad = result in {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}
    return Criterion(
        id=f"recording-{check}",
        group=Group.RECORDING,
        title=finding.title,
        result=result,
        value=finding.detail,
        unit=LIMIT_UNITS.get(check, ""),
        limit=evidence.limits.value(limit_id) if limit_id else None,
        limit_source=evidence.limits.source(limit_id) if limit_id else PRACTICE,
        advice=finding.advice,
        hold=Hold.MEASURE_AGAIN if bad else None,
        reason=f"{label(analysis)}: {finding.detail}" if bad else "",
    )


# Checks whose "not judged" costs nothing: the sensor's range may be unknown, lost samples can only
# be looked for where 1x is strong, and recordings without a clock cannot be put in order.
NOT_NEEDED = frozenset(
    {"sensor-range", "dropped-samples", "mains", "start-times", "settling", "sensor-overload"}
)


def _counted(finding: QualityFinding) -> CriterionResult:
    """A check that does not apply to a recording is no reason to record again."""
    if finding.result is CriterionResult.NOT_JUDGED and finding.id in NOT_NEEDED:
        return CriterionResult.PASS
    return finding.result


def _pair_criterion(finding: QualityFinding) -> Criterion:
    result = _counted(finding)
    bad = result in {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}
    return Criterion(
        id=f"pair-{finding.id}",
        group=Group.RECORDING,
        title=finding.title,
        result=result,
        value=finding.detail,
        unit="",
        limit=None,
        limit_source=PRACTICE,
        advice=finding.advice,
        hold=Hold.MEASURE_AGAIN if bad else None,
        reason=finding.detail if bad else "",
    )


def _count_criterion(evidence: Evidence) -> Criterion:
    """Recordings per point: fewest of all points against minimum and recommendation."""
    limits = evidence.limits
    counts = {
        point: sum(point_of(analysis) == point for analysis in evidence.after)
        for point in evidence.points
    }
    point, fewest = min(counts.items(), key=lambda item: item[1])
    recommended = limits.value("recommended_recordings")
    # A job is handed over on a set that repeats; two recordings cannot show that it does.
    least = "minimum_recordings" if evidence.job is None else "recommended_recordings"
    minimum = limits.value(least)
    enough = fewest >= minimum
    result = (
        CriterionResult.PASS
        if fewest >= recommended
        else CriterionResult.WATCH
        if enough
        else CriterionResult.HOLD
    )
    return Criterion(
        id="recording-count",
        group=Group.RECORDING,
        title="Recordings of each point",
        result=result,
        value=float(fewest),
        unit="recordings",
        limit=recommended if enough else minimum,
        limit_source=limits.source("recommended_recordings" if enough else "minimum_recordings"),
        advice=f"Record {recommended:g} times, a few minutes apart."
        if result is not CriterionResult.PASS
        else "",
        hold=None if enough else Hold.MEASURE_AGAIN,
        reason=""
        if enough
        else f"Only {fewest} recording{'s' * (fewest != 1)} of {point}, {minimum:g} are needed.",
    )


def state_criteria(evidence: Evidence) -> list[Criterion]:
    """Speed, its steadiness, temperature, load: the state in which can be judged."""
    return [
        _speed(evidence),
        _variation(evidence),
        *_temperature(evidence),
        *_load(evidence),
    ]


def _speed(evidence: Evidence) -> Criterion:
    title = "Speed against the card"
    nominal_hz = evidence.card.nominal_shaft_frequency_hz
    watch = evidence.limits.value("speed_watch_percent")
    hold = evidence.limits.value("speed_hold_percent")
    readings = [
        (analysis, hz)
        for analysis in evidence.after
        if (hz := analysis.speed.shaft_frequency_hz) is not None
        and analysis.speed.source not in {"card", "none"}
    ]
    if len(readings) < len(evidence.after):
        missing = next(
            a
            for a in evidence.after
            if a.speed.shaft_frequency_hz is None or a.speed.source in {"card", "none"}
        )
        return not_judged(
            "speed",
            Group.STATE,
            title,
            reason=f"Speed not found in {label(missing)}: {missing.speed.detail}.",
            advice="Record at steady speed, or give the speed with --speed-rpm.",
            limit=hold,
            unit="%",
            limit_source=evidence.limits.source("speed_hold_percent"),
        )
    analysis, hz = max(readings, key=lambda reading: abs(reading[1] / nominal_hz - 1))
    away = 100 * (hz / nominal_hz - 1)
    result = graded(abs(away), watch, hold)
    text = (
        f"{label(analysis)} turns at {hz_to_rpm(hz):.1f} r/min, the card says "
        f"{evidence.card.machine.nominal_speed_rpm:.1f} ({away:+.1f} %)"
    )
    return Criterion(
        id="speed",
        group=Group.STATE,
        title=title,
        result=result,
        value=abs(away),
        unit="%",
        limit=hold,
        limit_source=evidence.limits.source("speed_hold_percent"),
        advice="Check that this is the right machine and point; read the drive's setting."
        if result is not CriterionResult.PASS
        else "",
        hold=_speed_hold(evidence) if result is CriterionResult.HOLD else None,
        reason=f"{text}: {_speed_doubt(evidence)}." if result is CriterionResult.HOLD else "",
        detail=text,
    )


def _speed_hold(evidence: Evidence) -> Hold:
    """A drive that can be set wrong is to be set right; a direct one is another machine."""
    return Hold.FIX if _is_set_wrong(evidence) else Hold.MEASURE_AGAIN


def _speed_doubt(evidence: Evidence) -> str:
    if not _is_set_wrong(evidence):
        return "another machine, or a wrong drive setting"
    return (
        "the stroke is this machine's, so the drive is set wrong; the load on the bearing goes "
        "with the speed squared"
    )


def _is_set_wrong(evidence: Evidence) -> bool:
    """Whether the drive can be set, and the stroke, which no speed changes, is this machine's."""
    exciter = evidence.card.exciter
    if evidence.card.machine.drive != "inverter" or exciter is None or exciter.stroke_mm is None:
        return False
    limit = evidence.limits.value("stroke_hold_percent")
    away = [
        abs(100 * (analysis.motion.stroke_mm / stated - 1))
        for analysis in evidence.after
        if analysis.motion is not None
        and analysis.motion.stroke_mm
        and (stated := exciter.stroke_mm.along(analysis.recording.direction)) is not None
    ]
    return bool(away) and max(away) <= limit


def _variation(evidence: Evidence) -> Criterion:
    watch = evidence.limits.value("speed_variation_watch_percent")
    hold = evidence.limits.value("speed_variation_hold_percent")
    source = evidence.limits.source("speed_variation_hold_percent")
    title = "Steady speed within a recording"
    readings = [
        (value, analysis)
        for analysis in evidence.after
        if (value := analysis.speed.variation_percent) is not None
    ]
    is_exciter = evidence.card.exciter is not None
    if not readings and not is_exciter:
        detail = "1x is too weak to be followed on this machine; the lines decide"
        return passed(
            "speed-variation",
            Group.STATE,
            title,
            limit=hold,
            unit="%",
            limit_source=source,
            detail=detail,
        )
    unsteady = any(value > hold for value, _ in readings)
    if is_exciter and not unsteady and len(readings) < len(evidence.after):
        missing = next(a for a in evidence.after if a.speed.variation_percent is None)
        return not_judged(
            "speed-variation",
            Group.STATE,
            title,
            reason=f"How steady the speed was in {label(missing)} could not be measured.",
            advice="Record at steady speed, sensor on the moving body.",
            limit=hold,
            unit="%",
            limit_source=source,
        )
    value, analysis = max(readings, key=lambda reading: reading[0])
    result = graded(value, watch, hold)
    return Criterion(
        id="speed-variation",
        group=Group.STATE,
        title=title,
        result=result,
        value=value,
        unit="%",
        limit=hold,
        limit_source=source,
        advice="Record away from start, stop and changes of feed."
        if result is not CriterionResult.PASS
        else "",
        hold=Hold.MEASURE_AGAIN if result is CriterionResult.HOLD else None,
        reason=f"The speed changes by {value:.1f} % within {label(analysis)}."
        if result is CriterionResult.HOLD
        else "",
    )


def _temperature(evidence: Evidence) -> list[Criterion]:
    """Housing temperature, where the recordings state one."""
    readings = [
        (value, analysis)
        for analysis in evidence.after
        if (value := analysis.recording.temperature_c) is not None
    ]
    if not readings:
        return []
    value, analysis = max(readings, key=lambda reading: reading[0])
    limit = evidence.limits.value("temperature_hold_c")
    hot = value > limit
    return [
        Criterion(
            id="temperature",
            group=Group.STATE,
            title="Housing temperature",
            result=CriterionResult.HOLD if hot else CriterionResult.PASS,
            value=value,
            unit="degC",
            limit=limit,
            limit_source=evidence.limits.source("temperature_hold_c"),
            advice="Stop, lock out, let it cool; check the oil level (too much is as bad as too "
            "little), grade and breather."
            if hot
            else "",
            hold=Hold.STOP_NOW if hot else None,
            reason=f"The housing is at {value:g} °C in {label(analysis)}, the limit is {limit:g} °C."
            if hot
            else "",
        )
    ]


def _load(evidence: Evidence) -> list[Criterion]:
    """Empty or loaded, where the recordings state it."""
    stated = [
        (dict(analysis.recording.remarks).get("load"), analysis) for analysis in evidence.after
    ]
    loaded = [analysis for load, analysis in stated if load == "loaded"]
    if loaded:
        return [
            Criterion(
                id="load",
                group=Group.STATE,
                title="Recorded empty",
                result=CriterionResult.HOLD,
                value="loaded",
                unit="",
                limit="empty",
                limit_source=PRACTICE,
                advice="Stop the feed, empty the machine, record again.",
                hold=Hold.MEASURE_AGAIN,
                reason=f"{label(loaded[0])} was recorded with material on the machine.",
            )
        ]
    if any(load == "empty" for load, _ in stated):
        return [
            passed(
                "load",
                Group.STATE,
                "Recorded empty",
                value="empty",
                limit="empty",
                limit_source=PRACTICE,
            )
        ]
    return []
