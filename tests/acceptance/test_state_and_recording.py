"""Criteria of the recordings and of the state they were made in, on both sides of every limit."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from vibhealth.acceptance import judge
from vibhealth.card import MachineCard
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Group,
    Hold,
    RecordingAnalysis,
    Stage,
    Verdict,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Cards = Callable[..., MachineCard]

NOMINAL_RPM = 978.0
MEASURE_AGAIN = {"hold": Hold.MEASURE_AGAIN, "not-judged": Hold.MEASURE_AGAIN}


def check(assessment: Assessment, found: Criterion, result: str) -> None:
    """Result, kind of hold and verdict belong together: only these recordings are spoiled."""
    assert found.result.value == result
    assert found.hold is MEASURE_AGAIN.get(result)
    assert assessment.hold is MEASURE_AGAIN.get(result)
    assert (assessment.verdict is Verdict.PASS) == (result in {"pass", "watch"})
    assert bool(found.reason) == (assessment.verdict is Verdict.HOLD)
    assert (found.reason in assessment.reasons) == bool(found.reason)
    assert bool(found.advice) == (result != "pass")


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(
    ("percent", "result"),
    [(0.0, "pass"), (1.99, "pass"), (2.01, "watch"), (2.99, "watch"), (3.01, "hold")],
)
def test_speed(judged: Judged, criterion: Pick, percent: float, result: str, sign: int) -> None:
    assessment = judged({"rpm": NOMINAL_RPM * (1 + sign * percent / 100)})
    found = criterion(assessment, "speed")
    check(assessment, found, result)
    assert found.value == pytest.approx(percent, abs=1e-9)
    assert found.limit == 3.0


def test_a_wider_tolerance_of_the_machine_moves_the_limit(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    wide = make_card(
        machine={"id": "F3", "nominal_speed_rpm": NOMINAL_RPM, "speed_tolerance_percent": 8.0}
    )
    found = criterion(judged({"rpm": NOMINAL_RPM * 1.07}, card=wide), "speed")
    assert found.result is CriterionResult.WATCH
    assert found.limit == 8.0
    assert found.limit_source == "card, machine.speed_tolerance_percent"
    assert criterion(judged({"rpm": NOMINAL_RPM * 1.09}, card=wide), "speed").hold is not None


@pytest.mark.parametrize("facts", [{"source": "card"}, {"source": "none"}, {"rpm": None}])
def test_a_speed_that_was_not_found_is_not_judged(
    judged: Judged, criterion: Pick, facts: dict[str, Any]
) -> None:
    assessment = judged({}, facts)
    check(assessment, criterion(assessment, "speed"), "not-judged")
    assert "2.wav (P1X)" in criterion(assessment, "speed").reason


@pytest.mark.parametrize("source", ["tachometer", "recording", "given"])
def test_a_speed_that_was_found_is(judged: Judged, criterion: Pick, source: str) -> None:
    assert criterion(judged(source=source), "speed").result is CriterionResult.PASS


@pytest.mark.parametrize(
    ("percent", "result"), [(0.99, "pass"), (1.01, "watch"), (4.99, "watch"), (5.01, "hold")]
)
def test_variation(judged: Judged, criterion: Pick, percent: float, result: str) -> None:
    assessment = judged({}, {"variation": percent})
    check(assessment, criterion(assessment, "speed-variation"), result)


def test_unknown_variation_counts_on_an_exciter_only(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    for facts in ([{}, {"variation": None}], [{"variation": None}] * 3):
        assessment = judged(*facts)
        check(assessment, criterion(assessment, "speed-variation"), "not-judged")
    unsteady = judged({"variation": None}, {"variation": 6.0})
    check(unsteady, criterion(unsteady, "speed-variation"), "hold")
    ordinary = criterion(judged(variation=None, card=make_card(exciter=None)), "speed-variation")
    assert ordinary.result is CriterionResult.PASS
    assert ordinary.limit_source


@pytest.mark.parametrize(("degrees", "stop"), [(81.9, False), (82.0, False), (82.1, True)])
def test_temperature_stops_now(judged: Judged, criterion: Pick, degrees: float, stop: bool) -> None:
    """82 degC: US Army TM 5-3895-374-24-2, p. 3-1287 (180 degF)."""
    assessment = judged({"temperature_c": 50.0}, {"temperature_c": degrees})
    found = criterion(assessment, "temperature")
    assert found.value == degrees
    assert (found.hold is Hold.STOP_NOW) == stop
    assert (assessment.hold is Hold.STOP_NOW) == stop
    assert (assessment.verdict is Verdict.HOLD) == stop
    assert assessment.next_step.action.startswith("Press stop, lock out.") == stop
    assert "TM 5-3895" in found.limit_source


def test_the_machines_own_temperature_limit_counts(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    cool = make_card(
        machine={"id": "F3", "nominal_speed_rpm": NOMINAL_RPM, "temperature_limit_c": 70.0}
    )
    assert criterion(judged(temperature_c=71.0, card=cool), "temperature").hold is Hold.STOP_NOW
    assert criterion(judged(temperature_c=69.0, card=cool), "temperature").hold is None


def test_load_and_temperature_are_judged_where_they_are_stated(
    judged: Judged, criterion: Pick
) -> None:
    ids = {item.id for item in judged().criteria}
    assert not ids & {"temperature", "load"}
    loaded = judged({"remarks": (("load", "empty"),)}, {"remarks": (("load", "loaded"),)})
    check(loaded, criterion(loaded, "load"), "hold")
    assert "2.wav" in criterion(loaded, "load").reason
    empty = judged({"remarks": (("load", "empty"),)})
    check(empty, criterion(empty, "load"), "pass")


@pytest.mark.parametrize("check_id", ["length", "calibration", "clipping", "speed-found"])
@pytest.mark.parametrize("result", ["watch", "not-judged", "hold"])
def test_a_check_of_one_recording_is_the_criterion_of_all(
    judged: Judged, criterion: Pick, check_id: str, result: str
) -> None:
    assessment = judged({}, {"quality": {check_id: CriterionResult(result)}})
    found = criterion(assessment, f"recording-{check_id}")
    assert found.result.value == result
    assert found.group is Group.RECORDING
    assert found.hold is MEASURE_AGAIN.get(result)
    assert assessment.hold is MEASURE_AGAIN.get(result)
    assert found.value == f"{check_id} {result}"
    assert ("2.wav (P1X)" in found.reason) == (assessment.verdict is Verdict.HOLD)


def test_the_worst_recording_counts_and_a_fault_is_worse_than_no_answer(
    judged: Judged, criterion: Pick
) -> None:
    unknown, bad = (
        {"quality": {"length": CriterionResult(result)}} for result in ("not-judged", "hold")
    )
    for facts in ([unknown, bad], [bad, unknown]):
        found = criterion(judged(*facts), "recording-length")
        assert (found.result.value, found.value) == ("hold", "length hold")


@pytest.mark.parametrize(
    "check_id", ["sensor-range", "sensor-overload", "dropped-samples", "mains", "settling"]
)
def test_a_check_that_does_not_apply_costs_nothing_and_hides_nothing(
    judged: Judged, criterion: Pick, check_id: str
) -> None:
    def facts(result: str) -> dict[str, Any]:
        return {"quality": {check_id: CriterionResult(result)}}

    assert judged(**facts("not-judged")).verdict is Verdict.PASS
    watched = judged(facts("not-judged"), facts("watch"))
    found = criterion(watched, f"recording-{check_id}")
    assert (found.result.value, found.value) == ("watch", f"{check_id} watch")
    held = judged(facts("not-judged"), facts("hold"))
    assert criterion(held, f"recording-{check_id}").result is CriterionResult.HOLD
    assert held.verdict is Verdict.HOLD


def test_the_length_has_its_limit(judged: Judged, criterion: Pick) -> None:
    found = criterion(judged(), "recording-length")
    assert found.limit == 400.0
    clipping = criterion(judged(), "recording-clipping")
    assert (clipping.limit, clipping.unit) == (5.0, "samples")
    assert clipping.limit_source == "starting value, common practice, no source"
    assert criterion(judged(), "recording-calibration").limit is None


@pytest.mark.parametrize(
    ("minimum", "recommended", "result", "limit"),
    [(1, 3, "pass", 3), (2, 4, "watch", 4), (3, 5, "watch", 5), (4, 5, "hold", 4)],
)
def test_count(
    judged: Judged,
    criterion: Pick,
    *,
    make_card: Cards,
    minimum: int,
    recommended: int,
    result: str,
    limit: int,
) -> None:
    limits = {"minimum_recordings": minimum, "recommended_recordings": recommended}
    assessment = judged(card=make_card(limits=limits))
    found = criterion(assessment, "recording-count")
    check(assessment, found, result)
    assert (found.value, found.limit) == (3.0, limit)


def test_the_point_with_fewest_recordings_counts(judged: Judged, criterion: Pick) -> None:
    found = criterion(judged({"point": "P1Y", "direction": "y"}), "recording-count")
    assert (found.value, found.result) == (1.0, CriterionResult.WATCH)


def test_points_that_were_not_recorded(judged: Judged, criterion: Pick, make_card: Cards) -> None:
    assert "points-recorded" not in {item.id for item in judged().criteria}
    sensor = {"name": "A1", "sensitivity_mv_per_g": 10.0, "full_scale_v": 5.0}
    points = [
        {"name": name, "direction": name[-1].lower(), "sensor": "A1"} for name in ("P1X", "P2Y")
    ]
    both = make_card(sensor=[sensor], point=points)
    missing = criterion(judged(card=both), "points-recorded")
    assert missing.result is CriterionResult.WATCH
    assert missing.value == "not recorded: P2Y"
    assert "P2Y" in missing.advice
    whole = judged({"point": "P2Y", "direction": "y"}, card=both)
    assert criterion(whole, "points-recorded").result is CriterionResult.PASS


@pytest.mark.parametrize(("level", "result"), [(1.49, "pass"), (1.51, "hold"), (0.66, "hold")])
def test_recordings_of_a_point_agree(
    judged: Judged, criterion: Pick, level: float, result: str
) -> None:
    assessment = judged({"level": level})
    found = criterion(assessment, "agreement")
    check(assessment, found, result)
    assert found.group is Group.STABILITY
    assert found.value == pytest.approx(max(level, 1 / level))


def test_points_need_not_agree_with_each_other(judged: Judged, criterion: Pick) -> None:
    facts = {"point": "P1Y", "direction": "y", "level": 9.0}
    assert criterion(judged({}, {}, facts), "agreement").result is CriterionResult.PASS


def test_the_point_that_agrees_least_counts(
    make_analysis: Callable[..., RecordingAnalysis], make_card: Cards, criterion: Pick
) -> None:
    levels = [("A", 1.0), ("A", 1.1), ("B", 1.0), ("B", 1.6), ("C", 1.0), ("C", 1.0)]
    after = [
        make_analysis(number, point=point, level=level)
        for number, (point, level) in enumerate(levels)
    ]
    found = criterion(judge([], after, card=make_card()), "agreement")
    assert found.value == pytest.approx(1.6)
    assert "at B differs" in found.reason


def test_one_recording_cannot_repeat(judged: Judged, criterion: Pick) -> None:
    points = ({"point": "A"}, {"point": "B"}, {"point": "C"})
    found = criterion(judged(*points), "agreement")
    assert found.result is CriterionResult.WATCH
    assert found.value == "one recording of each point"
    unknown = criterion(judged(level=None), "agreement")
    assert unknown.result is CriterionResult.WATCH
    assert unknown.value == "level not known in all of them"


@pytest.mark.parametrize(("hour", "result"), [(9, "pass"), (7, "hold")])
def test_before_must_be_recorded_before_after(
    judged: Judged,
    criterion: Pick,
    make_analysis: Callable[..., RecordingAnalysis],
    *,
    hour: int,
    result: str,
) -> None:
    def at(hours: int) -> dict[str, Any]:
        return {"start_time": datetime(2031, 3, 5, hours, tzinfo=UTC)}

    before = make_analysis(9, stage=Stage.AS_FOUND, **at(8))
    assessment = judged(before=[before], **at(hour))
    check(assessment, criterion(assessment, "pair-start-times"), result)


def test_the_same_samples_twice_are_one_recording(judged: Judged, criterion: Pick) -> None:
    assessment = judged({"number": 3})
    found = criterion(assessment, "pair-duplicates")
    assert found.hold is Hold.MEASURE_AGAIN
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert criterion(judged(), "pair-duplicates").result is CriterionResult.PASS
    # No recording has a clock, and there is none of before: nothing to put in order.
    assert criterion(judged(), "pair-start-times").result is CriterionResult.PASS
