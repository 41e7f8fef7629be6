"""Courses of a history: closed forms, scaling laws, robustness, refusals."""

import numpy as np
import pytest

from vibhealth.errors import InputError
from vibhealth.outlook.growth import fit_growth, time_to_level

DAYS = np.arange(0.0, 140.0, 7.0)
# Draws scatter by the least scatter of 2 %; a median of 4000 of them is far closer than this.
REL = 0.02


def middle(days: np.ndarray, logs: np.ndarray, log_level: float) -> float:
    growth = fit_growth(days, logs)
    return float(np.median(time_to_level(growth, log_level, last_day=float(days[-1]))))


def noisy(logs: np.ndarray, scatter: float, seed: int = 5) -> np.ndarray:
    return logs + scatter * np.random.default_rng(seed).standard_normal(len(logs))


def test_a_straight_line_reaches_its_level_where_it_must() -> None:
    assert middle(DAYS, 0.01 * DAYS, 2.0) == pytest.approx(200.0, rel=REL)


def test_an_exponential_over_a_floor_reaches_its_level_earlier_than_a_straight_line() -> None:
    values = 1.0 + 0.02 * np.exp(0.03 * DAYS)
    level = 1.0 + 0.02 * np.exp(0.03 * 170.0)
    found = middle(DAYS, np.log(values), float(np.log(level)))
    assert found == pytest.approx(170.0, rel=0.05)  # rates stand on a coarse grid


def test_growth_after_a_jump_is_read_after_the_jump() -> None:
    logs = np.where(DAYS < 50, 0.0, 0.5 + 0.01 * (DAYS - 50))
    growth = fit_growth(DAYS, logs)
    assert 49.0 <= growth.jump_day <= 56.0
    assert middle(DAYS, logs, 2.0) == pytest.approx(200.0, rel=REL)


def test_a_level_history_has_no_evidence_of_growth() -> None:
    assert fit_growth(DAYS, noisy(np.zeros_like(DAYS), 0.1)).evidence < 6


def test_evidence_grows_with_the_slope_and_falls_with_the_scatter() -> None:
    weak, strong = (fit_growth(DAYS, noisy(s * DAYS, 0.1)).evidence for s in (0.005, 0.02))
    loud = fit_growth(DAYS, noisy(0.02 * DAYS, 0.6)).evidence
    assert loud < strong
    assert weak < strong


def test_another_unit_of_the_quantity_changes_no_date() -> None:
    logs = noisy(0.01 * DAYS, 0.05)
    assert middle(DAYS, logs + 3.0, 5.0) == pytest.approx(middle(DAYS, logs, 2.0), rel=1e-6)


def test_time_scales_with_time() -> None:
    logs = noisy(0.01 * DAYS, 0.05)
    assert middle(2 * DAYS, logs, 2.0) == pytest.approx(2 * middle(DAYS, logs, 2.0), rel=1e-6)


def test_one_wild_reading_moves_the_date_little() -> None:
    logs = noisy(0.01 * DAYS, 0.05)
    wild = logs.copy()
    wild[9] += 2.0
    assert middle(DAYS, wild, 2.0) == pytest.approx(middle(DAYS, logs, 2.0), rel=0.08)


def test_more_scatter_gives_a_wider_range() -> None:
    widths = []
    for scatter in (0.03, 0.15):
        growth = fit_growth(DAYS, noisy(0.01 * DAYS, scatter))
        low, high = np.quantile(time_to_level(growth, 2.0, last_day=133.0), (0.1, 0.9))
        widths.append(high - low)
    assert widths[1] > 2 * widths[0]


def test_a_falling_history_never_gets_there() -> None:
    growth = fit_growth(DAYS, -0.01 * DAYS)
    assert np.isinf(time_to_level(growth, 1.0, last_day=133.0)).all()


def test_no_course_reaches_the_level_before_the_last_reading() -> None:
    growth = fit_growth(DAYS, noisy(0.01 * DAYS, 0.2))
    assert time_to_level(growth, 1.3, last_day=133.0).min() >= 133.0


def test_the_same_history_gives_the_same_draws() -> None:
    logs = noisy(0.01 * DAYS, 0.05)
    assert np.array_equal(fit_growth(DAYS, logs).draws, fit_growth(DAYS, logs).draws)


@pytest.mark.parametrize(
    ("days", "logs", "words"),
    [
        ([0, 1, 2, 3], [0, 0, 0, 0], "at least 5 points"),
        ([0, 1, 2, 3, 4], [0, 0, 0, 0], "at least 5 points"),
        ([0, 1, 2, 3, 4], [0, 0, float("-inf"), 0, 0], "must be finite"),
        ([0, 1, 3, 2, 4], [0, 0, 0, 0, 0], "must rise"),
        ([2, 2, 2, 2, 2], [0, 0, 0, 0, 0], "must rise"),
    ],
)
def test_refusals(days: list[float], logs: list[float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        fit_growth(days, logs)
