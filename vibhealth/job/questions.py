"""All questions of a record in the order of work, and which of them are open."""

from collections.abc import Callable
from datetime import datetime

from vibhealth._toml import Value
from vibhealth.errors import JobError
from vibhealth.job._consistency import earliest_answer
from vibhealth.job._facts import (
    YES_NO,
    choice_question,
    name_question,
    text_question,
    time_question,
)
from vibhealth.job._figures import (
    clearance_question,
    oil_grade_question,
    oil_volume_question,
    temperature_question,
    torque_questions,
)
from vibhealth.job._item import JobItem, Phase
from vibhealth.job._question import Edit, Question, Reply
from vibhealth.job.items import ITEMS
from vibhealth.job.record import JobRecord
from vibhealth.job.torque import bolt_group_ids

__all__ = ["all_questions", "due_from", "open_questions"]

PHASES = list(Phase)


def all_questions(record: JobRecord) -> tuple[Question, ...]:
    """Every question of a job, in the order of work.

    Parameters
    ----------
    record : JobRecord
        Its machine card says which bolt groups there are.

    Returns
    -------
    tuple of Question
    """
    ahead, behind = _ahead(), _behind(record)
    found: list[Question] = []
    for item in ITEMS:
        found += [*ahead.get(item.id, ()), _check(item), *behind.get(item.id, ())]
    return tuple(found)


def open_questions(
    record: JobRecord, *, from_phase: Phase = Phase.AS_FOUND, again: bool = False
) -> tuple[Question, ...]:
    """Questions without an answer.

    Parameters
    ----------
    record : JobRecord
        As read.
    from_phase : Phase, optional
        Leaves out earlier ones.
    again : bool
        Whether what was answered "no" counts as open.

    Returns
    -------
    tuple of Question
        In the order of work.
    """
    first = PHASES.index(from_phase)
    return tuple(
        question
        for question in all_questions(record)
        if PHASES.index(question.phase) >= first
        and (question.is_open(record) or (again and _is_no(question, record)))
    )


def due_from(question: Question, record: JobRecord) -> datetime | None:
    """Time from which a question can be answered; None where it always can.

    Parameters
    ----------
    question : Question
        One of `all_questions`.
    record : JobRecord
        As read.

    Returns
    -------
    datetime or None
        In the form of the record's times.
    """
    return question.not_before(record)


def _is_no(question: Question, record: JobRecord) -> bool:
    return question.item is not None and record.answer(question.item.id).answer == "no"


def _check(item: JobItem) -> Question:
    def edit(reply: Reply) -> Edit:
        word, _, remark = reply.text.partition(" ")
        answer = YES_NO.get(word.lower().rstrip(".,:;"))
        if answer is None:
            msg = f'"{reply.text[:40]}" is no answer; type y or n, and a remark behind it if any'
            raise JobError(msg)
        table = ("check", item.id)
        changes: dict[tuple[str, ...], Value] = {
            (*table, "answer"): answer,
            **reply.signed(*table),
            (*table, "remark"): _remark(remark.strip(), item, reply.record),
            **_sheet_answers(item, answer, reply.record),
        }
        return Edit(said=answer, changes=changes)

    return Question(
        id=f"check.{item.id}",
        phase=item.phase,
        text=item.question,
        form="y / n",
        why=item.why,
        is_open=lambda record: record.answer(item.id).answer == "not checked",
        edit=edit,
        item=item,
        not_before=_start_or_later(item),
    )


def _remark(remark: str, item: JobItem, record: JobRecord) -> str:
    """The new remark; an earlier "no" stays readable behind it."""
    earlier = record.answer(item.id)
    if earlier.answer != "no":
        return remark or earlier.remark
    when = f", {earlier.at.isoformat(sep=' ')}" if earlier.at is not None else ""
    told = f": {earlier.remark}" if earlier.remark else ""
    return f"{f'{remark}; ' if remark else ''}before: no ({earlier.by or 'unsigned'}{when}){told}"


def _sheet_answers(item: JobItem, answer: str, record: JobRecord) -> dict[tuple[str, ...], Value]:
    """New bolts and the repeated pass stand in each torque sheet too."""
    card = record.machine_card
    if card is None or item.id not in {"bolts-new", "bolts-repeated"}:
        return {}
    key = "new_bolts" if item.id == "bolts-new" else "repeat_pass"
    return {
        ("torque", name, key): answer
        for name, group in bolt_group_ids(card).items()
        if key == "repeat_pass" or group.single_use
    }


def _start_or_later(item: JobItem) -> Callable[[JobRecord], datetime | None]:
    def not_before(record: JobRecord) -> datetime | None:
        started = record.job.machine_started
        if started is None or PHASES.index(item.phase) < PHASES.index(Phase.START):
            return None
        return earliest_answer(item, started)

    return not_before


def _ahead() -> dict[str, list[Question]]:
    """Questions asked before an item."""
    return {
        "no-knock": [
            time_question(
                "machine_started",
                Phase.START,
                "When was the machine started for the first time?",
                "The checks after 1 h, 8 h, 24 h and 7 days count from it.",
            )
        ],
        "no-leak-1h": [
            choice_question(
                "load",
                Phase.HOUR_1,
                "Was the machine empty or loaded while it was recorded?",
                "Material strikes the deck and hides the bearing; the decision needs it empty.",
                choices=("empty", "loaded"),
            ),
            choice_question(
                "point_checked",
                Phase.HOUR_1,
                "Was the sensor at the same marked point, in the same directions, as before?",
                "Another place gives other figures, and nothing can be compared. Check: painted "
                "ring, stamped name, arrow.",
            ),
        ],
    }


def _behind(record: JobRecord) -> dict[str, list[Question]]:
    """Questions asked after an item."""
    card = record.machine_card
    return {
        "oil-drained": [
            oil_volume_question(
                "drained_l",
                Phase.STRIP,
                "How many litres came out?",
                "Too little in the old unit explains much. Catch it in a measured can.",
            )
        ],
        "designation-read": [
            text_question(
                "bearing_designation",
                Phase.BUILD,
                "Which designation is stamped on the new bearings?",
                "Defect frequencies are computed for these. Read the ring face, not the box.",
            ),
            text_question(
                "unit_serial",
                Phase.BUILD,
                "Which serial number has the unit that goes in?",
                "It ties recordings, report and unit together at the next rebuild.",
            ),
        ],
        "bolts-staged": torque_questions(card),
        "guard-clearance": [clearance_question(card)],
        "oil-filled": [
            oil_grade_question(card),
            oil_volume_question(
                "filled_l",
                Phase.BUILD,
                "How many litres went in?",
                "Level and litres must agree; if not, the unit holds old oil, or the level lies.",
            ),
        ],
        "plugs-tight": [
            name_question(
                "rebuilt_by",
                Phase.BUILD,
                "Who answers for the rebuild?",
                "The one to ask when something is found later.",
            ),
            time_question(
                "rebuild_finished",
                Phase.BUILD,
                "When was the rebuild finished?",
                "Recordings made before it cannot count as after.",
            ),
        ],
        "braces-out": [
            name_question(
                "braces_removed_by",
                Phase.PRE_START,
                "Who took the shipping braces out?",
                "A named person counts better than nobody.",
            )
        ],
        "no-leak-10-min": [temperature_question()],
    }
