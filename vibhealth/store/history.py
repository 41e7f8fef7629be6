"""The history of a plant's machines: one file, only ever added to."""

import sqlite3
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from vibhealth.errors import StoreError
from vibhealth.model import HistoryRecording, HistoryVerdict, OpenedUnit, Past, Rebuild
from vibhealth.store.connection import connect, refusing, snapshot, write_lock
from vibhealth.store.entry import AddResult, Entry, EntryKind, Withdrawal
from vibhealth.store.reading import (
    FamilyName,
    Selection,
    read_channels,
    read_families_seen,
    read_machines,
    read_opened_units,
    read_rebuilds,
    read_recordings,
    read_verdicts,
    read_withdrawals,
)
from vibhealth.store.rows import opened_unit_entry, rebuild_entry, recording_entry, verdict_entry
from vibhealth.store.times import time_of
from vibhealth.store.writing import add, withdraw

__all__ = ["DEFAULT_STORE", "History"]

DEFAULT_STORE = "vibhealth-history.sqlite"


class History:
    """An open history; a context manager, used by one thread.

    Every adding is complete on the disk when it returns, or has left nothing. Entries are
    never changed: a wrong one is withdrawn, which is an entry too.

    Examples
    --------
    >>> import tempfile
    >>> from datetime import UTC, datetime
    >>> from vibhealth.model import RebuildReason
    >>> rebuild = Rebuild(machine="screen 1", at=datetime(2026, 3, 1, tzinfo=UTC),
    ...                   reason=RebuildReason.PLANNED, by="A. Fitter")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with History.open(Path(folder) / DEFAULT_STORE, create=True) as history:
    ...         first, again = history.add_rebuild(rebuild), history.add_rebuild(rebuild)
    ...         machines = history.machines()
    >>> first.added, again.added, machines
    (True, False, ('screen 1',))
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    @classmethod
    def open(cls, path: str | Path, *, create: bool = False) -> Self:
        """Open the history at ``path``, and bring an older layout up to date.

        Parameters
        ----------
        path : str or Path
            The file; its folder must exist.
        create : bool
            Make the file where there is none.

        Raises
        ------
        StoreError
            If there is none, or the file is no history, newer than this version, damaged or
            not to be written.
        """
        place = Path(path)
        return cls(place, connect(place, create=create))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was not completed is undone."""
        self._connection.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All that is added inside is stored together, or none of it."""
        with refusing(self.path), write_lock(self._connection):
            yield

    def add_recording(self, recording: HistoryRecording) -> AddResult:
        """Add one channel of one file; the same machine, SHA-256 and channel only once.

        Raises
        ------
        StoreError
            If machine or SHA-256 is empty, a time has no time zone, or writing fails.
        """
        return self._add([recording_entry(recording)])[0]

    def add_recordings(self, recordings: Iterable[HistoryRecording]) -> tuple[AddResult, ...]:
        """Add several recordings, all of them or none; raises as `add_recording`."""
        return self._add([recording_entry(recording) for recording in recordings])

    def add_verdict(self, verdict: HistoryVerdict) -> AddResult:
        """Add a verdict; one of the same content only once.

        Raises
        ------
        StoreError
            If machine or verdict is empty, a time has no time zone, or writing fails.
        """
        return self._add([verdict_entry(verdict)])[0]

    def add_rebuild(self, rebuild: Rebuild) -> AddResult:
        """Add a rebuild; the same machine and time only once.

        Raises
        ------
        StoreError
            If another rebuild of the machine stands at that time, ``by`` is empty, a time has
            no time zone, or writing fails.
        """
        return self._add([rebuild_entry(rebuild)])[0]

    def add_opened_unit(self, unit: OpenedUnit) -> AddResult:
        """Add what was found in an opened unit; machine, time and bearing only once.

        Raises
        ------
        StoreError
            If another finding of that bearing stands at that time, ``by`` is empty, a time
            has no time zone, or writing fails.
        """
        return self._add([opened_unit_entry(unit)])[0]

    def add_past(self, past: Past) -> None:
        """Add everything that is known of a machine, all of it or none; raises as its parts."""
        with self.transaction():
            self.add_recordings(past.recordings)
            for verdict in past.verdicts:
                self.add_verdict(verdict)
            for rebuild in past.rebuilds:
                self.add_rebuild(rebuild)
            for unit in past.opened:
                self.add_opened_unit(unit)

    def withdraw(self, kind: EntryKind | str, id: int, *, by: str, reason: str) -> int:  # noqa: A002
        """Note that entry ``id`` no longer counts; it stays in the file and in exports.

        Returns the number of the withdrawal. A withdrawn entry may be added again.

        Raises
        ------
        StoreError
            If there is no such entry, it is withdrawn already, or ``by`` or ``reason`` is
            empty.
        """
        try:
            known = EntryKind(kind)
        except ValueError as error:
            msg = f"kind of entry must be one of {', '.join(EntryKind)}, got {kind!r}: name one"
            raise StoreError(msg) from error
        with self.transaction():
            return withdraw(self._connection, known, id, by=by, reason=reason)

    def machines(self) -> tuple[str, ...]:
        """Names of all machines, sorted."""
        with self._read():
            return read_machines(self._connection)

    def stored_channels(self, machine: str, sha256: str) -> tuple[int, ...]:
        """Channels of the file ``sha256`` that need not be analysed to be added."""
        with self._read():
            return read_channels(self._connection, machine, sha256)

    def migrations(self) -> tuple[tuple[int, str, datetime], ...]:
        """Steps that led to the layout of this file: number, name, when."""
        with self._read():
            rows = self._connection.execute(
                "SELECT number, name, applied_at FROM migration ORDER BY number"
            ).fetchall()
            return tuple((number, name, time_of(at)) for number, name, at in rows)

    def recordings(  # noqa: PLR0913 - each narrows the reading
        self,
        machine: str,
        *,
        point: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        descriptors: Collection[str] | None = None,
        families: bool | Collection[FamilyName] = True,
        withdrawn: bool = False,
    ) -> tuple[HistoryRecording, ...]:
        """Recordings of ``machine`` by time, undated first.

        Parameters
        ----------
        machine : str
            An unknown one has no recordings.
        point : str, optional
            Only those of this point.
        since, until : datetime, optional
            Aware, both included; leave out undated recordings.
        descriptors : collection of str, optional
            Ids of the descriptors to read, all by default. A long trend of a few is read
            several times faster.
        families : bool or collection of (bearing, element)
            Read all defect families, none, or those named.
        withdrawn : bool
            Read withdrawn recordings as well.

        Raises
        ------
        StoreError
            If a time has no time zone, or the file cannot be read.
        """
        wanted = Selection(
            machine=machine,
            point=point,
            since=since,
            until=until,
            descriptors=descriptors,
            families=_wanted(families),
            withdrawn=withdrawn,
        )
        with self._read():
            return read_recordings(self._connection, wanted)

    def families_seen(
        self, machine: str, *, until: datetime | None = None, latest: int = 6
    ) -> frozenset[FamilyName]:
        """Families that did not pass since the last rebuild, or in the latest recordings.

        Parameters
        ----------
        machine : str
            An unknown one has none.
        until : datetime, optional
            Aware; recordings after it do not count.
        latest : int
            So many recording times of each point are looked at besides, at least 1.

        Returns
        -------
        frozenset of (bearing, element)

        Raises
        ------
        StoreError
            If a time has no time zone, or the file cannot be read.
        """
        with self._read():
            return read_families_seen(self._connection, machine, until=until, latest=latest)

    def verdicts(self, machine: str, *, withdrawn: bool = False) -> tuple[HistoryVerdict, ...]:
        """Verdicts by the time they were given, undated first."""
        with self._read():
            return read_verdicts(self._connection, machine, withdrawn=withdrawn)

    def rebuilds(self, machine: str, *, withdrawn: bool = False) -> tuple[Rebuild, ...]:
        """Rebuilds by time."""
        with self._read():
            return read_rebuilds(self._connection, machine, withdrawn=withdrawn)

    def opened_units(self, machine: str, *, withdrawn: bool = False) -> tuple[OpenedUnit, ...]:
        """Opened units by the time they were removed."""
        with self._read():
            return read_opened_units(self._connection, machine, withdrawn=withdrawn)

    def withdrawals(self, machine: str) -> tuple[Withdrawal, ...]:
        """Withdrawals in the order they were made."""
        with self._read():
            return read_withdrawals(self._connection, machine)

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Connection for several reads of one state of the file (export, check, backup)."""
        with refusing(self.path), snapshot(self._connection):
            yield self._connection

    @contextmanager
    def _read(self) -> Iterator[None]:
        """A value that none of the nouns can have is damage, not a fault of the caller."""
        try:
            with self.reading():
                yield
        except StoreError:
            raise
        except (ValueError, TypeError, KeyError) as error:
            msg = (
                f"{self.path}: an entry of this history cannot be read ({error}): check the"
                " history, and go on with the last backup"
            )
            raise StoreError(msg) from error

    def _add(self, entries: list[Entry]) -> tuple[AddResult, ...]:
        with self.transaction():
            return tuple(add(self._connection, entry) for entry in entries)


def _wanted(families: bool | Collection[FamilyName]) -> Collection[FamilyName] | None:
    if isinstance(families, bool):
        return None if families else ()
    return families
