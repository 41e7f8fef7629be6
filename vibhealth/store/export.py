"""The history as documents for other programs: a long table, and everything as JSON."""

import csv
import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any, TextIO

from vibhealth.store.files import replacing
from vibhealth.store.history import History
from vibhealth.store.migrations import NEWEST
from vibhealth.store.schema import CHILDREN, COLUMNS, ENTRIES

__all__ = ["export_csv", "export_json"]

RECORDING_COLUMNS = ("id", "machine", *COLUMNS["recording"])
DESCRIPTOR_COLUMNS = tuple(
    f"descriptor_{column}" if column in ("id", "unit") else column
    for column in COLUMNS["descriptor"]
)


def export_csv(history: History, target: str | Path, *, overwrite: bool = False) -> Path:
    """One line for each descriptor of each recording that counts.

    By machine, time and number; a recording without descriptors has one line with those
    columns empty. Times are ISO 8601 in UTC.

    Raises
    ------
    OutputError
        If ``target`` exists and is not to be overwritten, or cannot be written.
    StoreError
        If the history cannot be read.
    """
    recording = ", ".join(f"r.{column}" for column in COLUMNS["recording"])
    descriptor = ", ".join(f"d.{column}" for column in COLUMNS["descriptor"])
    query = (
        f"SELECT r.id, m.name, {recording}, {descriptor} FROM recording r"  # noqa: S608 - own names
        " JOIN machine m ON m.id = r.machine_id LEFT JOIN descriptor d ON d.recording_id = r.id"
        " WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE w.kind = 'recording'"
        " AND w.entry_id = r.id) ORDER BY m.name, r.recorded_at, r.id, d.position"
    )
    with (
        replacing(Path(target), overwrite=overwrite) as temporary,
        temporary.open("w", encoding="utf-8", newline="") as stream,
        history.reading() as connection,
    ):
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow((*RECORDING_COLUMNS, *DESCRIPTOR_COLUMNS))
        writer.writerows(connection.execute(query))
    return Path(target)


def export_json(history: History, target: str | Path, *, overwrite: bool = False) -> Path:
    """Everything, withdrawn entries and withdrawals too, with digests and times of adding.

    Raises
    ------
    OutputError
        If ``target`` exists and is not to be overwritten, or cannot be written.
    StoreError
        If the history cannot be read.
    """
    with (
        replacing(Path(target), overwrite=overwrite) as temporary,
        temporary.open("w", encoding="utf-8", newline="\n") as stream,
        history.reading() as connection,
    ):
        _write(connection, stream)
    return Path(target)


def _write(connection: sqlite3.Connection, stream: TextIO) -> None:
    """One entry on a line, so that a long history is never in memory as a whole."""
    stream.write(f'{{"layout": {NEWEST}')
    for table in ENTRIES:
        stream.write(f',\n"{table}": [')
        stream.writelines(
            (",\n" if number else "\n") + json.dumps(entry, ensure_ascii=False)
            for number, entry in enumerate(_entries(connection, table))
        )
        stream.write("]")
    stream.write("}\n")


def _entries(connection: sqlite3.Connection, table: str) -> Iterator[dict[str, Any]]:
    """Entries by machine and number."""
    names = ("id", "machine", *COLUMNS[table], "digest", "added_at")
    columns = ", ".join(f"e.{name}" for name in names if name not in ("id", "machine"))
    rows = connection.execute(
        f"SELECT e.id, m.name, {columns} FROM {table} e"  # noqa: S608 - own names
        " JOIN machine m ON m.id = e.machine_id ORDER BY m.name, e.id"
    )
    for row in rows:
        entry = dict(zip(names, row, strict=True))
        for name in ("reasons", "named"):
            if name in entry:
                entry[name] = json.loads(entry[name])
        for child in CHILDREN[table]:
            entry[child] = _children(connection, table, child, entry["id"])
        yield entry


def _children(
    connection: sqlite3.Connection, parent: str, child: str, id_: int
) -> list[dict[str, Any]]:
    names = COLUMNS[child]
    rows = connection.execute(
        f"SELECT {', '.join(names)} FROM {child} WHERE {parent}_id = ? ORDER BY position",  # noqa: S608 - own names
        (id_,),
    )
    return [dict(zip(names, row, strict=True)) for row in rows]
