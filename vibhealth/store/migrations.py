"""Named steps from one layout of the history to the next, all pending ones in one transaction."""

import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime

from vibhealth.errors import StoreError
from vibhealth.store.schema import APPLICATION_ID, append_only
from vibhealth.store.times import time_text

__all__ = ["MIGRATIONS", "NEWEST", "Migration", "migrate"]

ENTRY = """
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    machine_id INTEGER NOT NULL REFERENCES machine (id),"""
SEALED = """
    digest TEXT NOT NULL,
    added_at TEXT NOT NULL,
    seal TEXT NOT NULL"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One step: its number is the layout it leads to (``user_version`` of the file)."""

    number: int
    name: str
    statements: tuple[str, ...]


_TABLES = (
    """CREATE TABLE migration (
    number INTEGER PRIMARY KEY, name TEXT NOT NULL, applied_at TEXT NOT NULL)""",
    "CREATE TABLE machine (id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL UNIQUE)",
    f"""CREATE TABLE recording ({ENTRY}
    sha256 TEXT NOT NULL, channel INTEGER NOT NULL, path TEXT NOT NULL, point TEXT,
    direction TEXT, stage TEXT NOT NULL, moment TEXT, recorded_at TEXT, running_hours_h REAL,
    load TEXT NOT NULL, temperature_c REAL, shaft_frequency_hz REAL, sampling_rate_hz REAL,
    duration_s REAL, unit TEXT NOT NULL, unusable_because TEXT NOT NULL, masked TEXT NOT NULL,
    card_sha256 TEXT NOT NULL, tool_version TEXT NOT NULL,{SEALED})""",
    "CREATE INDEX recording_by_time ON recording (machine_id, recorded_at)",
    "CREATE INDEX recording_by_file ON recording (sha256, channel, machine_id)",
    """CREATE TABLE descriptor (
    recording_id INTEGER NOT NULL REFERENCES recording (id), position INTEGER NOT NULL,
    id TEXT NOT NULL, title TEXT NOT NULL, value REAL, unit TEXT NOT NULL, band_low_hz REAL,
    band_high_hz REAL, PRIMARY KEY (recording_id, position)) WITHOUT ROWID""",
    """CREATE TABLE family (
    recording_id INTEGER NOT NULL REFERENCES recording (id), position INTEGER NOT NULL,
    bearing TEXT NOT NULL, element TEXT NOT NULL, shaft_order REAL, frequency_hz REAL,
    false_alarm_probability REAL, depth REAL, depth_whitened REAL, depth_low REAL,
    depth_high REAL, impact_m_s2 REAL, present INTEGER NOT NULL, blind_spot INTEGER NOT NULL,
    result TEXT NOT NULL, PRIMARY KEY (recording_id, position)) WITHOUT ROWID""",
    f"""CREATE TABLE verdict ({ENTRY}
    verdict TEXT NOT NULL, hold TEXT, headline TEXT NOT NULL, reasons TEXT NOT NULL,
    check_name TEXT NOT NULL, decided_on TEXT, job_sha256 TEXT NOT NULL, named TEXT NOT NULL,
    override_by TEXT, override_reason TEXT, override_at TEXT, override_is_valid INTEGER,
    tool_version TEXT NOT NULL,{SEALED})""",
    "CREATE INDEX verdict_by_time ON verdict (machine_id, decided_on)",
    "CREATE INDEX verdict_by_digest ON verdict (digest)",
    """CREATE TABLE verdict_recording (
    verdict_id INTEGER NOT NULL REFERENCES verdict (id), position INTEGER NOT NULL,
    sha256 TEXT NOT NULL, PRIMARY KEY (verdict_id, position)) WITHOUT ROWID""",
    f"""CREATE TABLE rebuild ({ENTRY}
    at TEXT NOT NULL, reason TEXT NOT NULL, by TEXT NOT NULL, unit_serial TEXT NOT NULL,
    bearing_designation TEXT NOT NULL, running_hours_h REAL, remark TEXT NOT NULL,{SEALED})""",
    f"""CREATE TABLE opened_unit ({ENTRY}
    removed_at TEXT NOT NULL, bearing TEXT NOT NULL, element TEXT, damage TEXT NOT NULL,
    by TEXT NOT NULL, opened_on TEXT, remark TEXT NOT NULL,{SEALED})""",
    *(
        trigger
        for table in (
            "migration",
            "machine",
            "recording",
            "descriptor",
            "family",
            "verdict",
            "verdict_recording",
            "rebuild",
            "opened_unit",
        )
        for trigger in append_only(table)
    ),
)

_WITHDRAWALS = (
    f"""CREATE TABLE withdrawal ({ENTRY}
    kind TEXT NOT NULL, entry_id INTEGER NOT NULL, by TEXT NOT NULL, reason TEXT NOT NULL,
    {SEALED})""",
    "CREATE UNIQUE INDEX withdrawal_by_entry ON withdrawal (kind, entry_id)",
    "CREATE INDEX rebuild_by_time ON rebuild (machine_id, at)",
    "CREATE INDEX opened_unit_by_time ON opened_unit (machine_id, removed_at)",
    *append_only("withdrawal"),
)

MIGRATIONS = (
    Migration(number=1, name="tables", statements=_TABLES),
    Migration(number=2, name="withdrawals and label indexes", statements=_WITHDRAWALS),
)
NEWEST = MIGRATIONS[-1].number


def migrate(connection: sqlite3.Connection, *, path: str, up_to: int = NEWEST) -> int:
    """Bring the open file to layout ``up_to``; returns how many steps that took.

    The caller holds the write lock (``BEGIN IMMEDIATE``), so that of several processes one
    does the work and the others find it done.

    Raises
    ------
    StoreError
        If the file has a newer layout than this version knows.
    """
    (found,) = connection.execute("PRAGMA user_version").fetchone()
    if found > NEWEST:
        msg = (
            f"{path}: this history has layout {found} and this version of vibhealth knows up to"
            f" {NEWEST}: use the newer vibhealth that wrote it"
        )
        raise StoreError(msg)
    pending = [step for step in MIGRATIONS if found < step.number <= up_to]
    for step in pending:
        _apply(connection, step)
    return len(pending)


def _apply(connection: sqlite3.Connection, step: Migration) -> None:
    for statement in step.statements:
        connection.execute(statement)
    connection.execute(
        "INSERT INTO migration (number, name, applied_at) VALUES (?, ?, ?)",
        (step.number, step.name, time_text(datetime.now(UTC))),
    )
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {step.number}")
