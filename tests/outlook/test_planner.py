"""The planner's question answered, from invented histories."""

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import timedelta
from typing import Any

import pytest

from tests.outlook.planner_cases import (
    CLEAR,
    EARLY,
    PLAN,
    QUIET,
    START,
    STOP,
    TODAY,
    asked,
    rebuild,
)
from vibhealth.model import (
    Damage,
    HistoryVerdict,
    OpenedUnit,
    RebuildReason,
    Sign,
)


def texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from texts(tuple(value.values()))
    elif isinstance(value, tuple | list):
        for one in value:
            yield from texts(one)
    elif is_dataclass(value):
        for place in fields(value):
            yield from texts(getattr(value, place.name))


def test_a_quiet_young_unit_is_left_alone() -> None:
    found = asked(QUIET, windows=PLAN["windows"][:2])
    assert found.sign is Sign.NONE
    assert found.basis.age_h == pytest.approx(120 * 20, rel=0.02)
    assert found.headline.startswith("No sign yet: by age no rebuild is due before about")
    assert not any(w.is_cheapest for w in found.windows)
    assert not found.spare.is_due


def test_a_quiet_old_unit_comes_out_at_the_next_stop() -> None:
    found = asked(QUIET, rebuilds=(rebuild(-600),))
    assert found.sign is Sign.NONE
    (window,) = [w for w in found.windows if w.is_cheapest]
    assert window.at == PLAN["windows"][0]
    assert found.headline == f"No sign yet: by age the window of {window.at:%d %b %Y} costs least"


def test_a_stop_shortly_before_the_best_age_is_as_good_as_it() -> None:
    best = asked(QUIET).basis.optimum_age_h
    assert best is not None
    near = TODAY + timedelta(days=round(best / 20) - 120 - 10)
    assert f"{near:%d %b %Y} costs least" in asked(QUIET, windows=(TODAY, near)).headline


def test_without_ageing_going_early_gains_nothing() -> None:
    found = asked(QUIET, weibull_slope=1.0)
    assert found.headline == "No sign yet: going early gains nothing by itself, keep recording"
    assert not any(w.is_cheapest for w in found.windows)


def test_without_costs_the_gain_is_not_known_rather_than_nothing() -> None:
    found = asked(QUIET, planned_cost=None)
    assert "what going early would gain is not known" in found.headline
    assert (
        "going early gains nothing" in asked(QUIET, planned_cost=None, weibull_slope=0.9).headline
    )


def test_an_early_sign_orders_the_spare_unless_it_is_there() -> None:
    found = asked(EARLY)
    assert found.sign is Sign.EARLY
    assert found.headline.startswith("Early sign: order the spare; plan the rebuild for ")
    assert found.spare.is_due
    there = asked(EARLY, spare_on_shelf=True)
    assert there.headline.startswith("Early sign: the spare is on the shelf; plan the rebuild")


def test_a_clear_sign_uses_the_first_window() -> None:
    found = asked(CLEAR)
    assert found.sign is Sign.CLEAR
    first = PLAN["windows"][0]
    assert found.headline.startswith(f"Clear sign: use the window of {first:%d %b %Y}")
    assert "no window is known" in asked(CLEAR, windows=()).headline


def test_a_reading_far_over_the_action_level_does_not_wait() -> None:
    found = asked(STOP)
    assert found.sign is Sign.STOP
    assert found.headline == "Stop soon: do not wait for the window"
    assert found.next_recording is None


def test_a_verdict_that_says_stop_counts() -> None:
    verdict = HistoryVerdict(
        machine="F3", verdict="HOLD", hold="stop-now", headline="Stop: metallic knocking",
        reasons=(), check="", decided_on=START + timedelta(days=112), job_sha256="",
        recordings=(), named=(), override=None, tool_version="0",
    )  # fmt: skip
    assert asked(QUIET, verdicts=(verdict,)).sign is Sign.STOP
    before = asked(QUIET, verdicts=(verdict,), as_of=TODAY - timedelta(days=10))
    assert before.sign is Sign.NONE


def test_no_history_is_an_answer() -> None:
    found = asked([], rebuilds=(), weibull_slope=None)
    assert found.sign is Sign.NOT_KNOWN
    assert found.headline.startswith("Not known: ")
    assert found.next_recording == TODAY
    assert {w.probability_before for w in found.windows} == {None}
    assert found.spare.order_by is None


def test_nothing_later_than_the_day_counts() -> None:
    day = (START + timedelta(days=95)).date()
    later, never = asked(CLEAR, as_of=day), asked(CLEAR[:10], as_of=day)
    assert later.sign is Sign.NONE
    assert "2 recordings made after this day do not count" in later.evidence
    assert replace(later, evidence=()) == replace(never, evidence=())


def test_a_unit_opened_later_was_not_known_to_be_damaged() -> None:
    unit = OpenedUnit(
        machine="F3", removed_at=START + timedelta(days=-5), bearing="upper", element=None,
        damage=Damage.SUBSURFACE_FATIGUE, by="W", opened_on=TODAY + timedelta(days=9),
    )  # fmt: skip
    ended = replace(rebuild(-5), reason=RebuildReason.UNKNOWN)
    past = (rebuild(-400), ended)
    before = asked(QUIET, rebuilds=past, opened=(unit,))
    after = asked(QUIET, rebuilds=past, opened=(unit,), as_of=TODAY + timedelta(days=9))
    assert (before.basis.n_failed, after.basis.n_failed) == (0, 1)
    assert "never opened" in before.basis.sentence


@pytest.mark.parametrize("hours_per_day", [None, 20.0])
def test_a_counter_noted_before_the_rebuild_is_no_exchanged_counter(
    hours_per_day: float | None,
) -> None:
    found = asked(QUIET, rebuilds=(rebuild(112.0, 2500.0),), running_hours_per_day=hours_per_day)
    assert "exchanged" not in found.basis.sentence
    assert (found.basis.age_h is None) == (hours_per_day is None)


@pytest.mark.parametrize("depths", [[], QUIET, EARLY, CLEAR, STOP])
def test_no_sentence_holds_a_single_remaining_life(depths: list[float]) -> None:
    found = asked(depths)
    said = list(texts(found))
    assert len(said) > 20
    for text in said:
        assert not re.search(r"\d[\d ,.]*\s*(h|hours?|days?|weeks?) (left|remain)", text)
        assert not re.search(r"(remaining|residual) (useful )?life", text, re.IGNORECASE)
        assert not re.search(r"will fail (on|in|at)", text)


@pytest.mark.parametrize(
    ("depths", "plan", "days"),
    [
        (QUIET, {"warning_time_days": 60.0}, 30),
        (QUIET, {"warning_time_days": 60.0, "recording_interval_days": 14.0}, 14),
        (EARLY, {"warning_time_days": 60.0}, 20),
        (EARLY, {"warning_time_days": 60.0, "recording_interval_days": 14.0}, 14),
        (CLEAR, {"warning_time_days": 60.0}, 6),
        (CLEAR, {"warning_time_days": 5.0}, 1),
    ],
)
def test_the_next_recording(depths: list[float], plan: dict[str, Any], days: int) -> None:
    last = (START + timedelta(days=110)).date()
    due = last + timedelta(days=days)
    for as_of in (last, due):
        found = asked(depths, as_of=as_of, **plan)
        assert found.next_recording == due
        assert found.next_recording_sentence.startswith(f"by {due:%d %b %Y}")
    late = asked(depths, as_of=due + timedelta(days=1), **plan)
    assert late.next_recording == due + timedelta(days=1)
    assert late.next_recording_sentence.startswith(f"overdue since {due:%d %b %Y}")


def test_one_loud_reading_is_confirmed_now() -> None:
    found = asked([*QUIET[:11], 0.35])
    assert found.sign is Sign.NONE
    assert "one loud reading to confirm" in found.headline
    assert found.next_recording == TODAY


def test_what_is_missing_would_change_the_answer() -> None:
    nothing: dict[str, Any] = dict.fromkeys(PLAN) | {"windows": ()}
    bare = asked(QUIET, rebuilds=(), **nothing).would_change[-1]
    for name in (
        "maintenance.planned_cost",
        "maintenance.running_hours_per_day",
        "maintenance.windows",
        "the date of the last rebuild",
        "three failed units on record",
    ):
        assert name in bare
    assert not any("better known with" in line for line in asked(QUIET).would_change)


def test_past_stops_are_said() -> None:
    found = asked(QUIET, windows=(TODAY - timedelta(days=1), TODAY + timedelta(days=9)))
    assert found.would_change[-1] == "1 stop on the card already past"
    assert len(found.windows) == 1
