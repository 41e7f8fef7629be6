"""Criteria of the motion's shape, along the shaft and on the base, on both sides of every limit."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from vibhealth.acceptance import judge
from vibhealth.card import MachineCard
from vibhealth.model import Assessment, Criterion, Hold, MotionShape, OrderLine, RecordingAnalysis

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Cards = Callable[..., MachineCard]
Make = Callable[..., RecordingAnalysis]

STEADY = MotionShape(one_sidedness=0.0, beat_percent=0.0, wobble_ratio=0.0, third_order_ratio=0.0)
LIMITS = [
    ("one-sided-motion", "one_sidedness", 0.05, 0.10),
    ("third-order-ratio", "third_order_ratio", 0.01, 0.05),
    ("beat", "beat_percent", 5.0, 10.0),
    ("wobble-ratio", "wobble_ratio", 0.02, 0.05),
]


@pytest.mark.parametrize(("id_", "field", "watch", "hold"), LIMITS)
@pytest.mark.parametrize(
    ("share", "result"), [(0.99, "pass"), (1.01, "watch")], ids=["below", "above"]
)
def test_watch(
    judged: Judged, criterion: Pick, id_: str, field: str, watch: float, hold: float,
    share: float, result: str,
) -> None:  # fmt: skip
    shape = replace(STEADY, **{field: share * watch})
    found = criterion(judged({}, {"shape": shape}), id_)
    assert found.result.value == result
    assert found.limit == hold


@pytest.mark.parametrize(("id_", "field", "watch", "hold"), LIMITS)
def test_one_recording_above_the_limit_holds(
    judged: Judged, criterion: Pick, id_: str, field: str, watch: float, hold: float
) -> None:
    assert watch < hold
    sign = -1 if field == "one_sidedness" else 1  # cut off on either side
    assessment = judged({}, {"shape": replace(STEADY, **{field: sign * 1.01 * hold})})
    found = criterion(assessment, id_)
    assert found.result.value == "hold"
    assert assessment.hold is found.hold is Hold.FIX
    assert found.reason in assessment.reasons
    assert found.reason.endswith("as-left/2.wav (P1X).")
    assert 1 <= len(found.checks) <= 3


def test_a_shape_that_was_never_read_is_not_judged(judged: Judged, criterion: Pick) -> None:
    found = criterion(judged(shape=None), "one-sided-motion")
    assert found.result.value == "not-judged"
    assert found.hold is Hold.MEASURE_AGAIN


def test_a_point_whose_shape_was_never_read_is_not_judged_by_the_others(
    judged: Judged, criterion: Pick
) -> None:
    other = {"point": "P1Y", "direction": "y", "shape": None}
    found = criterion(judged({}, other, other), "one-sided-motion")
    assert found.result.value == "not-judged"
    assert found.reason == "The shape of the motion could not be read in any recording of P1Y."
    once = criterion(judged({}, other, {**other, "shape": STEADY}), "one-sided-motion")
    assert once.result.value == "pass"


def test_a_fault_of_one_point_is_told_though_another_could_not_be_read(
    judged: Judged, criterion: Pick
) -> None:
    cut_off = {"shape": replace(STEADY, one_sidedness=0.2)}
    assessment = judged(cut_off, {"point": "P1Y", "direction": "y", "shape": None})
    assert criterion(assessment, "one-sided-motion").hold is Hold.FIX


def test_an_ordinary_machine_has_no_shape_to_keep(judged: Judged, make_card: Cards) -> None:
    ordinary = MachineCard.model_validate(
        {
            key: value
            for key, value in make_card().model_dump(by_alias=True, exclude_none=True).items()
            if key != "exciter"
        }
    )
    ids = {item.id for item in judged(card=ordinary).criteria}
    assert not ids & {row[0] for row in LIMITS}


@pytest.mark.parametrize(
    ("percent", "result"), [(4.9, "pass"), (5.1, "watch"), (9.9, "watch"), (10.1, "hold")]
)
def test_strokes_must_repeat(judged: Judged, criterion: Pick, percent: float, result: str) -> None:
    found = criterion(judged({}, {"stroke": 6.0 * (1 + percent / 100)}), "stroke-repeats")
    assert found.result.value == result
    assert found.value == pytest.approx(percent)


POINTS: dict[str, Any] = {
    "sensor": [{"name": "A1", "unit": "g"}],
    "point": [
        {"name": "P1X", "direction": "x", "sensor": "A1"},
        {"name": "P1Z", "direction": "z", "sensor": "A1", "channel": 2},
        {"name": "B1", "direction": "x", "sensor": "A1", "channel": 3, "mounted_on": "base"},
    ],
}


def _axial(make: Make, first: float, second: float) -> RecordingAnalysis:
    """A point along the shaft whose 1x and 2x are these shares of 31.4 m/s^2 across it."""
    analysis = make(7, point="P1Z", direction="z", path="as-left/1.wav")
    assert analysis.motion is not None
    line = OrderLine(order=2.0, amplitude_m_s2=31.4 * second, relative_to_first=1.0)
    motion = replace(analysis.motion, amplitude_1x=31.4 * first, harmonics=(line,))
    return replace(analysis, motion=motion)


@pytest.mark.parametrize(
    ("first", "second", "results"),
    [
        (0.14, 0.05, ("pass", "pass")),
        (0.16, 0.07, ("watch", "watch")),
        (0.31, 0.01, ("hold", "pass")),
        (0.01, 0.13, ("pass", "hold")),
    ],
)
def test_motion_along_the_shaft(
    make_analysis: Make, make_card: Cards, criterion: Pick,
    first: float, second: float, results: tuple[str, str],
) -> None:  # fmt: skip
    from vibhealth.acceptance import judge

    after = [make_analysis(1), make_analysis(2), _axial(make_analysis, first, second)]
    assessment = judge([], after, card=make_card(**POINTS))
    found = [criterion(assessment, id_) for id_ in ("axial-ratio", "axial-harmonic-ratio")]
    assert tuple(item.result.value for item in found) == results
    assert "stroke-P1Z" not in {item.id for item in assessment.criteria}


def test_a_stated_stroke_along_the_shaft_is_judged_as_a_stroke(
    make_analysis: Make, make_card: Cards, criterion: Pick
) -> None:
    from vibhealth.acceptance import judge

    card = make_card(**POINTS, exciter={"stroke_mm": {"x": 6.0, "z": 3.0}})
    after = [make_analysis(1), replace(_axial(make_analysis, 0.5, 0.01))]
    assessment = judge([], after, card=card)
    assert criterion(assessment, "stroke-P1Z").result.value == "hold"
    assert "axial-ratio" not in {item.id for item in assessment.criteria}


@pytest.mark.parametrize(
    ("share", "result"), [(0.049, "pass"), (0.051, "watch"), (0.099, "watch"), (0.101, "hold")]
)
def test_the_base_must_stand_still(
    make_analysis: Make, make_card: Cards, criterion: Pick, share: float, result: str
) -> None:
    from vibhealth.acceptance import judge

    base = make_analysis(4, point="B1", stroke=6.0 * share)
    assessment = judge([], [make_analysis(n) for n in (1, 2, 3)] + [base], card=make_card(**POINTS))
    found = criterion(assessment, "base-ratio")
    assert found.result.value == result
    assert found.value == pytest.approx(share)
    assert "stroke-B1" not in {item.id for item in assessment.criteria}


def test_a_dead_channel_on_the_base_is_not_a_base_that_stands_still(
    make_analysis: Make, make_card: Cards, criterion: Pick
) -> None:
    from vibhealth.acceptance import judge

    base = make_analysis(4, point="B1", stroke=1e-8)
    assert base.motion is not None
    base = replace(base, motion=replace(base.motion, amplitude_1x=1e-6))
    assessment = judge([], [make_analysis(n) for n in (1, 2, 3)] + [base], card=make_card(**POINTS))
    found = criterion(assessment, "base-ratio")
    assert found.result.value == "not-judged"
    assert assessment.hold is Hold.MEASURE_AGAIN


def test_recordings_of_the_base_alone_are_refused(make_analysis: Make, make_card: Cards) -> None:
    from vibhealth.acceptance import judge
    from vibhealth.errors import InputError

    with pytest.raises(InputError, match="no recording of a point on the moving body"):
        judge([], [make_analysis(1, point="B1")], card=make_card(**POINTS))


@pytest.mark.parametrize(
    ("share", "result"), [(0.14, "pass"), (0.16, "watch"), (0.29, "watch"), (0.31, "hold")]
)
def test_two_shafts_move_along_a_line_and_not_across_it(
    criterion: Pick, make_card: Cards, make_analysis: Make, share: float, result: str
) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}, "shafts": 2, "orbit_direction": None})
    along = [make_analysis(number=number) for number in (1, 2, 3)]
    across = make_analysis(number=1, point="P1Y", direction="y", shape=None)
    assert across.motion is not None
    slight = replace(across.motion, amplitude_1x=share * across.motion.amplitude_1x)
    assessment = judge([], [*along, replace(across, motion=slight)], card=card)
    assert criterion(assessment, "across-line-ratio").result.value == result
    told = {item.id for item in assessment.criteria}
    assert not told & {"axial-ratio", "axial-harmonic-ratio"}  # nothing lies along the shaft
    assert "stroke-P1Y" not in {item.id for item in assessment.criteria}
    assert criterion(assessment, "one-sided-motion").result.value == "pass"
    assert "across-line-ratio" not in {c.id for c in judge([], along, card=card).criteria}


def test_one_shaft_needs_both_strokes(make_card: Cards, make_analysis: Make) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}, "shafts": 1, "orbit_direction": None})
    after = [make_analysis(number=1), make_analysis(number=1, point="P1Y", direction="y")]
    found = {item.id: item for item in judge([], after, card=card).criteria}
    assert found["stroke-P1Y"].result.value == "not-judged"
    assert "across-line-ratio" not in found
