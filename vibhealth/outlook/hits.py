"""What was said of a unit against what was found when it was opened: hits, misses, false alarms."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from vibhealth.card import Limits
from vibhealth.model import CriterionResult, Damage, HistoryRecording, OpenedUnit, Rebuild

__all__ = ["Hit", "HitRow", "HitTable", "hit_table"]

# Before this many opened units nothing can be concluded (common practice, no source).
LEAST_OPENED = 5
# What was said: the last visits before the unit came out.
N_LAST = 3


class Hit(StrEnum):
    """How what was said compares with what was found."""

    HIT = "hit"
    OTHER_ELEMENT = "damage named, another element found"
    EARLY_ONLY = "early sign only"
    MISS = "missed"
    FALSE_ALARM = "false alarm"
    QUIET = "quiet and sound"
    NOT_COMPARABLE = "nothing recorded"


@dataclass(frozen=True, slots=True, kw_only=True)
class HitRow:
    """One opened bearing: said, found, and the largest whitened depth of what was found."""

    removed_at: datetime
    bearing: str
    said: str
    found: str
    hit: Hit
    depth_whitened: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HitTable:
    """All opened bearings, counts, and which limit to look at; nothing changes by itself."""

    rows: tuple[HitRow, ...]
    counts: tuple[tuple[str, int], ...]
    suggestions: tuple[str, ...]


def hit_table(
    recordings: Sequence[HistoryRecording],
    rebuilds: Sequence[Rebuild],
    opened: Sequence[OpenedUnit],
    limits: Limits,
) -> HitTable:
    """Compare the last recordings of each unit with what was found in it.

    Parameters
    ----------
    recordings, rebuilds, opened : sequences
        Of one machine.
    limits : Limits
        ``depth_watch`` and ``depth_hold``, which the suggestions name.

    Returns
    -------
    HitTable
        Said is what at least half of the last three usable days showed, at any point.
    """
    ordered = sorted(opened, key=lambda u: (u.removed_at, u.bearing))
    rows = tuple(_row(unit, recordings, rebuilds) for unit in ordered)
    counts = Counter(row.hit for row in rows)
    return HitTable(
        rows=rows,
        counts=tuple((kind.value, counts[kind]) for kind in Hit if counts[kind]),
        suggestions=_suggestions(rows, counts, limits),
    )


def _row(
    unit: OpenedUnit, recordings: Sequence[HistoryRecording], rebuilds: Sequence[Rebuild]
) -> HitRow:
    last = _last_of(unit, recordings, rebuilds)
    held = _said(unit, last, {CriterionResult.HOLD})
    watched = _said(unit, last, {CriterionResult.HOLD, CriterionResult.WATCH})
    found = unit.element.value if unit.element is not None else ""
    depths = [
        f.depth_whitened
        for r in last
        for f in r.families
        if f.bearing == unit.bearing and f.element is unit.element
    ]
    return HitRow(
        removed_at=unit.removed_at,
        bearing=unit.bearing,
        said=", ".join(held) or (f"early: {', '.join(watched)}" if watched else "nothing"),
        found=f"{unit.damage.value}{f', {found}' if found else ''}",
        hit=_hit(unit, held, watched, bool(last)),
        depth_whitened=max(depths, default=None),
    )


def _last_of(
    unit: OpenedUnit, recordings: Sequence[HistoryRecording], rebuilds: Sequence[Rebuild]
) -> list[HistoryRecording]:
    """Recordings of the last visits of the unit that came out, usable and unmasked."""
    start = max((r.at for r in rebuilds if r.at < unit.removed_at), default=None)
    own = [
        (r.recorded_at.date(), r)
        for r in recordings
        if r.recorded_at is not None
        and r.recorded_at < unit.removed_at
        and (start is None or r.recorded_at >= start)
        and not r.unusable_because
        and not r.masked
        and r.families
    ]
    days = set(sorted({day for day, _ in own})[-N_LAST:])
    return [r for day, r in own if day in days]


def _said(
    unit: OpenedUnit, last: list[HistoryRecording], results: set[CriterionResult]
) -> list[str]:
    shown = {
        (r.recorded_at.date(), f.element.value)
        for r in last
        if r.recorded_at is not None
        for f in r.families
        if f.bearing == unit.bearing and f.result in results
    }
    n_days = len({r.recorded_at.date() for r in last if r.recorded_at is not None})
    counts = Counter(element for _, element in shown)
    return sorted(element for element, n in counts.items() if 2 * n >= n_days)


def _hit(unit: OpenedUnit, held: list[str], watched: list[str], is_heard: bool) -> Hit:
    if not is_heard:
        return Hit.NOT_COMPARABLE
    if unit.damage is Damage.NONE:
        return Hit.FALSE_ALARM if held else Hit.QUIET
    if held:
        is_right = unit.element is not None and unit.element.value in held
        return Hit.HIT if is_right else Hit.OTHER_ELEMENT
    return Hit.EARLY_ONLY if watched else Hit.MISS


def _suggestions(rows: Sequence[HitRow], counts: "Counter[Hit]", limits: Limits) -> tuple[str, ...]:
    compared = len(rows) - counts[Hit.NOT_COMPARABLE]
    if compared < LEAST_OPENED:
        return (
            (
                f"{compared} opened unit{'s' * (compared != 1)} with recordings: nothing can be "
                f"concluded yet, {LEAST_OPENED} are needed"
            ),
        )
    watch, hold = limits.value("depth_watch"), limits.value("depth_hold")
    low = [
        row.depth_whitened
        for row in rows
        if row.hit in {Hit.MISS, Hit.EARLY_ONLY} and row.depth_whitened is not None
    ]
    said = []
    if counts[Hit.MISS] or counts[Hit.EARLY_ONLY]:
        depths = f", at depths of {min(low):.2f} to {max(low):.2f}" if low else ""
        said.append(
            f"{counts[Hit.MISS]} missed and {counts[Hit.EARLY_ONLY]} seen as early only{depths}: "
            f"look at depth_watch ({watch:g}) and depth_hold ({hold:g}), and at the points"
        )
    if counts[Hit.FALSE_ALARM]:
        said.append(
            f"{counts[Hit.FALSE_ALARM]} false alarms: look at depth_hold ({hold:g}), and at what "
            "else strikes on this machine"
        )
    if counts[Hit.OTHER_ELEMENT]:
        said.append(
            f"{counts[Hit.OTHER_ELEMENT]} named another element: look at the bearing's geometry "
            "and load case on the card, and at analysis.slip_percent"
        )
    if not said:
        said.append("what was said agrees with what was found")
    return (*said, "Nothing changes by itself: limits stand on the card, with their source.")
