"""The best course through segments, and the law of the best by chance."""

import itertools

import numpy as np
import pytest

from vibhealth.diagnosis.speed_course import best_course, decoy_shifts, gumbel_tail


def test_the_tail_is_that_of_a_gumbel_law() -> None:
    """Of 20 000 Gumbel variables as many exceed a value as the fit of 4000 others says."""
    rng = np.random.default_rng(0)
    sample, others = rng.gumbel(3.0, 2.0, 4000), rng.gumbel(3.0, 2.0, 20_000)
    for value in (4.0, 8.0, 12.0):
        share = np.mean(others > value)
        # Three standard errors of the share, and 10 % for the fitted moments.
        assert gumbel_tail(value, sample) == pytest.approx(
            share, rel=0.1, abs=3 * np.sqrt(share / others.size)
        )
    assert gumbel_tail(3.0 + 2.0 * 0.5772, sample) == pytest.approx(0.43, abs=0.02)
    assert gumbel_tail(-1e3, sample) == 1.0


def test_the_tail_does_not_depend_on_the_unit() -> None:
    sample = np.random.default_rng(1).gumbel(size=40)
    assert gumbel_tail(5.0, sample) == pytest.approx(gumbel_tail(50.0 + 7, 10 * sample + 7))


def test_the_best_course_is_the_best_of_all() -> None:
    """Against every course of a small field, one by one."""
    score = np.random.default_rng(2).exponential(size=(3, 5, 6))
    reach, cost = 2, 0.3
    best, course = best_course(score, reach=reach, cost=cost)
    for row in range(3):
        sums = {
            way: sum(score[row, t, i] for t, i in enumerate(way))
            - cost * sum(abs(b - a) for a, b in itertools.pairwise(way))
            for way in itertools.product(range(6), repeat=5)
            if all(abs(b - a) <= reach for a, b in itertools.pairwise(way))
        }
        assert best[row] == pytest.approx(max(sums.values()))
        if row == 0:
            assert tuple(course) == max(sums, key=lambda way: sums[way])


def test_one_segment_is_its_largest_speed() -> None:
    score = np.array([[[1.0, 5.0, 2.0]]])
    best, course = best_course(score, reach=1, cost=1.0)
    assert best.tolist() == [5.0]
    assert course.tolist() == [1]


def test_decoys_are_always_the_same_and_never_a_comb() -> None:
    shifts = decoy_shifts(30)
    np.testing.assert_array_equal(shifts, decoy_shifts(30))
    assert np.abs(shifts).min() >= 0.08
    assert np.abs(shifts).max() <= 0.45
    assert np.ptp(shifts, axis=1).min() > 0.3
