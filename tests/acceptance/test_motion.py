"""Criteria of the working motion on both sides of every limit, and what a wrong unit looks like."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

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
from vibhealth.units import (
    STANDARD_GRAVITY_M_S2,
    peak_to_peak_mm_from_peak_m_s2,
    throw_factor,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Cards = Callable[..., MachineCard]

STROKE_MM, SHAFT_HZ = 6.0, 16.3


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(
    ("percent", "result"), [(9.9, "pass"), (10.1, "watch"), (14.9, "watch"), (15.1, "hold")]
)
def test_stroke(judged: Judged, criterion: Pick, percent: float, result: str, sign: int) -> None:
    stroke = STROKE_MM * (1 + sign * percent / 100)
    assessment = judged(stroke=stroke)
    found = criterion(assessment, "stroke-P1X")
    assert found.result.value == result
    assert found.value == pytest.approx(stroke)
    assert found.limit == "6 mm ± 15 %"
    assert found.hold is (Hold.FIX if result == "hold" else None)
    assert assessment.hold is found.hold
    assert ("shipping brace" in found.advice) == (sign < 0 and result != "pass")
    assert ("isolators" in found.advice) == (sign > 0 and result != "pass")
    assert (found.reason in assessment.reasons) == (result == "hold")


def test_the_cards_tolerance_moves_both_limits(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    strict = make_card(exciter={"stroke_mm": {"x": STROKE_MM}, "stroke_tolerance_percent": 4.0})

    def result(percent: float) -> str:
        stroke = STROKE_MM * (1 + percent / 100)
        return criterion(judged(stroke=stroke, card=strict), "stroke-P1X").result.value

    assert [result(p) for p in (3.9, 4.1, 5.9, 6.1)] == ["pass", "watch", "watch", "hold"]


def test_every_point_has_its_stroke_and_the_worst_recording_counts(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    card = make_card(exciter={"stroke_mm": {"x": STROKE_MM, "y": 4.0}})
    assessment = judged(
        {"stroke": 6.3}, {"point": "P1Y", "direction": "y", "stroke": 2.1}, card=card
    )
    assert criterion(assessment, "stroke-P1X").value == 6.3
    low = criterion(assessment, "stroke-P1Y")
    assert low.hold is Hold.FIX
    assert low.reason == "P1Y moves 2.10 mm, the card says 4.00 mm (-48 %)."


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (9.80665, "9.8 times too big"),
        (1 / 9.80665, "9.8 times too small"),
        (10.4, "10 times too big"),
        (25.4, "25.4 times too big"),
        (1 / 25.4, "25.4 times too small"),
        (2.54, "2.54 times too big"),
        (1000.0, "1e+03 times too big"),
    ],
)
def test_a_wrong_unit_is_measured_again_and_not_fixed(
    judged: Judged, criterion: Pick, ratio: float, words: str
) -> None:
    assessment = judged(stroke=STROKE_MM * ratio)
    found = criterion(assessment, "stroke-P1X")
    assert found.hold is Hold.MEASURE_AGAIN
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert words in found.reason
    assert "sensitivity" in found.advice


@pytest.mark.parametrize("ratio", [2.4, 2.68, 5.0, 9.3, 10.6, 0.5])
def test_other_ratios_are_the_machines(judged: Judged, criterion: Pick, ratio: float) -> None:
    """2.4 and 2.68 lie 5.5 % from 2.54; 9.3 and 10.6 over 5 % from 9.80665 and 10."""
    assert criterion(judged(stroke=STROKE_MM * ratio), "stroke-P1X").hold is Hold.FIX


def test_five_g_at_sixteen_hz_is_nine_millimetres(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    """d = 496 810.7 a / f^2 um peak to peak (a in g; slide-rule constant, exact from omega = 2 pi f
    and standard gravity), and the throw factor stroke n^2 / 1 788 519 gives the 5 g back."""
    published_mm = 496.8107 * 5.0 / SHAFT_HZ**2
    assert published_mm == pytest.approx(9.35, abs=0.005)
    stroke = peak_to_peak_mm_from_peak_m_s2(5 * STANDARD_GRAVITY_M_S2, SHAFT_HZ)
    assert stroke == pytest.approx(published_mm, rel=1e-6)
    assert published_mm * 978.0**2 / 1_788_519 == pytest.approx(5.0, rel=1e-5)
    assert throw_factor(published_mm, 978.0) == pytest.approx(5.0, rel=1e-6)
    card = make_card(exciter={"stroke_mm": {"x": round(published_mm, 2)}})
    found = criterion(judged(stroke=stroke, card=card), "stroke-P1X")
    assert found.result is CriterionResult.PASS
    assert found.detail == "P1X moves 9.35 mm, the card says 9.35 mm (0 %)"
    # The same 5 taken for m/s2 makes the motion 9.8 times too small.
    wrong = peak_to_peak_mm_from_peak_m_s2(5.0, SHAFT_HZ)
    assert "9.8 times too small" in criterion(judged(stroke=wrong, card=card), "stroke-P1X").reason


@pytest.mark.parametrize(
    ("facts", "exciter", "words"),
    [
        ({"is_calibrated": False}, {"stroke_mm": {"x": 6.0}}, "has no calibration"),
        ({}, {}, "states no stroke for P1X"),
        ({}, {"stroke_mm": {"y": 6.0}}, "states no stroke for P1X"),
        ({"direction": None}, {"stroke_mm": {"x": 6.0}}, "states no stroke for P1X"),
        ({"has_motion": False}, {"stroke_mm": {"x": 6.0}}, "could not be read in as-left/1.wav"),
    ],
)
def test_a_stroke_that_is_not_known_is_not_judged(
    judged: Judged,
    criterion: Pick,
    *,
    make_card: Cards,
    facts: dict[str, Any],
    exciter: dict[str, Any],
    words: str,
) -> None:
    assessment = judged(**facts, card=make_card(exciter=exciter))
    found = criterion(assessment, "stroke-P1X")
    assert found.result is CriterionResult.NOT_JUDGED
    assert words in found.reason
    assert found.advice
    assert assessment.verdict is Verdict.HOLD
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert found.reason in assessment.reasons


@pytest.mark.parametrize(
    ("id_", "fact", "watch", "hold"),
    [("harmonic-ratio", "harmonic", 0.25, 0.5), ("half-order-ratio", "half", 0.01, 0.05)],
)
def test_ratios_to_1x(
    judged: Judged, criterion: Pick, *, id_: str, fact: str, watch: float, hold: float
) -> None:
    def found(value: float) -> Criterion:
        return criterion(judged({}, {fact: value}), id_)

    values = (watch, 1.01 * watch, hold, 1.01 * hold)
    results = [found(value).result.value for value in values]
    assert results == ["pass", "watch", "watch", "hold"]
    # What is no number is no pass.
    assert criterion(judged(**{fact: math.nan}), id_).result is CriterionResult.HOLD
    bad = found(1.01 * hold)
    assert (bad.hold, bad.limit, bad.value) == (Hold.FIX, hold, 1.01 * hold)
    assert "2.wav" in bad.reason
    assert bad.advice.startswith("Lock out.")
    assert found(1.01 * watch).advice
    assert not found(watch).advice
    unread = judged({}, {"has_motion": False})
    assert criterion(unread, id_).result is CriterionResult.NOT_JUDGED
    assert unread.hold is Hold.MEASURE_AGAIN


def turning(
    direction: str, amplitudes: tuple[float, float] = (31.0, 31.0)
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Both axes of one recording: counter-clockwise turns from +x to +y, which lags by 90 deg."""
    t = np.arange(8192) / 1024.0
    angle = 2 * np.pi * SHAFT_HZ * t
    lag = {"counter-clockwise": -np.pi / 2, "clockwise": np.pi / 2, "line": 0.0}[direction]
    together: dict[str, Any] = {"sha256": "both", "path": "both.wav", "sampling_rate_hz": 1024.0}
    return (
        {"samples": amplitudes[0] * np.cos(angle), **together},
        {
            "samples": amplitudes[1] * np.cos(angle + lag),
            "point": "P1Y",
            "direction": "y",
            "channel": 2,
            **together,
        },
    )


@pytest.mark.parametrize(
    ("direction", "result"),
    [("counter-clockwise", "pass"), ("clockwise", "hold"), ("line", "not-judged")],
)
def test_direction_of_the_orbit(
    judged: Judged, criterion: Pick, make_card: Cards, direction: str, result: str
) -> None:
    exciter = {"stroke_mm": {"x": 6.0, "y": 6.0}, "orbit_direction": "counter-clockwise"}
    assessment = judged(*turning(direction), card=make_card(exciter=exciter))
    assert [orbit.direction for orbit in assessment.orbits] == [direction]
    found = criterion(assessment, "orbit-direction")
    assert found.result.value == result
    assert found.limit == "counter-clockwise"
    kind = {"pass": None, "hold": Hold.FIX, "not-judged": Hold.MEASURE_AGAIN}[result]
    assert found.hold is kind
    assert assessment.hold is kind
    assert ("electrician" in found.advice) == (result == "hold")


def test_the_direction_as_found_holds_nothing(
    judged: Judged,
    criterion: Pick,
    make_card: Cards,
    make_analysis: Callable[..., RecordingAnalysis],
) -> None:
    exciter = {"stroke_mm": {"x": 6.0, "y": 6.0}, "orbit_direction": "counter-clockwise"}
    wrong = [
        make_analysis(9, stage=Stage.AS_FOUND, **{**facts, "sha256": "old", "path": "old.wav"})
        for facts in turning("clockwise", (29.0, 29.0))
    ]
    assessment = judged(
        *turning("counter-clockwise"), before=wrong, card=make_card(exciter=exciter)
    )
    assert {orbit.stage: orbit.direction for orbit in assessment.orbits} == {
        "as-found": "clockwise",
        "as-left": "counter-clockwise",
    }
    assert criterion(assessment, "orbit-direction").result is CriterionResult.PASS
    assert assessment.verdict is Verdict.PASS


def test_direction_needs_an_orbit_and_a_stated_one(judged: Judged, make_card: Cards) -> None:
    stated = make_card(exciter={"stroke_mm": {"x": 6.0}, "orbit_direction": "clockwise"})
    for assessment in (judged(card=stated), judged(*turning("clockwise"))):
        assert "orbit-direction" not in {item.id for item in assessment.criteria}
    assert len(judged(*turning("clockwise")).orbits) == 1
    apart, other = turning("clockwise")
    assert judged(apart, {**other, "sha256": "another"}, card=stated).orbits == ()
    raw = {**apart, "is_calibrated": False}
    assert judged(raw, other, card=stated).orbits == ()


def test_an_ordinary_machine_has_no_motion_to_judge(judged: Judged, make_card: Cards) -> None:
    assessment = judged(stroke=99.0, harmonic=9.0, half=9.0, card=make_card(exciter=None))
    assert Group.MOTION not in {item.group for item in assessment.criteria}
    assert assessment.verdict is Verdict.PASS
