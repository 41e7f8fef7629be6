"""As found to as left: decibels, what is at least, and what must not be worse."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Element,
    FamilyFinding,
    Group,
    Hold,
    Improvement,
    RecordingAnalysis,
    Stage,
    Verdict,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Family = Callable[..., FamilyFinding]
Before = Callable[..., list[RecordingAnalysis]]

OUTER = "P1X: outer ring of bearing DE"


@pytest.fixture
def before(make_analysis: Callable[..., RecordingAnalysis]) -> Before:
    """As-found recordings, one per set of facts."""

    def make(*facts: dict[str, Any]) -> list[RecordingAnalysis]:
        return [
            make_analysis(number, stage=Stage.AS_FOUND, **fact)
            for number, fact in enumerate(facts, start=11)
        ]

    return make


def row(assessment: Assessment, title: str) -> Improvement:
    found = [item for item in assessment.improvements if item.title == title]
    assert len(found) == 1, [item.title for item in assessment.improvements]
    return found[0]


def test_without_as_found_there_is_nothing_to_improve(judged: Judged, before: Before) -> None:
    assessment = judged()
    assert assessment.improvements == ()
    assert Group.IMPROVEMENT not in {item.group for item in assessment.criteria}
    elsewhere = judged(before=before({"point": "P9X"}))
    assert elsewhere.improvements == ()
    found = [item for item in elsewhere.criteria if item.group is Group.IMPROVEMENT]
    assert [(item.id, item.result.value) for item in found] == [("improvement", "pass")]
    assert "nothing to compare" in str(found[0].value)


def test_levels_are_medians_in_decibels(judged: Judged, before: Before) -> None:
    """20 lg(4 / 1) = 12.04 dB."""
    as_found = before({"level": 4.0}, {"level": 0.1}, {"level": 90.0})
    found = row(judged(before=as_found), "P1X: median rms")
    assert (found.before, found.after, found.unit) == (4.0, 1.0, "m/s2")
    assert found.improvement_db == pytest.approx(12.04, abs=0.005)
    assert not found.at_least
    same = row(judged(before=as_found), "P1X: rms, residual")
    assert same.improvement_db == 0.0


def test_levels_in_other_units_are_not_compared(judged: Judged, before: Before) -> None:
    assessment = judged(before=before({"is_calibrated": False}))
    assert all("rms" not in item.title for item in assessment.improvements)


def test_a_family_that_is_gone_is_better_by_at_least(
    judged: Judged, before: Before, make_family: Family
) -> None:
    """Strikes of 6 m/s2 before, at most 0.5 that would have been found now: 20 lg 12 = 21.58."""
    spall = {"families": [make_family(depth=0.6)]}
    found = row(judged(before=before(spall)), OUTER)
    assert (found.before, found.after, found.unit) == (6.0, 0.5, "m/s2")
    assert found.improvement_db == pytest.approx(21.58, abs=0.005)
    assert found.at_least
    assert found.detail == (
        "the outer-ring ticking of 6 m/s² is gone; 0.5 m/s² would have been found: at least 22 dB "
        "better"
    )


def test_the_finest_recording_says_what_would_have_been_found(
    judged: Judged, before: Before, make_family: Family
) -> None:
    spall = before({"families": [make_family(depth=0.6)]})
    coarse = {"detectable_impact": 3.0}
    assert row(judged(coarse, {}, coarse, before=spall), OUTER).after == 0.5


def test_one_better_family_does_not_excuse_a_worse_one(
    judged: Judged, criterion: Pick, before: Before, make_family: Family
) -> None:
    def ticking(outer: float, inner: float) -> dict[str, Any]:
        strikes = {Element.OUTER_RING: outer, Element.INNER_RING: inner}
        return {
            "families": [make_family(key, 0.2, impact_m_s2=value) for key, value in strikes.items()]
        }

    now = ticking(0.2, 4.0)
    assessment = judged(now, now, now, before=before(ticking(2.0, 2.0)))
    found = criterion(assessment, "families-not-worse")
    assert found.hold is Hold.FIX
    assert found.reason.startswith("P1X: inner ring of bearing DE is 6 dB worse")


def test_without_calibration_families_are_compared_by_depth(
    judged: Judged, before: Before, make_family: Family
) -> None:
    spall = {"families": [make_family(depth=0.6, impact_m_s2=None)], "is_calibrated": False}
    found = row(judged(before=before(spall), is_calibrated=False), OUTER)
    assert (found.before, found.after, found.unit) == (0.6, 0.1, "1")
    assert found.detail.startswith("the outer-ring ticking of 0.6 is gone; 0.1 would have")


def test_strikes_that_could_not_be_measured_are_compared_by_depth(
    judged: Judged, before: Before, make_family: Family
) -> None:
    """A strike of 0 is one that no fold shows: the family is still there, and nothing is gone."""
    spall = {"families": [make_family(depth=0.6)]}
    weak = {"families": [make_family(depth=0.2, impact_m_s2=0.0)]}
    found = row(judged(weak, weak, weak, before=before(spall)), OUTER)
    assert (found.before, found.after, found.unit) == (0.6, 0.2, "1")
    assert not found.at_least
    assert found.detail == "modulation depth before and now"


def test_a_family_of_no_size_has_no_row(judged: Judged, before: Before) -> None:
    titles = [item.title for item in judged(before=before({})).improvements]
    assert titles == ["P1X: median rms", "P1X: rms, residual"]


def test_what_would_not_have_been_found_is_not_compared(
    judged: Judged, before: Before, make_family: Family
) -> None:
    spall = before({"families": [make_family(depth=0.6)]})
    unknown = {"detectable": math.inf, "detectable_impact": math.inf}
    titles = [item.title for item in judged(**unknown, before=spall).improvements]
    assert OUTER not in titles


@pytest.mark.parametrize(
    ("strike", "result"), [(1.0, "pass"), (1.99, "pass"), (2.8, "pass"), (2.85, "hold")]
)
def test_no_family_may_be_worse_than_before(
    judged: Judged,
    criterion: Pick,
    *,
    before: Before,
    make_family: Family,
    strike: float,
    result: str,
) -> None:
    """3 dB are a factor of 1.413: 2.83 of 2.0."""
    was = before({"families": [make_family(depth=0.2, impact_m_s2=2.0)]})
    now = {"families": [make_family(depth=0.2, impact_m_s2=strike)]}
    assessment = judged(now, now, now, before=was)
    found = criterion(assessment, "families-not-worse")
    assert found.result.value == result
    assert found.value == pytest.approx(20 * math.log10(strike / 2.0))
    assert found.hold is (Hold.FIX if result == "hold" else None)
    assert assessment.hold is found.hold
    assert found.limit == 3.0


def test_a_loaded_recording_of_before_is_no_measure(
    judged: Callable[..., Any], make_analysis: Callable[..., Any], criterion: Callable[..., Any]
) -> None:
    """Material makes it rougher: beside it a bad bearing would look better than before."""
    empty = make_analysis(8, stage=Stage.AS_FOUND, level=1.0)
    loaded = [
        make_analysis(n, stage=Stage.AS_FOUND, level=9.0, remarks=(("load", "loaded"),))
        for n in (9, 10)
    ]
    found = criterion(judged(before=[empty, *loaded], level=4.0), "bearing-band-not-worse")
    assert found.value == pytest.approx(4.0)
    assert found.result.value == "hold"


def test_a_new_family_is_worse(
    judged: Judged, criterion: Pick, before: Before, make_family: Family
) -> None:
    """0.5 would have been found before; 2.0 now: 12 dB, though the depth itself is for watching."""
    now = {"families": [make_family(depth=0.2, impact_m_s2=2.0)]}
    assessment = judged(now, now, now, before=before({}))
    found = criterion(assessment, "families-not-worse")
    assert found.hold is Hold.FIX
    assert found.reason == f"{OUTER} is 12 dB worse than before the rebuild."
    assert row(assessment, OUTER).detail.startswith("new: not found before")
    assert assessment.hold is Hold.FIX


def test_what_is_gone_is_not_worse(
    judged: Judged, criterion: Pick, before: Before, make_family: Family
) -> None:
    """A coarse as-left recording: its limit of detection is above the old strike, but no reading."""
    was = before({"families": [make_family(depth=0.2, impact_m_s2=0.1)]})
    assessment = judged(before=was)
    assert row(assessment, OUTER).improvement_db < -3
    found = criterion(assessment, "families-not-worse")
    assert (found.result, found.value) == (CriterionResult.PASS, "none left to compare")


@pytest.mark.parametrize(
    ("level", "result"), [(1.59, "pass"), (1.61, "watch"), (2.49, "watch"), (2.51, "hold")]
)
def test_the_bearing_band_may_not_be_rougher_than_before(
    judged: Judged, criterion: Pick, before: Before, level: float, result: str
) -> None:
    assessment = judged(level=level, before=before({"level": 1.0}))
    found = criterion(assessment, "bearing-band-not-worse")
    assert found.result.value == result
    assert found.value == pytest.approx(level)
    assert found.hold is (Hold.FIX if result == "hold" else None)
    assert assessment.hold is found.hold
    assert bool(found.advice) == (result != "pass")
    early = assessment.next_step.check_at.startswith("Within 4 h")
    assert early == (result == "watch")


@pytest.mark.parametrize("point", ["Median of bearing upper", "P1X of bearing DE"])
def test_names_of_points_decide_nothing(
    judged: Judged, criterion: Pick, before: Before, point: str
) -> None:
    """A level is a level, whatever the point is called."""
    assessment = judged(point=point, level=2.0, before=before({"point": point, "level": 1.0}))
    assert criterion(assessment, "families-not-worse").value == "none left to compare"
    assert criterion(assessment, "bearing-band-not-worse").value == 2.0
    assert assessment.verdict is Verdict.PASS


def test_as_found_faults_do_not_hold_the_rebuilt_machine(
    judged: Judged, before: Before, make_family: Family
) -> None:
    awful = {
        "families": [make_family(element, 0.9) for element in Element],
        "rpm": 500.0,
        "stroke": 1.0,
        "temperature_c": 120.0,
        "level": 30.0,
        "quality": {"clipping": CriterionResult.HOLD},
    }
    assessment = judged(before=before(awful))
    assert assessment.verdict is Verdict.PASS
    assert len(assessment.recordings) == 4
    assert assessment.recordings[0].recording.stage is Stage.AS_FOUND
