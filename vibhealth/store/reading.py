"""Reading entries of one machine in order of time, each table in one query."""

import sqlite3
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from vibhealth.model import (
    CriterionResult,
    Descriptor,
    Element,
    HistoryFamily,
    HistoryRecording,
    HistoryVerdict,
    OpenedUnit,
    Rebuild,
)
from vibhealth.store.entry import Withdrawal
from vibhealth.store.nouns import (
    descriptor_of,
    family_of,
    opened_unit_of,
    rebuild_of,
    recording_of,
    verdict_of,
    withdrawal_of,
)
from vibhealth.store.schema import COLUMNS
from vibhealth.store.times import time_text

__all__ = [
    "FamilyName",
    "Selection",
    "read_channels",
    "read_families_seen",
    "read_machines",
    "read_opened_units",
    "read_rebuilds",
    "read_recordings",
    "read_verdicts",
    "read_withdrawals",
]

FamilyName = tuple[str, Element]  # bearing and element

COUNTS = " AND NOT EXISTS (SELECT 1 FROM withdrawal w WHERE w.kind = '{}' AND w.entry_id = e.id)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """Which recordings of a machine to read, and how much of each.

    ``descriptors`` are the ids wanted, ``families`` the names, None for all; ``since`` and
    ``until`` (both included, aware) leave out recordings without a time.
    """

    machine: str
    point: str | None = None
    since: datetime | None = None
    until: datetime | None = None
    descriptors: Collection[str] | None = None
    families: Collection[FamilyName] | None = None
    withdrawn: bool = False

    def where(self) -> tuple[str, list[Any]]:
        """Condition on table ``recording`` as ``e``, and its values."""
        parts, values = ["e.machine_id = (SELECT id FROM machine WHERE name = ?)"], [self.machine]
        if self.point is not None:
            parts.append("e.point = ?")
            values.append(self.point)
        if self.since is not None:
            parts.append("e.recorded_at >= ?")
            values.append(time_text(self.since, name="since"))
        if self.until is not None:
            parts.append("e.recorded_at <= ?")
            values.append(time_text(self.until, name="until"))
        return " AND ".join(parts) + ("" if self.withdrawn else COUNTS.format("recording")), values


def read_machines(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Names of all machines, sorted."""
    rows = connection.execute("SELECT name FROM machine ORDER BY name").fetchall()
    return tuple(name for (name,) in rows)


def read_channels(connection: sqlite3.Connection, machine: str, sha256: str) -> tuple[int, ...]:
    """Channels of one file that are stored and count."""
    rows = connection.execute(
        "SELECT e.channel FROM recording e JOIN machine m ON m.id = e.machine_id"  # noqa: S608 - own names
        f" WHERE e.sha256 = ? AND m.name = ?{COUNTS.format('recording')} ORDER BY e.channel",
        (sha256, machine),
    ).fetchall()
    return tuple(channel for (channel,) in rows)


def read_recordings(
    connection: sqlite3.Connection, wanted: Selection
) -> tuple[HistoryRecording, ...]:
    """Recordings by time (undated first), then in the order of adding."""
    where, values = wanted.where()
    rows = connection.execute(
        f"SELECT e.id, {_columns('recording', 'e')} FROM recording e WHERE {where}"  # noqa: S608 - own names
        " ORDER BY e.recorded_at, e.id",
        values,
    ).fetchall()
    descriptors = _descriptors(connection, wanted)
    families = _families(connection, wanted)
    return tuple(
        recording_of(
            (row[0], wanted.machine, *row[1:]),
            descriptors.get(row[0], ()),
            families.get(row[0], ()),
        )
        for row in rows
    )


def _descriptors(connection: sqlite3.Connection, wanted: Selection) -> dict[int, list[Descriptor]]:
    where, values = wanted.where()
    if wanted.descriptors is not None:
        marks = ", ".join("?" * len(wanted.descriptors))
        where += f" AND c.id IN ({marks})"
        values += sorted(wanted.descriptors)
    found: defaultdict[int, list[Descriptor]] = defaultdict(list)
    for row in _children(connection, "recording", "descriptor", where, values):
        found[row[0]].append(descriptor_of(row[1:]))
    return found


def _families(connection: sqlite3.Connection, wanted: Selection) -> dict[int, list[HistoryFamily]]:
    where, values = wanted.where()
    if wanted.families is not None:
        if not wanted.families:
            return {}
        names = sorted((bearing, element.value) for bearing, element in wanted.families)
        where += f" AND (c.bearing, c.element) IN (VALUES {', '.join(['(?, ?)'] * len(names))})"
        values += [part for name in names for part in name]
    found: defaultdict[int, list[HistoryFamily]] = defaultdict(list)
    for row in _children(connection, "recording", "family", where, values):
        found[row[0]].append(family_of(row[1:]))
    return found


def read_families_seen(
    connection: sqlite3.Connection, machine: str, *, until: datetime | None, latest: int
) -> frozenset[FamilyName]:
    """Families that did not pass since the last rebuild, or in the latest times of a point.

    Only recordings that count; ``latest`` times of each point, nothing after ``until`` (aware).
    Undated recordings may be of any time: theirs belong to them.
    """
    where, values = Selection(machine=machine, until=until).where()
    points = connection.execute(
        f"SELECT DISTINCT e.point FROM recording e WHERE {where}",  # noqa: S608 - own names
        values,
    ).fetchall()
    rebuilds = [r.at for r in read_rebuilds(connection, machine) if until is None or r.at <= until]
    since = max(rebuilds, default=None)
    found = _did_not_pass(
        connection,
        machine,
        "(e.recorded_at IS NULL OR (e.recorded_at >= ? AND e.recorded_at <= ?))",
        ["" if since is None else time_text(since, name="since"),
         "9999" if until is None else time_text(until, name="until")],
    )  # fmt: skip
    for (point,) in points:
        own, of_point = Selection(machine=machine, until=until, point=point).where()
        times = connection.execute(
            f"SELECT DISTINCT e.recorded_at FROM recording e WHERE {own}"  # noqa: S608 - own names
            " AND e.recorded_at IS NOT NULL ORDER BY e.recorded_at DESC LIMIT ?",
            [*of_point, latest],
        ).fetchall()
        if times:
            found |= _did_not_pass(
                connection, machine, "e.recorded_at >= ? AND e.recorded_at <= ?",
                [times[-1][0], times[0][0]],
            )  # fmt: skip
    return frozenset(found)


def _did_not_pass(
    connection: sqlite3.Connection, machine: str, condition: str, more: list[Any]
) -> set[FamilyName]:
    where, values = Selection(machine=machine).where()
    rows = connection.execute(
        "SELECT DISTINCT c.bearing, c.element FROM recording e"  # noqa: S608 - own names
        f" CROSS JOIN family c ON c.recording_id = e.id WHERE {where} AND {condition}"
        " AND c.result <> ?",
        [*values, *more, CriterionResult.PASS.value],
    )
    return {(bearing, Element(element)) for bearing, element in rows}


def read_verdicts(
    connection: sqlite3.Connection, machine: str, *, withdrawn: bool = False
) -> tuple[HistoryVerdict, ...]:
    """Verdicts by the time they were given (undated first)."""
    where = "e.machine_id = (SELECT id FROM machine WHERE name = ?)"
    where += "" if withdrawn else COUNTS.format("verdict")
    recordings: defaultdict[int, list[str]] = defaultdict(list)
    for id_, sha256 in _children(connection, "verdict", "verdict_recording", where, [machine]):
        recordings[id_].append(sha256)
    rows = _entries(connection, "verdict", machine, "decided_on", withdrawn=withdrawn)
    return tuple(verdict_of(row, recordings.get(row[0], ())) for row in rows)


def read_rebuilds(
    connection: sqlite3.Connection, machine: str, *, withdrawn: bool = False
) -> tuple[Rebuild, ...]:
    """Rebuilds by time."""
    rows = _entries(connection, "rebuild", machine, "at", withdrawn=withdrawn)
    return tuple(rebuild_of(row) for row in rows)


def read_opened_units(
    connection: sqlite3.Connection, machine: str, *, withdrawn: bool = False
) -> tuple[OpenedUnit, ...]:
    """Opened units by the time they were removed."""
    rows = _entries(connection, "opened_unit", machine, "removed_at", withdrawn=withdrawn)
    return tuple(opened_unit_of(row) for row in rows)


def read_withdrawals(connection: sqlite3.Connection, machine: str) -> tuple[Withdrawal, ...]:
    """Withdrawals in the order they were made."""
    rows = connection.execute(
        f"SELECT e.id, m.name, {_columns('withdrawal', 'e')}, e.added_at"  # noqa: S608 - own names
        " FROM withdrawal e JOIN machine m ON m.id = e.machine_id"
        " WHERE m.name = ? ORDER BY e.id",
        (machine,),
    ).fetchall()
    return tuple(withdrawal_of(row) for row in rows)


def _entries(
    connection: sqlite3.Connection, table: str, machine: str, time: str, *, withdrawn: bool
) -> list[tuple[Any, ...]]:
    return connection.execute(
        f"SELECT e.id, m.name, {_columns(table, 'e')} FROM {table} e"  # noqa: S608 - own names
        " JOIN machine m ON m.id = e.machine_id WHERE m.name = ?"
        + ("" if withdrawn else COUNTS.format(table))
        + f" ORDER BY e.{time}, e.id",
        (machine,),
    ).fetchall()


def _children(
    connection: sqlite3.Connection, parent: str, child: str, where: str, values: list[Any]
) -> sqlite3.Cursor:
    """Rows (id of the parent, columns); those of one parent in their order.

    Parents are taken in the order of their index by time, so that nothing has to be sorted.
    """
    time = {"recording": "recorded_at", "verdict": "decided_on"}[parent]
    return connection.execute(
        f"SELECT e.id, {_columns(child, 'c')} FROM {parent} e"  # noqa: S608 - own names
        f" CROSS JOIN {child} c ON c.{parent}_id = e.id WHERE {where} ORDER BY e.{time}, e.id, c.position",
        values,
    )


def _columns(table: str, alias: str) -> str:
    return ", ".join(f"{alias}.{column}" for column in COLUMNS[table])
