"""The dates between which a growing quantity reaches its action level, or why none is said."""

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from vibhealth.card import Limits
from vibhealth.model import CrossingRange
from vibhealth.outlook.growth import LEAST_POINTS, Growth, fit_growth, time_to_level

__all__ = ["STRONG_EVIDENCE", "date_range", "withheld"]

Array = NDArray[np.float64]

# A growing course must be this much better than a level one, as a difference of information
# criteria (strong: Kass and Raftery, J. Am. Stat. Assoc. 90, 1995, 773-795, from memory).
STRONG_EVIDENCE = 6.0
LEAST_SINCE_JUMP = 6
# Tails that hold the truth in 80 of 100 simulated histories: of a straight line from the first
# day, of everything else (tests/benchmark/degradation.py; such ranges are far too narrow before
# they are calibrated on histories, as published on bearing life has shown too).
LOW_TAIL = (0.10, 0.045)
HIGH_TAIL = (0.10, 0.045)
PROBABILITIES = (0.10, 0.25, 0.50, 0.75, 0.90)


def withheld(reason: str, *, already_reached: bool = False) -> CrossingRange:
    """No range, and why.

    Parameters
    ----------
    reason : str
        Why no dates are said, as a clause.
    already_reached : bool
        Whether the last readings stand above the level.

    Returns
    -------
    CrossingRange
    """
    return CrossingRange(
        earliest=None, latest=None, withheld_because=reason, already_reached=already_reached
    )


def date_range(
    days: Array, log_values: Array, log_level: float, *, start: datetime, limits: Limits
) -> tuple[CrossingRange, Growth | None]:
    """Dates between which the level is reached in 80 of 100 cases.

    Parameters
    ----------
    days : ndarray, shape (n,)
        Days since ``start``, rising; only readings of one state since the last rebuild.
    log_values : ndarray, shape (n,)
        Natural logarithms of the readings.
    log_level : float
        Natural logarithm of the action level.
    start : datetime
        Day 0.
    limits : Limits
        ``trend_least_points`` and ``trend_least_span_days``.

    Returns
    -------
    range : CrossingRange
        Never beyond the span that was observed; withheld, with the reason, where the history
        is too short, shows no growth, or may have jumped too recently to show how it grows.
    growth : Growth or None
        The courses, None where there are too few points for any.
    """
    if len(days) and np.median(log_values[-2:]) >= log_level:
        growth = _growth(days, log_values)
        return withheld("the action level is reached already", already_reached=True), growth
    short = _too_short(days, limits)
    if short:
        return withheld(f"not enough history: {short}"), None
    growth = fit_growth(days, log_values)
    if growth.evidence < STRONG_EVIDENCE:
        return withheld("no trend that stands out of the scatter"), growth
    since_jump = int((days > growth.jump_day).sum())
    if growth.jump_day > days[0] and since_jump < LEAST_SINCE_JUMP:
        return withheld(
            f"it may have jumped lately, and {since_jump} visits since then do not show how it "
            f"goes on; {LEAST_SINCE_JUMP} are needed"
        ), growth
    horizon = float(days[-1] - growth.jump_day)
    return _range(growth, log_level, days, horizon, start), growth


def _growth(days: Array, log_values: Array) -> Growth | None:
    enough = len(days) >= LEAST_POINTS and days[-1] > days[0]
    return fit_growth(days, log_values) if enough else None


def _too_short(days: Array, limits: Limits) -> str:
    least, span = limits.value("trend_least_points"), limits.value("trend_least_span_days")
    if len(days) < least:
        return f"{len(days)} visits in the same state, {least:g} are needed"
    if days[-1] - days[0] < span:
        return f"the visits cover {days[-1] - days[0]:.0f} days, {span:g} are needed"
    return ""


def _range(
    growth: Growth, log_level: float, days: Array, horizon: float, start: datetime
) -> CrossingRange:
    reached = time_to_level(growth, log_level, last_day=float(days[-1]))
    straight = growth.share_straight
    low = LOW_TAIL[0] * straight + LOW_TAIL[1] * (1 - straight)
    high = 1 - (HIGH_TAIL[0] * straight + HIGH_TAIL[1] * (1 - straight))
    stretched = np.interp(PROBABILITIES, (0.1, 0.5, 0.9), (low, 0.5, high))
    places = np.minimum((stretched * len(reached)).astype(int), len(reached) - 1)
    dates = reached[places]
    if dates[-1] > days[-1] + horizon:
        return withheld(
            f"it would lie more than {horizon:.0f} days ahead, further than the growth was watched"
        )
    quantiles = tuple(
        (p, (start + timedelta(days=float(day))).date())
        for p, day in zip(PROBABILITIES, dates, strict=True)
    )
    return CrossingRange(
        earliest=quantiles[0][1],
        latest=(start + timedelta(days=float(np.ceil(dates[-1])))).date(),
        withheld_because="",
        quantiles=quantiles,
    )
