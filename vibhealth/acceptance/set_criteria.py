"""Criteria of recordings beside each other: axes of a file, a point over time, the job's clock."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from vibhealth.acceptance._evidence import Evidence, label, point_of, worst
from vibhealth.diagnosis.quality_axes import EITHER, check_axes
from vibhealth.diagnosis.quality_fingerprint import check_same_point
from vibhealth.diagnosis.quality_series import check_series
from vibhealth.diagnosis.quality_times import check_times
from vibhealth.errors import VibhealthError
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    QualityFinding,
    Recording,
    RecordingAnalysis,
)

__all__ = ["set_criteria"]

PRACTICE = "common practice, no source"
Told = tuple[str, QualityFinding]


def set_criteria(evidence: Evidence) -> list[Criterion]:
    """What only several recordings, or several channels of one, can show."""
    told: dict[str, list[Told]] = {}
    found = [*_axes(evidence), *_series(evidence), *_same_point(evidence), *_times(evidence)]
    found += [(path, look.finding) for path, look in evidence.cables]
    for where, finding in found:
        told.setdefault(finding.id, []).append((where, finding))
    return [_criterion(id_, findings) for id_, findings in told.items()]


def _criterion(id_: str, told: list[Told]) -> Criterion:
    """One line per check: the worst of all; what could not be compared costs nothing here."""
    results = {id(finding): _counted(finding) for _, finding in told}
    result = worst(results.values())
    where, finding = next(item for item in told if results[id(item[1])] is result)
    bad = result is CriterionResult.HOLD
    return Criterion(
        id=f"recording-{id_}",
        group=Group.RECORDING,
        title=finding.title,
        result=result,
        value=finding.detail,
        unit="",
        limit=None,
        limit_source=PRACTICE,
        advice=finding.advice if result is not CriterionResult.PASS else "",
        hold=Hold.MEASURE_AGAIN if bad else None,
        reason=f"{where}: {finding.detail}" if bad and where else finding.detail if bad else "",
    )


def _counted(finding: QualityFinding) -> CriterionResult:
    if finding.result is CriterionResult.NOT_JUDGED:
        return CriterionResult.PASS
    return finding.result


def _axes(evidence: Evidence) -> Iterator[Told]:
    """Channels of each as-left file; nothing where only one axis was recorded."""
    if evidence.card.exciter is None:
        return
    for path in dict.fromkeys(analysis.recording.path for analysis in evidence.after):
        together = [a for a in evidence.after if a.recording.path == path]
        hz = together[0].speed.shaft_frequency_hz
        directions = {analysis.recording.direction for analysis in together}
        if hz is None or not {"x", "y"} <= directions:
            continue
        try:
            finding = check_axes(
                [analysis.recording for analysis in together], card=evidence.card, shaft_hz=hz
            )
        except VibhealthError:  # too short for the motion: the length check says so
            continue
        # Where nothing tells the two apart, the rotation comes first: it is told with the orbit.
        is_either = finding.detail.endswith(f"{EITHER}.")
        yield path, replace(finding, result=CriterionResult.WATCH) if is_either else finding


def _by_point(analyses: Sequence[RecordingAnalysis]) -> dict[str, list[RecordingAnalysis]]:
    """Analyses of each point, oldest first where all clocks are known."""
    points: dict[str, list[RecordingAnalysis]] = {}
    for analysis in analyses:
        points.setdefault(point_of(analysis), []).append(analysis)
    for group in points.values():
        stamps = [a.recording.start_time for a in group]
        if all(stamps) and len({s.utcoffset() is None for s in stamps if s is not None}) == 1:
            group.sort(key=_started)
    return points


def _started(analysis: RecordingAnalysis) -> datetime:
    return analysis.recording.start_time or datetime.min  # noqa: DTZ901 (only sorted when known)


def _series(evidence: Evidence) -> Iterator[Told]:
    """A level that falls, or a temperature that moves, from recording to recording.

    A level that rises is a sign of the bearing's own, told with the roughness; where a job has
    a log of temperatures, that is judged.
    """
    has_log = evidence.job is not None and bool(evidence.job.temperature)
    for point, group in _by_point(evidence.after).items():
        recordings = [analysis.recording for analysis in group]
        if len(recordings) < 2:
            continue
        for finding in check_series(
            recordings, bearing_band_hz=evidence.card.analysis.bearing_band_hz
        ):
            if finding.id == "level-course" and _rises(group):
                continue
            if finding.id == "temperature-course" and has_log:
                continue
            yield point, finding


def _rises(group: Sequence[RecordingAnalysis]) -> bool:
    levels = [
        item.value
        for analysis in (group[0], group[-1])
        for item in analysis.descriptors
        if item.id == "bearing-band-block-median"
    ]
    return len(levels) == 2 and levels[1] > levels[0]


def _same_point(evidence: Evidence) -> Iterator[Told]:
    """Every as-left recording of a point against the first of it."""
    for group in _by_point([*evidence.earlier, *evidence.after]).values():
        first, *later = group
        for analysis in later:
            hz = (first.speed.shaft_frequency_hz, analysis.speed.shaft_frequency_hz)
            if hz[0] is None or hz[1] is None:
                continue
            for finding in check_same_point(
                first.recording,
                analysis.recording,
                shaft_frequencies_hz=(hz[0], hz[1]),
                bearing_band_hz=evidence.card.analysis.bearing_band_hz,
            ):
                yield label(analysis), _excused(finding, (first, analysis))


def _excused(
    finding: QualityFinding, analyses: tuple[RecordingAnalysis, RecordingAnalysis]
) -> QualityFinding:
    """What hits every turn changes the pattern by itself: then another place is not certain."""
    is_struck = any(
        item.id == "strikes-at-1x" for analysis in analyses for item in analysis.disturbances
    )
    if is_struck and finding.result is CriterionResult.HOLD:
        return replace(finding, result=CriterionResult.WATCH)
    return finding


def _times(evidence: Evidence) -> Iterator[Told]:
    """The clock of a whole job; without one, the comparison of before and after says it."""
    if evidence.job is None:
        return
    analyses = (*evidence.before, *evidence.earlier, *evidence.after, *evidence.elsewhere)
    recordings = [analysis.recording for analysis in analyses]
    recordings += [item.recording for item in evidence.transients]
    once: dict[tuple[str, int], Recording] = {}
    for recording in recordings:
        once.setdefault((recording.path, recording.channel), recording)
    for finding in check_times(list(once.values()), rebuilt_at=evidence.job.job.rebuild_finished):
        yield "", finding
