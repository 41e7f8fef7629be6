"""The temperature log: both sides of every limit, and too few readings."""

from typing import Any

import pytest

from vibhealth.acceptance import headline
from vibhealth.model import CriterionResult, Hold, Moment, ReferenceRank

STOP, AGAIN, FIX = ("hold", "stop-now"), ("hold", "measure-again"), ("hold", "fix")
NOT_JUDGED = ("not-judged", "measure-again")


def _level(at: float) -> list[tuple[float, float]]:
    return [(10, at), (20, at), (30, at), (40, at)]


@pytest.mark.parametrize(("highest", "holds"), [(82.0, False), (82.1, True)])
def test_above_82_degrees_it_stops(hands: Any, highest: float, holds: bool) -> None:
    log = hands.log(*_level(highest), ambient=30.0)
    criteria = hands.judge(hands.job(temperature=log))
    assert {id_ for id_, how in hands.bad(criteria).items() if how == STOP} == (
        {"temperature-highest"} if holds else set()
    )
    if holds:
        assert headline(criteria, rank=ReferenceRank.NAMEPLATE) == (
            "HOLD - STOP NOW. The housing reached 82.1 °C, the limit is 82 °C."
        )


def test_the_cards_own_limit_counts(hands: Any) -> None:
    machine = {"id": "F3", "nominal_speed_rpm": 978.0, "temperature_limit_c": 60.0}
    card = hands.card(machine=machine)
    for highest, result in ((60.0, CriterionResult.PASS), (61.0, CriterionResult.HOLD)):
        job = hands.job(temperature=hands.log(*_level(highest)))
        found = hands.one(hands.judge(job, card), "temperature-highest")
        assert (found.result, found.limit) == (result, 60.0)
        assert found.limit_source == "card, machine.temperature_limit_c"


@pytest.mark.parametrize(
    ("log", "holds"),
    [
        ([(10, 20), (20, 40), (30, 45), (40, 45)], False),  # 2.0 per min: the limit itself
        ([(10, 20), (20, 40.5), (30, 45), (40, 45)], True),
        ([(0, 20), (8, 44), (30, 45), (40, 45), (50, 45)], False),  # 3.0 per min, at first
        ([(5, 20), (16, 44), (30, 45), (40, 45), (50, 45)], True),  # mostly after the first ten
        ([(10, 44), (20, 44), (20.5, 46), (30, 45), (40, 45)], False),  # thermometer steps
        ([(10, 44), (20, 44), (21, 46.1), (30, 45), (40, 45)], True),
    ],
)
def test_a_fast_climb_after_the_first_ten_minutes_stops(
    hands: Any, log: list[tuple[float, float]], holds: bool
) -> None:
    found = hands.bad(hands.judge(hands.job(temperature=hands.log(*log))))
    assert (found.get("temperature-climb") == STOP) is holds
    assert ("temperature-climb" in found) is holds


@pytest.mark.parametrize(
    ("per_ten_minutes", "holds"), [(1.0, False), (1.1, True), (-1.0, False), (-1.1, True), (0, 0)]
)
def test_levelling(hands: Any, per_ten_minutes: float, holds: bool) -> None:
    log = [(minutes, 50 + per_ten_minutes * minutes / 10) for minutes in (10, 20, 30, 40)]
    criteria = hands.judge(hands.job(temperature=hands.log(*log)))
    assert hands.bad(criteria) == ({"temperature-levelled": AGAIN} if holds else {})
    found = hands.one(criteria, "temperature-levelled")
    assert found.value == pytest.approx(per_ten_minutes)
    if holds:
        assert found.reason == (
            f"Not warm yet: still {per_ten_minutes:+.1f} °C in 10 min over the last 20 min, 1 °C "
            "is allowed."
        )


def test_only_the_last_stretch_counts(hands: Any) -> None:
    """The clean log climbs 10 degrees in 10 min at first, and half a degree at the end."""
    assert hands.bad(hands.judge(hands.job())) == {}


def test_a_single_reading_at_eight_hours_leaves_the_first_hours_levelling(hands: Any) -> None:
    log = hands.log(*_level(50.0), (480, 59.0))
    criteria = hands.judge(hands.job(temperature=log), moment=Moment.HOUR_8)
    assert hands.one(criteria, "temperature-levelled").result is CriterionResult.PASS


def test_a_later_reading_in_another_state_does_not(hands: Any) -> None:
    log = hands.log(*_level(50.0), (480, 66.0))
    found = hands.one(
        hands.judge(hands.job(temperature=log), moment=Moment.HOUR_8), "temperature-levelled"
    )
    assert found.result is CriterionResult.NOT_JUDGED
    assert found.reason.startswith("The housing moved by +16 °C since it had levelled")


def test_steady_readings_before_the_start_are_no_levelling(hands: Any) -> None:
    log = hands.log((-60, 18), (-50, 18), (-40, 18), (61, 60))
    found = hands.one(hands.judge(hands.job(temperature=log)), "temperature-levelled")
    assert found.result is CriterionResult.NOT_JUDGED


@pytest.mark.parametrize(
    ("log", "not_judged"),
    [
        ([(40, 50)], {"temperature-climb", "temperature-levelled"}),
        ([(30, 50), (40, 50)], {"temperature-levelled"}),
        ([(31, 50), (40, 50), (50, 50)], {"temperature-levelled"}),  # 19 min
        ([(30, 50), (40, 50), (50, 50)], set()),
        ([(0, 50), (5, 50), (50, 50)], {"temperature-levelled"}),  # a gap of 45 min
        ([(5, 50), (15, 50), (25, 50)], {"temperature-levelled"}),  # ran 25 min only
        ([(5, 50), (15, 50), (30, 50)], set()),
    ],
)
def test_too_few_readings_are_not_judged(
    hands: Any, log: list[tuple[float, float]], not_judged: set[str]
) -> None:
    found = hands.bad(hands.judge(hands.job(temperature=hands.log(*log))))
    assert found == dict.fromkeys(not_judged, NOT_JUDGED)


def test_minutes_count_from_the_first_reading_where_the_start_is_not_known(hands: Any) -> None:
    log = hands.log((10, 50), (20, 50), (30, 50))
    job = hands.job(temperature=log, job={"machine_started": ""})
    assert hands.one(hands.judge(job), "temperature-levelled").reason == (
        "Not warm yet: the last steady readings end 20 min after the first reading."
    )


@pytest.mark.parametrize(
    ("rise", "how"), [(45.0, None), (45.5, ("watch", "")), (60.0, ("watch", "")), (60.5, FIX)]
)
def test_rise_over_the_surroundings(hands: Any, rise: float, how: Any) -> None:
    log = hands.log(*_level(15.0 + rise), ambient=15.0)
    expected = {"temperature-rise": how} if how else {}
    assert hands.bad(hands.judge(hands.job(temperature=log))) == expected


@pytest.mark.parametrize(("colder", "bad"), [(14.9, False), (15.1, True)])
def test_a_housing_far_colder_than_the_air_is_a_wrong_figure(
    hands: Any, colder: float, bad: bool
) -> None:
    log = hands.log(*_level(50.0), ambient=20.0)
    log[1]["ambient_c"] = log[1]["housing_c"] + colder
    criteria = hands.judge(hands.job(temperature=log))
    assert hands.bad(criteria) == ({"temperature-rise": NOT_JUDGED} if bad else {})
    if bad:
        assert "colder than the surroundings" in hands.one(criteria, "temperature-rise").reason
        assert "°F" in hands.one(criteria, "temperature-rise").advice


def test_surroundings_that_nobody_measured(hands: Any) -> None:
    log = hands.log(*_level(50.0), ambient=None)
    assert hands.bad(hands.judge(hands.job(temperature=log))) == {"temperature-rise": NOT_JUDGED}


def test_no_reading_at_all(hands: Any) -> None:
    job = hands.job(temperature=[])
    assert hands.bad(hands.judge(job)) == {"temperature": NOT_JUDGED}
    assert hands.bad(hands.judge(job, moment=Moment.RUN_UP)) == {}


def test_before_the_first_check_only_danger_counts(hands: Any) -> None:
    cold = hands.log((5, 30), (15, 40))
    assert hands.bad(hands.judge(hands.job(temperature=cold), moment=Moment.RUN_UP)) == {}
    hot = hands.log((5, 30), (15, 90), ambient=30.0)
    found = hands.bad(hands.judge(hands.job(temperature=hot), moment=Moment.RUN_UP))
    assert found == {"temperature-highest": STOP, "temperature-climb": STOP}


def test_a_climb_is_stop_now(hands: Any) -> None:
    log = hands.log((10, 30), (20, 55), (30, 60), (40, 60))
    found = hands.one(hands.judge(hands.job(temperature=log)), "temperature-climb")
    assert found.hold is Hold.STOP_NOW
    assert found.reason == "The housing climbs 2.5 °C per minute, the limit is 2."
