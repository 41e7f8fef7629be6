"""When does a growing quantity reach a level? Many possible courses, weighted by how they fit.

A damaged bearing is quiet, then jumps or begins to grow, and grows about exponentially; in a
level the damage adds to the noise of a healthy machine. One straight line through the whole
history would hide all that. So there are many candidates: a straight line of the logarithm from
every possible onset, with a jump or without, and an exponential over a constant floor. Each is
fitted robustly and asked when it reaches the level; the spread of the answers is the range.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth.errors import InputError
from vibhealth.outlook._courses import Course, floor_course, level_criterion, straight_courses

__all__ = ["LEAST_POINTS", "Growth", "fit_growth", "time_to_level"]

Array = NDArray[np.float64]

LEAST_POINTS = 5
# Points that a straight part must have: a line, and two more to see how far they scatter.
LEAST_AFTER_ONSET = 4
# Rates of an exponential over a floor, per observed span: from hardly bent to a sharp knee.
RATES_PER_SPAN = (2.0, 3.0, 4.5, 6.5, 9.0, 12.0)
# A course with a jump is as likely as the best if its criterion is no more than this above it
# (strong evidence begins there: Kass and Raftery, J. Am. Stat. Assoc. 90, 1995, 773-795, from memory).
JUMP_DOUBT = 6.0
N_DRAWS = 4000
SEED = 20_311  # of the draws: same input, same range


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """The possible courses of one history.

    Attributes
    ----------
    evidence : float
        How much better the best growing course is than a level one, as a difference of
        information criteria; above 6 is strong.
    onset_days : float
        Where the best course begins to grow.
    jump_day : float
        Day of the likeliest jump if one explains the history about as well, else the first day.
    share_straight : float
        Weight of the straight line from the first day, 0 to 1.
    draws : ndarray, shape (n_draws, 5)
        Courses drawn by their weights: whether over a floor, level or floor, damage, day from
        which it grows, growth per day.
    line : tuple of (day, logarithm)
        The best course, to be drawn.
    """

    evidence: float
    onset_days: float
    jump_day: float
    share_straight: float
    draws: Array
    line: tuple[tuple[float, float], ...]


def fit_growth(days: ArrayLike, log_values: ArrayLike) -> Growth:
    """Possible courses of a history, from its points.

    Parameters
    ----------
    days : array_like, shape (n,)
        Time in days, rising or equal, n at least 5.
    log_values : array_like, shape (n,)
        Natural logarithm of the quantity.

    Returns
    -------
    Growth

    Raises
    ------
    InputError
        If there are fewer than 5 points, a value is not finite, or time runs backwards.

    Notes
    -----
    A course is weighted by exp(-BIC / 2) (Schwarz, Ann. Stat. 6, 1978, 461-464; averaging over
    models: Raftery, Sociol. Methodol. 25, 1995, 111-163). The exponential over a floor is the
    degradation model of Gebraeel, Lawley, Li, Ryan, IIE Trans. 37 (2005) 543-557. All from memory.

    Examples
    --------
    >>> growth = fit_growth(range(0, 70, 7), [0.03 * day for day in range(0, 70, 7)])
    >>> round(float(np.nanmedian(growth.draws[:, 4])), 3)
    0.03
    """
    t, y = _checked(days, log_values)
    courses = _courses(t, y)
    criteria = np.array([course.criterion for course in courses])
    best = courses[int(np.argmin(criteria))]
    weights = np.exp(-0.5 * (criteria - best.criterion))
    rng = np.random.default_rng(SEED)
    counts = rng.multinomial(N_DRAWS, weights / weights.sum())
    drawn = [course.draw(n, rng) for course, n in zip(courses, counts, strict=True) if n]
    return Growth(
        evidence=level_criterion(y) - best.criterion,
        onset_days=best.onset,
        jump_day=_jump_day(courses, best.criterion, float(t[0])),
        share_straight=float(counts[0] / N_DRAWS),
        draws=np.vstack(drawn),
        line=best.line(t),
    )


def time_to_level(growth: Growth, log_level: float, *, last_day: float) -> Array:
    """Days at which the possible courses reach a level, sorted; infinite where they never do.

    Parameters
    ----------
    growth : Growth
        Of `fit_growth`.
    log_level : float
        Natural logarithm of the level.
    last_day : float
        Day of the last reading, which stands below the level: no course is earlier.

    Returns
    -------
    ndarray, shape (n_draws,)
    """
    over_floor, base, damage, start, slope = growth.draws.T
    with np.errstate(divide="ignore", invalid="ignore"):
        straight = start + (log_level - base) / slope
        bent = start + np.log((np.exp(log_level) - base) / damage) / slope
    days = np.where(over_floor > 0, bent, straight)
    days = np.where((slope > 0) & np.isfinite(days), days, np.inf)
    return np.sort(np.maximum(days, last_day))


def _courses(t: Array, y: Array) -> list[Course]:
    """All courses that can be fitted; the straight line from the first day comes first."""
    middles = 0.5 * (t[1:] + t[:-1])
    onsets = [
        float(day)
        for day in middles
        if (t > day).sum() >= LEAST_AFTER_ONSET and (t <= day).sum() >= 2
    ]
    plain = straight_courses(t, y, [float(t[0]), *onsets], has_jump=False)
    jumped = straight_courses(t, y, onsets, has_jump=True)
    tried = (
        plain[0],
        *(course for pair in zip(plain[1:], jumped, strict=True) for course in pair),
        *(floor_course(t, y, rate / float(np.ptp(t))) for rate in RATES_PER_SPAN),
    )
    return [course for course in tried if course is not None]


def _jump_day(courses: list[Course], best: float, first: float) -> float:
    jumped = [course for course in courses if course.has_jump]
    likeliest = min(jumped, key=lambda course: course.criterion, default=None)
    if likeliest is None or likeliest.criterion - best > JUMP_DOUBT:
        return first
    return likeliest.onset


def _checked(days: ArrayLike, log_values: ArrayLike) -> tuple[Array, Array]:
    t, y = np.asarray(days, dtype=float), np.asarray(log_values, dtype=float)
    if t.ndim != 1 or t.shape != y.shape or len(t) < LEAST_POINTS:
        msg = (
            f"a course needs at least {LEAST_POINTS} points with one value each, "
            f"got {t.size} days and {y.size} values; record more often"
        )
        raise InputError(msg)
    if not (np.isfinite(t).all() and np.isfinite(y).all()):
        msg = "days and values of a course must be finite; leave out readings of zero"
        raise InputError(msg)
    if (np.diff(t) < 0).any() or t[-1] <= t[0]:
        msg = "the days of a course must rise from the first to the last; sort the readings by date"
        raise InputError(msg)
    return t, y
