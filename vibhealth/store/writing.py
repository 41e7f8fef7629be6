"""Adding and withdrawing entries; the caller holds the write lock."""

import sqlite3
from datetime import UTC, datetime

from vibhealth.errors import StoreError
from vibhealth.store.digest import seal_of
from vibhealth.store.entry import AddResult, Entry, EntryKind
from vibhealth.store.rows import text
from vibhealth.store.schema import CHILDREN, COLUMNS
from vibhealth.store.times import time_text

__all__ = ["add", "withdraw"]

# Which columns of its table make an entry the same one again; a verdict has its digest.
KEYS: dict[str, tuple[str, ...]] = {
    "recording": ("sha256", "channel"),
    "verdict": ("digest",),
    "rebuild": ("at",),
    "opened_unit": ("removed_at", "bearing"),
}

# Where other content under the same key is a contradiction and not just a second reading.
CONTRADICTION = {
    "rebuild": "at this time",
    "opened_unit": "of this bearing, removed at this time",
}


def add(connection: sqlite3.Connection, entry: Entry) -> AddResult:
    """Store ``entry`` unless it is there already.

    Raises
    ------
    StoreError
        If the history has another rebuild of the machine at that time, or another finding of
        that bearing.
    """
    machine_id = _machine_id(connection, entry.machine)
    digest = entry.digest
    found = _present(connection, entry, machine_id, digest)
    if found is None:
        return AddResult(added=True, id=_insert(connection, entry, machine_id, digest))
    id_, stored = found
    if stored != digest and entry.table in CONTRADICTION:
        words = EntryKind(entry.table).words
        msg = (
            f"{entry.machine}: the history has another {words} {CONTRADICTION[entry.table]}"
            f" (number {id_}): withdraw that one first if it is wrong"
        )
        raise StoreError(msg)
    return AddResult(added=False, id=id_, differs=stored != digest)


def withdraw(
    connection: sqlite3.Connection, kind: EntryKind, id_: int, *, by: str, reason: str
) -> int:
    """Note that an entry no longer counts; returns the number of the withdrawal.

    Raises
    ------
    StoreError
        If there is no such entry, it is withdrawn already, or nobody or no reason is named.
    """
    by = text(by, name="by (who withdraws)", needed=True)
    reason = text(reason, name="reason of the withdrawal", needed=True)
    found = connection.execute(
        "SELECT e.machine_id, m.name,"  # noqa: S608 - the table is one of EntryKind
        " EXISTS (SELECT 1 FROM withdrawal w WHERE w.kind = ? AND w.entry_id = e.id)"
        f" FROM {kind.value} e JOIN machine m ON m.id = e.machine_id WHERE e.id = ?",
        (kind.value, id_),
    ).fetchone()
    if found is None:
        msg = f"the history has no {kind.words} number {id_}: list them to see their numbers"
        raise StoreError(msg)
    machine_id, machine, is_withdrawn = found
    if is_withdrawn:
        msg = f"{kind.words} number {id_} is withdrawn already: there is nothing left to do"
        raise StoreError(msg)
    entry = Entry(table="withdrawal", machine=machine, row=(kind.value, int(id_), by, reason))
    return _insert(connection, entry, machine_id, entry.digest)


def _machine_id(connection: sqlite3.Connection, name: str) -> int:
    found = connection.execute("SELECT id FROM machine WHERE name = ?", (name,)).fetchone()
    if found is None:
        found = connection.execute(
            "INSERT INTO machine (name) VALUES (?) RETURNING id", (name,)
        ).fetchone()
    return int(found[0])


def _present(
    connection: sqlite3.Connection, entry: Entry, machine_id: int, digest: str
) -> tuple[int, str] | None:
    """Number and digest of the entry with the same key that still counts."""
    values = dict(zip(COLUMNS[entry.table], entry.row, strict=True)) | {"digest": digest}
    keys = KEYS[entry.table]
    found = connection.execute(
        f"SELECT e.id, e.digest FROM {entry.table} e WHERE e.machine_id = ?"  # noqa: S608 - own names
        + "".join(f" AND e.{key} = ?" for key in keys)
        + " AND NOT EXISTS (SELECT 1 FROM withdrawal w WHERE w.kind = ? AND w.entry_id = e.id)",
        (machine_id, *(values[key] for key in keys), entry.table),
    ).fetchone()
    return None if found is None else (int(found[0]), str(found[1]))


def _insert(connection: sqlite3.Connection, entry: Entry, machine_id: int, digest: str) -> int:
    added_at = time_text(datetime.now(UTC))
    columns = ("machine_id", *COLUMNS[entry.table], "digest", "added_at", "seal")
    cursor = connection.execute(
        _insertion(entry.table, columns),
        (machine_id, *entry.row, digest, added_at, seal_of(digest, added_at)),
    )
    id_ = int(cursor.lastrowid or 0)
    for child, rows in zip(CHILDREN[entry.table], entry.children, strict=True):
        connection.executemany(
            _insertion(child, (f"{entry.table}_id", "position", *COLUMNS[child])),
            [(id_, position, *row) for position, row in enumerate(rows)],
        )
    return id_


def _insertion(table: str, columns: tuple[str, ...]) -> str:
    marks = ", ".join("?" * len(columns))
    return f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608 - own names
