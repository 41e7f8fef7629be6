"""A quantity of one point over time: visits, steps at rebuilds, slope, and when it gets there."""

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
import scipy.stats
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.model import (
    CriterionResult,
    CrossingRange,
    Element,
    HistoryRecording,
    Rebuild,
    Trend,
    TrendPoint,
)
from vibhealth.outlook._points import (
    LEVEL,
    family_point,
    gathered,
    level_point,
    level_readings,
    with_scatter,
)
from vibhealth.outlook._steps import trend_steps
from vibhealth.outlook.date_range import STRONG_EVIDENCE, date_range, withheld
from vibhealth.outlook.growth import Growth
from vibhealth.outlook.visits import Visit, left_out, state_sentence, visits_of

__all__ = ["LEVEL", "RECENT", "family_trend", "level_trend", "machine_trends"]

Array = NDArray[np.float64]
Course = Literal["rising", "falling", "no-trend", "not-enough-history"]

SLOPE_CONFIDENCE = 0.8
# Visits whose median stands for the level of a good unit: the first ones after it settled.
N_FIRST = 5
# Recording times of a point in which a family must have been seen to have a trend; of all, and of
# those that can be used.
RECENT = 6


def machine_trends(
    recordings: Sequence[HistoryRecording], card: MachineCard, rebuilds: Sequence[Rebuild] = ()
) -> tuple[Trend, ...]:
    """All trends that say something: the level of each point, and every family seen there.

    Parameters
    ----------
    recordings : sequence of HistoryRecording
        Of one machine, in any order.
    card : MachineCard
        Points, speed, bearings, limits.
    rebuilds : sequence of Rebuild
        Of the same machine.

    Returns
    -------
    tuple of Trend
        Per point of the body in the card's order: level first, then families that were watch or
        hold in one of the last six recording times, or of the last six that can be used, the
        largest first.
    """
    trends: list[Trend] = []
    for name in _points(recordings, card):
        own = [r for r in recordings if r.point == name]
        trends.append(level_trend(own, card, rebuilds))
        reason = _not_heard(own, card, rebuilds)
        seen = _families_seen(own, reason)
        visits = visits_of(own, reason_of=reason) if seen else ()
        families = [
            _family_trend(visits, name, card, rebuilds, bearing=bearing, element=element)
            for bearing, element in seen
        ]
        trends += sorted(families, key=_last_value, reverse=True)
    return tuple(trends)


def level_trend(
    recordings: Sequence[HistoryRecording], card: MachineCard, rebuilds: Sequence[Rebuild] = ()
) -> Trend:
    """Trend of the level in the bearing band of one point.

    Parameters
    ----------
    recordings : sequence of HistoryRecording
        Of one point.
    card : MachineCard
        Its limits give early and action ratio over the first visits since the last rebuild.
    rebuilds : sequence of Rebuild
        Of the machine.

    Returns
    -------
    Trend
    """
    visits = visits_of(recordings, reason_of=left_out(recordings, card, rebuilds))
    band = next((d.band_hz for v in reversed(visits) for d in level_readings(v)), None)
    points = with_scatter([level_point(visit, band) for visit in visits])
    since = _since_rebuild(points, rebuilds)
    early, act = (card.limits.value(f"trend_level_{k}_ratio") for k in ("early", "action"))
    base = _good_level([p.value for p in since[:N_FIRST]], act)
    unit = next((d.unit for v in reversed(visits) for d in level_readings(v)), "m/s2")
    words = "" if band is None else f", {band[0]:g} to {band[1]:g} Hz"
    return _trend(
        points,
        rebuilds,
        card,
        quantity=LEVEL,
        title=f"level in the bearing band{words}",
        unit=unit,
        point=_point_name(recordings),
        bearing=None,
        element=None,
        watch_level=None if base is None else early * base,
        action_level=None if base is None else act * base,
        action_source=f"{act:g} times the first visits since the last rebuild "
        f"({card.limits.source('trend_level_action_ratio')})",
        state=state_sentence(visits),
    )


def family_trend(
    recordings: Sequence[HistoryRecording],
    card: MachineCard,
    rebuilds: Sequence[Rebuild] = (),
    *,
    bearing: str,
    element: Element,
) -> Trend:
    """Trend of the size of one defect family at one point: its whitened modulation depth.

    Parameters
    ----------
    recordings : sequence of HistoryRecording
        Of one point.
    card : MachineCard
        Its limits ``depth_watch`` and ``depth_hold`` are early and action level.
    rebuilds : sequence of Rebuild
        Of the machine.
    bearing, element : str, Element
        Which family.

    Returns
    -------
    Trend
    """
    visits = visits_of(recordings, reason_of=_not_heard(recordings, card, rebuilds))
    point = _point_name(recordings)
    return _family_trend(visits, point, card, rebuilds, bearing=bearing, element=element)


def _good_level(first: Sequence[float], action_ratio: float) -> float | None:
    """Median of the first visits; where they differ as clear damage would, the lowest of them."""
    if not first:
        return None
    middle, least = float(np.median(first)), min(first)
    return least if middle >= action_ratio * least else middle


def _not_heard(
    recordings: Sequence[HistoryRecording], card: MachineCard, rebuilds: Sequence[Rebuild]
) -> Callable[[HistoryRecording], str]:
    """Why a recording tells nothing of the bearings: another state, or masked."""
    reason = left_out(recordings, card, rebuilds)

    def masked_too(recording: HistoryRecording) -> str:
        other = reason(recording)
        return other or ("masked: a bearing could not be heard" if recording.masked else "")

    return masked_too


def _family_trend(  # noqa: PLR0913 - what `family_trend` takes, with the visits made once
    visits: Sequence[Visit],
    point: str,
    card: MachineCard,
    rebuilds: Sequence[Rebuild],
    *,
    bearing: str,
    element: Element,
) -> Trend:
    points = [family_point(visit, bearing, element) for visit in visits]
    limits = card.limits
    return _trend(
        with_scatter(points),
        rebuilds,
        card,
        quantity="depth-whitened",
        title=f"{element.value.replace('-', ' ')} of bearing {bearing}, modulation depth",
        unit="1",
        point=point,
        bearing=bearing,
        element=element,
        watch_level=limits.value("depth_watch"),
        action_level=limits.value("depth_hold"),
        action_source=f"limit depth_hold ({limits.source('depth_hold')})",
        state=state_sentence(visits),
    )


def _trend(
    maybe: Sequence[TrendPoint | None],
    rebuilds: Sequence[Rebuild],
    card: MachineCard,
    **facts: object,
) -> Trend:
    points = tuple(p for p in maybe if p is not None)
    used = gathered(_since_rebuild(points, rebuilds))
    start = used[0].at if used else datetime.fromtimestamp(0).astimezone()
    days = np.array([(p.at - start).total_seconds() / 86400 for p in used])
    logs = np.log([p.value for p in used])
    action = facts["action_level"]
    crossing, growth = (
        date_range(days, logs, math.log(action), start=start, limits=card.limits)
        if isinstance(action, float)
        else (withheld("there is no action level yet: no visit that can be used"), None)
    )
    course, slope, interval = _course(days, logs, growth)
    return Trend(
        points=points,
        steps=trend_steps(points, rebuilds),
        course=course,
        slope_per_day=slope,
        slope_interval=interval,
        sentence=_sentence(course, slope, interval, crossing, len(used)),
        crossing=crossing,
        fit=_fit(growth, start) if course in {"rising", "falling"} else (),
        **facts,  # type: ignore[arg-type]
    )


def _course(
    days: Array, logs: Array, growth: Growth | None
) -> tuple[Course, float | None, tuple[float, float] | None]:
    """Course with the Theil-Sen slope since growth began and its 80 % interval.

    P. K. Sen, J. Am. Stat. Assoc. 63, 1968, 1379-1389, by scipy.stats.theilslopes.
    """
    if growth is None:
        return "not-enough-history", None, None
    begin = growth.jump_day if growth.evidence >= STRONG_EVIDENCE else days[0]
    part = days >= begin
    if part.sum() < 4 or np.ptp(days[part]) <= 0:
        part = np.ones_like(part)
    slope, _, low, high = scipy.stats.theilslopes(logs[part], days[part], alpha=SLOPE_CONFIDENCE)
    interval = (float(low), float(high))
    if growth.evidence >= STRONG_EVIDENCE and low > 0:
        return "rising", float(slope), interval
    if growth.evidence >= STRONG_EVIDENCE and high < 0:
        return "falling", float(slope), interval
    return "no-trend", float(slope), interval


def _sentence(
    course: Course,
    slope: float | None,
    interval: tuple[float, float] | None,
    crossing: CrossingRange,
    n_used: int,
) -> str:
    if course == "not-enough-history" or slope is None or interval is None:
        reason = crossing.withheld_because or f"{n_used} visits"
        return reason if reason.startswith("not enough") else f"not enough history: {reason}"
    month, low, high = (100 * math.expm1(30 * s) for s in (slope, *interval))
    change = f"{_signed(month)} % in 30 days (80 of 100: {_signed(low)} to {_signed(high)} %)"
    if course == "no-trend":
        return f"no trend: {change}, within the scatter of {n_used} visits"
    return f"{course}: {change}, {n_used} visits"


def _signed(percent: float) -> str:
    """A change with its sign; none at nothing.

    >>> _signed(-0.3), _signed(4.6)
    ('0', '+5')
    """
    return f"{percent:+.0f}" if abs(percent) >= 0.5 else "0"


def _fit(growth: Growth | None, start: datetime) -> tuple[tuple[datetime, float], ...]:
    if growth is None:
        return ()
    return tuple((start + timedelta(days=day), math.exp(log)) for day, log in growth.line)


def _since_rebuild(points: Sequence[TrendPoint], rebuilds: Sequence[Rebuild]) -> list[TrendPoint]:
    last = max((r.at for r in rebuilds), default=None)
    return [p for p in points if not p.left_out_because and (last is None or p.at >= last)]


def _points(recordings: Sequence[HistoryRecording], card: MachineCard) -> list[str]:
    there = {r.point for r in recordings}
    return [p.name for p in card.points if p.name in there and p.mounted_on == "body"]


def _families_seen(
    recordings: Sequence[HistoryRecording], reason: Callable[[HistoryRecording], str]
) -> list[tuple[str, Element]]:
    dated = [(r.recorded_at, not reason(r)) for r in recordings if r.recorded_at is not None]
    every = sorted({at for at, _ in dated})
    used = sorted({at for at, is_used in dated if is_used})
    recent = {*every[-RECENT:], *used[-RECENT:]}
    return sorted(
        {
            (f.bearing, f.element)
            for r in recordings
            if r.recorded_at in recent
            for f in r.families
            if f.result is not CriterionResult.PASS
        }
    )


def _last_value(trend: Trend) -> float:
    return next((p.value for p in reversed(trend.points) if not p.left_out_because), 0.0)


def _point_name(recordings: Sequence[HistoryRecording]) -> str:
    return next((r.point for r in recordings if r.point), "")
