"""Whether states may be compared: both sides of each limit, and what is said."""

from collections.abc import Callable
from typing import Any

import pytest

from vibhealth.baseline import (
    ConditionFinding,
    ConditionLimits,
    Conditions,
    Range,
    compare_conditions,
)
from vibhealth.model import CriterionResult

Make = Callable[..., Conditions]
LIMITS = ConditionLimits(
    speed_watch_percent=2.0,
    speed_hold_percent=5.0,
    temperature_watch_c=10.0,
    temperature_hold_c=20.0,
)
PASS, WATCH, NOT_JUDGED = (
    CriterionResult.PASS,
    CriterionResult.WATCH,
    CriterionResult.NOT_JUDGED,
)


def one(value: float) -> Range:
    return Range(low=value, high=value)


def found(now: Conditions, was: Conditions) -> dict[str, ConditionFinding]:
    rows = compare_conditions(now, was, limits=LIMITS)
    assert len({row.id for row in rows}) == len(rows)
    return {row.id: row for row in rows}


def test_the_same_conditions_pass(make_conditions: Make) -> None:
    rows = found(make_conditions(), make_conditions())
    assert {row.result for row in rows.values()} == {PASS}
    assert list(rows) == ["speed", "temperature", "load", "direction", "unit"]
    assert rows["speed"].sentence == "960.0 r/min against 960.0 in the reference (0.0 %)"
    assert rows["load"].sentence == "load empty"
    assert not any(row.is_other_means or row.advice for row in rows.values())


@pytest.mark.parametrize(
    ("percent", "result"),
    [(1.9, PASS), (-1.9, PASS), (2.1, WATCH), (-4.9, WATCH), (5.1, NOT_JUDGED), (-5.1, NOT_JUDGED)],
)
def test_speed(make_conditions: Make, percent: float, result: CriterionResult) -> None:
    now = make_conditions(shaft_frequency_hz=one(16.0 * (1 + percent / 100)))
    row = found(now, make_conditions())["speed"]
    assert row.result is result
    assert f"({percent:+.1f} %)" in row.sentence
    if result is NOT_JUDGED:
        assert row.sentence.endswith("more than 5 % apart")
        assert row.advice.startswith("Run at the reference's speed and record again")


@pytest.mark.parametrize(
    ("warmer_c", "result"),
    [(9.0, PASS), (-9.0, PASS), (11.0, WATCH), (-19.0, WATCH), (-21.0, NOT_JUDGED), (25.0, WATCH)],
)
def test_temperature(make_conditions: Make, warmer_c: float, result: CriterionResult) -> None:
    """Too cold forbids the comparison; too warm is a finding of its own and is said."""
    now = make_conditions(temperature_c=one(48.0 + warmer_c))
    row = found(now, make_conditions())["temperature"]
    assert row.result is result
    assert f"housing at {48 + warmer_c:.0f} °C against 48 °C in the reference" in row.sentence
    if result is NOT_JUDGED:
        assert row.sentence.endswith("cold oil sounds otherwise")
        assert row.advice == "Run warm until the housing levels, then record again."


@pytest.mark.parametrize(("now", "was"), [(None, 48.0), (48.0, None), (None, None)])
def test_a_temperature_stated_in_one_of_them_is_not_compared(
    make_conditions: Make, now: float | None, was: float | None
) -> None:
    given = [
        make_conditions(temperature_c=None if value is None else one(value)) for value in (now, was)
    ]
    row = found(*given)["temperature"]
    assert row.result is PASS
    assert row.sentence == "housing temperature not stated in both, not compared"


@pytest.mark.parametrize(
    ("id_", "other", "advice"),
    [
        ("load", "loaded", "Record in the reference's state, empty or loaded."),
        ("direction", "y", "Check the point, its axis and channel."),
        ("unit", "counts", "Give the calibration of both."),
    ],
)
def test_another_state_is_no_fair_comparison(
    make_conditions: Make, id_: str, other: str, advice: str
) -> None:
    was: Any = getattr(make_conditions(), id_)
    row = found(make_conditions(**{id_: other}), make_conditions())[id_]
    assert row.result is NOT_JUDGED
    assert row.sentence == f"{id_} is {other}, in the reference {was}"
    assert row.advice == advice
    assert not row.is_other_means


def test_a_state_that_one_of_them_leaves_open_is_said(make_conditions: Make) -> None:
    row = found(make_conditions(load=""), make_conditions())["load"]
    assert (row.result, row.sentence) == (PASS, "load stated in one of them only")
    assert "load" not in found(make_conditions(load=""), make_conditions(load=""))


@pytest.mark.parametrize(
    ("change", "id_", "words"),
    [
        ({"sensor": "B2"}, "sensor", "another sensor (B2, in the reference A1 (serial 4711))"),
        ({"mount": "magnet"}, "mount", "another mount (magnet, in the reference stud)"),
        (
            {"sampling_rate_hz": 25600.0},
            "sampling-rate",
            "another sampling rate (25600 Hz, in the reference 8000 Hz)",
        ),
    ],
)
def test_other_means_widen_and_do_not_forbid(
    make_conditions: Make, change: dict[str, Any], id_: str, words: str
) -> None:
    row = found(make_conditions(**change), make_conditions())[id_]
    assert row.result is WATCH
    assert row.is_other_means
    assert row.sentence == f"{words}: limits of levels widened"


@pytest.mark.parametrize("name", ["sensor", "mount"])
def test_means_that_are_not_known_are_not_others(make_conditions: Make, name: str) -> None:
    assert name not in found(make_conditions(**{name: ""}), make_conditions())
    assert name not in found(make_conditions(), make_conditions(**{name: ""}))


def test_a_range_counts_by_its_middle(make_conditions: Make) -> None:
    assert Range(low=15.0, high=18.0).middle == 16.5
    now = make_conditions(shaft_frequency_hz=Range(low=15.0, high=17.0))
    assert found(now, make_conditions())["speed"].result is PASS
