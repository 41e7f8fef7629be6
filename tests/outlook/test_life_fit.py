"""Fitting lives that ended and lives that went on, against scipy and by coverage."""

import math

import numpy as np
import pytest
from scipy.stats import CensoredData, binom, weibull_min

from vibhealth.errors import InputError
from vibhealth.outlook.life_fit import LifeFit, fit_lives

FAILED = [9800.0, 12_100.0, 7900.0, 15_300.0, 11_000.0]
ON = [14_300.0, 6000.0]


def slopes(fit: LifeFit) -> tuple[float, float]:
    assert fit.slope_interval is not None
    return fit.slope_interval


@pytest.mark.parametrize("on", [[], ON, [30_000.0]])
def test_the_fit_is_that_of_scipy(on: list[float]) -> None:
    fit = fit_lives(FAILED, on)
    data = CensoredData(uncensored=np.array(FAILED), right=np.array(on))
    shape, _, scale = weibull_min.fit(data, floc=0)
    assert fit.life is not None
    assert fit.life.slope == pytest.approx(shape, rel=2e-3)
    assert fit.life.scale_h == pytest.approx(scale, rel=2e-3)
    assert (fit.n_failed, fit.n_running_on) == (5, len(on))


def test_the_likelihood_equations_hold() -> None:
    life = fit_lives(FAILED, ON).life
    assert life is not None
    every = np.array(FAILED + ON)
    power = every**life.slope
    left = (power * np.log(every)).sum() / power.sum() - 1 / life.slope
    assert left == pytest.approx(np.log(FAILED).mean(), abs=1e-6)
    assert life.scale_h == pytest.approx((power.sum() / 5) ** (1 / life.slope), rel=1e-9)


def test_another_unit_of_time_changes_the_scale_only() -> None:
    hours, days = fit_lives(FAILED, ON), fit_lives([h / 24 for h in FAILED], [h / 24 for h in ON])
    assert hours.life is not None
    assert days.life is not None
    assert days.life.slope == pytest.approx(hours.life.slope)
    assert days.life.scale_h == pytest.approx(hours.life.scale_h / 24)
    assert slopes(days) == pytest.approx(slopes(hours), rel=1e-6)
    assert hours.scale_interval_h is not None
    assert days.scale_interval_h == pytest.approx(
        tuple(h / 24 for h in hours.scale_interval_h), rel=1e-6
    )


def test_the_slope_interval_is_where_the_likelihood_ratio_is_that_of_80_percent() -> None:
    def profile(slope: float) -> float:
        every = np.array(FAILED + ON)
        scale = (np.sum(every**slope) / 5) ** (1 / slope)
        return float(
            weibull_min.logpdf(FAILED, slope, scale=scale).sum()
            + weibull_min.logsf(ON, slope, scale=scale).sum()
        )

    fit = fit_lives(FAILED, ON)
    assert fit.life is not None
    for end in slopes(fit):
        assert 2 * (profile(fit.life.slope) - profile(end)) == pytest.approx(1.6424, abs=1e-3)


def test_intervals_hold_the_estimate_and_widen_with_fewer_failures() -> None:
    places = (np.arange(24) + 0.5) / 24
    many = fit_lives(weibull_min.ppf(places, 2.0, scale=9000.0).tolist())
    few = fit_lives(weibull_min.ppf(places[1::6], 2.0, scale=9000.0).tolist())
    for fit in (many, few):
        assert fit.life is not None
        assert fit.scale_interval_h is not None
        assert slopes(fit)[0] < fit.life.slope < slopes(fit)[1]
        assert fit.scale_interval_h[0] < fit.life.scale_h < fit.scale_interval_h[1]
    assert slopes(few)[1] / slopes(few)[0] > 1.5 * slopes(many)[1] / slopes(many)[0]
    assert few.scale_interval_h is not None
    assert many.scale_interval_h is not None
    assert few.scale_interval_h[1] / few.scale_interval_h[0] > (
        1.5 * many.scale_interval_h[1] / many.scale_interval_h[0]
    )


def test_the_slope_interval_holds_the_truth_in_about_80_of_100() -> None:
    rng = np.random.default_rng(20310106)
    trials, held = 60, 0
    for _ in range(trials):
        lives, ends = 9000 * rng.weibull(1.8, 20), rng.uniform(4000, 20_000, 20)
        fit = fit_lives(lives[lives <= ends].tolist(), ends[lives > ends].tolist())
        low, high = slopes(fit)
        held += low <= 1.8 <= high
    lowest, highest = binom.interval(0.998, trials, 0.8)
    assert lowest <= held <= highest


@pytest.mark.parametrize("failed", [[], [100.0], [100.0, 200.0]])
def test_fewer_than_three_failures_make_no_distribution(failed: list[float]) -> None:
    fit = fit_lives(failed, [500.0])
    assert (fit.life, fit.slope_interval, fit.scale_interval_h) == (None, None, None)
    assert f"{len(failed)} failed units are on record, 3 are needed" in fit.reason


@pytest.mark.parametrize("failed", [[900.0] * 4, [900.0, 901.0, 902.0]])
def test_failures_at_one_age_make_no_distribution(failed: list[float]) -> None:
    fit = fit_lives(failed)
    assert fit.life is None
    assert "same age" in fit.reason


@pytest.mark.parametrize("bad", [0.0, -3.0, math.nan, math.inf])
def test_a_life_must_be_a_number_above_zero(bad: float) -> None:
    with pytest.raises(InputError, match=f"above 0, got {bad:g} among them"):
        fit_lives([100.0, bad, 300.0])
    with pytest.raises(InputError, match=f"above 0, got {bad:g} among them"):
        fit_lives([100.0, 200.0, 300.0], [bad])
