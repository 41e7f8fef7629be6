"""Whether the recordings of a check were made when that check was due."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from vibhealth.acceptance._evidence import Evidence, label, not_judged
from vibhealth.acceptance.job_course import WORDS
from vibhealth.job import DUE, EARLIEST_SHARE
from vibhealth.model import Criterion, CriterionResult, Group, Hold, Moment, RecordingAnalysis

__all__ = ["check_time_criteria"]

TITLE = "Recorded when the check was due"
SOURCE = f"from {EARLIEST_SHARE:.0%} of the check's time on; common practice, no source"
CLOCK = "Write start_time beside each recording; check the recorder's clock."


def check_time_criteria(evidence: Evidence) -> list[Criterion]:
    """Start of the recordings against that of the machine; nothing outside a job."""
    job = evidence.job
    if job is None or evidence.moment not in DUE or not evidence.after:
        return []
    return list(_due(evidence, evidence.moment, job.job.machine_started))


def _due(evidence: Evidence, moment: Moment, started: datetime | None) -> Iterator[Criterion]:
    undated = [a for a in evidence.after if a.recording.start_time is None]
    if undated:
        yield _unknown(f"When {label(undated[0])} was recorded is not known.")
        return
    if started is None:
        return  # the record's own line asks for it
    times = {a.recording.start_time for a in evidence.after if a.recording.start_time is not None}
    if {time.utcoffset() is None for time in times} != {started.utcoffset() is None}:
        yield _unknown(
            "Start of the machine and of the recordings: some have a time zone, some not."
        )
        return
    earliest = _earliest(evidence, moment)
    first = min(evidence.after, key=_began)
    ran = _began(first) - started
    bad = ran < earliest
    yield Criterion(
        id="recording-check-due",
        group=Group.RECORDING,
        title=TITLE,
        result=CriterionResult.HOLD if bad else CriterionResult.PASS,
        value=f"{_hours(ran)} after the start",
        unit="",
        limit=f"{_hours(earliest)} or later",
        limit_source=f"check at {WORDS[moment]} of running; {SOURCE}",
        advice=f"Record again when the check is due. {CLOCK}" if bad else "",
        hold=Hold.MEASURE_AGAIN if bad else None,
        reason=f"{label(first)} was recorded {_hours(ran)} after the start; the check at "
        f"{WORDS[moment]} is due from {_hours(earliest)} on."
        if bad
        else "",
    )


def _began(analysis: RecordingAnalysis) -> datetime:
    time = analysis.recording.start_time
    if time is None:
        msg = "asked only where all start times are known"
        raise AssertionError(msg)
    return time


def _earliest(evidence: Evidence, moment: Moment) -> timedelta:
    if moment is Moment.HOUR_1:
        return timedelta(minutes=evidence.limits.value("minimum_running_minutes"))
    return EARLIEST_SHARE * DUE[moment]


def _unknown(reason: str) -> Criterion:
    return not_judged(
        "recording-check-due",
        Group.RECORDING,
        TITLE,
        reason=reason,
        advice=CLOCK,
        limit_source=SOURCE,
    )


def _hours(span: timedelta) -> str:
    """Minutes below two hours, then hours, then days.

    >>> _hours(timedelta(minutes=45)), _hours(timedelta(hours=6)), _hours(timedelta(days=6))
    ('45 min', '6 h', '6 days')
    """
    minutes = span.total_seconds() / 60
    if minutes < 120:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.3g} h" if minutes < 3 * 24 * 60 else f"{minutes / 1440:.2g} days"
