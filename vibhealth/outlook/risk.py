"""Chance of failing before a day, from how long units last and from what the condition says."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np

from vibhealth.model import CrossingRange, Sign
from vibhealth.outlook.life_distribution import LifeDistribution

__all__ = ["Unit", "risk_before"]

# Mean further days in units of the warning time, once there is a sign and no date range
# (starting assumptions, common practice, no source): early, clear, stop.
FURTHER_IN_WARNINGS = {Sign.EARLY: 1.0, Sign.CLEAR: 1 / 3, Sign.STOP: 1 / 10}


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """The unit that runs: how long its like last, its age, and how it is watched.

    ``life`` and ``age_h`` may be None: then only the condition counts. ``heard_days_ago`` is the
    age of the last usable recording; ``warning_days`` the shortest credible time from the first
    sign to failure, which the share ``detection_share`` of coming failures shows.
    """

    life: LifeDistribution | None
    age_h: float | None
    hours_per_day: float | None
    sign: Sign
    crossing: CrossingRange | None
    heard_days_ago: float
    warning_days: float
    detection_share: float


def risk_before(unit: Unit, *, as_of: date) -> Callable[[date], float | None]:
    """Chance that the unit fails before a day; before a clear sign, or reaches its action level.

    Parameters
    ----------
    unit : Unit
        What is known of it.
    as_of : date
        The day that is asked for.

    Returns
    -------
    callable
        Date to a probability that never falls with the date, 0 up to ``as_of``; None where
        neither age nor condition says anything.

    Notes
    -----
    Without a sign: Bayes. A failure within the warning time after the last recording would have
    shown with the chance d, so of the chance F(t) by age alone, with w days of warning left, ::

        P(t) = ((1 - d) F(min(t, w)) + max(F(t) - F(w), 0)) / (1 - d F(w))

    (the delay-time idea: A. H. Christer, W. M. Waller, J. Oper. Res. Soc. 35, 1984, 401-406,
    from memory). With an early sign: by the date range where there is one. Else with a sign an
    exponential whose mean is a share of the warning time, beside the age; it counts from the
    last recording, since nobody has heard what the sign has become after that.
    """
    by_age = _by_age(unit)
    known = unit.life is not None and unit.age_h is not None and unit.hours_per_day is not None

    def risk(day: date) -> float | None:
        days = float((day - as_of).days)
        if unit.sign in FURTHER_IN_WARNINGS:
            return _with_sign(unit, by_age(max(days, 0.0)), days, as_of)
        if not known:
            return None
        if unit.sign is Sign.NONE:
            return _without_sign(unit, by_age, days)
        return by_age(max(days, 0.0))

    return risk


def _by_age(unit: Unit) -> Callable[[float], float]:
    life, age, per_day = unit.life, unit.age_h, unit.hours_per_day
    if life is None or age is None or per_day is None:
        return lambda _days: 0.0
    return lambda days: life.failing_within(age, days * per_day)


def _without_sign(unit: Unit, by_age: Callable[[float], float], days: float) -> float:
    left = max(unit.warning_days - unit.heard_days_ago, 0.0)
    d, covered = unit.detection_share, by_age(left)
    if days <= 0:
        return 0.0
    seen = (1 - d) * by_age(min(days, left)) + max(by_age(days) - covered, 0.0)
    return seen / (1 - d * covered)


def _with_sign(unit: Unit, by_age: float, days: float, as_of: date) -> float:
    if days <= 0:
        return 0.0
    dated = unit.crossing is not None and len(unit.crossing.quantiles) > 1
    if unit.crossing is not None and dated and unit.sign is Sign.EARLY:
        return max(by_age, _by_range(unit.crossing, days, as_of))
    mean = FURTHER_IN_WARNINGS[unit.sign] * unit.warning_days
    return 1 - (1 - by_age) * math.exp(-(unit.heard_days_ago + days) / mean)


def _by_range(crossing: CrossingRange, days: float, as_of: date) -> float:
    """Chance of having reached the level, by the range; certain one width behind its end."""
    shares, dates = zip(*crossing.quantiles, strict=True)
    places = [float((d - as_of).days) for d in dates]
    width = max(places[-1] - places[0], 1.0)
    ends = [0.0, *places, places[-1] + width]
    return float(np.interp(days, np.maximum.accumulate(ends), [0.0, *shares, 1.0]))
