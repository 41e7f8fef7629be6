"""Cost of replacing at an age: scaling, early failures, and when it gains nothing."""

import math

import numpy as np
import pytest

from vibhealth.errors import InputError
from vibhealth.outlook.age_replacement import Costs, best_age, cost_rate
from vibhealth.outlook.life_distribution import LifeDistribution

LIFE = LifeDistribution(slope=2.2, scale_h=12_000.0)
COSTS = Costs(planned=10_000.0, unplanned=60_000.0)


def test_no_other_age_costs_less() -> None:
    policy = best_age(LIFE, COSTS)
    rates = [
        cost_rate(float(age), LIFE.survival, planned=10_000.0, unplanned=60_000.0)
        for age in np.geomspace(500, 40_000, 60)
    ]
    assert policy.cost_rate <= min(rates) * (1 + 1e-9)
    assert policy.cost_rate == pytest.approx(min(rates), rel=0.01)


def test_the_age_scales_with_life_and_not_with_the_currency() -> None:
    base = best_age(LIFE, COSTS)
    longer = best_age(LifeDistribution(slope=2.2, scale_h=36_000.0), COSTS)
    dearer = best_age(LIFE, Costs(planned=70_000.0, unplanned=420_000.0))
    assert base.age_h is not None
    assert longer.age_h == pytest.approx(3 * base.age_h, rel=1e-4)
    assert longer.cost_rate == pytest.approx(base.cost_rate / 3)
    assert dearer.age_h == pytest.approx(base.age_h, rel=1e-4)
    assert dearer.cost_rate == pytest.approx(7 * base.cost_rate)
    assert dearer.ratio == pytest.approx(base.ratio)


def test_early_failures_make_going_early_dearer() -> None:
    base, risky = (
        best_age(LIFE, Costs(planned=1.0, unplanned=6.0, early_failure_share=s)) for s in (0, 0.1)
    )
    assert base.age_h is not None
    assert risky.age_h is not None
    assert risky.age_h > base.age_h
    assert risky.ratio > base.ratio


def test_costs_in_full_hold_the_early_failures() -> None:
    costs = Costs(planned=10.0, unplanned=50.0, early_failure_share=0.1)
    assert costs.planned_in_full == pytest.approx(15.0)
    assert costs.unplanned_in_full == pytest.approx(55.0)


@pytest.mark.parametrize("unplanned", [0.5, 1.0])
def test_nothing_is_gained_where_a_breakdown_costs_no_more(unplanned: float) -> None:
    policy = best_age(LIFE, Costs(planned=1.0, unplanned=unplanned))
    assert policy.age_h is None
    assert policy.cost_rate == policy.cost_rate_to_failure


def test_less_than_two_percent_saved_is_nothing_gained() -> None:
    life = LifeDistribution(slope=1.2, scale_h=1000.0)
    assert best_age(life, Costs(planned=1.0, unplanned=4.0)).age_h is None
    assert best_age(life, Costs(planned=1.0, unplanned=40.0)).age_h is not None


def test_a_very_late_replacement_is_running_to_failure() -> None:
    rate = cost_rate(8 * LIFE.scale_h, LIFE.survival, planned=1.0, unplanned=5.0)
    assert rate == pytest.approx(5.0 / LIFE.mean_h(), rel=1e-6)


@pytest.mark.parametrize(
    "bad",
    [
        {"planned": 0.0, "unplanned": 1.0},
        {"planned": 1.0, "unplanned": -1.0},
        {"planned": math.inf, "unplanned": 1.0},
        {"planned": 1.0, "unplanned": 2.0, "early_failure_share": 1.0},
        {"planned": 1.0, "unplanned": 2.0, "early_failure_share": -0.1},
    ],
)
def test_costs_are_refused_out_of_range(bad: dict[str, float]) -> None:
    with pytest.raises(InputError, match="costs must be above 0"):
        Costs(**bad)
