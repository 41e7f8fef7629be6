"""Criteria of starts and stops, on both sides of every limit, and what was not recorded."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.start_stop_criteria import start_stop_criteria
from vibhealth.card import MachineCard
from vibhealth.job import JobRecord
from vibhealth.model import (
    Criterion,
    Hold,
    Moment,
    Recording,
    Stage,
    Transient,
    TransientAnalysis,
    TransientStrike,
)

Cards = Callable[..., MachineCard]

NOTED = {
    "stroke_mm": {"x": 6.0, "y": 6.0},
    "isolator_frequency_hz": 3.0,
    "run_up_s": 4.0,
    "coast_down_s": 10.0,
    "swing_ratio": 4.0,
}


def transient(kind: str = "run-up", strikes: int = 0, **changes: Any) -> Transient:
    facts: dict[str, Any] = {
        "kind": kind,
        "start_s": 2.0,
        "end_s": 6.0,
        "steady_frequency_hz": 16.3,
        "duration_s": 4.0 if kind == "run-up" else 10.0,
        "swing_ratio": 4.0,
        "swing_mm": 12.0,
        "isolator_frequency_hz": 3.0,
        "damping_ratio": 0.05,
        "fit_detail": "",
        "strikes": tuple(
            TransientStrike(time_s=3.0 + n, size=50.0, shaft_frequency_hz=3.0 + n)
            for n in range(strikes)
        ),
        "steady_strikes_per_turn": 0.0,
        "course_time_s": np.zeros(2),
        "course_shaft_frequency_hz": np.zeros(2),
    }
    return Transient(**facts | changes)


def stopping(to_quarter_s: float) -> Transient:
    """A stop whose speed falls in a straight line from 98 % to a quarter, and on to rest."""
    time_s = np.linspace(0.0, 0.98 / 0.73 * to_quarter_s, 200)
    course = 16.3 * (0.98 - 0.73 * time_s / to_quarter_s)
    stop = transient("coast-down", course_time_s=5.0 + time_s, course_shaft_frequency_hz=course)
    assert stop.to_quarter_s == pytest.approx(to_quarter_s, rel=1e-9)
    return stop


def analysed(
    *transients: Transient,
    stage: Stage = Stage.AS_LEFT,
    moment: Moment = Moment.RUN_UP,
    not_judged: str = "",
) -> TransientAnalysis:
    recording = Recording(
        samples=np.zeros(4), sampling_rate_hz=100.0, unit="m/s2", path=f"{stage}/{moment}/1.wav",
        sha256="", point="P1X", direction="x", stage=stage, moment=moment,
    )  # fmt: skip
    return TransientAnalysis(
        recording=recording, segments=(), transients=transients, map=None, not_judged=not_judged
    )


def judged(
    card: MachineCard, *analyses: TransientAnalysis, job: JobRecord | None = None
) -> dict[str, Criterion]:
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=(), pair=(), orbits=(),
        transients=analyses, job=job,
    )  # fmt: skip
    return {item.id: item for item in start_stop_criteria(evidence)}


@pytest.fixture
def noted(make_card: Cards) -> MachineCard:
    return make_card(exciter=NOTED)


@pytest.mark.parametrize(
    ("strikes", "result"), [(0, "pass"), (1, "watch"), (2, "hold"), (9, "hold")]
)
def test_strikes(noted: MachineCard, strikes: int, result: str) -> None:
    found = judged(noted, analysed(transient(strikes=strikes)))["transient-strikes"]
    assert found.result.value == result
    assert found.value == float(strikes)
    if result == "hold":
        assert found.hold is Hold.FIX
        assert found.reason.startswith(
            f"Something strikes {strikes} times during the start at P1X,"
        )


@pytest.mark.parametrize(
    ("per_turn", "result"), [(0.0, "hold"), (0.001, "hold"), (0.05, "pass"), (0.3, "pass")]
)
def test_hits_that_come_as_often_at_speed_are_none_of_the_start(
    noted: MachineCard, per_turn: float, result: str
) -> None:
    """4 s of a start and 3 s after it hold 81 turns' worth of speed; four hits are many, or few."""
    start = transient(strikes=4, steady_strikes_per_turn=per_turn)
    found = judged(noted, analysed(start))["transient-strikes"]
    assert found.result.value == result


@pytest.mark.parametrize(
    ("changes", "id_", "result"),
    [
        ({"swing_ratio": 4.79}, "swing", "pass"),
        ({"swing_ratio": 4.81}, "swing", "watch"),
        ({"swing_ratio": 6.01}, "swing", "hold"),
        ({"duration_s": 4.79}, "run-up-time", "pass"),
        ({"duration_s": 4.81}, "run-up-time", "watch"),
        ({"duration_s": 6.01}, "run-up-time", "hold"),
        ({"isolator_frequency_hz": 3.29}, "isolator-frequency", "pass"),
        ({"isolator_frequency_hz": 2.69}, "isolator-frequency", "watch"),
        ({"isolator_frequency_hz": 3.61}, "isolator-frequency", "hold"),
    ],
)
def test_limits_of_a_start(
    noted: MachineCard, changes: dict[str, Any], id_: str, result: str
) -> None:
    assert judged(noted, analysed(transient(**changes)))[id_].result.value == result


@pytest.mark.parametrize(("seconds", "result"), [(8.01, "pass"), (7.99, "watch"), (6.99, "hold")])
def test_a_stop_must_not_be_short(noted: MachineCard, seconds: float, result: str) -> None:
    stop = analysed(stopping(seconds), moment=Moment.COAST_DOWN)
    found = judged(noted, stop)["coast-down-time"]
    assert found.result.value == result
    if result == "hold":
        assert found.reason.startswith("It stops 30 % faster than before (7.0 s to a quarter")


def test_without_a_note_the_as_found_stop_is_the_reference(make_card: Cards) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}})
    before = analysed(stopping(12.0), stage=Stage.AS_FOUND, moment=Moment.COAST_DOWN)
    now = analysed(stopping(6.0), moment=Moment.COAST_DOWN)
    assert judged(card, before, now)["coast-down-time"].result.value == "hold"
    alone = judged(card, now)["coast-down-time"]
    assert alone.result.value == "watch"
    assert "exciter.coast_down_s" in alone.advice


def test_without_a_note_only_an_absurd_swing_holds(make_card: Cards) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}})
    results = [
        judged(card, analysed(transient(swing_ratio=ratio)))["swing"].result.value
        for ratio in (10.5, 12.1)
    ]
    assert results == ["pass", "hold"]


def test_a_job_needs_its_start_and_stop_recorded(noted: MachineCard) -> None:
    job = JobRecord(schema_version=1)
    found = judged(noted, analysed(transient()), job=job)
    assert found["run-up-recorded"].result.value == "pass"
    assert found["coast-down-recorded"].result.value == "not-judged"
    assert found["coast-down-recorded"].hold is Hold.MEASURE_AGAIN
    empty = analysed(moment=Moment.COAST_DOWN, not_judged="steady all along")
    reason = judged(noted, empty, job=job)["coast-down-recorded"].reason
    assert reason == (
        "as-left/coast-down/1.wav shows no stop (steady all along): what strikes or swings only "
        "there is not known."
    )


def test_without_a_job_nothing_more_is_asked_for(noted: MachineCard) -> None:
    assert judged(noted) == {}


def test_points_beside_the_body_do_not_count(make_card: Cards) -> None:
    card = make_card(
        exciter=NOTED,
        sensor=[{"name": "A1", "unit": "g"}],
        point=[{"name": "P1X", "direction": "x", "sensor": "A1", "mounted_on": "base"}],
    )
    assert judged(card, analysed(transient(strikes=5))) == {}


def test_a_point_along_the_shaft_does_not_set_the_time(noted: MachineCard) -> None:
    """It hardly moves, so noise can pass for its first motion."""
    across = analysed(transient())
    along = analysed(transient(start_s=0.5, duration_s=7.0))
    recording = replace(along.recording, point="P1Z", direction="z", channel=3)
    together = judged(noted, across, replace(along, recording=recording))
    assert together["run-up-time"].value == 4.0
    assert judged(noted, replace(along, recording=recording))["run-up-time"].value == 7.0


def test_two_starts_in_one_recording_are_two(noted: MachineCard) -> None:
    both = analysed(transient(), transient(start_s=40.0, duration_s=6.5))
    assert judged(noted, both)["run-up-time"].value == 6.5


def test_what_could_not_be_read_gives_no_line(noted: MachineCard) -> None:
    unread = replace(
        transient(), swing_ratio=None, swing_mm=None, duration_s=None, isolator_frequency_hz=None
    )
    assert set(judged(noted, analysed(unread))) == {"transient-strikes"}
    assert transient("coast-down").to_quarter_s is None
    assert transient("run-up").to_quarter_s is None
