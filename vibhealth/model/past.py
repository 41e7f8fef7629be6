"""What is known of one machine: recordings, verdicts, rebuilds, opened units."""

from dataclasses import dataclass
from datetime import datetime

from vibhealth.model.history import HistoryRecording, HistoryVerdict, OpenedUnit, Rebuild

__all__ = ["Past"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What the history knows of one machine."""

    recordings: tuple[HistoryRecording, ...] = ()
    verdicts: tuple[HistoryVerdict, ...] = ()
    rebuilds: tuple[Rebuild, ...] = ()
    opened: tuple[OpenedUnit, ...] = ()

    @property
    def last_rebuild_at(self) -> datetime | None:
        """When the unit that runs now started, None where no rebuild is on record."""
        return max((r.at for r in self.rebuilds), default=None)

    def until(self, as_of: datetime) -> "Past":
        """What was known on a day; undated recordings are left as they are."""
        return Past(
            recordings=tuple(
                r for r in self.recordings if r.recorded_at is None or r.recorded_at <= as_of
            ),
            verdicts=tuple(
                v for v in self.verdicts if v.decided_on is None or v.decided_on <= as_of
            ),
            rebuilds=tuple(r for r in self.rebuilds if r.at <= as_of),
            opened=tuple(
                u
                for u in self.opened
                if u.removed_at <= as_of and (u.opened_on is None or u.opened_on <= as_of.date())
            ),
        )
