"""The Weibull distribution of life: closed forms, scaling, refusals."""

import math

import pytest
from scipy.integrate import quad

from vibhealth.errors import InputError
from vibhealth.outlook.life_distribution import LifeDistribution

LIFE = LifeDistribution(slope=1.7, scale_h=9000.0)


def test_by_the_scale_63_percent_have_failed() -> None:
    assert LIFE.survival(9000.0) == pytest.approx(math.exp(-1))
    assert LIFE.survival(0.0) == LIFE.survival(-5.0) == 1.0


def test_slope_one_forgets_its_age() -> None:
    life = LifeDistribution(slope=1.0, scale_h=500.0)
    for age in (0.0, 100.0, 5000.0):
        assert life.failing_within(age, 50.0) == pytest.approx(-math.expm1(-0.1))
        assert life.further_life_h(age, 0.5) == pytest.approx(500 * math.log(2))
    assert life.mean_h() == pytest.approx(500.0)
    assert life.hazard(77.0) == pytest.approx(1 / 500)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.99])
def test_further_life_turns_the_chance_round(share: float) -> None:
    further = LIFE.further_life_h(3000.0, share)
    assert LIFE.failing_within(3000.0, further) == pytest.approx(share, abs=1e-12)


def test_ten_percent_fail_before_the_rating_life() -> None:
    life = LifeDistribution.from_rating_life(11_000.0, 1.5)
    assert life.survival(11_000.0) == pytest.approx(0.9)


def test_hours_scale_with_the_scale() -> None:
    longer = LifeDistribution(slope=1.7, scale_h=27_000.0)
    assert longer.mean_h() == pytest.approx(3 * LIFE.mean_h())
    assert longer.mean_up_to_h(6000.0) == pytest.approx(3 * LIFE.mean_up_to_h(2000.0))
    assert longer.hazard(6000.0) == pytest.approx(LIFE.hazard(2000.0) / 3)
    assert longer.failing_within(3000, 300) == pytest.approx(LIFE.failing_within(1000, 100))


@pytest.mark.parametrize("hours", [10.0, 4000.0, 30_000.0])
def test_the_cut_off_mean_is_the_integral_of_the_survival(hours: float) -> None:
    assert LIFE.mean_up_to_h(hours) == pytest.approx(quad(LIFE.survival, 0, hours)[0], rel=1e-7)


def test_the_hazard_is_the_rate_of_failing_among_those_left() -> None:
    assert LIFE.failing_within(5000.0, 0.01) / 0.01 == pytest.approx(LIFE.hazard(5000.0), rel=1e-4)


def test_no_time_ahead_no_chance() -> None:
    assert LIFE.failing_within(5000.0, 0.0) == LIFE.failing_within(5000.0, -3.0) == 0.0


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_slope_or_scale_must_be_above_zero(bad: float) -> None:
    with pytest.raises(InputError, match="slope of a life distribution"):
        LifeDistribution(slope=bad, scale_h=1.0)
    with pytest.raises(InputError, match="scale_h of a life distribution"):
        LifeDistribution(slope=1.0, scale_h=bad)
    with pytest.raises(InputError, match="slope of a life distribution"):
        LifeDistribution.from_rating_life(1.0, bad)


@pytest.mark.parametrize("share", [-0.1, 1.0, math.nan])
def test_a_share_of_all_units_has_no_date(share: float) -> None:
    with pytest.raises(InputError, match="share of failed units"):
        LIFE.further_life_h(0.0, share)


def test_the_hazard_needs_an_age() -> None:
    with pytest.raises(InputError, match="an age must be"):
        LIFE.hazard(0.0)
