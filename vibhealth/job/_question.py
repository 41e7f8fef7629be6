"""What one question at the machine is, and what an answer to it changes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from vibhealth._toml import Value
from vibhealth.job._consistency import all_times
from vibhealth.job._item import JobItem, Phase
from vibhealth.job.record import JobRecord
from vibhealth.job.typed import in_form_of

__all__ = ["Edit", "Question", "Reply"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """A typed answer: text without outer blanks, who typed it, when, into which record."""

    text: str
    by: str
    at: datetime
    record: JobRecord

    @property
    def time(self) -> datetime:
        """``at`` in whole seconds, in the form of the record's other times."""
        return self.written(self.at.replace(microsecond=0))

    def written(self, at: datetime) -> datetime:
        """Any time in the form of the record's other times."""
        return in_form_of(at, [other for _, other in all_times(self.record)])

    def signed(self, *table: str) -> dict[tuple[str, ...], Value]:
        """Who and when, as keys of a table."""
        return {(*table, "by"): self.by, (*table, "at"): self.time}


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """What an answer changes in the file, and how it is confirmed."""

    said: str
    changes: Mapping[tuple[str, ...], Value] = field(default_factory=dict)
    row: tuple[str, Mapping[str, Value]] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes
    ----------
    id : str
        Dotted path of the key that it fills.
    phase : Phase
        When it is asked.
    text : str
        The question.
    form : str
        What may be typed.
    why : str
        Why it is asked, and how to find out.
    is_open : callable
        Whether a record lacks the answer.
    edit : callable
        A reply to its edit; raises JobError with a sentence where it is no answer.
    item : JobItem or None
        The item of the check list that it is.
    not_before : callable
        Time before which it makes no sense, in the form of the record; None
        where there is none.
    """

    id: str
    phase: Phase
    text: str
    form: str
    why: str
    is_open: Callable[[JobRecord], bool]
    edit: Callable[[Reply], Edit]
    item: JobItem | None = None
    not_before: Callable[[JobRecord], datetime | None] = lambda _: None
