"""Visits to the points of a trend, each with the range it may lie in."""

import math
from collections.abc import Sequence
from dataclasses import replace
from statistics import median

import numpy as np

from vibhealth.model import CriterionResult, Descriptor, Element, HistoryFamily, TrendPoint
from vibhealth.outlook.visits import Visit

__all__ = ["LEVEL", "family_point", "gathered", "level_point", "level_readings", "with_scatter"]

LEVEL = "bearing-band-block-median"
# A depth below this is what noise alone gives (healthy recordings of the open data sets lie
# between 0.02 and 0.13).
DEPTH_FLOOR = 0.01
# Theil-Sen compares all pairs: more visits than this are gathered into equal spans first.
MOST_FITTED = 150
# Half width of an interval of 80 of 100 in standard deviations of a normal distribution.
HALF_WIDTH_80 = 1.2816
MAD_TO_SIGMA = 1.4826


def level_readings(visit: Visit) -> list[Descriptor]:
    if visit.left_out_because:
        return []
    return [d for r in visit.recordings for d in r.descriptors if d.id == LEVEL]


def level_point(visit: Visit, band_hz: tuple[float, float] | None) -> TrendPoint | None:
    readings = [d for r in visit.recordings for d in r.descriptors if d.id == LEVEL and d.value > 0]
    if not readings:
        return None
    other_band = all(d.band_hz != band_hz for d in readings)
    reason = visit.left_out_because or ("read in another band" if other_band else "")
    values = [d.value for d in readings if reason or d.band_hz == band_hz]
    return TrendPoint(
        at=visit.at,
        running_hours_h=visit.running_hours_h,
        value=float(median(values)),
        low=None,
        high=None,
        n_recordings=len(values),
        left_out_because=reason,
        is_masked=all(r.masked for r in visit.recordings),
    )


def family_point(visit: Visit, bearing: str, element: Element) -> TrendPoint | None:
    found = [
        f
        for r in visit.recordings
        for f in r.families
        if f.bearing == bearing and f.element is element
    ]
    if not found:
        return None
    values = sorted(max(f.depth_whitened, DEPTH_FLOOR) for f in found)
    middle = sorted(found, key=lambda f: f.depth_whitened)[len(found) // 2]
    low, high = _interval(middle)
    return TrendPoint(
        at=visit.at,
        running_hours_h=visit.running_hours_h,
        value=float(median(values)),
        low=low,
        high=high,
        n_recordings=len(found),
        left_out_because=visit.left_out_because,
        present=2 * sum(f.result is not CriterionResult.PASS for f in found) >= len(found),
    )


def _interval(family: HistoryFamily) -> tuple[float | None, float | None]:
    """Interval of the whitened depth; none where the size was not worth one."""
    if family.depth_interval is None:
        return None, None
    low, high = family.depth_interval
    return max(low, DEPTH_FLOOR), max(high, DEPTH_FLOOR)


def with_scatter(maybe: Sequence[TrendPoint | None]) -> tuple[TrendPoint, ...]:
    """Points without an interval of their own get the scatter from visit to visit."""
    points = [p for p in maybe if p is not None]
    used = np.log([p.value for p in points if not p.left_out_because])
    if len(used) < 4:
        return tuple(points)
    # Differences of neighbours hold the scatter twice and hardly any trend.
    sigma = MAD_TO_SIGMA * float(np.median(np.abs(np.diff(used)))) / math.sqrt(2)
    factor = math.exp(HALF_WIDTH_80 * sigma)
    return tuple(
        p if p.low is not None else _between(p, p.value / factor, p.value * factor) for p in points
    )


def _between(point: TrendPoint, low: float, high: float) -> TrendPoint:
    return replace(point, low=low, high=high)


def gathered(points: list[TrendPoint]) -> list[TrendPoint]:
    """At most `MOST_FITTED` points: medians over equal spans of time."""
    if len(points) <= MOST_FITTED:
        return points
    start, end = points[0].at, points[-1].at
    span = (end - start) / MOST_FITTED
    groups: dict[int, list[TrendPoint]] = {}
    for point in points:
        groups.setdefault(min(int((point.at - start) / span), MOST_FITTED - 1), []).append(point)
    return [
        _valued(group[len(group) // 2], median([p.value for p in group]))
        for group in groups.values()
    ]


def _valued(point: TrendPoint, value: float) -> TrendPoint:
    return replace(point, value=value)
