"""Nouns of the store: kinds of entry, an entry ready to be written, what adding said."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from vibhealth.store.digest import Cell, content_digest

__all__ = ["AddResult", "Entry", "EntryKind", "Withdrawal"]


class EntryKind(StrEnum):
    """What may be added, and withdrawn; the value is the name of its table."""

    RECORDING = "recording"
    VERDICT = "verdict"
    REBUILD = "rebuild"
    OPENED_UNIT = "opened_unit"

    @property
    def words(self) -> str:
        """The kind in running text.

        >>> EntryKind.OPENED_UNIT.words
        'opened unit'
        """
        return self.value.replace("_", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class AddResult:
    """What adding did: ``added`` is False where the entry ``id`` was there before.

    ``differs``: the one that was there has the same key and other content (a recording read
    again with other settings); it is kept, and has to be withdrawn to be replaced.
    """

    added: bool
    id: int
    differs: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """An entry that no longer counts: which, who said so, why, and when."""

    machine: str
    kind: EntryKind
    entry_id: int
    by: str
    reason: str
    at: datetime
    id: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Rows of one entry as they will be stored, in the order of the columns."""

    table: str
    machine: str
    row: tuple[Cell, ...]
    children: tuple[tuple[tuple[Cell, ...], ...], ...] = ()

    @property
    def digest(self) -> str:
        """SHA-256 of the content."""
        return content_digest(self.table, self.machine, self.row, self.children)
