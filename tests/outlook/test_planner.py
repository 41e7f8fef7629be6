"""The planner's question answered, from invented histories."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from typing import Any

import pytest

from tests.benchmark.degradation import CARD, START, recording_at
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import (
    Damage,
    HistoryRecording,
    HistoryVerdict,
    OpenedUnit,
    Outlook,
    Rebuild,
    RebuildReason,
    Sign,
)
from vibhealth.outlook.planner import Past, machine_outlook

TODAY = (START + timedelta(days=115)).date()
PLAN: dict[str, Any] = {
    "running_hours_per_day": 20.0,
    "planned_cost": 10_000.0,
    "unplanned_cost": 60_000.0,
    "weibull_slope": 2.5,
    "characteristic_life_h": 12_000.0,
    "spare_lead_time_days": 40.0,
    "windows": tuple(TODAY + timedelta(days=k) for k in (15, 60, 150)),
}
QUIET = [0.04] * 12


def readings(depths: Sequence[float], every: float = 10.0) -> tuple[HistoryRecording, ...]:
    return tuple(
        recording_at(every * n, depth, is_level=False, number=n) for n, depth in enumerate(depths)
    )


def rebuild(day: float, counter: float | None = None) -> Rebuild:
    return Rebuild(
        machine="F3", at=START + timedelta(days=day), reason=RebuildReason.FAILED, by="T",
        running_hours_h=counter,
    )  # fmt: skip


def asked(
    depths: Sequence[float],
    *,
    as_of: date = TODAY,
    rebuilds: tuple[Rebuild, ...] = (rebuild(-5),),
    verdicts: tuple[HistoryVerdict, ...] = (),
    opened: tuple[OpenedUnit, ...] = (),
    **plan: Any,
) -> Outlook:
    facts = {key: value for key, value in (PLAN | plan).items() if value is not None}
    card = CARD.model_copy(update={"maintenance": Maintenance(**facts)})
    past = Past(recordings=readings(depths), rebuilds=rebuilds, verdicts=verdicts, opened=opened)
    return machine_outlook(card, past, as_of=as_of)


EARLY = [*QUIET[:10], 0.2, 0.21]
CLEAR = [*QUIET[:10], 0.35, 0.36]
STOP = [*QUIET[:10], 1.5, 1.5]


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


@pytest.mark.parametrize("depths", [EARLY, CLEAR])
def test_an_old_sign_stays_and_its_age_is_said(depths: list[float]) -> None:
    fresh = asked(depths)
    late = asked(depths, as_of=TODAY + timedelta(days=60), windows=(TODAY + timedelta(days=75),))
    assert late.sign is fresh.sign
    assert late.headline.endswith("; last heard 66 days ago, record now")
    assert any("it may be worse by now" in reason for reason in late.reasons)
    assert "last heard" not in fresh.headline
    assert not any("worse by now" in reason for reason in fresh.reasons)
    (window,) = late.windows
    assert window.probability_before is not None
    assert window.probability_before > 0.8


def test_headline_and_spare_do_not_contradict_each_other() -> None:
    for depths in (EARLY, CLEAR):
        found = asked(depths, risk_limit=0.9, windows=())
        assert found.spare.is_due
        assert found.spare.sentence.startswith("order now: there is a")


def test_a_slope_on_the_card_beside_own_records_is_said_not_to_count() -> None:
    past = tuple(rebuild(-5 - 300 * k - 20 * k * k) for k in range(5))
    found = asked(QUIET, rebuilds=past, characteristic_life_h=None)
    assert found.basis.source == "plant records"
    assert "maintenance.weibull_slope on the card is not used" in found.basis.sentence
    assert "is not used" not in asked(QUIET).basis.sentence


def test_what_the_risk_is_of_depends_on_the_sign() -> None:
    assert "fails or reaches its action level before" in asked(EARLY).windows[0].sentence
    assert asked(CLEAR).windows[-1].sentence.endswith("that it fails before")


def test_a_window_before_the_spare_can_be_there_says_so() -> None:
    """Delivery takes 40 days: the stop in 15 days has none, those in 60 and 150 days have."""
    found = asked(CLEAR, spare_on_shelf=False)
    assert [w.spare_is_there for w in found.windows] == [False, True, True]
    assert found.windows[0].sentence.endswith("; no spare by then")
    arrival = TODAY + timedelta(days=40)
    assert f"no spare by then, ordered now it comes about {arrival:%d %b %Y}" in found.headline
    assert found.chosen_window == found.windows[0].at
    there = asked(CLEAR, spare_on_shelf=True)
    assert [w.spare_is_there for w in there.windows] == [True, True, True]
    assert "no spare" not in there.headline
    unknown = asked(CLEAR, spare_lead_time_days=None)
    assert [w.spare_is_there for w in unknown.windows] == [None, None, None]
    assert "no spare" not in unknown.headline


def test_hours_are_said_with_two_digits() -> None:
    assert (
        "63 % failed by about 12,000 h"
        in asked(QUIET, characteristic_life_h=12_345.0).basis.sentence
    )


def test_why_nothing_can_be_used_since_the_rebuild_is_said() -> None:
    found = asked(QUIET, rebuilds=(rebuild(109.5),))
    assert found.sign is Sign.NOT_KNOWN
    day = f"{START + timedelta(days=110):%d %b %Y}"
    (reason,) = found.reasons
    assert reason.startswith("no usable recording since the last rebuild (that of ")
    assert f"{day} is left out: within" in reason
    assert "still settling" in reason


def test_the_last_verdict_is_evidence() -> None:
    verdict = HistoryVerdict(
        machine="F3", verdict="PASS", hold=None, headline="PASS. No fault found",
        reasons=(), check="24h", decided_on=START + timedelta(days=100), job_sha256="",
        recordings=(), named=(), override=None, tool_version="0",
    )  # fmt: skip
    older = replace(verdict, headline="HOLD. Older", decided_on=START + timedelta(days=20))
    found = asked(QUIET, verdicts=(verdict, older))
    day = f"{START + timedelta(days=100):%d %b %Y}"
    assert f"last verdict of {day}, check 24h: PASS. No fault found" in found.evidence
    assert not any("Older" in line for line in found.evidence)


def unusable_from(depths: Sequence[float], first: int) -> tuple[HistoryRecording, ...]:
    return tuple(
        replace(r, unusable_because="not usable: only 302 turns in 10.1 s") if n >= first else r
        for n, r in enumerate(readings(depths))
    )


def asked_with(recordings: tuple[HistoryRecording, ...], **plan: Any) -> Outlook:
    facts = {key: value for key, value in (PLAN | plan).items() if value is not None}
    card = CARD.model_copy(update={"maintenance": Maintenance(**facts)})
    past = Past(recordings=recordings, rebuilds=(rebuild(-5),))
    return machine_outlook(card, past, as_of=TODAY)


def test_a_loud_family_in_recordings_that_cannot_be_used_is_never_quiet() -> None:
    """Nothing usable, or two such visits after the last usable one: not known, and no risk said."""
    for first in (0, 10):
        found = asked_with(unusable_from(CLEAR, first))
        assert found.sign is Sign.NOT_KNOWN
        assert "in a recording that was left out (not usable: only 302 turns" in found.reasons[0]
        assert "record again now" in found.headline
        assert {w.probability_before for w in found.windows} == {None}
        assert found.next_recording == TODAY


def test_one_loud_recording_that_cannot_be_used_asks_to_be_confirmed() -> None:
    found = asked_with(unusable_from([*QUIET[:11], 0.35], 11))
    assert found.sign is Sign.NONE
    assert "one loud reading to confirm" in found.headline
    assert "left out" in found.reasons[0]


def test_a_quiet_recording_that_cannot_be_used_changes_nothing() -> None:
    found = asked_with(unusable_from(QUIET, 11))
    assert found.sign is Sign.NONE
    assert found.reasons == ()


def test_a_loud_one_before_the_last_usable_one_is_past() -> None:
    recordings = list(unusable_from([*QUIET[:9], 0.4, 0.4, 0.04], 9))
    recordings[-1] = replace(recordings[-1], unusable_because="")
    assert asked_with(tuple(recordings)).sign is Sign.NONE


def test_a_sign_is_not_taken_back_by_what_cannot_be_used() -> None:
    found = asked_with(unusable_from([*QUIET[:8], 0.2, 0.21, 0.4, 0.4], 10))
    assert found.sign is Sign.EARLY
    assert any("left out" in reason for reason in found.reasons)


@pytest.mark.parametrize("depths", [[], QUIET[:10], [*QUIET[:8], 0.2, 0.21]])
def test_a_verdict_that_named_a_bearing_is_a_clear_sign_until_something_newer(
    depths: list[float],
) -> None:
    verdict = HistoryVerdict(
        machine="F3", verdict="HOLD", hold="fix", headline="Ticking of the outer ring",
        reasons=(), check="1h", decided_on=START + timedelta(days=95), job_sha256="",
        recordings=(), named=(("upper", "outer-ring"),), override=None, tool_version="0",
    )  # fmt: skip
    day = (START + timedelta(days=96)).date()
    found = asked(depths, verdicts=(verdict,), as_of=day)
    assert found.sign is Sign.CLEAR
    assert "is HOLD - FIX: Ticking of the outer ring" in found.reasons[0]
    without = replace(verdict, named=())  # a torque, a guard: no matter of the bearing's condition
    assert asked(depths, verdicts=(without,), as_of=day).sign is not Sign.CLEAR
    newer = asked([*QUIET[:10], 0.04, 0.04], verdicts=(verdict,))
    assert newer.sign is Sign.NONE


def test_without_costs_a_clear_sign_takes_the_first_window_an_early_one_the_last_in_time() -> None:
    """An early one that grows to a dated range: the last stop before that range begins."""
    growing = [0.04 * 1.2 ** max(k - 3, 0) for k in range(12)]  # 0.17 at the end
    stops = tuple(TODAY + timedelta(days=k) for k in (5, 12, 200))
    early = asked(growing, planned_cost=None, windows=stops)
    assert early.sign is Sign.EARLY
    (rising,) = [t for t in early.trends if t.crossing.earliest is not None]
    assert rising.crossing.earliest is not None
    in_time = [stop for stop in stops if stop <= rising.crossing.earliest]
    assert early.chosen_window == (in_time or list(stops))[-1 if in_time else 0]
    clear = asked([*growing[:10], 0.33, 0.36], planned_cost=None, windows=stops)
    assert clear.sign is Sign.CLEAR
    assert clear.chosen_window == stops[0]
