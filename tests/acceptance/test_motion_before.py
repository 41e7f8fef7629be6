"""The motion against that before the rebuild, on both sides of every limit."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from vibhealth.acceptance import judge
from vibhealth.card import MachineCard
from vibhealth.model import Assessment, Criterion, Hold, OrderLine, RecordingAnalysis, Stage

Pick = Callable[[Assessment, str], Criterion]
Cards = Callable[..., MachineCard]
Make = Callable[..., RecordingAnalysis]

POINTS: dict[str, Any] = {
    "sensor": [{"name": "A1", "unit": "g"}],
    "point": [
        {"name": "P1X", "direction": "x", "sensor": "A1"},
        {"name": "P1Z", "direction": "z", "sensor": "A1", "channel": 2},
    ],
}


@pytest.mark.parametrize(
    ("before", "now", "result"),
    [
        (0.04, 0.059, "pass"),
        (0.04, 0.061, "watch"),
        (0.04, 0.081, "hold"),
        (0.01, 0.049, "pass"),  # five times next to nothing is still next to nothing
        (0.2, 0.1, "pass"),
    ],
)
def test_harmonics(  # one table
    make_analysis: Make, make_card: Cards, criterion: Pick, before: float, now: float, result: str
) -> None:
    was = [make_analysis(9, stage=Stage.AS_FOUND, harmonic=before)]
    after = [make_analysis(number, harmonic=now) for number in (1, 2, 3)]
    assessment = judge(was, after, card=make_card())
    found = criterion(assessment, "harmonics-since-before")
    assert found.result.value == result
    if result == "hold":
        assert assessment.hold is found.hold is Hold.FIX
        assert "2.0 times the 4 % before the rebuild" in found.reason
        assert found.checks


def _axial(make: Make, number: int, first: float, second: float, **facts: Any) -> RecordingAnalysis:
    analysis = make(number, point="P1Z", direction="z", **facts)
    assert analysis.motion is not None
    line = OrderLine(order=2.0, amplitude_m_s2=31.4 * second, relative_to_first=1.0)
    motion = replace(analysis.motion, amplitude_1x=31.4 * first, harmonics=(line,))
    return replace(analysis, motion=motion)


@pytest.mark.parametrize(
    ("first", "second", "results"),
    [
        (0.059, 0.005, ("pass", "pass")),
        (0.061, 0.007, ("watch", "watch")),
        (0.081, 0.004, ("hold", "pass")),
        (0.04, 0.009, ("pass", "hold")),
    ],
)
def test_along_the_shaft(
    make_analysis: Make,
    make_card: Cards,
    criterion: Pick,
    first: float,
    second: float,
    results: tuple[str, str],
) -> None:
    found = {"stage": Stage.AS_FOUND}
    before = [make_analysis(8, **found), _axial(make_analysis, 9, 0.04, 0.004, **found)]
    after = [make_analysis(1), make_analysis(2), _axial(make_analysis, 3, first, second)]
    assessment = judge(before, after, card=make_card(**POINTS))
    told = [
        criterion(assessment, id_).result.value
        for id_ in ("axial-since-before", "axial-harmonics-since-before")
    ]
    assert tuple(told) == results


def test_without_a_recording_of_before_there_is_nothing_to_compare(
    make_analysis: Make, make_card: Cards
) -> None:
    assessment = judge([], [make_analysis(1)], card=make_card())
    assert not [item for item in assessment.criteria if item.id.endswith("since-before")]
