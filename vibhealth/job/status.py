"""Where a job stands: what is open, what was answered no, what is recorded, what comes next."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from vibhealth.card import Limits
from vibhealth.job._item import DUE, JobItem, Phase
from vibhealth.job.folder import MOMENTS, JobFile
from vibhealth.job.items import ITEMS
from vibhealth.job.questions import open_questions
from vibhealth.job.record import JobRecord
from vibhealth.job.template import PHASE_TITLES
from vibhealth.model import Hold, Moment, Stage

__all__ = ["AnsweredNo", "DueCheck", "JobStatus", "job_status", "status_dict", "status_text"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnsweredNo:
    """An item answered "no", by whom, and what it leads to."""

    item: JobItem
    by: str
    at: datetime | None
    remark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DueCheck:
    """A later check; ``is_done`` once no question of it is open and it is recorded."""

    moment: Moment
    due: datetime
    overdue_h: float
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStatus:
    """All that `job_status` found.

    ``open`` holds the open questions by phase, ``recordings`` the number of files
    by folder, ``checks`` the later checks (empty before the machine was started).
    """

    path: str
    open: dict[Phase, tuple[str, ...]]
    answered_no: tuple[AnsweredNo, ...]
    recordings: dict[str, int]
    checks: tuple[DueCheck, ...]
    not_recorded: tuple[Moment, ...] = ()

    @property
    def open_count(self) -> int:
        """Number of open questions."""
        return sum(len(texts) for texts in self.open.values())


def job_status(record: JobRecord, files: tuple[JobFile, ...], *, now: datetime) -> JobStatus:
    """Compare a record and its recordings with what a job asks for.

    Parameters
    ----------
    record : JobRecord
        As read.
    files : tuple of JobFile
        Its recordings.
    now : datetime
        With offset.

    Returns
    -------
    JobStatus
    """
    by_phase: dict[Phase, tuple[str, ...]] = {}
    for question in open_questions(record):
        by_phase[question.phase] = (*by_phase.get(question.phase, ()), question.text)
    recordings = _recordings(files)
    return JobStatus(
        path=record.path,
        open=by_phase,
        answered_no=tuple(
            AnsweredNo(item=item, by=answer.by, at=answer.at, remark=answer.remark)
            for item in ITEMS
            if (answer := record.answer(item.id)).answer == "no"
        ),
        recordings=recordings,
        checks=_checks(record, by_phase, recordings, now),
        not_recorded=_not_recorded(record, recordings),
    )


def _folder(stage: Stage, moment: Moment | None) -> str:
    return stage.value if moment is None else f"{stage.value}/{moment.value}"


def _recordings(files: tuple[JobFile, ...]) -> dict[str, int]:
    counts = Counter(_folder(file.stage, file.moment) for file in files)
    names = [_folder(Stage.AS_FOUND, None)]
    names += [_folder(stage, moment) for stage in MOMENTS for moment in MOMENTS[stage]]
    loose = _folder(Stage.AS_LEFT, None)
    return {name: counts[name] for name in names} | (
        {loose: counts[loose]} if counts[loose] else {}
    )


def _checks(
    record: JobRecord,
    by_phase: dict[Phase, tuple[str, ...]],
    recordings: dict[str, int],
    now: datetime,
) -> tuple[DueCheck, ...]:
    started = record.job.machine_started
    if started is None:
        return ()
    clock = now if started.utcoffset() is not None else now.replace(tzinfo=None)
    return tuple(
        DueCheck(
            moment=moment,
            due=started + after,
            overdue_h=round((clock - started - after) / timedelta(hours=1), 2),
            is_done=Phase(moment.value) not in by_phase
            and _recorded(recordings, moment) >= _wanted(record),
        )
        for moment, after in DUE.items()
    )


def _recorded(recordings: dict[str, int], moment: Moment) -> int:
    """Recordings of a check; what lies right below as-left belongs to the first."""
    loose = recordings.get(_folder(Stage.AS_LEFT, None), 0) if moment is Moment.HOUR_1 else 0
    return recordings[_folder(Stage.AS_LEFT, moment)] + loose


def _wanted(record: JobRecord) -> int:
    """How many recordings a check needs."""
    card = record.machine_card
    limits = card.limits if card is not None else Limits.default()
    return round(limits.value("recommended_recordings"))


def _not_recorded(record: JobRecord, recordings: dict[str, int]) -> tuple[Moment, ...]:
    """Start and stop of a running machine that shakes on purpose, where they are missing."""
    card = record.machine_card
    if record.job.machine_started is None or (card is not None and card.exciter is None):
        return ()
    return tuple(
        moment
        for moment in (Moment.RUN_UP, Moment.COAST_DOWN)
        if recordings[_folder(Stage.AS_LEFT, moment)] == 0
    )


def status_dict(status: JobStatus) -> dict[str, Any]:
    """The status as plain values for JSON.

    Parameters
    ----------
    status : JobStatus
        Of `job_status`.

    Returns
    -------
    dict
        Valid against the schema "job-status" of the report; times as ISO 8601 text.
    """
    return {
        "schema_version": 1,
        "record": status.path,
        "open_count": status.open_count,
        "open": {phase.value: list(texts) for phase, texts in status.open.items()},
        "answered_no": [
            {
                "id": no.item.id,
                "question": no.item.question,
                "means": no.item.no_means.value,
                "by": no.by,
                "at": None if no.at is None else no.at.isoformat(),
                "remark": no.remark,
            }
            for no in status.answered_no
        ],
        "recordings": status.recordings,
        "checks": [
            {
                "moment": check.moment.value,
                "due": check.due.isoformat(),
                "overdue_h": check.overdue_h,
                "done": check.is_done,
            }
            for check in status.checks
        ],
        "next": next_steps(status),
    }


def status_text(status: JobStatus) -> str:
    """The status for a terminal.

    Parameters
    ----------
    status : JobStatus
        Of `job_status`.

    Returns
    -------
    str
    """
    lines = [f"Job {status.path}", "", f"Open questions: {status.open_count}"]
    for phase, texts in status.open.items():
        lines.append(f"  {PHASE_TITLES[phase]} ({phase}): {len(texts)}")
        lines += [f"    - {text}" for text in texts]
    lines += ["", f"Answered no: {len(status.answered_no)}"]
    lines += [_no_line(no) for no in status.answered_no]
    lines += ["", "Recordings:"]
    lines += [f"  {name}: {count or 'none'}" for name, count in status.recordings.items()]
    lines += ["", "Next:", *(f"  {step}" for step in next_steps(status))]
    return "\n".join(lines) + "\n"


def _no_line(no: AnsweredNo) -> str:
    what = {Hold.STOP_NOW: "STOP NOW", Hold.FIX: "fix", Hold.MEASURE_AGAIN: "measure again"}
    when = f" {no.at.isoformat(sep=' ', timespec='minutes')}" if no.at is not None else ""
    remark = f": {no.remark}" if no.remark else ""
    return f"  - {what[no.item.no_means]}: {no.item.question} ({no.by or 'unsigned'}{when}){remark}"


def next_steps(status: JobStatus) -> list[str]:
    """What comes next, most urgent first.

    Parameters
    ----------
    status : JobStatus
        Of `job_status`.

    Returns
    -------
    list of str
        One sentence each; at least one.
    """
    steps: list[str] = []
    if any(no.item.no_means is Hold.STOP_NOW for no in status.answered_no):
        steps.append("Stop, lock out, find the cause; then: vibhealth job ask --again")
    elif status.answered_no:
        steps.append('Put right what was answered "no"; then: vibhealth job ask --again')
    if status.open:
        phase = next(iter(status.open))
        steps.append(
            f"Open in {PHASE_TITLES[phase]}: {len(status.open[phase])}; answer with: "
            "vibhealth job ask"
        )
    steps += [
        f"Not recorded yet: {moment}; record it into {_folder(Stage.AS_LEFT, moment)}"
        for moment in status.not_recorded
    ]
    steps += [_due_sentence(check) for check in status.checks if not check.is_done]
    return steps or ["Nothing: every question is answered and every check recorded."]


def _due_sentence(check: DueCheck) -> str:
    due = check.due.isoformat(sep=" ", timespec="minutes")
    hours = abs(check.overdue_h)
    span = f"{hours:.0f} h" if hours >= 2 else f"{60 * hours:.0f} min"
    when = f"in {span}" if check.overdue_h < 0 else f"overdue by {span}"
    folder = _folder(Stage.AS_LEFT, check.moment)
    return f"Check of {check.moment}: {due} ({when}); record into {folder}, then answer"
