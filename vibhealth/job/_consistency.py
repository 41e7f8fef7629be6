"""Rules that hold between the tables of a record: known questions, times that can be."""

import itertools
from datetime import datetime
from typing import TYPE_CHECKING

from vibhealth.card._types import Location, place
from vibhealth.card._words import nearest
from vibhealth.job._item import DUE, EARLIEST_SHARE, JobItem, Phase
from vibhealth.job.items import ITEM_BY_ID, ITEMS

if TYPE_CHECKING:
    from vibhealth.job.record import JobRecord

__all__ = ["all_times", "answer_faults", "earliest_answer", "time_faults"]

Fault = tuple[Location, str, object]
Timed = tuple[Location, datetime]

PHASES = list(Phase)


def answer_faults(record: "JobRecord") -> list[Fault]:
    """Answers to questions that the check list does not have.

    Parameters
    ----------
    record : JobRecord
        Each of its tables is valid in itself.

    Returns
    -------
    list of (location, rule, value found)
    """
    return [
        (("check", name), f"is no item of the check list{_hint(name)}", answer.answer)
        for name, answer in record.check.items()
        if name not in ITEM_BY_ID
    ]


def _hint(name: str) -> str:
    hint = nearest(name, ITEM_BY_ID)
    return hint if "did you mean" in hint else " (job new writes a record with all of them)"


def time_faults(record: "JobRecord") -> list[Fault]:
    """Times that cannot be: mixed forms, work after the start, checks before it.

    Parameters
    ----------
    record : JobRecord
        Each of its tables is valid in itself.

    Returns
    -------
    list of (location, rule, value found)
        Only the mix of forms where times are mixed: they cannot be compared.
    """
    mixed = _mixed_forms(all_times(record))
    if mixed:
        return mixed
    return [*_start_faults(record), *_too_early(record), *_falling_times(record)]


def all_times(record: "JobRecord") -> list[Timed]:
    """Every time of the record with its place, in the order of the tables."""
    named: list[tuple[Location, datetime | None]] = [
        (("job", "rebuild_finished"), record.job.rebuild_finished),
        (("job", "machine_started"), record.job.machine_started),
    ]
    named += [(("check", name, "at"), answer.at) for name, answer in record.check.items()]
    named += [(("torque", name, "at"), sheet.at) for name, sheet in record.torque.items()]
    named += [(("oil", "at"), record.oil.at), (("clearance", "at"), record.clearance.at)]
    named += [(("temperature", n, "at"), row.at) for n, row in enumerate(record.temperature)]
    if record.override is not None:
        named.append((("override", "at"), record.override.at))
    return [(where, at) for where, at in named if at is not None]


def _mixed_forms(times: list[Timed]) -> list[Fault]:
    with_offset = [(where, at) for where, at in times if at.utcoffset() is not None]
    without = [(where, at) for where, at in times if at.utcoffset() is None]
    if not with_offset or not without:
        return []
    where, at = without[0]
    rule = (
        f"must have an offset from UTC such as +01:00, as {place(with_offset[0][0])} has one: "
        "times of both forms cannot be compared"
    )
    return [(where, rule, at)]


def _start_faults(record: "JobRecord") -> list[Fault]:
    finished, started = record.job.rebuild_finished, record.job.machine_started
    if finished is None or started is None or finished <= started:
        return []
    rule = f"must not lie before job.rebuild_finished ({finished.isoformat()})"
    return [(("job", "machine_started"), rule, started)]


def earliest_answer(item: JobItem, started: datetime) -> datetime:
    """First time at which an item can be answered, for a machine started then.

    Parameters
    ----------
    item : JobItem
        Of the phases from the start on.
    started : datetime
        First start after the rebuild.

    Returns
    -------
    datetime
        In the form of ``started``; of a later check, at three quarters of its time.
    """
    return started if item.moment is None else started + EARLIEST_SHARE * DUE[item.moment]


def _too_early(record: "JobRecord") -> list[Fault]:
    started = record.job.machine_started
    if started is None:
        return []
    faults: list[Fault] = []
    for item in ITEMS:
        at = record.answer(item.id).at
        if at is None or PHASES.index(item.phase) < PHASES.index(Phase.START):
            continue
        earliest = earliest_answer(item, started)
        if at < earliest:
            rule = (
                f"must not lie before {earliest.isoformat()}, since the machine was started at "
                f"{started.isoformat()}; answer this again at the {item.phase} check"
            )
            faults.append((("check", item.id, "at"), rule, at))
    return faults


def _falling_times(record: "JobRecord") -> list[Fault]:
    faults: list[Fault] = []
    for number, (before, after) in enumerate(itertools.pairwise(record.temperature), start=1):
        if after.at <= before.at:
            rule = f"must lie after the reading before it ({before.at.isoformat()})"
            faults.append((("temperature", number, "at"), rule, after.at))
    return faults
