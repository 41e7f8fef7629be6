"""What speaks against the best comb of shaft harmonics: rivals, multiples, side bands, halves."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_course import (
    CourseSearch,
    decoy_shifts,
    gumbel_tail,
    run_courses,
)
from vibhealth.diagnosis.speed_field import N_HARMONICS, CombField

__all__ = ["Lobe", "explained_by", "is_double", "lobe_of", "other_spacing"]

# A body that turns at a multiple of the speed found (bearing, gear, mains) explains every m-th
# line. One recording in ten holds such a body by chance, at most: a tenth of it is allowed here.
FALSE_REST_PROBABILITY = 1e-2
# The other lines must also stand out by this share of what all of them do, line by line.
LEAST_REST = 0.15
# From this share on that is plain, and no decoys are needed to see it.
PLAIN_REST = 0.6
# Within this, two maxima are one speed that varies.
SAME_SPEED_PERCENT = 0.5
# Lines halfway between that reach this share of the comb's decibels over the floor may be its
# every other line. Looseness makes half orders too, but few of them (common practice, no source).
HALF_ORDER_SHARE = 0.75
# A comb moved as a whole (side bands about a bearing's line) has its own spacing: it must agree
# with the speed within this many per cent times turns, or the lines are not the shaft's. A line
# is told from its neighbour over six orders: 1 / 6 order over one segment, twice.
SPACING_PERCENT_TURNS, LEAST_SPACING_PERCENT = 36.0, 0.3
MOVED_ORDERS = np.concatenate([np.linspace(-0.45, -0.1, 8), np.linspace(0.1, 0.5, 9)])
N_REST_DECOYS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Lobe:
    """Where the course's maximum lies, how sure it is, and what else stands out.

    ``half_width_hz`` is that of its plateau, or how far it moves when any one harmonic
    is left out.
    """

    shift_hz: float
    half_width_hz: float
    rival: float


def lobe_of(field: CombField, course_hz: NDArray[np.float64], wide: CourseSearch) -> Lobe:
    """Score of the course moved up and down as a whole.

    The maximum is a small plateau (lines are matched within one line): its middle is
    the mean of what reaches nine tenths of the excess over the median. The rival is
    the best score outside of the lobe at half excess, over what decoys reach.

    Parameters
    ----------
    field : CombField
        Where the course was found.
    course_hz : ndarray, shape (n_segments,)
        The course.
    wide : CourseSearch
        Of the same field, over all speeds that may be rivals.

    Returns
    -------
    Lobe
    """
    each = np.zeros((N_HARMONICS, wide.frequency_hz.size))
    away = wide.frequency_hz - float(course_hz.mean())
    for lines, centre_hz in zip(np.moveaxis(field.lines, 1, 0), course_hz, strict=True):
        one = CombField(
            lines=lines[:, np.newaxis],
            line_spacing_hz=field.line_spacing_hz,
            centre_s=field.centre_s[:1],
        )
        each += one.comb(centre_hz + away)[0]
    profile = each.sum(axis=0)
    middle = int(np.argmin(np.abs(away)))
    around = slice(max(0, middle - 2 * N_HARMONICS), middle + 2 * N_HARMONICS + 1)
    middle = around.start + int(np.argmax(profile[around]))
    excess = profile - np.median(profile)
    flat, wide_open = (_around(excess >= share * excess[middle], middle) for share in (0.9, 0.5))
    near = np.abs(away - away[middle]) < 0.01 * SAME_SPEED_PERCENT * float(course_hz.mean())
    near[wide_open] = True
    usual = float(wide.decoys.mean())
    rival = float(profile[~near].max(initial=usual)) - usual
    half_width_hz = 0.5 * float(np.ptp(away[flat])) + 0.25 * field.line_spacing_hz
    return Lobe(
        shift_hz=float(away[flat].mean()),
        half_width_hz=max(half_width_hz, _pull_hz(away, profile - each, around)),
        rival=max(0.0, rival / max(float(profile[middle]) - usual, 1e-9)),
    )


def _pull_hz(away: NDArray[np.float64], without_one: NDArray[np.float64], around: slice) -> float:
    """How far the maximum moves when any one harmonic is left out (another body's, perhaps)."""
    tops = []
    for profile in without_one[:, around]:
        is_flat = profile >= profile.max() - 0.1 * np.ptp(profile)
        tops.append(float(away[around][is_flat].mean()))
    return float(np.ptp(tops))


def _around(is_in: NDArray[np.bool_], middle: int) -> slice:
    """The unbroken run of True about an index."""
    outside = np.flatnonzero(~is_in)
    first = outside[outside < middle].max(initial=-1) + 1
    last = outside[outside > middle].min(initial=is_in.size)
    return slice(int(first), int(last))


def explained_by(search: CourseSearch) -> int | None:
    """m, if the m-th lines (or the m-th line alone) stand out and the others do not.

    Parameters
    ----------
    search : CourseSearch
        With the best course.

    Returns
    -------
    int or None
        1 stands for the first line alone.
    """
    number = np.arange(1, N_HARMONICS + 1)
    segment = np.arange(search.path.size)
    course_hz = search.frequency_hz[search.path]
    each = search.field.comb(course_hz)[segment, :, segment].sum(axis=0)
    each -= search.decoys.mean() / N_HARMONICS
    for multiple in range(1, N_HARMONICS + 1):
        own = number % multiple == 0 if multiple > 1 else number == 1
        if each[~own].mean() > PLAIN_REST * each.mean():
            continue
        shifts = np.where(own, 0.0, decoy_shifts(N_REST_DECOYS))
        others = search.field.without(search.frequency_hz[search.path], np.flatnonzero(~own))
        best, _ = run_courses(others, search.frequency_hz, search.step_percent, shifts)
        rest = (search.score - float(best.mean())) / np.count_nonzero(~own)
        whole = (search.score - float(search.decoys.mean())) / N_HARMONICS
        is_slight = rest < LEAST_REST * whole
        if is_slight or gumbel_tail(search.score, best) > FALSE_REST_PROBABILITY:
            return multiple
    return None


def other_spacing(search: CourseSearch, wide: CourseSearch, nominal_hz: float) -> float | None:
    """Spacing of a comb moved as a whole, if it stands out more and contradicts the speed.

    Parameters
    ----------
    search : CourseSearch
        With the best course.
    wide : CourseSearch
        Of the same field, over all speeds that may be its spacing.
    nominal_hz : float
        By which turns are counted, above 0.

    Returns
    -------
    float or None
        In Hz.
    """
    shifts = np.repeat(MOVED_ORDERS[:, np.newaxis], N_HARMONICS, axis=1)
    best, _ = run_courses(search.field, wide.frequency_hz, wide.step_percent, shifts)
    strongest = int(np.argmax(best))
    if best[strongest] <= search.score:
        return None
    _, path = run_courses(search.field, wide.frequency_hz, wide.step_percent, shifts[[strongest]])
    spacing_hz = float(wide.frequency_hz[path].mean())
    own_hz = float(search.frequency_hz[search.path].mean())
    segment_turns = nominal_hz / search.field.line_spacing_hz
    allowed = max(LEAST_SPACING_PERCENT, SPACING_PERCENT_TURNS / segment_turns)
    return spacing_hz if 100 * abs(spacing_hz / own_hz - 1) > allowed else None


def is_double(field: CombField, course_hz: NDArray[np.float64]) -> bool:
    """Whether the odd half orders stand out three quarters as much as the harmonics.

    Parameters
    ----------
    field : CombField
        Where the course was found.
    course_hz : ndarray, shape (n_segments,)
        The course.

    Returns
    -------
    bool
    """

    def mean_of(shift: NDArray[np.float64]) -> float:
        segment = np.arange(course_hz.size)
        return float(field.comb(course_hz, shift, largest=np.inf)[segment, :, segment].mean())

    usual = float(np.mean([mean_of(shift) for shift in decoy_shifts(N_REST_DECOYS)]))
    half, own = mean_of(np.full(N_HARMONICS, -0.5)), mean_of(np.zeros(N_HARMONICS))
    return bool(half - usual > HALF_ORDER_SHARE * (own - usual))
