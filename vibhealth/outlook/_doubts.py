"""Readings that make no sign and no silence either: unconfirmed, left out, of a point long unheard."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from vibhealth.card import MachineCard
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import Trend, TrendPoint
from vibhealth.outlook.visits import WARMER

__all__ = ["LAST", "alone", "is_there", "silent_points", "unheard", "used_points", "why_left_out"]

# One reading may be wrong: what is said looks at the last three visits.
LAST = 3


def unheard(trends: Sequence[Trend], since: datetime | None) -> tuple[tuple[str, ...], int]:
    """What stands at its action level in visits after the last used one: words, how many visits.

    A recording that cannot be used makes a bearing look healthier, seldom worse; and one of a
    housing that is hotter than usual is no other state, if it is louder too.
    """
    found: list[str] = []
    most = 0
    for trend in trends:
        start = max((p.at for p in used_points(trend, since)), default=since)
        out = [p for p in trend.points if start is None or p.at > start][-LAST:]
        loud = [
            p for p in out
            if p.value >= (trend.action_level or math.inf)
            and (p.present if trend.element is not None else WARMER in p.left_out_because)
        ]  # fmt: skip
        if not loud:
            continue
        most = max(most, len(loud))
        found.append(
            f"{trend.title}, point {trend.point}: at its action level on {loud[-1].at:%d %b %Y}, in "
            f"a recording that was left out ({loud[-1].left_out_because}): record again now, "
            "properly, to confirm or to rule it out"
        )
    return tuple(found), most


def why_left_out(trends: Sequence[Trend], since: datetime | None) -> str:
    """What the visits that were made say against being used; the latest one's reason."""
    out = [
        p
        for t in trends
        for p in t.points
        if p.left_out_because and (since is None or p.at >= since)
    ]
    if not out:
        return ""
    latest = max(out, key=lambda p: p.at)
    return f" (that of {latest.at:%d %b %Y} is left out: {latest.left_out_because})"


def alone(trends: Sequence[Trend], since: datetime | None) -> tuple[str, ...]:
    """Last readings at the action level that no reading before them confirms."""
    return tuple(
        f"{trend.title}, point {trend.point}: the last reading alone is at the action level; record "
        "again now to confirm or to rule it out"
        for trend in trends
        if trend.action_level and (used := used_points(trend, since))
        and is_there(used[-1], trend.action_level, is_level=trend.element is None)
    )  # fmt: skip


def silent_points(
    trends: Sequence[Trend], since: datetime | None, last: datetime, card: MachineCard
) -> tuple[str, ...]:
    """Points that were recorded once and not lately, beside others that were."""
    latest: dict[str, datetime] = {}
    for trend in trends:
        heard = [p.at for p in used_points(trend, since) if not p.is_masked]
        if heard:
            latest[trend.point] = max(*heard, latest.get(trend.point, heard[0]))
    days = (card.maintenance or Maintenance()).warning_time_days
    return tuple(
        f"point {point} was last heard on {at:%d %b %Y}: record it as well"
        for point, at in latest.items()
        if last - at > timedelta(days=days)
    )


def used_points(trend: Trend, since: datetime | None) -> list[TrendPoint]:
    return [p for p in trend.points if not p.left_out_because and (since is None or p.at >= since)]


def is_there(point: TrendPoint, level: float, *, is_level: bool) -> bool:
    return point.value >= level and (is_level or point.present)
