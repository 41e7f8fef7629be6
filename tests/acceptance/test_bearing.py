"""Families in some of the recordings, blind spots, and what a small fault would have had to be."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from vibhealth.acceptance import found_words, judge, most_sensitive
from vibhealth.card import MachineCard
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Element,
    FamilyFinding,
    Hold,
    RecordingAnalysis,
    Stage,
    Verdict,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Cards = Callable[..., MachineCard]
Family = Callable[..., FamilyFinding]
Make = Callable[..., RecordingAnalysis]

OUTER = "family-DE-outer-ring"


@pytest.fixture
def showing(judged: Judged, make_family: Family) -> Callable[..., Assessment]:
    """Three recordings in which the outer ring ticks with these whitened depths."""

    def make(*depths: float, card: MachineCard | None = None, **changes: Any) -> Assessment:
        facts = [{"families": [make_family(depth=depth, **changes)]} for depth in depths]
        return judged(*facts, card=card)

    return make


@pytest.mark.parametrize(
    ("depths", "result"),
    [
        ((0.14, 0.14, 0.14), "pass"),
        ((0.16, 0.16, 0.02), "watch"),
        ((0.16, 0.02, 0.02), "watch"),
        ((0.29, 0.29, 0.29), "watch"),
        ((0.31, 0.02, 0.02), "watch"),
        ((0.31, 0.20, 0.02), "watch"),
        ((0.31, 0.31, 0.02), "hold"),
        ((0.31, 0.31, 0.31), "hold"),
    ],
)
def test_two_of_three_must_agree(
    showing: Judged, criterion: Pick, depths: tuple[float, ...], result: str
) -> None:
    assessment = showing(*depths)
    found = criterion(assessment, OUTER)
    assert found.result.value == result
    assert found.value == pytest.approx(max(depths))
    assert found.limit == 0.3
    assert found.hold is (Hold.FIX if result == "hold" else None)
    assert assessment.hold is found.hold
    words = "too few recordings to hold" if max(depths) >= 0.3 else "too small to hold"
    assert (words in assessment.headline) == (result == "watch")
    watched = [text for text in assessment.reasons if text.startswith("Watch:")]
    assert len(watched) == (result == "watch")
    for other in (Element.INNER_RING, Element.ROLLING_ELEMENT, Element.CAGE):
        assert criterion(assessment, f"family-DE-{other.value}").result is CriterionResult.PASS


@pytest.mark.parametrize("share", [0.45, 0.55])
def test_a_strike_below_what_could_be_read_has_no_size(
    showing: Judged, judged: Judged, share: float
) -> None:
    """Half of the smallest strike that any recording could have shown is the limit."""
    rows = [row for analysis in judged({}).recordings for row in analysis.sensitivity]
    detectable = min(
        row.detectable_impact_m_s2 or math.inf for row in rows if row.element is Element.OUTER_RING
    )
    impact = share * detectable
    reason = showing(0.5, 0.5, 0.5, impact_m_s2=impact).reasons[0]
    assert "Regular ticking" in reason
    assert (f"about {impact:.2g} m/s²" in reason) is (share > 0.5)


def test_names_are_kept_in_what_to_watch(showing: Judged) -> None:
    first = showing(0.2, 0.2, 0.2).reasons[0]
    assert first.startswith("Watch: outer ring of bearing DE - A small regular ticking")


def points(depths: list[tuple[str, float]], family: Family) -> list[dict[str, Any]]:
    return [{"point": point, "families": [family(depth=depth)]} for point, depth in depths]


@pytest.mark.parametrize(
    ("depths", "result"),
    [
        ([("A", 0.31), ("B", 0.02), ("C", 0.02)], "hold"),  # one of one
        ([("A", 0.31), ("A", 0.02), ("B", 0.02)], "hold"),  # one of two
        ([("A", 0.31), ("A", 0.02), ("A", 0.02), ("B", 0.02)], "watch"),  # one of three
        ([("A", 0.02), ("A", 0.02), ("A", 0.02), ("B", 0.31)], "hold"),
        ([("A", 0.31)] * 3 + [("A", 0.02)] * 2, "watch"),  # three of five: four are needed
        ([("A", 0.31)] * 4 + [("A", 0.02)] * 2, "hold"),  # four of six
    ],
)
def test_agreement_is_asked_of_the_recordings_of_a_point(
    judged: Judged,
    criterion: Pick,
    make_family: Family,
    depths: list[tuple[str, float]],
    result: str,
) -> None:
    found = criterion(judged(*points(depths, make_family)), OUTER)
    assert found.result.value == result


def test_the_reason_says_what_where_and_how_hard(showing: Judged, criterion: Pick) -> None:
    found = criterion(
        showing(0.5, 0.4, 0.02, ambiguous_with=("rolling-element",), blind_spot=True), OUTER
    )
    assert found.reason == (
        "Regular ticking that fits the outer ring or rolling element of bearing DE, in 2 of 3 "
        "recordings, striking with about 5 m/s²; modulation depth 0.50, limit 0.3. It lies in "
        "a blind spot of this bearing."
    )
    assert "false-alarm probability below 1e-6" in found.detail
    assert "0.001" in found.limit_source
    silent = criterion(showing(0.5, 0.5, 0.5, impact_m_s2=None), OUTER)
    assert "striking" not in silent.reason


def test_of_one_recording_there_is_no_share(
    make_analysis: Callable[..., RecordingAnalysis],
    make_family: Family,
    criterion: Pick,
    make_card: Cards,
) -> None:
    spall = make_analysis(families=[make_family(depth=0.5)])
    found = criterion(judge([], [spall], card=make_card()), OUTER)
    assert "bearing DE, striking" in found.reason


def test_families_that_could_not_be_read_hide_none_that_was(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    why = "the speed changes by 30.0 % within the recording"
    assessment = judged({"not_judged": why})
    found = criterion(assessment, "families")
    assert found.result is CriterionResult.NOT_JUDGED
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert why in found.reason
    assert "1.wav (P1X)" in found.reason
    spall = {"families": [make_family(depth=0.6)]}
    both = judged({"not_judged": why}, spall, spall)
    assert criterion(both, OUTER).result is CriterionResult.HOLD
    assert both.hold is Hold.FIX
    assert criterion(both, OUTER).reason == both.reasons[0]
    assert criterion(both, "families").reason in both.reasons
    none_at_all = judged(not_judged=why)
    assert [item.id for item in none_at_all.criteria if item.id.startswith("famil")] == ["families"]


def test_blind_spots_are_watched_and_do_not_disturb(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    """Z = 17, 26 / 160: twice the spin is 160 / 26 - 26 / 160 = 5.991, next to 6x."""
    bearing = {
        "name": "DE",
        "element_count": 17,
        "element_diameter_mm": 26.0,
        "pitch_diameter_mm": 160.0,
        "load_case": "rotating",
    }
    assessment = judged(card=make_card(bearing=[bearing]))
    found = criterion(assessment, "blind-spots")
    assert found.result is CriterionResult.WATCH
    assert found.value == "rolling element of DE"
    assert "6x" in found.detail
    assert assessment.verdict is Verdict.PASS
    assert assessment.reasons == ()
    assert assessment.next_step.check_at == "At 8 h, 24 h and 7 days of running"
    none = criterion(judged(), "blind-spots")
    assert (none.result, none.value) == (CriterionResult.PASS, "none")


@pytest.mark.parametrize(
    ("depth", "result"),
    [(0.224, "pass"), (0.226, "watch"), (0.299, "watch"), (0.301, "hold"), (math.inf, "hold")],
)
def test_detectable_depth(judged: Judged, criterion: Pick, depth: float, result: str) -> None:
    assessment = judged(detectable=depth)
    found = criterion(assessment, "detectable-depth")
    assert found.result.value == result
    assert found.limit == 0.3
    assert found.value == ("none tried was found" if math.isinf(depth) else depth)
    assert found.hold is (Hold.MEASURE_AGAIN if result == "hold" else None)
    assert assessment.hold is found.hold
    assert bool(found.advice) == (result != "pass")
    would = "a small bearing fault would have been seen" in assessment.headline
    assert would == (result != "hold")


@pytest.mark.parametrize("depth", [0.31, math.inf])
def test_an_element_in_a_blind_spot_is_watched_at_most(
    judged: Judged, criterion: Pick, make_card: Cards, depth: float
) -> None:
    """Z = 17, 26 / 160: twice the spin meets 6x. Recording again cannot mend that."""
    bearing = {
        "name": "DE",
        "element_count": 17,
        "element_diameter_mm": 26.0,
        "pitch_diameter_mm": 160.0,
        "load_case": "rotating",
    }
    card = make_card(bearing=[bearing])
    blind = judged(detectable_other={Element.ROLLING_ELEMENT: (depth, 0.6)}, card=card)
    found = criterion(blind, "detectable-depth")
    assert found.result is CriterionResult.WATCH
    assert "in a blind spot: bearing DE, a rolling-element defect" in found.detail
    assert blind.verdict is Verdict.PASS
    other = judged(detectable_other={Element.OUTER_RING: (depth, 0.6)}, card=card)
    assert criterion(other, "detectable-depth").result is CriterionResult.HOLD


def test_the_best_recording_of_each_element_counts(
    judged: Judged, criterion: Pick, make_analysis: Callable[..., RecordingAnalysis]
) -> None:
    found = criterion(judged({"detectable": 0.1}, {"detectable": math.inf}), "detectable-depth")
    assert (found.result, found.value) == (CriterionResult.PASS, 0.1)
    missing = judged({}, {"detectable": None})
    assert criterion(missing, "detectable-depth").result is CriterionResult.NOT_JUDGED
    assert missing.hold is Hold.MEASURE_AGAIN
    assert len(make_analysis().sensitivity) == len(Element)


def test_the_element_that_would_be_missed_counts(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    """Of depth the worst of all four; of strikes the worst of rings and elements: no cage strikes."""
    hidden = {Element.INNER_RING: (0.4, 0.6), Element.CAGE: (0.2, 90.0)}
    card = make_card(limits={"detectable_impact_hold_m_s2": 0.55})
    assessment = judged(detectable_other=hidden, card=card)
    depth = criterion(assessment, "detectable-depth")
    assert (depth.result, depth.value) == (CriterionResult.HOLD, 0.4)
    assert "inner ring of bearing DE" in depth.reason
    impact = criterion(assessment, "detectable-impact")
    assert (impact.result, impact.value) == (CriterionResult.HOLD, 0.6)
    assert "inner ring of bearing DE" in impact.reason


def test_what_a_found_defect_hides_is_said_to_be_hidden_by_it(
    judged: Judged, criterion: Pick, make_family: Family, make_card: Cards
) -> None:
    hidden = {Element.INNER_RING: (math.inf, math.inf)}
    alone = criterion(judged(detectable_other=hidden), "detectable-depth")
    assert alone.reason == (
        "A small fault of the inner ring of bearing DE would not have been seen in these recordings."
    )
    outer = [make_family(depth=0.9)]
    facts = {"families": outer, "detectable_other": hidden}
    both = judged(facts, facts, facts)
    found = criterion(both, "detectable-depth")
    assert found.reason == (
        "A small fault of the inner ring of bearing DE would not have been seen beside the ticking "
        "that was found."
    )
    assert "after the repair" in found.advice
    assert both.hold is Hold.FIX
    card = make_card(limits={"detectable_impact_hold_m_s2": 0.55})
    impact = criterion(judged(facts, facts, facts, card=card), "detectable-impact")
    assert impact.reason.endswith("at any strength tried beside the ticking that was found.")
    assert impact.advice == found.advice
    # What the found element itself hides is no other defect's doing.
    own = {**facts, "detectable_other": {Element.OUTER_RING: (math.inf, math.inf)}}
    assert "in these recordings" in criterion(judged(own, own, own), "detectable-depth").reason


def test_detectable_impact_is_judged_where_the_card_limits_it(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    assert "detectable-impact" not in {item.id for item in judged().criteria}
    limited = make_card(limits={"detectable_impact_hold_m_s2": 0.4})

    def found(*facts: dict[str, Any]) -> Criterion:
        return criterion(judged(*facts, card=limited, detectable_impact=0.41), "detectable-impact")

    bad = found()
    assert (bad.hold, bad.value, bad.limit) == (Hold.MEASURE_AGAIN, 0.41, 0.4)
    assert "less than 0.41 m/s²" in bad.reason
    good = found({"detectable_impact": 0.39})
    assert (good.result, good.value) == (CriterionResult.PASS, 0.39)
    raw = judged(card=limited, is_calibrated=False, detectable_impact=None)
    unknown = criterion(raw, "detectable-impact")
    assert unknown.result is CriterionResult.NOT_JUDGED
    assert "calibration" in unknown.reason


def test_a_bearing_that_no_point_hears_is_not_judged(
    judged: Judged,
    criterion: Pick,
    make_card: Cards,
    make_analysis: Callable[..., RecordingAnalysis],
) -> None:
    """No family of it was searched, so nothing is known of it."""
    shared = {
        "element_count": 9,
        "element_diameter_mm": 7.94,
        "pitch_diameter_mm": 39.04,
        "load_case": "rotating",
    }
    sensor = {"name": "A1", "sensitivity_mv_per_g": 10.0, "full_scale_v": 5.0}

    def card(**heard: list[str]) -> MachineCard:
        points = [
            {"name": name, "direction": name[-1].lower(), "sensor": "A1", "bearings": bearings}
            for name, bearings in heard.items()
        ]
        return make_card(
            bearing=[{"name": "DE", **shared}, {"name": "NDE", **shared}],
            sensor=[sensor],
            point=points,
        )

    apart = card(P1X=["DE"], P2Y=["NDE"])
    assessment = judged(card=apart)
    found = criterion(assessment, "bearings-heard")
    assert found.result is CriterionResult.NOT_JUDGED
    assert found.reason == "No recording listens to bearing NDE."
    assert found.advice == "Record at P2Y too."
    assert assessment.hold is Hold.MEASURE_AGAIN
    earlier = make_analysis(9, stage=Stage.AS_FOUND, point="P2Y", direction="y")
    assert criterion(judged(before=[earlier], card=apart), "bearings-heard").reason
    both = judged({"point": "P2Y", "direction": "y"}, card=apart)
    assert criterion(both, "bearings-heard").result is CriterionResult.PASS
    assert both.verdict is Verdict.PASS
    nowhere = criterion(judged(card=card(P1X=["DE"])), "bearings-heard")
    assert nowhere.advice.startswith("Record at a point near it")
    everywhere = judged(card=card(P1X=[]))
    assert "bearings-heard" not in {item.id for item in everywhere.criteria}


def test_every_element_is_told_with_what_would_have_been_found_worst_first(
    judged: Judged, criterion: Pick
) -> None:
    other = {
        Element.CAGE: (math.inf, None),
        Element.OUTER_RING: (0.041, 0.06),
        Element.INNER_RING: (0.03, 0.2),
        Element.ROLLING_ELEMENT: (0.05, 0.1),
    }
    assessment = judged(detectable_other=other)
    assert [found_words(finding) for _, finding in most_sensitive(assessment.recordings)] == [
        "a cage defect: no size tried would have been found",
        "an inner-ring defect striking with 0.2 m/s² or more would have been found (95 of 100)",
        "a rolling-element defect striking with 0.1 m/s² or more would have been found (95 of 100)",
        "an outer-ring defect striking with 0.06 m/s² or more would have been found (95 of 100)",
    ]
    assert criterion(assessment, "detectable-depth").detail == (
        "Worst: bearing DE, a cage defect: no size tried would have been found (found: significant, "
        "and of at least watch size)"
    )
    raw = criterion(judged(detectable_impact=None, detectable=0.1), "detectable-depth").detail
    assert "defect with a modulation depth of 0.1 or more would have been found" in raw


def test_without_all_strikes_the_order_is_by_depth(make_analysis: Make) -> None:
    shown = make_analysis(detectable_other={Element.CAGE: (0.2, None)}, detectable=0.1)
    rows = most_sensitive([shown, make_analysis(2, detectable=0.15, detectable_impact=9.0)])
    assert [finding.detectable_depth for _, finding in rows] == [0.15, 0.1, 0.1, 0.1]
    assert rows[0][1].element is Element.CAGE
    assert {a.recording.path for a, f in rows[1:]} == {shown.recording.path}


def test_a_strike_that_no_trial_showed_is_told_in_words(
    judged: Judged, criterion: Pick, make_card: Cards
) -> None:
    limited = make_card(limits={"detectable_impact_hold_m_s2": 0.4})
    found = criterion(judged(card=limited, detectable_impact=math.inf), "detectable-impact")
    assert (found.result, found.value) == (CriterionResult.HOLD, "none tried was found")
    assert "at any strength tried" in found.reason
