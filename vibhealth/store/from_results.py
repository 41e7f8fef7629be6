"""What the history keeps of an analysed recording and of an assessment."""

import re
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from vibhealth.model import (
    Assessment,
    CriterionResult,
    FamilyFinding,
    HistoryFamily,
    HistoryOverride,
    HistoryRecording,
    HistoryVerdict,
    Moment,
    Rebuild,
    RebuildReason,
    RecordingAnalysis,
    Stage,
)

# Checks of a rebuild in the order of time.
CHECKS = (Moment.HOUR_1, Moment.HOUR_8, Moment.HOUR_24, Moment.DAY_7)

__all__ = ["history_rebuild", "history_recording", "history_verdict"]


def history_recording(  # noqa: PLR0913 - each may be left out
    analysis: RecordingAnalysis,
    *,
    machine: str,
    card_sha256: str,
    tool_version: str,
    recorded_at: datetime | None = None,
    load: str = "",
    running_hours_h: float | None = None,
) -> HistoryRecording:
    """One analysed recording as the history keeps it.

    Parameters
    ----------
    analysis : RecordingAnalysis
        What was found in it.
    machine : str
        Id of the machine, as on its card.
    card_sha256, tool_version : str
        What it was read with.
    recorded_at, load, running_hours_h : datetime, str, float
        Used where the recording itself says nothing.

    Returns
    -------
    HistoryRecording
        ``masked`` says as well why no family could be judged. ``unusable_because`` says what the
        first check that holds has found, or what kept the speed from being found.
    """
    recording = analysis.recording
    stated = dict(recording.remarks).get("load", "")
    return HistoryRecording(
        machine=machine,
        sha256=recording.sha256,
        channel=recording.channel,
        path=recording.path,
        point=recording.point,
        direction=recording.direction,
        stage=recording.stage.value,
        moment=None if recording.moment is None else recording.moment.value,
        recorded_at=_aware(recording.start_time or recorded_at),
        running_hours_h=running_hours_h
        if recording.running_hours_h is None
        else recording.running_hours_h,
        load=stated or load,
        temperature_c=recording.temperature_c,
        shaft_frequency_hz=analysis.speed.shaft_frequency_hz,
        sampling_rate_hz=recording.sampling_rate_hz,
        duration_s=recording.duration_s,
        unit=recording.unit,
        unusable_because=_unusable(analysis),
        masked=analysis.masked or analysis.families_not_judged,
        descriptors=analysis.descriptors,
        families=tuple(_family(item) for item in analysis.families),
        card_sha256=card_sha256,
        tool_version=tool_version,
    )


def history_verdict(assessment: Assessment, *, tool_version: str) -> HistoryVerdict:
    """The verdict of an assessment, on which recordings, and who overrode it.

    Parameters
    ----------
    assessment : Assessment
        What the acceptance decided.
    tool_version : str
        Which version said it.

    Returns
    -------
    HistoryVerdict
        ``decided_on`` is the time of the latest recording after the rebuild, None where none
        carries a time: the same recordings give the same entry whenever they are judged.
    """
    left = [a for a in assessment.recordings if a.recording.stage is not Stage.AS_FOUND]
    times = [a.recording.start_time for a in left if a.recording.start_time is not None]
    moments = {a.recording.moment for a in left if a.recording.moment is not None}
    release = assessment.override
    return HistoryVerdict(
        machine=str(assessment.machine["id"]),
        verdict=assessment.verdict.value,
        hold=None if assessment.hold is None else assessment.hold.value,
        headline=assessment.headline,
        reasons=assessment.reasons,
        check=next((m.value for m in reversed(CHECKS) if m in moments), ""),
        decided_on=_aware(max(times, default=None)),
        job_sha256=str((assessment.job or {}).get("sha256", "")),
        recordings=tuple(dict.fromkeys(a.recording.sha256 for a in left)),
        named=_named(f for a in left for f in a.families),
        override=None
        if release is None
        else HistoryOverride(
            by=release.by, reason=release.reason, at=_aware(release.at), is_valid=release.is_valid
        ),
        tool_version=tool_version,
    )


def history_rebuild(assessment: Assessment) -> Rebuild | None:
    """The rebuild that a job records; None without a job, or without the time of its start.

    Parameters
    ----------
    assessment : Assessment
        Of a job folder.

    Returns
    -------
    Rebuild or None
        Why the old unit came out is not asked in a job: the reason is unknown.
    """
    job: dict[str, Any] = assessment.job or {}
    started = _aware(job.get("machine_started"))
    if started is None:
        return None
    return Rebuild(
        machine=str(assessment.machine["id"]),
        at=started,
        reason=RebuildReason.UNKNOWN,
        by=str(job.get("rebuilt_by") or "not stated"),
        unit_serial=str(job.get("unit_serial") or ""),
        bearing_designation=str(job.get("bearing_designation") or ""),
    )


def _unusable(analysis: RecordingAnalysis) -> str:
    held = next((q for q in analysis.quality if q.result is CriterionResult.HOLD), None)
    if held is not None:
        return f"not usable: {_clause(held.detail) or held.title}"
    return "" if analysis.speed.shaft_frequency_hz is not None else "no speed found"


def _clause(detail: str) -> str:
    """First sentence of a finding as a clause, without what stands in brackets.

    >>> _clause("Only 302 turns in 10.1 s (at least 400; no source). Record longer.")
    'only 302 turns in 10.1 s'
    """
    bare = re.sub(r" \([^()]*\)", "", detail)
    first = bare.split(". ", 1)[0].removesuffix(".")
    return first[:1].lower() + first[1:]


def _named(families: Iterable[FamilyFinding]) -> tuple[tuple[str, str], ...]:
    held = {(f.bearing, f.element.value) for f in families if f.result is CriterionResult.HOLD}
    return tuple(sorted(held))


def _family(item: FamilyFinding) -> HistoryFamily:
    return HistoryFamily(
        bearing=item.bearing,
        element=item.element,
        order=item.order,
        frequency_hz=item.frequency_hz,
        false_alarm_probability=item.false_alarm_probability,
        depth=item.depth,
        depth_whitened=item.depth_whitened,
        depth_interval=item.depth_interval,
        impact_m_s2=item.impact_m_s2,
        present=item.present,
        blind_spot=item.blind_spot,
        result=item.result,
    )


def _aware(at: datetime | None) -> datetime | None:
    """Times without a zone are taken as UTC."""
    return at.replace(tzinfo=UTC) if at is not None and at.tzinfo is None else at
