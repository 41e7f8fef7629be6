"""Walk through the open questions one at a time; every answer is in the file at once."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from vibhealth.errors import JobError
from vibhealth.job._item import Phase
from vibhealth.job._question import Edit, Question, Reply
from vibhealth.job._types import real_name
from vibhealth.job.cautions import CAUTIONS
from vibhealth.job.editing import edit_record
from vibhealth.job.items import ITEMS
from vibhealth.job.questions import due_from, open_questions
from vibhealth.job.reading import read_job, record_path
from vibhealth.job.record import JobRecord
from vibhealth.job.template import PHASE_TITLES
from vibhealth.model import Hold

__all__ = ["Asked", "Console", "ask_job"]

STOP = "q"
WHY = "?"
AFTER_NO = {
    Hold.STOP_NOW: "STOP NOW: press stop, lock out, tag, try. Do not restart before the cause is "
    "found and put right; then: vibhealth job ask --again",
    Hold.FIX: "put it right before going on; then: vibhealth job ask --again",
    Hold.MEASURE_AGAIN: "measure it where that is still possible; then: vibhealth job ask --again",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Console:
    """How to talk: say a line, ask for one (None where there are no more), know the time."""

    say: Callable[[str], None]
    ask: Callable[[str], str | None]
    now: Callable[[], datetime]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a walk ended: the record, how many questions are open, whether to stop the machine."""

    record: JobRecord
    open: int
    stop_now: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Walk:
    path: Path
    by: str
    from_phase: Phase
    again: bool
    console: Console


def ask_job(
    folder_or_file: str | Path,
    *,
    console: Console,
    by: str | None = None,
    from_phase: Phase = Phase.AS_FOUND,
    again: bool = False,
) -> Asked:
    """Ask the open questions of a job until all are answered or the user stops.

    Parameters
    ----------
    folder_or_file : str or Path
        Job folder, or its ``job.toml``.
    console : Console
        Where to talk.
    by : str, optional
        Who answers; asked for where not given.
    from_phase : Phase, optional
        Skips earlier questions.
    again : bool
        Ask again what was answered "no".

    Returns
    -------
    Asked

    Raises
    ------
    JobError
        If the record cannot be read; answers given before are in the file.
    OutputError
        If an answer cannot be written.
    """
    path = record_path(folder_or_file)
    record = read_job(path)
    stop_now = False
    try:
        name = real_name((by or "").strip()) or _name(console)
        if name:
            walk = _Walk(path=path, by=name, from_phase=from_phase, again=again, console=console)
            stop_now = _walk(walk, record)
    except KeyboardInterrupt:  # the user stops; the file holds the answers before or after it
        console.say("")
    record = read_job(path)
    return Asked(record=record, open=len(open_questions(record)), stop_now=stop_now)


def _name(console: Console) -> str:
    """Who answers; empty where there is no more input."""
    while True:
        typed = console.ask("Who answers? Name, or q to stop: ")
        if typed is None or typed.strip() == STOP:
            return ""
        if real_name(typed.strip()):
            return typed.strip()
        console.say("  every answer is signed: type your name, or your number")


def _walk(walk: _Walk, record: JobRecord) -> bool:
    """Ask until the end; whether the machine has to be stopped."""
    seen: set[str] = set()
    phase: Phase | None = None
    while (question := _next(walk, record, seen)) is not None:
        seen.add(question.id)
        if question.phase is not phase:
            phase = question.phase
            _say_phase(phase, record, walk.console)
        edit = _answer(walk, question)
        if edit == STOP:
            return False
        record = read_job(walk.path)
        if _says_stop(question, record) and edit is not None:
            return True
    return False


def _next(walk: _Walk, record: JobRecord, seen: set[str]) -> Question | None:
    for question in open_questions(record, from_phase=walk.from_phase, again=walk.again):
        if question.id in seen:
            continue
        if question.item is not None and question.item.moment and not record.job.machine_started:
            seen.add(question.id)
            walk.console.say(f"  not before the time of the first start is given: {question.text}")
            continue
        due = due_from(question, record)
        if due is None or _passed(due, walk.console.now()):
            return question
        seen.add(question.id)
        walk.console.say(
            f"  not before {due.isoformat(sep=' ', timespec='minutes')}: {question.text}"
        )
    return None


def _left_before_start(record: JobRecord) -> int:
    phases = list(Phase)[: list(Phase).index(Phase.START)]
    return sum(question.phase in phases for question in open_questions(record, again=True))


def _passed(due: datetime, now: datetime) -> bool:
    return due <= (now if due.utcoffset() is not None else now.replace(tzinfo=None))


def _say_phase(phase: Phase, record: JobRecord, console: Console) -> None:
    console.say(f"\n== {PHASE_TITLES[phase]} ==")
    if phase is Phase.START and (left := _left_before_start(record)):
        console.say(
            f"  ! NOT READY TO START: {left} earlier questions are open or answered no; "
            "see vibhealth job status"
        )
    for caution in CAUTIONS[phase]:
        console.say(f"  ! {caution}")


def _answer(walk: _Walk, question: Question) -> "Edit | str | None":
    """Ask one question until it is answered: the edit, ``q``, or None for later."""
    console = walk.console
    console.say(f"\n{_number(question)}{question.text}")
    while True:
        typed = console.ask(f"  {question.form}; ? = why, empty = later, q = stop > ")
        if typed is None or typed.strip().lower() == STOP:
            return STOP
        text = typed.strip()
        if not text:
            return None
        if text == WHY:
            console.say(f"  {question.why}")
            continue
        try:
            return _write(walk, question, text)
        except JobError as error:
            console.say(f"  {error}")


def _write(walk: _Walk, question: Question, text: str) -> Edit:
    record = read_job(walk.path)
    reply = Reply(text=text, by=walk.by, at=walk.console.now(), record=record)
    edit = question.edit(reply)
    edit_record(walk.path, edit.changes, row=edit.row)
    clock = reply.at.strftime("%H:%M")
    walk.console.say(f"  noted: {edit.said} ({walk.by}, {clock})")
    if question.item is not None and edit.said == "no":
        walk.console.say(f"  {AFTER_NO[question.item.no_means]}")
    return edit


def _number(question: Question) -> str:
    return "" if question.item is None else f"{ITEMS.index(question.item) + 1}. "


def _says_stop(question: Question, record: JobRecord) -> bool:
    item = question.item
    return (
        item is not None
        and item.no_means is Hold.STOP_NOW
        and record.answer(item.id).answer == "no"
    )
