"""A whole copy of the history, made while others may go on writing."""

import sqlite3
from contextlib import closing
from pathlib import Path

from vibhealth.errors import StoreError
from vibhealth.store.connection import refusing
from vibhealth.store.files import replacing
from vibhealth.store.history import History

__all__ = ["backup_history"]


def backup_history(history: History, target: str | Path, *, overwrite: bool = False) -> Path:
    """Copy ``history`` to ``target``, which appears only when the copy is whole and opens.

    Raises
    ------
    OutputError
        If ``target`` exists and is not to be overwritten, or cannot be written.
    StoreError
        If ``target`` is the history itself, or the copy is not sound.
    """
    place = Path(target)
    if place.resolve() == history.path.resolve():
        msg = f"{place}: this is the history itself: name another file for the copy"
        raise StoreError(msg)
    with replacing(place, overwrite=overwrite) as temporary:
        with (
            refusing(place),
            closing(sqlite3.connect(temporary)) as copy,
            history.reading() as connection,
        ):
            connection.backup(copy)
        _verify(temporary, place)
    return place


def _verify(copy: Path, place: Path) -> None:
    with History.open(copy) as opened, opened.reading() as connection:
        said = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if said != "ok":
        msg = f"{place}: the copy is not sound ({said}): check the history itself"
        raise StoreError(msg)
