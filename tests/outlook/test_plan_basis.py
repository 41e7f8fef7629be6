"""Which life distribution the plan rests on, and what is said of it."""

from typing import Any

import pytest

from vibhealth.card.maintenance import Maintenance
from vibhealth.model import BearingLife
from vibhealth.outlook.age_replacement import Costs, best_age
from vibhealth.outlook.plan_basis import Basis, choose_basis, hours_in_words
from vibhealth.outlook.unit_lives import UnitLives

COSTS: dict[str, Any] = {"planned_cost": 10_000.0, "unplanned_cost": 60_000.0}
AGEING = (9800.0, 12_100.0, 10_900.0, 11_300.0)
BY_CHANCE = (1500.0, 3000.0, 21_000.0)


def lives(failed: tuple[float, ...] = (), age_h: float | None = None) -> UnitLives:
    return UnitLives(failed_h=failed, running_on_h=(), age_h=age_h, remarks=())


def rating(lnmh: float | None, l10h: float | None = None) -> BearingLife:
    return BearingLife(
        bearing="upper", load_kn=None, l10h=l10h, lnmh=lnmh, kappa=None, a_iso=None,
        faster_5_percent=None, stroke_10_percent=None,
    )  # fmt: skip


def basis(
    failed: tuple[float, ...] = (),
    ratings: tuple[BearingLife, ...] = (),
    age_h: float | None = None,
    **plan: Any,
) -> Basis:
    return choose_basis(Maintenance(**plan), lives(failed, age_h), ratings)


def test_what_is_given_goes_before_records_before_rating_life_before_nothing() -> None:
    given: dict[str, Any] = {"weibull_slope": 2.0, "characteristic_life_h": 9000.0}
    one = (rating(8000.0),)
    assert basis(AGEING, one, **given).plan.source == "given"
    assert basis(AGEING, one).plan.source == "plant records"
    assert basis(AGEING[:2], one).plan.source == "rating life"
    assert basis(AGEING[:2]).plan.source == "none"


def test_a_slope_alone_goes_with_the_rating_life() -> None:
    found = basis((), (rating(8000.0),), weibull_slope=2.5)
    assert found.plan.slope == 2.5
    assert found.life is not None
    assert found.life.survival(8000.0) == pytest.approx(0.9)
    assert basis((), (rating(8000.0),)).plan.slope == 1.5


def test_the_unit_ends_with_its_first_bearing() -> None:
    two = basis((), (rating(8000.0), rating(None, 5000.0)))
    assert two.life is not None
    alone = [basis((), (r,)).life for r in (rating(8000.0), rating(5000.0))]
    product = 1.0
    for life in alone:
        assert life is not None
        product *= life.survival(3000.0)
    assert two.life.survival(3000.0) == pytest.approx(product)


def test_one_bearing_without_a_rating_life_leaves_the_unit_without_one() -> None:
    assert basis((), (rating(8000.0), rating(None))).plan.source == "none"


def test_the_unit_that_runs_counts_as_one_that_had_not_failed() -> None:
    young, old = basis(AGEING), basis(AGEING, age_h=20_000.0)
    assert (young.plan.n_running_on, old.plan.n_running_on) == (0, 1)
    assert young.plan.scale_h is not None
    assert old.plan.scale_h is not None
    assert old.plan.scale_h > young.plan.scale_h


def test_ageing_and_costs_give_a_best_age() -> None:
    found = basis(AGEING, **COSTS)
    assert found.life is not None
    expected = best_age(found.life, Costs(planned=10_000.0, unplanned=60_000.0))
    assert found.plan.slope_interval is not None
    assert found.plan.slope_interval[0] > 1
    assert found.plan.optimum_age_h == expected.age_h
    assert found.plan.cost_rate_ratio == expected.ratio
    assert expected.age_h is not None
    assert (
        f"rebuilding at about {hours_in_words(expected.age_h)} costs least" in found.plan.sentence
    )
    assert "from 4 failed units and 0 that had not failed" in found.plan.sentence


def test_an_interval_that_holds_slope_one_shows_no_ageing() -> None:
    found = basis(BY_CHANCE, **COSTS)
    assert found.plan.slope_interval is not None
    assert found.plan.slope_interval[0] < 1 < found.plan.slope_interval[1]
    assert found.plan.optimum_age_h is found.plan.cost_rate_ratio is None
    assert "going early gains nothing by itself" in found.plan.sentence


def test_a_given_slope_of_one_gains_nothing_either() -> None:
    found = basis(weibull_slope=1.0, characteristic_life_h=9000.0, **COSTS)
    assert found.plan.optimum_age_h is None
    assert "Ageing is not shown: going early gains nothing by itself" in found.plan.sentence


def test_costs_that_hardly_differ_gain_nothing() -> None:
    found = basis(AGEING, planned_cost=10.0, unplanned_cost=10.0)
    assert found.plan.optimum_age_h is None
    assert "At these costs going early gains nothing" in found.plan.sentence


@pytest.mark.parametrize("only", list(COSTS))
def test_one_cost_alone_gives_no_best_age(only: str) -> None:
    found = basis(AGEING, **{only: COSTS[only]})
    assert (found.costs, found.policy, found.plan.optimum_age_h) == (None, None, None)
    assert "cost are not on the card: no best age" in found.plan.sentence


def test_nothing_known_is_said_with_its_reason() -> None:
    found = basis(AGEING[:2], **COSTS)
    assert (found.life, found.policy, found.plan.scale_h) == (None, None, None)
    assert "2 failed units are on record, 3 are needed" in found.plan.sentence
    assert "only the condition counts" in found.plan.sentence
