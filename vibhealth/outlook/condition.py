"""What the recordings say now: no sign, early sign, clear sign, stop soon, or not known."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from vibhealth.card import MachineCard
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import HistoryVerdict, Rebuild, Sign, Trend, TrendPoint
from vibhealth.outlook._doubts import (
    LAST,
    alone,
    is_there,
    silent_points,
    unheard,
    used_points,
    why_left_out,
)
from vibhealth.outlook._last_verdict import last_verdict, said_by

__all__ = ["Condition", "condition_of"]

# One reading may be wrong: two of the last three must say it.
AGREE = 2


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
    heard = [p.at for t in trends for p in used_points(t, since) if not p.is_masked]
    last = max(heard, default=None)
    said, words = said_by(last_verdict(verdicts, since, as_of), last)
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
    left_out, n_left_out = unheard(trends, since)
    stop_ratio = card.limits.value("trend_stop_ratio")
    read = sorted((_read(t, used_points(t, since), stop_ratio) for t in trends), key=_urgency)
    sign, _, leading = read[-1] if read else (Sign.NONE, "", None)
    if sign is Sign.NONE and last is None:
        is_masked = any(used_points(trend, since) for trend in trends)
        reason = "no recording in which the bearings could be heard" if is_masked else (
            "no usable recording"
        )  # fmt: skip
        reason += " since the last rebuild" if since else ""
        words = reason + why_left_out(trends, since)
        return _not_known((*left_out, words), last, has_unheard=bool(left_out))
    if sign is Sign.NONE and n_left_out >= AGREE:
        return _not_known(left_out, last, has_unheard=True)
    last = last or max(p.at for t in trends for p in used_points(t, since))
    silent_days = _silence(last, as_of, card)
    if sign is Sign.NONE:
        to_confirm = (*alone(trends, since), *left_out)
        quiet = _quiet(last, silent_days, card, to_confirm)
        return replace(quiet, reasons=(*quiet.reasons, *silent_points(trends, since, last, card)))
    reasons = [words for found, words, _ in reversed(read) if found is sign]
    reasons += left_out
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


def _silence(last: datetime, as_of: datetime, card: MachineCard) -> float:
    """Days since the last usable recording, 0 while the warning time is not over."""
    days = (as_of - last) / timedelta(days=1)
    return days if days > (card.maintenance or Maintenance()).warning_time_days else 0.0


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
        quiet = "" if is_there(used[-1], action, is_level=is_level) else (
            "; the last reading alone is below it: have a second look before the unit is opened"
        )  # fmt: skip
        return Sign.CLEAR, f"{where}: at its action level{quiet}", trend
    if _stands(used, watch, is_level=is_level):
        return Sign.EARLY, f"{where}: above its watch level, below its action level", trend
    if trend.course == "rising" and trend.crossing.earliest is not None:
        return Sign.EARLY, f"{where}: {trend.sentence}", trend
    return Sign.NONE, "", trend


def _stands(used: list[TrendPoint], level: float, *, is_level: bool, in_last: bool = True) -> bool:
    """Whether enough of the last three visits stand at a level, the last one among them or not."""
    there = [is_there(p, level, is_level=is_level) for p in used[-LAST:]]
    return (there[-1] or not in_last) and sum(there) >= AGREE


def _urgency(read: tuple[Sign, str, Trend]) -> tuple[int, float]:
    sign, _, trend = read
    used = [p for p in trend.points if not p.left_out_because]
    share = used[-1].value / trend.action_level if used and trend.action_level else 0.0
    return list(Sign).index(sign), share
