"""Criteria of hard hits and of a bearing that grows rougher, on both sides of every limit."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.hit_criteria import hit_criteria
from vibhealth.acceptance.roughness_criteria import roughness_criteria
from vibhealth.acceptance.set_criteria import set_criteria
from vibhealth.acceptance.symptoms import with_checks
from vibhealth.card import MachineCard
from vibhealth.diagnosis.quality_cable import CableLook
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Disturbance,
    Element,
    Hold,
    QualityFinding,
    RecordingAnalysis,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Cards = Callable[..., MachineCard]
Make = Callable[..., RecordingAnalysis]

EMPTY = (("load", "empty"),)
START = datetime(2031, 3, 5, 13, 0, tzinfo=UTC)
NOMINAL_HZ = 978.0 / 60.0


def guard(height: float = 40.0) -> Disturbance:
    return Disturbance(
        id="strikes-at-1x",
        title="Hits",
        value=height,
        unit="times the noise",
        detail="",
        advice="Fix.",
    )


def hits(per_second: float) -> Disturbance:
    return Disturbance(
        id="material-strikes",
        title="Hits",
        value=per_second,
        unit="1/s",
        detail="",
        advice="Empty it.",
    )


@pytest.mark.parametrize(("shown", "result"), [(1, "watch"), (2, "hold"), (3, "hold")])
def test_hits_each_turn_hold_where_half_of_the_recordings_show_them(
    judged: Judged, criterion: Pick, shown: int, result: str
) -> None:
    assessment = judged(*[{"disturbances": [guard()]}] * shown)
    found = criterion(assessment, "hits-each-turn")
    assert found.result.value == result
    assert found.hold is (Hold.FIX if result == "hold" else None)
    if result == "hold":
        assert assessment.hold is Hold.FIX
        assert next(check.step for check in found.checks) == "guard"


def test_hits_that_only_a_cable_makes_are_no_guards(make_card: Cards, make_analysis: Make) -> None:
    after = tuple(make_analysis(number=n, disturbances=[guard()]) for n in (1, 2, 3))
    finding = QualityFinding(
        id="cable", title="Cable", result=CriterionResult.HOLD, detail="P1X alone.", advice="Tie."
    )
    cables = tuple(
        (a.recording.path, CableLook(finding=finding, own_hits=frozenset({a.recording.channel})))
        for a in after
    )
    card = make_card()
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=after, pair=(), orbits=(), cables=cables
    )  # fmt: skip
    assert not hit_criteria(evidence)
    assert [item.id for item in hit_criteria(replace(evidence, cables=cables[:1]))] == [
        "hits-each-turn"
    ]
    told = {item.id: item for item in set_criteria(evidence)}["recording-cable"]
    assert told.result.value == "hold"
    assert told.hold is Hold.MEASURE_AGAIN


def test_hits_that_may_be_a_cables_are_measured_again_and_not_yet_a_guards(
    make_card: Cards, make_analysis: Make
) -> None:
    after = tuple(make_analysis(number=n, disturbances=[guard()]) for n in (1, 2, 3))
    finding = QualityFinding(
        id="cable", title="Cable", result=CriterionResult.WATCH, detail="P1X.", advice="Tie."
    )
    unsure = frozenset({after[0].recording.channel})
    look = CableLook(finding=finding, own_hits=frozenset(), open_hits=unsure)
    cables = tuple((a.recording.path, look) for a in after)
    card = make_card()
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=after, pair=(), orbits=(), cables=cables
    )  # fmt: skip
    (found,) = with_checks(hit_criteria(evidence), evidence)
    assert found.result.value == "hold"
    assert found.hold is Hold.MEASURE_AGAIN
    assert "sensor" in [check.step for check in found.checks]
    (found,) = hit_criteria(replace(evidence, cables=cables[:1]))  # two recordings are sure
    assert found.hold is Hold.FIX


def test_nothing_that_hits_gives_no_line(judged: Judged) -> None:
    ids = {item.id for item in judged().criteria}
    assert not ids & {"hits-each-turn", "random-hits"}


@pytest.mark.parametrize(
    ("per_100_turns", "result"), [(1.9, "pass"), (2.1, "watch"), (4.9, "watch"), (5.1, "hold")]
)
def test_random_hits_on_an_empty_machine(
    judged: Judged, criterion: Pick, per_100_turns: float, result: str
) -> None:
    told = hits(per_100_turns / 100 * NOMINAL_HZ)
    found = criterion(judged(disturbances=[told], remarks=EMPTY), "random-hits")
    assert found.result.value == result
    assert found.value == pytest.approx(per_100_turns)
    if result == "hold":
        assert found.hold is Hold.FIX
        assert {check.step for check in found.checks} >= {"oil", "first start"}


def test_random_hits_may_be_material_where_nobody_says_empty(judged: Judged) -> None:
    ids = {item.id for item in judged(disturbances=[hits(20.0)]).criteria}
    assert "random-hits" not in ids


def _course(make: Make, levels: Sequence[float], **facts: Any) -> list[RecordingAnalysis]:
    return [
        make(number, level=level, start_time=START + number * timedelta(minutes=5), **facts)
        for number, level in enumerate(levels)
    ]


def _judged(
    card: MachineCard, after: list[RecordingAnalysis], earlier: Sequence[RecordingAnalysis] = ()
) -> dict[str, Criterion]:
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=tuple(after), pair=(), orbits=(),
        earlier=tuple(earlier),
    )  # fmt: skip
    return {item.id: item for item in roughness_criteria(evidence)}


@pytest.mark.parametrize(
    ("levels", "result"),
    [
        ((1.0, 1.05, 1.09), "pass"),
        ((1.0, 1.05, 1.11), "watch"),
        ((1.0, 1.10, 1.24), "watch"),
        ((1.0, 1.10, 1.26), "hold"),
        ((1.0, 0.9, 1.9), "pass"),  # up and down: that is spread, not drift
        ((1.9, 1.4, 1.0), "pass"),
    ],
)
def test_drift(
    make_card: Cards, make_analysis: Make, levels: tuple[float, ...], result: str
) -> None:
    found = _judged(make_card(), _course(make_analysis, levels))["bearing-band-drift"]
    assert found.result.value == result
    if result == "hold":
        assert found.reason.startswith("The bearing grows rougher while it runs: +26 % at P1X")


def test_the_clock_decides_what_comes_first(make_card: Cards, make_analysis: Make) -> None:
    backwards = _course(make_analysis, (1.0, 1.2, 1.5))[::-1]
    assert _judged(make_card(), backwards)["bearing-band-drift"].result.value == "hold"


def test_without_times_or_with_two_recordings_no_drift_is_told(
    make_card: Cards, make_analysis: Make
) -> None:
    undated = [make_analysis(number, level=1.0 + number) for number in range(3)]
    assert _judged(make_card(), undated) == {}
    assert _judged(make_card(), _course(make_analysis, (1.0, 2.0))) == {}


@pytest.mark.parametrize(("ratio", "result"), [(1.59, "pass"), (1.61, "watch"), (2.51, "hold")])
def test_rougher_than_at_the_check_before(
    make_card: Cards, make_analysis: Make, ratio: float, result: str
) -> None:
    after = [make_analysis(number, level=ratio) for number in (1, 2, 3)]
    earlier = [make_analysis(number, level=1.0) for number in (4, 5, 6)]
    found = _judged(make_card(), after, earlier)["bearing-band-since-last-check"]
    assert found.result.value == result


@pytest.mark.parametrize(("depth", "result"), [(0.22, "watch"), (0.25, "hold")])
def test_a_small_ticking_must_not_grow(
    make_card: Cards,
    make_analysis: Make,
    make_family: Callable[..., Any],
    depth: float,
    result: str,
) -> None:
    after = [make_analysis(1, families=[make_family(Element.OUTER_RING, depth)])]
    earlier = [make_analysis(4, families=[make_family(Element.OUTER_RING, 0.16)])]
    found = _judged(make_card(), after, earlier)["ticking-grows"]
    assert found.result.value == result


def test_a_ticking_that_is_gone_or_new_has_not_grown(
    make_card: Cards, make_analysis: Make, make_family: Callable[..., Any]
) -> None:
    ticking = [make_analysis(1, families=[make_family(Element.OUTER_RING, 0.2)])]
    quiet = [make_analysis(4)]
    assert "ticking-grows" not in _judged(make_card(), ticking, quiet)
    assert "ticking-grows" not in _judged(make_card(), quiet, ticking)
