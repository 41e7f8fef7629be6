"""What the recordings say now: no sign, early sign, clear sign, stop soon, or not known."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from vibhealth.card import MachineCard
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import HistoryVerdict, Rebuild, Sign, Trend, TrendPoint
from vibhealth.outlook.visits import ONE_VISIT, WARMER

__all__ = ["Condition", "condition_of"]

# One reading may be wrong: two of the last three must say it, the last one among them.
LAST, AGREE = 3, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """The sign, its reasons, the trend that says it, and when the machine was last heard."""

    sign: Sign
    reasons: tuple[str, ...]
    leading: Trend | None
    last_heard: datetime | None
    needs_confirming: bool = False
    silent_days: float = 0.0  # since the last usable recording, where longer than the warning time
    has_unheard: bool = False  # families of action size in visits that cannot be used


def condition_of(
    trends: Sequence[Trend],
    card: MachineCard,
    *,
    as_of: datetime,
    rebuilds: Sequence[Rebuild] = (),
    verdicts: Sequence[HistoryVerdict] = (),
) -> Condition:
    """What trends and the last verdict say of the bearing that runs now.

    Parameters
    ----------
    trends : sequence of Trend
        As `machine_trends` gives them.
    card : MachineCard
        Warning time and limits.
    as_of : datetime
        The day that is asked for; later readings must not be among the trends.
    rebuilds : sequence of Rebuild
        Readings before the last one say nothing of the unit that runs now.
    verdicts : sequence of HistoryVerdict
        The latest since that rebuild counts where it said to stop.

    Returns
    -------
    Condition
        Early: a family of watch size and significant, or a level at its early level, in two of
        the last three visits and in the last; or a quantity that rises to a dated range.
        Clear: two of the last three at the action level, be the last one quiet, or the last verdict named a damaged bearing and
        nothing usable was recorded since. Stop: at ``trend_stop_ratio`` times the action level,
        or the last verdict said stop now. One loud reading alone asks to be confirmed. A sign stays
        however long ago it was heard, and the silence since then is said. A family of action
        size in visits that cannot be used is no sign, but nothing is known until it is ruled out.
    """
    since = max((r.at for r in rebuilds if r.at <= as_of), default=None)
    heard = [p.at for t in trends for p in _used(t, since) if not p.is_masked]
    last = max(heard, default=None)
    said, words = _said(_last_verdict(verdicts, since, as_of), last)
    if said is Sign.STOP:
        return Condition(sign=Sign.STOP, reasons=(words,), leading=None, last_heard=last)
    found = _by_trends(trends, card, since=since, last=last, as_of=as_of)
    if said is Sign.CLEAR and found.sign not in {Sign.CLEAR, Sign.STOP}:
        silent_days = 0.0 if last is None else _silence(last, as_of, card)
        return Condition(
            sign=Sign.CLEAR,
            reasons=(words, *found.reasons),
            leading=found.leading,
            last_heard=last,
            silent_days=silent_days,
        )
    return found


def _by_trends(
    trends: Sequence[Trend],
    card: MachineCard,
    *,
    since: datetime | None,
    last: datetime | None,
    as_of: datetime,
) -> Condition:
    unheard, n_unheard = _unheard(trends, since)
    if last is None:
        is_masked = any(_used(trend, since) for trend in trends)
        reason = "no recording in which the bearings could be heard" if is_masked else (
            "no usable recording"
        )  # fmt: skip
        reason += " since the last rebuild" if since else ""
        words = reason + _why_left_out(trends, since)
        return _not_known((*unheard, words), last, has_unheard=bool(unheard))
    silent_days = _silence(last, as_of, card)
    stop_ratio = card.limits.value("trend_stop_ratio")
    read = sorted((_read(t, _used(t, since), stop_ratio) for t in trends), key=_urgency)
    sign, _, leading = read[-1]
    if sign is Sign.NONE and n_unheard >= AGREE:
        return _not_known(unheard, last, has_unheard=True)
    if sign is Sign.NONE:
        alone = (*_alone(trends, since), *unheard)
        quiet = _quiet(last, silent_days, card, alone)
        return replace(quiet, reasons=(*quiet.reasons, *_silent_points(trends, since, last, card)))
    reasons = [words for found, words, _ in reversed(read) if found is sign]
    reasons += unheard
    if silent_days:
        reasons.append(f"{_silent_words(silent_days, card)}; it may be worse by now")
    return Condition(
        sign=sign,
        reasons=tuple(reasons),
        leading=leading,
        last_heard=last,
        silent_days=silent_days,
    )


def _not_known(reasons: tuple[str, ...], last: datetime | None, *, has_unheard: bool) -> Condition:
    return Condition(
        sign=Sign.NOT_KNOWN,
        reasons=reasons,
        leading=None,
        last_heard=last,
        has_unheard=has_unheard,
    )


def _unheard(trends: Sequence[Trend], since: datetime | None) -> tuple[tuple[str, ...], int]:
    """What stands at its action level in visits after the last used one: words, how many visits.

    A recording that cannot be used makes a bearing look healthier, seldom worse; and one of a
    housing that is hotter than usual is no other state, if it is louder too.
    """
    found: list[str] = []
    most = 0
    for trend in trends:
        start = max((p.at for p in _used(trend, since)), default=since)
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


def _why_left_out(trends: Sequence[Trend], since: datetime | None) -> str:
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


def _silence(last: datetime, as_of: datetime, card: MachineCard) -> float:
    """Days since the last usable recording, 0 while the warning time is not over."""
    days = (as_of - last) / timedelta(days=1)
    return days if days > (card.maintenance or Maintenance()).warning_time_days else 0.0


def _silent_points(
    trends: Sequence[Trend], since: datetime | None, last: datetime, card: MachineCard
) -> tuple[str, ...]:
    """Points that were recorded once and not lately, beside others that were."""
    latest: dict[str, datetime] = {}
    for trend in trends:
        heard = [p.at for p in _used(trend, since) if not p.is_masked]
        if heard:
            latest[trend.point] = max(*heard, latest.get(trend.point, heard[0]))
    days = (card.maintenance or Maintenance()).warning_time_days
    return tuple(
        f"point {point} was last heard on {at:%d %b %Y}: record it as well"
        for point, at in latest.items()
        if last - at > timedelta(days=days)
    )


def _silent_words(silent_days: float, card: MachineCard) -> str:
    warning_days = (card.maintenance or Maintenance()).warning_time_days
    return (
        f"the last usable recording is {silent_days:.0f} days old, longer than the warning time of "
        f"{warning_days:g} days"
    )


def _quiet(
    last: datetime, silent_days: float, card: MachineCard, alone: tuple[str, ...]
) -> Condition:
    """Without a sign; silence that is older than the warning time is not known."""
    if silent_days:
        return Condition(
            sign=Sign.NOT_KNOWN,
            reasons=(*alone, f"{_silent_words(silent_days, card)}: record again"),
            leading=None,
            last_heard=last,
            silent_days=silent_days,
            has_unheard=bool(alone),
        )
    return Condition(
        sign=Sign.NONE,
        reasons=alone,
        leading=None,
        last_heard=last,
        needs_confirming=bool(alone),
    )


def _read(trend: Trend, used: list[TrendPoint], stop_ratio: float) -> tuple[Sign, str, Trend]:
    where = f"{trend.title}, point {trend.point}"
    action, watch = trend.action_level, trend.watch_level
    if not used or action is None or watch is None:
        return Sign.NONE, "", trend
    is_level = trend.element is None
    if _stands(used, stop_ratio * action, is_level=is_level):
        return Sign.STOP, f"{where}: {stop_ratio:g} times its action level and more", trend
    rises = not is_level or trend.course == "rising"
    if rises and _stands(used, action, is_level=is_level, in_last=False):
        quiet = "" if _is_there(used[-1], action, is_level=is_level) else (
            "; the last reading alone is below it: have a second look before the unit is opened"
        )  # fmt: skip
        return Sign.CLEAR, f"{where}: at its action level{quiet}", trend
    if _stands(used, watch, is_level=is_level):
        return Sign.EARLY, f"{where}: above its watch level, below its action level", trend
    if trend.course == "rising" and trend.crossing.earliest is not None:
        return Sign.EARLY, f"{where}: {trend.sentence}", trend
    return Sign.NONE, "", trend


def _is_there(point: TrendPoint, level: float, *, is_level: bool) -> bool:
    return point.value >= level and (is_level or point.present)


def _stands(used: list[TrendPoint], level: float, *, is_level: bool, in_last: bool = True) -> bool:
    """Whether enough of the last three visits stand at a level, the last one among them or not."""
    there = [_is_there(p, level, is_level=is_level) for p in used[-LAST:]]
    return (there[-1] or not in_last) and sum(there) >= AGREE


def _alone(trends: Sequence[Trend], since: datetime | None) -> tuple[str, ...]:
    """Last readings at the action level that no reading before them confirms."""
    return tuple(
        f"{trend.title}, point {trend.point}: the last reading alone is at the action level; record "
        "again now to confirm or to rule it out"
        for trend in trends
        if trend.action_level and (used := _used(trend, since))
        and _is_there(used[-1], trend.action_level, is_level=trend.element is None)
    )  # fmt: skip


def _used(trend: Trend, since: datetime | None) -> list[TrendPoint]:
    return [p for p in trend.points if not p.left_out_because and (since is None or p.at >= since)]


def _urgency(read: tuple[Sign, str, Trend]) -> tuple[int, float]:
    sign, _, trend = read
    used = [p for p in trend.points if not p.left_out_because]
    share = used[-1].value / trend.action_level if used and trend.action_level else 0.0
    return list(Sign).index(sign), share


def _last_verdict(
    verdicts: Sequence[HistoryVerdict], since: datetime | None, as_of: datetime
) -> HistoryVerdict | None:
    """The last one that judged: "measure again" takes nothing back.

    One without a date that says stop counts until a rebuild or a dated verdict is on record.
    """
    judged = [v for v in verdicts if v.hold != "measure-again"]
    dated = [
        v for v in judged
        if v.decided_on is not None and v.decided_on <= as_of
        and (since is None or v.decided_on >= since)
    ]  # fmt: skip
    undated = [v for v in judged if v.decided_on is None and v.hold == "stop-now" and since is None]
    return max(dated, key=lambda v: v.decided_on or as_of, default=next(iter(undated), None))


def _said(verdict: HistoryVerdict | None, last: datetime | None) -> tuple[Sign, str]:
    """The sign that the last verdict is, and its words; visits after it speak for themselves."""
    if verdict is None:
        return Sign.NONE, ""
    hold = {"stop-now": "HOLD - STOP NOW", "fix": "HOLD - FIX"}.get(verdict.hold or "", "")
    headline = verdict.headline.removeprefix(hold).lstrip(".: ")
    day = "without a date" if verdict.decided_on is None else f"of {verdict.decided_on:%d %b %Y}"
    words = f"the last verdict, {day}, is {hold}: {headline}"
    if verdict.hold == "stop-now":
        return Sign.STOP, words
    at = verdict.decided_on
    is_latest = last is None or (at is not None and last <= at + ONE_VISIT)
    if verdict.hold == "fix" and verdict.named and is_latest:
        return Sign.CLEAR, words
    return Sign.NONE, ""
