"""Whether every entry is as it was written, and the file sound."""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Any

from vibhealth.store.digest import content_digest, seal_of
from vibhealth.store.history import History
from vibhealth.store.migrations import MIGRATIONS
from vibhealth.store.schema import CHILDREN, COLUMNS, ENTRIES

__all__ = ["Integrity", "check_integrity"]

MOST_TOLD = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Integrity:
    """What a check found; ``checked`` counts the entries of each table.

    ``problems`` are sentences, at most 20 of each sort.
    """

    checked: dict[str, int]
    problems: tuple[str, ...]

    @property
    def is_sound(self) -> bool:
        """Nothing was found."""
        return not self.problems


def check_integrity(history: History) -> Integrity:
    """Check the file, its references, its triggers, and the digest of every entry.

    A digest tells a changed entry, a gap in the numbers a deleted one; neither keeps out
    somebody who works out new digests.

    Raises
    ------
    StoreError
        If the file is so damaged that it cannot be read through.
    """
    problems: list[str] = []
    checked: dict[str, int] = {}
    with history.reading() as connection:
        problems += _of_the_file(connection)
        problems += _of_the_layout(connection)
        for table in ENTRIES:
            found: list[str] = []
            checked[table] = _check_entries(connection, table, found)
            problems += found[:MOST_TOLD]
            problems += _gaps(connection, table, checked[table])
    return Integrity(checked=checked, problems=tuple(problems))


def _of_the_file(connection: sqlite3.Connection) -> list[str]:
    pages = connection.execute(f"PRAGMA integrity_check({MOST_TOLD})").fetchall()
    said = [f"the file is damaged: {text}" for (text,) in pages if text != "ok"]
    orphans = connection.execute("PRAGMA foreign_key_check").fetchmany(MOST_TOLD)
    return said + [f"a row of table {table} belongs to no entry" for table, *_ in orphans]


def _of_the_layout(connection: sqlite3.Connection) -> list[str]:
    """Tables, indexes and triggers against what the migrations make."""
    expected = {s for step in MIGRATIONS for s in step.statements if s.startswith("CREATE")}
    rows = connection.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    found = {sql for (sql,) in rows if "sqlite_sequence" not in sql.split("(")[0]}
    missing = sorted(_first_line(sql) for sql in expected - found)
    strange = sorted(_first_line(sql) for sql in found - expected)
    steps = connection.execute("SELECT number, name FROM migration ORDER BY number").fetchall()
    said = [f"the layout lacks: {line}" for line in missing]
    said += [f"the layout has something else: {line}" for line in strange]
    if steps != [(step.number, step.name) for step in MIGRATIONS]:
        said.append("the list of migrations is not the one of this version")
    return said


def _first_line(sql: str) -> str:
    return sql.split("\n", maxsplit=1)[0].rstrip(" (")


def _check_entries(connection: sqlite3.Connection, table: str, problems: list[str]) -> int:
    """Compare digests; returns how many entries there are."""
    columns = ", ".join(f"e.{column}" for column in COLUMNS[table])
    rows = connection.execute(
        f"SELECT e.id, m.name, e.digest, e.added_at, e.seal, {columns} FROM {table} e"  # noqa: S608 - own names
        " LEFT JOIN machine m ON m.id = e.machine_id ORDER BY e.id"
    )
    children = [_Grouped(connection, table, child) for child in CHILDREN[table]]
    count = 0
    for id_, machine, digest, added_at, seal, *row in rows:
        count += 1
        parts = [child.of(id_) for child in children]
        words = table.replace("_", " ")
        if content_digest(table, machine, row, parts) != digest:
            problems.append(f"{words} number {id_} is not as it was written")
        elif seal_of(digest, added_at) != seal:
            problems.append(f"the time of adding {words} number {id_} is not as it was written")
    return count


class _Grouped:
    """Rows of a child table, asked for by rising number of their parent."""

    def __init__(self, connection: sqlite3.Connection, parent: str, child: str) -> None:
        columns = ", ".join(COLUMNS[child])
        rows = connection.execute(
            f"SELECT {parent}_id, {columns} FROM {child} ORDER BY {parent}_id, position"  # noqa: S608 - own names
        )
        self._groups: Iterator[tuple[int, Iterator[Any]]] = groupby(rows, key=itemgetter(0))
        self._next = self._advance()

    def _advance(self) -> tuple[int, list[Any]] | None:
        found = next(self._groups, None)
        return None if found is None else (found[0], [row[1:] for row in found[1]])

    def of(self, parent: int) -> list[Any]:
        while self._next is not None and self._next[0] < parent:
            self._next = self._advance()  # orphans; the check of references tells them
        if self._next is None or self._next[0] != parent:
            return []
        rows = self._next[1]
        self._next = self._advance()
        return rows


def _gaps(connection: sqlite3.Connection, table: str, count: int) -> list[str]:
    """Numbers are given without gaps, as an adding that fails takes its number back."""
    found = connection.execute(
        "SELECT seq FROM sqlite_sequence WHERE name = ?", (table,)
    ).fetchone()
    given = 0 if found is None else int(found[0])
    if given == count:
        return []
    return [f"table {table} has given {given} numbers and holds {count} entries"]
