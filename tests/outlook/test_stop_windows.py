"""Planned stops: consistency with the best age, direction of the signs, what is missing."""

from datetime import date, timedelta
from typing import Any

import pytest

from vibhealth.model import Sign, Window
from vibhealth.outlook.age_replacement import Costs, best_age
from vibhealth.outlook.life_distribution import LifeDistribution
from vibhealth.outlook.risk import Unit, risk_before
from vibhealth.outlook.stop_windows import Stops, in_words, stop_windows

NOW = date(2031, 3, 1)
LIFE = LifeDistribution(slope=2.5, scale_h=10_000.0)
COSTS = Costs(planned=1.0, unplanned=5.0)
PER_DAY = 20.0


def unit(**changes: Any) -> Unit:
    facts: dict[str, Any] = {
        "life": LIFE,
        "age_h": 0.0,
        "hours_per_day": PER_DAY,
        "sign": Sign.NONE,
        "crossing": None,
        "heard_days_ago": 0.0,
        "warning_days": 30.0,
        "detection_share": 0.0,
    }
    return Unit(**facts | changes)


def stops(places: list[int], costs: Costs | None = COSTS, **changes: Any) -> Stops:
    one = unit(**changes)
    policy = best_age(one.life, costs) if one.life and costs else None
    rate = None if policy is None else policy.cost_rate * PER_DAY
    return stop_windows(
        [NOW + timedelta(days=k) for k in places],
        risk_before(one, as_of=NOW),
        as_of=NOW,
        costs=costs,
        cost_rate_per_day=rate,
    )


def cost(window: Window) -> float:
    assert window.expected_cost is not None
    return window.expected_cost


def cheapest(found: Stops) -> int:
    (only,) = [w for w in found.windows if w.is_cheapest]
    return (only.at - NOW).days


@pytest.mark.parametrize("age_h", [0.0, 2000.0])
def test_the_cheapest_of_many_days_is_the_best_age(age_h: float) -> None:
    best = best_age(LIFE, COSTS).age_h
    assert best is not None
    found = stops(list(range(2, 500, 4)), age_h=age_h)
    least = min(found.windows, key=cost)
    assert (least.at - NOW).days == pytest.approx((best - age_h) / PER_DAY, abs=6)
    assert cost(least) == 0.0


def test_a_unit_beyond_its_best_age_comes_out_at_the_first_stop() -> None:
    found = stops([5, 60, 120], age_h=7000.0)
    costs = [cost(w) for w in found.windows]
    assert cheapest(found) == 5
    assert costs == sorted(costs)


@pytest.mark.parametrize(("sign", "days"), [(Sign.CLEAR, [7, 30, 90]), (Sign.STOP, [1, 5, 30])])
def test_a_clear_sign_makes_the_earliest_stop_the_cheapest(sign: Sign, days: list[int]) -> None:
    found = stops(days, sign=sign)
    assert cheapest(found) == days[0]
    assert cost(found.windows[1]) > 0.5


@pytest.mark.parametrize("slope", [0.7, 1.0])
def test_without_ageing_and_sign_the_latest_is_the_cheapest(slope: float) -> None:
    life = LifeDistribution(slope=slope, scale_h=10_000.0)
    found = stops([30, 120, 360], life=life, age_h=3000.0)
    assert cheapest(found) == 360
    assert cost(found.windows[0]) > cost(found.windows[1])


@pytest.mark.parametrize("sign", list(Sign))
@pytest.mark.parametrize("age_h", [0.0, 3000.0, 9000.0])
def test_the_direction_is_that_of_the_practice_rule(sign: Sign, age_h: float) -> None:
    """Go first if (p2 - p1)(Cu - Cp) > Cp x share of life thrown away (common practice, no source).

    Thrown away are the days in use between the stops, each worth the long-run cost of a day.
    """
    days = [1, 10] if sign is Sign.STOP else [20, 80]
    first, second = stops(days, sign=sign, age_h=age_h).windows
    assert first.probability_before is not None
    assert second.probability_before is not None
    p1, p2 = first.probability_before, second.probability_before
    rate = best_age(LIFE, COSTS).cost_rate * PER_DAY
    gained, thrown = 4.0 * (p2 - p1), rate * (days[1] - days[0]) * (1 - (p1 + p2) / 2)
    assert abs(gained - thrown) > 0.1  # too close a call would test nothing
    assert (cost(second) > cost(first)) == (gained > thrown)


def test_costs_scale_with_the_currency() -> None:
    base, dear = stops([10, 90]), stops([10, 90], costs=Costs(planned=100.0, unplanned=500.0))
    assert cost(base.windows[0]) > 0
    assert cost(dear.windows[0]) == pytest.approx(100 * cost(base.windows[0]), rel=1e-3)


def test_past_stops_are_left_out_and_said_and_the_rest_is_in_order() -> None:
    found = stops([90, -5, 0, 30, 30, -9])
    assert [(w.at - NOW).days for w in found.windows] == [0, 30, 90]
    assert found.remark == "2 stops on the card already past"
    assert stops([-1, 4]).remark == "1 stop on the card already past"
    assert stops([4]).remark == ""


def test_without_costs_only_the_risk_is_told() -> None:
    (window,) = stops([200], costs=None).windows
    assert window.expected_cost is None
    assert not window.is_cheapest
    assert window.probability_before == pytest.approx(LIFE.failing_within(0.0, 4000.0))


def test_without_risk_nothing_is_known() -> None:
    (window,) = stops([200], life=None).windows
    assert window.probability_before is None
    assert window.expected_cost is None
    assert window.sentence.startswith("not known")


def test_of_equally_good_stops_the_earliest_is_marked() -> None:
    best = best_age(LIFE, COSTS).age_h
    assert best is not None
    middle = round(best / PER_DAY)
    assert cheapest(stops([middle - 10, middle, middle + 10])) == middle - 10


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "below 1 in 100"),
        (0.01, "about 1 in 100"),
        (0.2, "about 1 in 5"),
        (0.3, "about 3 in 10"),
        (0.94, "about 9 in 10"),
        (0.95, "above 95 in 100"),
    ],
)
def test_chances_in_words(chance: float, words: str) -> None:
    assert in_words(chance) == words
