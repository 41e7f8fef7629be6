"""Lives of past units from the record of rebuilds, and the age of the one that runs now."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import pairwise

from vibhealth.model import Damage, OpenedUnit, Rebuild, RebuildReason

__all__ = ["UnitLives", "unit_lives"]

MOST_HOURS_PER_DAY = 24.5  # a counter is read at some time of the day


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitLives:
    """Hours of units that failed, of units that had not, and the age of the unit that runs.

    ``age_h`` is None where no rebuild or no running hours are known; ``remarks`` say what was
    left out or assumed.
    """

    failed_h: tuple[float, ...]
    running_on_h: tuple[float, ...]
    age_h: float | None
    remarks: tuple[str, ...]


def unit_lives(
    rebuilds: Sequence[Rebuild],
    opened: Sequence[OpenedUnit] = (),
    *,
    as_of: datetime,
    hours_per_day: float | None,
    hours_now: float | None = None,
) -> UnitLives:
    """Lives between rebuilds, by the hour counter, else by days and usual running hours.

    Parameters
    ----------
    rebuilds : sequence of Rebuild
        Of one machine, in any order; those after ``as_of`` do not count.
    opened : sequence of OpenedUnit
        Of the same machine; told to a rebuild by the calendar day of the removal. A unit with
        damage had failed, whatever the reason to take it out.
    as_of : datetime
        The day that is asked for.
    hours_per_day : float or None
        Usual running hours a day.
    hours_now : float or None
        Hour counter at ``as_of``.

    Returns
    -------
    UnitLives
        The unit before the first rebuild has no known start and is left out. A unit that was
        taken out for an unknown reason and never opened counts as one that had not failed.
    """
    ordered = sorted((r for r in rebuilds if r.at <= as_of), key=lambda r: r.at)
    if not ordered:
        return UnitLives(
            failed_h=(), running_on_h=(), age_h=None, remarks=("no rebuild is on record",)
        )
    ordered, merged = _one_a_day(ordered)
    remarks = [
        *merged,
        "the unit before the first rebuild on record has no known start and is left out",
    ]
    failed: list[float] = []
    went_on: list[float] = []
    for start, end in pairwise(ordered):
        counters = (start.running_hours_h, end.running_hours_h)
        life, remark = _hours(start.at, end.at, counters, hours_per_day)
        remarks += [remark] if remark else []
        if life is None:
            continue
        damages = [u.damage for u in opened if u.removed_at.date() == end.at.date()]
        has_failed, said = _has_failed(end, damages)
        remarks += [said] if said else []
        (failed if has_failed else went_on).append(life)
    remarks += _without_rebuild(opened, ordered)
    last = ordered[-1]
    age, remark = _hours(last.at, as_of, (last.running_hours_h, hours_now), hours_per_day)
    remarks += [remark] if remark else []
    return UnitLives(
        failed_h=tuple(failed),
        running_on_h=tuple(went_on),
        age_h=age,
        remarks=tuple(dict.fromkeys(remarks)),
    )


def _one_a_day(ordered: list[Rebuild]) -> tuple[list[Rebuild], list[str]]:
    """Rebuilds noted twice on one day are one: the first, with what any of them knows."""
    days: dict[date, list[Rebuild]] = {}
    for rebuild in ordered:
        days.setdefault(rebuild.at.date(), []).append(rebuild)
    kept, remarks = [], []
    for day, same in days.items():
        failed = any(r.reason is RebuildReason.FAILED for r in same)
        counter = next((r.running_hours_h for r in same if r.running_hours_h is not None), None)
        reason = RebuildReason.FAILED if failed else same[0].reason
        kept.append(replace(same[0], reason=reason, running_hours_h=counter))
        if len(same) > 1:
            remarks.append(f"{len(same)} rebuilds are noted on {day:%d %b %Y} and count as one")
    return kept, remarks


def _without_rebuild(opened: Sequence[OpenedUnit], rebuilds: Sequence[Rebuild]) -> list[str]:
    """Findings that tell nothing of a life, since no rebuild of their day is on record."""
    known = {rebuild.at.date() for rebuild in rebuilds}
    days = sorted({unit.removed_at.date() for unit in opened} - known)
    return [
        f"the unit opened, removed on {day:%d %b %Y}, belongs to no rebuild on record and does "
        "not count"
        for day in days
    ]


def _has_failed(end: Rebuild, damages: list[Damage]) -> tuple[bool, str]:
    if end.reason is RebuildReason.FAILED or any(d is not Damage.NONE for d in damages):
        return True, ""
    if damages or end.reason is RebuildReason.PLANNED:
        return False, ""
    return False, (
        f"the unit taken out on {end.at:%d %b %Y} was never opened: counted as one that had not "
        "failed"
    )


def _hours(
    start: datetime,
    end: datetime,
    counters: tuple[float | None, float | None],
    hours_per_day: float | None,
) -> tuple[float | None, str]:
    first, last = counters
    days = (end - start).total_seconds() / 86400
    said = ""
    if first is not None and last is not None:
        if 0 < last - first <= MOST_HOURS_PER_DAY * max(days, 1.0):
            return last - first, ""
        fault = "did not rise" if last <= first else "rose by more than 24 h a day"
        said = (
            f"the hour counter {fault} between {start:%d %b %Y} and {end:%d %b %Y} "
            "(exchanged, mistyped?), so it was not used"
        )
    if hours_per_day is None or days <= 0:
        return None, said or (
            f"running hours from {start:%d %b %Y} are not known: give the hour counter, or "
            "maintenance.running_hours_per_day on the card"
        )
    return days * hours_per_day, said
