"""Criteria of the bearing-band level over time: within a check, and from check to check."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from statistics import median

from vibhealth.acceptance._evidence import Evidence, graded, label, point_of
from vibhealth.model import Criterion, CriterionResult, Element, Group, Hold, RecordingAnalysis

__all__ = ["roughness_criteria"]

LEVEL = "bearing-band-block-median"
# A family that is this much deeper than in the check before has grown (common practice, no source).
GROWTH_HOLD = 1.5
OIL = "Stop, let the oil settle, lock out. Check level and grade, breather and dirt; then record "


def roughness_criteria(evidence: Evidence) -> list[Criterion]:
    """Whether the bearing grows rougher, or a small ticking deeper."""
    return [*_drift(evidence), *_since_last_check(evidence), *_grown(evidence)]


def _level(analysis: RecordingAnalysis) -> float | None:
    for item in analysis.descriptors:
        if item.id == LEVEL and item.value > 0:
            return item.value
    return None


def _in_time(analyses: Sequence[RecordingAnalysis]) -> list[RecordingAnalysis]:
    """Analyses with a start time and a level, oldest first; none where clocks cannot be mixed."""
    stamped = [
        (analysis.recording.start_time, analysis)
        for analysis in analyses
        if analysis.recording.start_time is not None and _level(analysis) is not None
    ]
    if len({stamp.utcoffset() is None for stamp, _ in stamped}) > 1:
        return []
    return [analysis for _, analysis in sorted(stamped, key=_stamp)]


def _stamp(pair: tuple[datetime, RecordingAnalysis]) -> datetime:
    return pair[0]


def _drift(evidence: Evidence) -> Iterator[Criterion]:
    """Rise of the level from the first to the last recording of a check, where it rises on."""
    rises = []
    for point in evidence.points:
        course = _in_time([a for a in evidence.after if point_of(a) == point])
        levels = [level for a in course if (level := _level(a)) is not None]
        if len(levels) < 3:
            continue
        is_rising = all(later > earlier for earlier, later in pairwise(levels))
        rises.append((levels[-1] / levels[0] if is_rising else 1.0, point, course))
    if not rises:
        return
    value, point, course = max(rises, key=lambda rise: rise[0])
    limits = evidence.limits
    hold = limits.value("high_frequency_drift_hold")
    result = graded(value, limits.value("high_frequency_drift_watch"), hold)
    bad = result is CriterionResult.HOLD
    yield Criterion(
        id="bearing-band-drift",
        group=Group.STABILITY,
        title="Bearing-band level from the first to the last recording",
        result=result,
        value=value,
        unit="1",
        limit=hold,
        limit_source=limits.source("high_frequency_drift_hold"),
        advice=f"{OIL}again." if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"The bearing grows rougher while it runs: {100 * (value - 1):+.0f} % at {point} "
        f"from the first to the last recording{_warming(course)}."
        if bad
        else "",
    )


def _warming(course: Sequence[RecordingAnalysis]) -> str:
    first, last = course[0].recording.temperature_c, course[-1].recording.temperature_c
    if first is None or last is None:
        return ""
    return f", while the housing went from {first:g} to {last:g} °C"


def _since_last_check(evidence: Evidence) -> Iterator[Criterion]:
    ratios = []
    for point in evidence.points:
        now = [v for a in evidence.after if point_of(a) == point and (v := _level(a))]
        before = [v for a in evidence.earlier if point_of(a) == point and (v := _level(a))]
        if now and before:
            ratios.append((median(now) / median(before), point))
    if not ratios:
        return
    value, point = max(ratios)
    limits = evidence.limits
    hold = limits.value("high_frequency_ratio_hold")
    result = graded(value, limits.value("high_frequency_ratio_watch"), hold)
    bad = result is CriterionResult.HOLD
    yield Criterion(
        id="bearing-band-since-last-check",
        group=Group.STABILITY,
        title="Bearing-band level over that of the check before",
        result=result,
        value=value,
        unit="1",
        limit=hold,
        limit_source=f"{limits.source('high_frequency_ratio_hold')}; here against the check before",
        advice=f"{OIL}again." if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"The bearing is {value:.1f} times as rough as at the check before ({point})."
        if bad
        else "",
    )


def _grown(evidence: Evidence) -> Iterator[Criterion]:
    """A family that was there at the check before, and is deeper now."""
    if not evidence.earlier:
        return
    grown: list[tuple[float, str, RecordingAnalysis]] = []
    for analysis in evidence.after:
        for finding in analysis.families:
            if finding.result is CriterionResult.PASS or finding.blind_spot:
                continue
            was = _depth_before(evidence, point_of(analysis), finding.bearing, finding.element)
            if was:
                name = f"{finding.element.words} of bearing {finding.bearing}"
                grown.append((finding.depth_whitened / was, name, analysis))
    if not grown:
        return
    value, name, analysis = max(grown, key=lambda item: item[0])
    bad = value > GROWTH_HOLD
    yield Criterion(
        id="ticking-grows",
        group=Group.STABILITY,
        title="No ticking grows from check to check",
        result=CriterionResult.HOLD if bad else CriterionResult.WATCH,
        value=value,
        unit="1",
        limit=GROWTH_HOLD,
        limit_source="depth over that of the check before; common practice, no source",
        advice="Do not load the machine. Call the engineer." if bad else "Record early again.",
        hold=Hold.FIX if bad else None,
        reason=f"The ticking of the {name} is {value:.1f} times as deep as at the check before "
        f"({label(analysis)})."
        if bad
        else "",
    )


def _depth_before(evidence: Evidence, point: str, bearing: str, element: Element) -> float:
    return max(
        (
            finding.depth_whitened
            for analysis in evidence.earlier
            if point_of(analysis) == point
            for finding in analysis.families
            if (finding.bearing, finding.element) == (bearing, element)
            and finding.result is not CriterionResult.PASS
        ),
        default=0.0,
    )
