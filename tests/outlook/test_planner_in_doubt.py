"""The planner's question where signs are old, data bad, spares late, verdicts newer."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from tests.benchmark.degradation import CARD
from tests.outlook.planner_cases import (
    CLEAR,
    EARLY,
    PLAN,
    QUIET,
    START,
    TODAY,
    asked,
    asked_with,
    readings,
    rebuild,
    unusable_from,
)
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import (
    HistoryRecording,
    HistoryVerdict,
    Sign,
)
from vibhealth.outlook.planner import Past, machine_outlook


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


def others(depths: Sequence[float], first: int, **changes: Any) -> tuple[HistoryRecording, ...]:
    """Readings of which those from the n-th on are changed."""
    return tuple(replace(r, **changes) if n >= first else r for n, r in enumerate(readings(depths)))


@pytest.mark.parametrize(
    "changes",
    [{"load": "loaded"}, {"unusable_because": "not usable"}, {"masked": "strikes at random"}],
)
def test_many_visits_of_another_kind_do_not_hide_a_sign(changes: dict[str, Any]) -> None:
    """Two loud visits that can be used, then seven quiet ones that cannot."""
    depths = [*QUIET[:3], 0.35, 0.36, *[0.04] * 7]
    found = asked_with(others(depths, 5, **changes))
    assert found.sign is Sign.CLEAR


def test_where_the_bearings_were_masked_nothing_is_known_of_them() -> None:
    found = asked_with(others(QUIET, 0, masked="strikes at random"))
    assert found.sign is Sign.NOT_KNOWN
    assert "no recording in which the bearings could be heard" in found.headline
    loud = asked_with(others([*QUIET[:10], 0.35, 0.36], 10, masked="strikes at random"))
    assert loud.sign is Sign.NOT_KNOWN
    assert "masked" in loud.reasons[0]


def test_one_quiet_reading_takes_no_clear_sign_back_two_do() -> None:
    once = asked([*QUIET[:9], 0.35, 0.36, 0.04])
    assert once.sign is Sign.CLEAR
    assert "have a second look before the unit is opened" in once.reasons[0]
    assert asked([*QUIET[:8], 0.35, 0.36, 0.04, 0.04]).sign is Sign.NONE
    assert asked([*QUIET[:9], 1.5, 1.5, 0.04]).sign is Sign.CLEAR  # no longer "do not wait"
    assert asked([*QUIET[:9], 0.2, 0.21, 0.04]).sign is Sign.NONE  # an early one does go


@pytest.mark.parametrize("hold", ["measure-again", "fix", None])
def test_only_a_verdict_that_judged_takes_stop_back(hold: str | None) -> None:
    stop = HistoryVerdict(
        machine="F3", verdict="HOLD", hold="stop-now", headline="HOLD - STOP NOW. Knocking",
        reasons=(), check="", decided_on=START + timedelta(days=111), job_sha256="",
        recordings=(), named=(), override=None, tool_version="0",
    )  # fmt: skip
    later = replace(
        stop, hold=hold, verdict="HOLD" if hold else "PASS", headline="later",
        decided_on=START + timedelta(days=113),
    )  # fmt: skip
    found = asked(QUIET, verdicts=(stop, later))
    assert (found.sign is Sign.STOP) == (hold == "measure-again")
    undated = replace(stop, decided_on=None)
    assert asked(QUIET, verdicts=(undated,), rebuilds=()).sign is Sign.STOP
    assert asked(QUIET, verdicts=(undated,)).sign is Sign.NONE  # before or after the rebuild?


def test_one_loud_reading_that_grew_old_is_not_forgotten() -> None:
    depths = [*QUIET[:11], 0.9]
    late = asked(depths, as_of=TODAY + timedelta(days=60))
    assert late.sign is Sign.NOT_KNOWN
    assert "the last reading alone is at the action level" in late.reasons[0]
    assert {w.probability_before for w in late.windows} == {None}


def test_a_loud_reading_to_confirm_is_no_silence_in_favour() -> None:
    """With a card that trusts its recordings: the quiet one lowers the risk, the loud one not."""
    plan: dict[str, Any] = {"detection_share": 0.9, "warning_time_days": 60.0}
    rebuilds = (rebuild(-500),)
    quiet = asked(QUIET, rebuilds=rebuilds, **plan).windows[0].probability_before
    loud = asked([*QUIET[:11], 0.9], rebuilds=rebuilds, **plan).windows[0].probability_before
    assert quiet is not None
    assert loud is not None
    assert loud > 3 * quiet


def test_a_loud_recording_that_stands_in_no_trend_is_told() -> None:
    stray = replace(readings([0.9])[0], recorded_at=None, sha256="e" * 64, path="found.wav")
    elsewhere = replace(
        stray, recorded_at=START + timedelta(days=100), point="P9", path="elsewhere.wav"
    )
    for recording, words in ((stray, "without a date"), (elsewhere, "not on the card")):
        found = asked_with((*readings(QUIET), recording))
        assert "one loud reading to confirm" in found.headline
        (reason,) = found.reasons
        assert recording.path in reason
        assert words in reason
        assert found.next_recording == TODAY
    before = replace(elsewhere, recorded_at=START - timedelta(days=30))
    assert asked_with((*readings(QUIET), before)).reasons == ()


def test_a_later_date_of_another_trend_does_not_lower_the_risk_of_a_sign() -> None:
    """The family stands at its early level without a range; the level has one, far ahead."""
    recordings = readings([*QUIET[:10], 0.2, 0.21])
    growing = tuple(
        replace(r, descriptors=tuple(replace(d, value=1.02**n) for d in r.descriptors))
        for n, r in enumerate(recordings)
    )
    alone, beside = asked_with(recordings), asked_with(growing)
    assert alone.sign is beside.sign is Sign.EARLY
    for one, other in zip(alone.windows, beside.windows, strict=True):
        assert one.probability_before is not None
        assert other.probability_before is not None
        assert other.probability_before >= one.probability_before - 1e-9


def test_of_a_unit_of_which_nothing_was_heard_no_stop_costs_least() -> None:
    found = asked([], rebuilds=(rebuild(114),))
    assert found.sign is Sign.NOT_KNOWN
    assert not any(w.is_cheapest for w in found.windows)
    assert found.chosen_window is None


def test_the_spare_is_ordered_for_the_rebuild_that_is_planned() -> None:
    found = asked(QUIET, rebuilds=(rebuild(-450),), windows=(TODAY + timedelta(days=120),),
                  risk_limit=0.99)  # fmt: skip
    assert found.sign is Sign.NONE
    assert found.chosen_window == TODAY + timedelta(days=120)
    assert found.spare.order_by == TODAY + timedelta(days=80)
    assert "the rebuild is planned for" in found.spare.sentence


def test_hot_and_loud_is_no_other_state() -> None:
    recordings = tuple(replace(r, temperature_c=46.0) for r in readings(QUIET))
    hot = tuple(
        replace(
            r, temperature_c=70.0, descriptors=tuple(replace(d, value=10.0) for d in r.descriptors)
        )
        if n >= 10 else r
        for n, r in enumerate(recordings)
    )  # fmt: skip
    found = asked_with(hot)
    assert found.sign is Sign.NOT_KNOWN
    assert "24 °C warmer than the others" in found.reasons[0]
    loaded = tuple(replace(r, load="loaded") if n >= 10 else r for n, r in enumerate(hot))
    assert asked_with(loaded).sign is Sign.NONE  # material is loud by itself


def test_one_recording_without_calibration_does_not_throw_out_the_others() -> None:
    recordings = readings(CLEAR)
    last = replace(
        recordings[-1], unit="", recorded_at=START + timedelta(days=113), sha256="d" * 64
    )
    assert asked_with((*recordings, last)).sign is Sign.CLEAR


def test_nobody_waits_for_a_window_at_a_sign_to_stop() -> None:
    found = asked([*QUIET[:10], 1.5, 1.5])
    assert found.sign is Sign.STOP
    assert found.chosen_window is None
    assert not any(w.is_cheapest for w in found.windows)


def test_a_clear_sign_takes_the_first_window_even_if_waiting_costs_no_more() -> None:
    found = asked(CLEAR, planned_cost=10_000.0, unplanned_cost=10_000.0)
    assert found.chosen_window == found.windows[0].at


def test_recordings_are_never_further_apart_than_the_warning_time() -> None:
    found = asked(QUIET, recording_interval_days=180.0, warning_time_days=30.0)
    assert found.next_recording == (START + timedelta(days=140)).date()


def test_a_life_without_a_slope_is_said_not_to_count() -> None:
    found = asked(QUIET, weibull_slope=None)
    assert (
        "maintenance.characteristic_life_h on the card needs weibull_slope" in found.basis.sentence
    )


def test_a_point_that_fell_silent_beside_another_is_told() -> None:
    card = CARD.model_copy(
        update={
            "points": (CARD.points[0], CARD.points[0].model_copy(update={"name": "P2X"})),
            "maintenance": Maintenance(**PLAN),
        }
    )
    second = tuple(
        replace(r, point="P2X", sha256=f"{n + 900:064x}") for n, r in enumerate(readings(QUIET))
    )
    past = Past(recordings=(*readings(QUIET)[:3], *second), rebuilds=(rebuild(-5),))
    found = machine_outlook(card, past, as_of=TODAY)
    assert found.sign is Sign.NONE
    day = f"{START + timedelta(days=20):%d %b %Y}"
    assert found.reasons == (f"point P1X was last heard on {day}: record it as well",)


def test_a_counter_that_fell_since_the_rebuild_is_not_the_age() -> None:
    hours = [100.0, 300.0, 20.0, 220.0]
    recordings = tuple(
        replace(r, running_hours_h=h)
        for r, h in zip(readings(QUIET[:4]), hours, strict=True)
    )  # fmt: skip
    card = CARD.model_copy(update={"maintenance": Maintenance(**PLAN)})
    past = Past(recordings=recordings, rebuilds=(rebuild(-5, 0.0),))
    found = machine_outlook(card, past, as_of=TODAY)
    assert found.basis.age_h == pytest.approx(20 * 120, rel=0.02)


def test_one_empty_recording_does_not_throw_out_the_loaded_ones() -> None:
    loaded = tuple(replace(r, load="loaded") for r in readings(CLEAR))
    odd = replace(loaded[4], load="empty", sha256="c" * 64, recorded_at=START + timedelta(days=43))
    assert asked_with((*loaded, odd)).sign is Sign.CLEAR


def test_a_loud_level_is_a_sign_also_where_the_bearings_are_masked() -> None:
    masked = others(QUIET, 0, masked="strikes at random")
    levels = [*[1.0] * 9, 8.0, 8.5, 9.0]
    loud = tuple(
        replace(r, descriptors=tuple(replace(d, value=value) for d in r.descriptors))
        for r, value in zip(masked, levels, strict=True)
    )
    assert asked_with(loud).sign is Sign.STOP
