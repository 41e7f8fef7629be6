"""Replacement at an age, and conditional life, against published examples.

Status of each value: read in the source; second-hand; from memory; computed (no published number).
"""

import math

import pytest
from scipy.optimize import minimize_scalar

from vibhealth.outlook.age_replacement import Costs, best_age, cost_rate
from vibhealth.outlook.life_distribution import LifeDistribution


def policy_age(slope: float, ratio: float) -> float | None:
    life = LifeDistribution(slope=slope, scale_h=1.0)
    return best_age(life, Costs(planned=1, unplanned=ratio)).age_h


def test_weibull_age_replacement() -> None:
    """System Analysis Reference, "Optimum Replacement Time Example": inputs read, result memory.

    Slope 2.5, scale 1000 h, corrective 5, preventive 1: 493.0470 h; the rates are computed.
    """
    life = LifeDistribution(slope=2.5, scale_h=1000.0)
    found = best_age(life, Costs(planned=1.0, unplanned=5.0))
    assert found.age_h == pytest.approx(493.0470, abs=0.01)
    assert found.cost_rate == pytest.approx(0.00346204, abs=1e-8)
    assert found.cost_rate_to_failure == pytest.approx(0.00563530, abs=1e-8)


def test_first_order_condition() -> None:
    """Barlow and Proschan via Choo and Shin, IJPHM 2025 (second-hand): C(T*) = (Cf - Cp) h(T*)."""
    life = LifeDistribution(slope=2.5, scale_h=1000.0)
    found = best_age(life, Costs(planned=1.0, unplanned=5.0))
    assert found.age_h is not None
    assert 4.0 * life.hazard(found.age_h) == pytest.approx(found.cost_rate, rel=1e-5)


@pytest.mark.parametrize(
    ("km", "rate"), [(10e3, 0.0143), (20e3, 0.0100), (30e3, 0.0093), (40e3, 0.0100)]
)
def test_uniform_life(km: float, rate: float) -> None:
    """Jardine and Tsang, solutions manual, ch. 2 problem 2 (read)."""

    def survival(x: float) -> float:
        return max(1 - x / 40e3, 0.0)

    assert cost_rate(km, survival, planned=100, unplanned=200) == pytest.approx(rate, abs=6e-5)


def test_uniform_life_has_its_least_cost_near_30_000_km() -> None:
    """Same source (read): the best of the four is 30 000 km; 29 282 km in between (computed)."""
    best = minimize_scalar(
        lambda km: cost_rate(km, lambda x: 1 - x / 40e3, planned=100, unplanned=200),
        bounds=(5e3, 39e3),
        method="bounded",
    )
    assert best.x == pytest.approx(29_282, abs=5)


def test_conditional_life() -> None:
    """Second-hand formula, computed values: eta 1000, beta 2, age 500."""
    life = LifeDistribution(slope=2.0, scale_h=1000.0)
    assert life.further_life_h(500, 0.5) == pytest.approx(471.158, abs=0.001)
    assert life.failing_within(500, 100) == pytest.approx(0.104166, abs=1e-6)
    assert life.further_life_h(0, 0.1) == pytest.approx(324.593, abs=0.001)


# Computed optimum ages over the scale for unplanned / planned of 5 and 10.
AGES = {
    1.5: (0.6755, 0.3781),
    2.0: (0.5107, 0.3365),
    2.5: (0.4930, 0.3546),
    3.0: (0.5026, 0.3825),
    3.5: (0.5196, 0.4114),
}


@pytest.mark.parametrize("slope", AGES)
def test_grid_of_best_ages(slope: float) -> None:
    for ratio, age in zip((5.0, 10.0), AGES[slope], strict=True):
        assert policy_age(slope, ratio) == pytest.approx(age, abs=2e-4)


@pytest.mark.parametrize("slope", [0.7, 1.0])
def test_no_best_age_where_units_do_not_age(slope: float) -> None:
    """Textbook rule (from memory): at a slope of 1 or below never replace preventively."""
    assert policy_age(slope, 50.0) is None


def test_a_slope_of_1_1_gains_nothing() -> None:
    """Computed: optimum beyond five scales at a ratio of 5, 1.46 scales at 10 with 1 % saved."""
    assert policy_age(1.1, 5.0) is None
    assert policy_age(1.1, 10.0) is None  # less than 2 % saved counts as nothing


@pytest.mark.parametrize(
    ("slope", "shares"),
    [(1.5, (0.89, 0.75, 0.61)), (2.0, (0.72, 0.54, 0.39)), (3.0, (0.54, 0.35, 0.23))],
)
def test_cost_over_running_to_failure(slope: float, shares: tuple[float, ...]) -> None:
    """Computed for unplanned / planned of 5, 10 and 20."""
    life = LifeDistribution(slope=slope, scale_h=1.0)
    for ratio, share in zip((5.0, 10.0, 20.0), shares, strict=True):
        found = best_age(life, Costs(planned=1, unplanned=ratio))
        assert found.ratio == pytest.approx(share, abs=0.006)


@pytest.mark.parametrize(
    ("slope", "median", "scale"), [(1.1, 5.5, 7.7), (1.5, 3.5, 4.5), (2.0, 2.6, 3.1)]
)
def test_median_and_characteristic_life_over_rating_life(
    slope: float, median: float, scale: float
) -> None:
    """Computed; EASA, Root Cause Failure Analysis, 2002, sect. 2 (read): L50 about 5 L10."""
    life = LifeDistribution.from_rating_life(1.0, slope)
    assert life.further_life_h(0, 0.5) == pytest.approx(median, abs=0.06)
    assert life.scale_h == pytest.approx(scale, abs=0.06)
    assert life.survival(1.0) == pytest.approx(0.9)


def test_the_practical_rule_of_five_rating_lives_belongs_to_slope_9_8() -> None:
    """Computed: slope 9/8 gives 5.34."""
    life = LifeDistribution.from_rating_life(1.0, 9 / 8)
    assert life.further_life_h(0, 0.5) == pytest.approx(5.34, abs=0.01)
    assert math.isclose(life.survival(life.further_life_h(0, 0.5)), 0.5)
