"""Opening the file: what it must be, how it is written, and refusals in one sentence."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from vibhealth.errors import StoreError
from vibhealth.store.migrations import NEWEST, migrate
from vibhealth.store.schema import APPLICATION_ID

__all__ = ["BUSY_TIMEOUT_S", "connect", "refusing", "snapshot", "write_lock"]

BUSY_TIMEOUT_S = 30.0
MAGIC = b"SQLite format 3\x00"

SENTENCES = {
    sqlite3.SQLITE_BUSY: f"another process has been writing to it for {BUSY_TIMEOUT_S:.0f} s:"
    " wait until it is done and try again",
    sqlite3.SQLITE_LOCKED: "another part of this program is writing to it: try again",
    sqlite3.SQLITE_READONLY: "the file or its folder is read-only: allow writing to both, or"
    " work on a copy",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened for writing: allow writing to its folder, or"
    " name another place",
    sqlite3.SQLITE_PERM: "writing to it is not permitted: allow it, or name another place",
    sqlite3.SQLITE_FULL: "there is no space left for it: free some and try again, nothing was"
    " stored by halves",
    sqlite3.SQLITE_NOTADB: "this is not a history of vibhealth: name another file",
    sqlite3.SQLITE_CORRUPT: "this history is damaged: keep it, and go on with the last backup",
    sqlite3.SQLITE_IOERR: "the disk or network share reported an error: check it, then check the"
    " history",
}


@contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Turn what the database says about ``path`` into one sentence.

    Raises
    ------
    StoreError
        Instead of any error of the database.
    """
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        found = SENTENCES.get((code or 0) & 0xFF)
        detail = f"the database says {str(error)!r}: check the history, or go on with a backup"
        msg = f"{path}: {found or detail}"
        raise StoreError(msg) from error


def connect(path: Path, *, create: bool) -> sqlite3.Connection:
    """Open the history at ``path`` in the newest layout.

    One file at rest (rollback journal), synced at every commit; foreign keys are checked.

    Raises
    ------
    StoreError
        If there is no history and ``create`` is False, or the file is something else, newer
        than this version, damaged or not to be written.
    """
    _refuse_what_is_none(path, create=create)
    mode = "rwc" if create else "rw"
    with refusing(path):
        connection = sqlite3.connect(
            f"{path.resolve().as_uri()}?mode={mode}",
            uri=True,
            timeout=BUSY_TIMEOUT_S,
            isolation_level=None,
        )
        try:
            _prepare(connection, path, create=create)
        except BaseException:
            connection.close()
            raise
    return connection


def _prepare(connection: sqlite3.Connection, path: Path, *, create: bool) -> None:
    for pragma in (
        "synchronous = FULL",
        "foreign_keys = ON",
        "recursive_triggers = ON",  # so that INSERT OR REPLACE meets the triggers too
        "trusted_schema = OFF",
        "cell_size_check = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")
    if _layout(connection) == (APPLICATION_ID, NEWEST):
        return
    with snapshot(connection):
        _refuse_other(connection, path, create=create)
    (journal,) = connection.execute("PRAGMA journal_mode").fetchone()
    if journal != "delete":
        connection.execute("PRAGMA journal_mode = DELETE").fetchone()
    with write_lock(connection):
        migrate(connection, path=str(path))


def _layout(connection: sqlite3.Connection) -> tuple[int, int]:
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(application), int(version)


def _refuse_other(connection: sqlite3.Connection, path: Path, *, create: bool) -> None:
    """Refuse a database of something else; an empty one may become a history."""
    application, version = _layout(connection)
    if application == APPLICATION_ID:
        return
    (objects,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if not create or application or version or objects:
        msg = f"{path}: this is not a history of vibhealth: name another file"
        raise StoreError(msg)


def _refuse_what_is_none(path: Path, *, create: bool) -> None:
    """Refuse by what can be seen without the database."""
    if path.is_dir():
        msg = f"{path}: this is a folder: name the file of the history in it"
        raise StoreError(msg)
    if not path.exists():
        if not create:
            msg = (
                f"{path}: there is no history here: name another file, or make one by adding a"
                " job or a recording to it"
            )
            raise StoreError(msg)
        if not path.parent.is_dir():
            msg = f"{path}: there is no folder {path.parent}: make it first, or name another"
            raise StoreError(msg)
        return
    try:
        with path.open("rb") as stream:
            head = stream.read(len(MAGIC))
    except OSError as error:
        msg = f"{path}: the history cannot be read ({error.strerror}): allow reading it"
        raise StoreError(msg) from error
    if head != MAGIC and (head or not create):
        msg = f"{path}: this is not a history of vibhealth: name another file"
        raise StoreError(msg)


@contextmanager
def write_lock(connection: sqlite3.Connection) -> Iterator[None]:
    """All or nothing, one writer at a time; inside another one it is part of that."""
    if connection.in_transaction:
        yield
        return
    with _transaction(connection, "BEGIN IMMEDIATE"):
        yield


@contextmanager
def snapshot(connection: sqlite3.Connection) -> Iterator[None]:
    """Several reads of one state of the file."""
    if connection.in_transaction:
        yield
        return
    with _transaction(connection, "BEGIN"):
        yield


@contextmanager
def _transaction(connection: sqlite3.Connection, begin: str) -> Iterator[None]:
    connection.execute(begin)
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
