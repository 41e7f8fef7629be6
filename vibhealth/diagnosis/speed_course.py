"""The best course of speed through a recording's segments, and what chance would give.

The best course is found by dynamic programming (A. J. Viterbi, IEEE Trans. Information
Theory 13 (1967) 260-269, from memory), with a cost for every change of speed. What the
best of all courses scores where there is no comb is measured in the same recording:
decoy combs, whose harmonics are moved apart by random shares of an order, are searched
for in the same way. Their best scores are maxima of many, so they follow a Gumbel law,
fitted by its moments (E. J. Gumbel, Statistics of Extremes, Columbia University Press
1958, from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_field import N_HARMONICS, CombField

__all__ = [
    "CourseSearch",
    "best_course",
    "decoy_shifts",
    "gumbel_tail",
    "run_courses",
    "search_course",
    "speeds_about",
]

# Up to this probability before its own lines are taken out, a comb's own lines are taken out.
PROBABLE = 0.02
N_DECOYS = 40
DECOY_ORDERS = (0.08, 0.45)  # harmonics of a decoy are moved by this share of an order
# The speed may change by this much from one segment to the next, at this cost per per cent.
LARGEST_STEP_PERCENT = 1.5
COST_PER_PERCENT = 3.0
EULER = 0.5772156649015329


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseSearch:
    """One field, the speeds searched in it, and the best course found.

    ``path`` indexes ``frequency_hz``, one per segment; ``probability`` is that of the
    decoys' law reaching ``score``.
    """

    field: CombField
    frequency_hz: NDArray[np.float64]
    step_percent: float
    path: NDArray[np.intp]
    score: float
    decoys: NDArray[np.float64]
    probability: float


def gumbel_tail(value: float, sample: NDArray[np.float64]) -> float:
    """Probability that a Gumbel variable like ``sample`` reaches ``value``.

    Parameters
    ----------
    value : float
        In the unit of the sample.
    sample : ndarray, shape (n,)
        At least two values, not all equal. The spread is taken ``1 + 1 / (2 n)``
        times larger, for its own uncertainty.

    Returns
    -------
    float
        ``1 - exp(-exp(-(pi / sqrt(6) z + 0.5772)))``, z in standard deviations.
    """
    spread = float(sample.std(ddof=1)) * (1 + 0.5 / sample.size)
    z = (value - float(sample.mean())) / max(spread, 1e-12)
    return float(-np.expm1(-np.exp(-(np.pi / np.sqrt(6.0) * z + EULER))))


def best_course(
    score: NDArray[np.float64], *, reach: int, cost: float
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Best sums along courses through segments, and the best course of the first row.

    Parameters
    ----------
    score : ndarray, shape (n_rows, n_segments, n_speeds)
        Rows are independent.
    reach : int
        Largest move from one segment to the next, in speeds, 0 or more.
    cost : float
        Taken off per speed moved, 0 or more.

    Returns
    -------
    best : ndarray, shape (n_rows,)
    course : ndarray, shape (n_segments,)
        Index of the speed in each segment, for the first row.
    """
    best = score[:, 0].copy()
    came_from = []
    moves = np.arange(-reach, reach + 1)
    moves = moves[np.argsort(np.abs(moves), kind="stable")]
    for segment in range(1, score.shape[1]):
        top, move_to = best, np.zeros(best.shape[-1], dtype=np.intp)
        for move in moves[1:]:
            moved = np.full_like(best, -np.inf)
            kept = slice(None, -move) if move > 0 else slice(-move, None)
            moved[:, slice(move, None) if move > 0 else slice(None, move)] = best[:, kept]
            moved -= cost * abs(move)
            move_to[moved[0] > top[0]] = move
            top = np.maximum(top, moved)
        best = top + score[:, segment]
        came_from.append(move_to)
    course = [int(np.argmax(best[0]))]
    for move_to in reversed(came_from):
        course.append(course[-1] - int(move_to[course[-1]]))
    return best.max(axis=-1), np.array(course[::-1], dtype=np.intp)


def decoy_shifts(n_decoys: int) -> NDArray[np.float64]:
    """Shifts of each decoy's harmonics in orders, always the same, shape (n_decoys, 12).

    Parameters
    ----------
    n_decoys : int
        At least 1.

    Returns
    -------
    ndarray, shape (n_decoys, 12)
        Between 0.08 and 0.45 orders up or down.
    """
    rng = np.random.default_rng(0)
    size = (n_decoys, N_HARMONICS)
    return np.asarray(rng.uniform(*DECOY_ORDERS, size) * rng.choice([-1.0, 1.0], size))


def run_courses(
    field: CombField,
    frequency_hz: NDArray[np.float64],
    step_percent: float,
    shifts: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Best course for each set of shifted harmonics, and the course of the first set.

    Parameters
    ----------
    field : CombField
        Where the harmonics are read.
    frequency_hz : ndarray, shape (n_speeds,)
        Speeds searched, evenly spaced.
    step_percent : float
        Their spacing in per cent, above 0.
    shifts : ndarray, shape (n_sets, 12)
        In orders.

    Returns
    -------
    best : ndarray, shape (n_sets,)
    course : ndarray, shape (n_segments,)
    """
    score = np.stack([field.comb(frequency_hz, shift).sum(axis=1) for shift in shifts])
    return best_course(
        score,
        reach=min(frequency_hz.size - 1, max(1, int(LARGEST_STEP_PERCENT / step_percent))),
        cost=COST_PER_PERCENT * step_percent,
    )


def speeds_about(
    field: CombField, nominal_hz: float, half_width_percent: float
) -> NDArray[np.float64]:
    """Speeds half a line of the highest harmonic apart, about the nominal one.

    Parameters
    ----------
    field : CombField
        Its line spacing counts.
    nominal_hz, half_width_percent : float
        Above 0.

    Returns
    -------
    ndarray, shape (n_speeds,)
        An odd number, 3 at least.
    """
    half = nominal_hz * half_width_percent / 100
    step = field.line_spacing_hz / (2 * N_HARMONICS)
    count = max(1, int(np.ceil(half / step)))
    return np.asarray(nominal_hz + step * np.arange(-count, count + 1))


def search_course(field: CombField, nominal_hz: float, half_width_percent: float) -> CourseSearch:
    """The best course about the nominal speed, and its decoys.

    Parameters
    ----------
    field : CombField
        Where the harmonics are read.
    nominal_hz, half_width_percent : float
        Above 0.

    Returns
    -------
    CourseSearch
    """
    frequency_hz = speeds_about(field, nominal_hz, half_width_percent)
    step_percent = float(100 * (frequency_hz[1] - frequency_hz[0]) / nominal_hz)
    shifts = np.concatenate([np.zeros((1, N_HARMONICS)), decoy_shifts(N_DECOYS)])
    best, path = run_courses(field, frequency_hz, step_percent, shifts)
    decoys = best[1:]
    if gumbel_tail(float(best[0]), decoys) <= PROBABLE:
        # The comb is there, most likely: its own lines are no part of what is there without it.
        others = field.without(frequency_hz[path])
        decoys, _ = run_courses(others, frequency_hz, step_percent, shifts[1:])
    return CourseSearch(
        field=field,
        frequency_hz=frequency_hz,
        step_percent=step_percent,
        path=path,
        score=float(best[0]),
        decoys=decoys,
        probability=gumbel_tail(float(best[0]), decoys),
    )
