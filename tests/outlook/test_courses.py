"""Straight courses, fitted many at once, against general-purpose optimisation one by one."""

import numpy as np
import pytest
from scipy.optimize import minimize

from vibhealth.outlook._courses import ROBUST_DOF, Array, level_criterion, straight_courses

T = np.array([0.0, 6.0, 11.0, 19.0, 24.0, 33.0, 40.0, 46.0, 55.0, 61.0, 70.0, 78.0])
NOISE = 0.1 * np.random.default_rng(5).standard_normal(len(T))
Y = -3.0 + 0.02 * np.maximum(T - 30.0, 0.0) + NOISE


def weighted_squares(t: Array, y: Array, onset: float, scatter: float, *, has_jump: bool) -> Array:
    """The maximum of the t likelihood at a given scatter, by scipy.optimize.minimize."""
    columns = [np.ones_like(t), np.maximum(t - onset, 0.0) / 50]
    x = np.column_stack([*columns, *([(t > onset).astype(float)] if has_jump else [])])

    def cost(coefficients: Array) -> float:
        z = (y - x @ coefficients) / scatter
        return float(np.log1p(z**2 / ROBUST_DOF).sum())

    start = np.linalg.lstsq(x, y, rcond=None)[0]
    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-14})
    return np.asarray(found.x * np.array([1.0, 1 / 50, 1.0][: x.shape[1]]))


@pytest.mark.parametrize("has_jump", [False, True])
def test_each_of_many_courses_is_the_best_of_its_onset(*, has_jump: bool) -> None:
    onsets = [3.0, 15.0, 29.0, 43.0]
    for onset, course in zip(
        onsets, straight_courses(T, Y, onsets, has_jump=has_jump), strict=True
    ):
        assert course is not None
        after = T - onset
        fitted = course.coefficients[0] + course.coefficients[1] * np.maximum(after, 0.0)
        fitted = fitted + (course.coefficients[2] * (after > 0) if has_jump else 0.0)
        residual = Y - fitted
        k = len(course.coefficients)
        # The scatter is a fixed point: weights from it give it back.
        scatter = 0.1
        for _ in range(60):
            weights = (ROBUST_DOF + 1) / (ROBUST_DOF + (residual / scatter) ** 2)
            scatter = float(np.sqrt((weights * residual**2).sum() / (len(T) - k)))
        expected = weighted_squares(T, Y, onset, scatter, has_jump=has_jump)
        assert course.coefficients == pytest.approx(expected, rel=0.03, abs=0.003)


def test_together_and_alone_are_the_same() -> None:
    onsets = [3.0, 15.0, 29.0]
    together = straight_courses(T, Y, onsets, has_jump=True)
    for onset, course in zip(onsets, together, strict=True):
        (alone,) = straight_courses(T, Y, [onset], has_jump=True)
        assert course is not None
        assert alone is not None
        assert course.coefficients == pytest.approx(alone.coefficients, rel=1e-12)
        assert course.criterion == pytest.approx(alone.criterion, rel=1e-12)


def test_time_in_another_unit_changes_the_slope_alone() -> None:
    (days,) = straight_courses(T, Y, [29.0], has_jump=False)
    (hours,) = straight_courses(24.0 * T, Y, [24.0 * 29.0], has_jump=False)
    assert days is not None
    assert hours is not None
    assert hours.coefficients[1] == pytest.approx(days.coefficients[1] / 24)
    assert hours.criterion == pytest.approx(days.criterion)


def test_what_the_points_cannot_tell_is_no_course() -> None:
    same = np.zeros(6)
    assert straight_courses(same, np.arange(6.0), [0.0], has_jump=False) == [None]
    told, not_told = straight_courses(T, Y, [29.0, 77.0], has_jump=True)  # a jump, then one point
    assert told is not None
    assert not_told is None
    assert straight_courses(T[:4], Y[:4], [0.0], has_jump=True) == [None]
    assert straight_courses(T, Y, [], has_jump=True) == []


def test_an_outlier_hardly_moves_a_course() -> None:
    spoiled = Y.copy()
    spoiled[4] += 5.0
    (course,) = straight_courses(T, Y, [29.0], has_jump=False)
    (moved,) = straight_courses(T, spoiled, [29.0], has_jump=False)
    assert course is not None
    assert moved is not None
    assert moved.coefficients[1] == pytest.approx(course.coefficients[1], rel=0.15)


def test_growth_is_better_told_by_a_course_than_by_a_level() -> None:
    courses = straight_courses(T, Y, [29.0], has_jump=False)
    assert courses[0] is not None
    assert level_criterion(Y) - courses[0].criterion > 6.0
    flat = straight_courses(T, NOISE, [29.0], has_jump=False)
    assert flat[0] is not None
    assert level_criterion(NOISE) < flat[0].criterion
