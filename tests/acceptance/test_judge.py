"""The whole answer: what it rests on, what it refuses, and that every part is there."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from vibhealth.acceptance import CAUTIONS, assess, judge
from vibhealth.card import MachineCard
from vibhealth.errors import InputError
from vibhealth.model import (
    Assessment,
    CriterionResult,
    Group,
    Recording,
    RecordingAnalysis,
    Stage,
    Verdict,
)

Judged = Callable[..., Assessment]
Make = Callable[..., RecordingAnalysis]
Cards = Callable[..., MachineCard]

NONE_AFTER = "no as-left recording: give at least one recording made after the rebuild"


def test_a_clean_rebuild_passes(judged: Judged) -> None:
    assessment = judged()
    assert assessment.verdict is Verdict.PASS
    assert assessment.hold is None
    assert assessment.reasons == ()
    assert assessment.headline == (
        "PASS on absolute checks only. No fault found, and a small bearing fault would have been "
        "seen."
    )
    assert assessment.cautions == CAUTIONS
    assert {item.result for item in assessment.criteria} == {CriterionResult.PASS}


def test_every_group_that_can_occur_does(judged: Judged, make_analysis: Make) -> None:
    before = make_analysis(9, stage=Stage.AS_FOUND)
    groups = [item.group for item in judged(before=[before]).criteria]
    # The work by hand, starts and stops stand there where a job says something of them.
    expected = [group for group in Group if group not in {Group.JOB, Group.START_AND_STOP}]
    # Together, and in the order of the report.
    assert list(dict.fromkeys(groups)) == expected
    assert groups == sorted(groups, key=list(Group).index)


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"rpm": 1100.0, "stroke": 60.0, "harmonic": 2.0, "half": 0.2, "level": 8.0},
        {"rpm": None, "variation": None, "has_motion": False, "not_judged": "no speed"},
        {"is_calibrated": False, "detectable": None, "level": None},
        {"temperature_c": 99.0, "remarks": (("load", "loaded"),), "detectable": 0.2},
    ],
)
def test_every_line_is_whole(judged: Judged, make_analysis: Make, facts: dict[str, Any]) -> None:
    """A limit has a source; what fails has a reason, a kind and something to do; ids differ."""
    before = make_analysis(9, stage=Stage.AS_FOUND)
    criteria = judged(facts, before=[before]).criteria
    assert len({item.id for item in criteria}) == len(criteria)
    for item in criteria:
        assert item.title
        assert item.limit_source, item.id
        failed = item.result in {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}
        assert (item.hold is not None) == failed, item.id
        assert bool(item.reason) == failed, item.id
        if failed and not item.id.startswith(("recording-", "pair-")):
            assert item.advice, item.id


def test_scope_says_what_the_verdict_rests_on(judged: Judged, make_analysis: Make) -> None:
    alone = judged().scope
    assert alone.startswith("Recordings only: nothing is known here of the work by hand.")
    assert "no known-good recording" in alone
    assert "as-found" not in alone
    before = make_analysis(9, stage=Stage.AS_FOUND)
    assert "prove an improvement, never a PASS" in judged(before=[before]).scope


def test_settings_are_all_limits_with_their_sources(judged: Judged, make_card: Cards) -> None:
    card = make_card(limits={"depth_hold": {"value": 0.29, "source": "agreed in writing"}})
    settings = judged(card=card).settings
    assert set(settings) == {limit.id for limit in card.limits.rows}
    for facts in settings.values():
        assert set(facts) == {"value", "unit", "source", "meaning"}
        assert facts["source"]
        assert facts["meaning"]
        assert facts["unit"]
    assert settings["depth_hold"]["value"] == 0.29
    assert "agreed in writing" in settings["depth_hold"]["source"]
    assert settings["detectable_impact_hold_m_s2"]["value"] is None


def test_limits_of_the_card_are_those_that_decide(judged: Judged, make_card: Cards) -> None:
    card = make_card(limits={"speed_hold_percent": 2.5})
    assert judged(rpm=978.0 * 1.027).verdict is Verdict.PASS
    assert judged(rpm=978.0 * 1.027, card=card).verdict is Verdict.HOLD


def test_the_machine_is_named(judged: Judged) -> None:
    assert judged().machine == {
        "id": "F3",
        "name": "Deck feeder F3",
        "nominal_speed_rpm": 978.0,
        "card": "",
        "card_sha256": "",
        "bearings": [
            {
                "name": "DE",
                "element_count": 9,
                "load_case": "rotating",
                "rotating_ring": "inner",
            }
        ],
    }


def test_recordings_come_back_in_order(make_analysis: Make, make_card: Cards) -> None:
    before = [make_analysis(9, stage=Stage.AS_FOUND)]
    after = [make_analysis(number) for number in (1, 2)]
    assert judge(before, after, card=make_card()).recordings == (*before, *after)


def test_one_clean_recording_passes_and_says_that_it_is_one(
    make_analysis: Make, make_card: Cards
) -> None:
    assessment = judge([], [make_analysis()], card=make_card())
    assert assessment.verdict is Verdict.PASS
    watched = {item.id for item in assessment.criteria if item.result is CriterionResult.WATCH}
    assert watched == {"recording-count", "agreement"}


def recording_of(analysis: RecordingAnalysis, **changes: Any) -> Recording:
    return replace(analysis.recording, **changes)


def test_no_as_left_recording_is_refused(make_analysis: Make, make_card: Cards) -> None:
    before = make_analysis(9, stage=Stage.AS_FOUND)
    with pytest.raises(InputError, match=f"^{re.escape(NONE_AFTER)}$"):
        judge([before], [], card=make_card())
    with pytest.raises(InputError, match=f"^{re.escape(NONE_AFTER)}$"):
        assess([before.recording], [], card=make_card())


def test_the_same_file_before_and_after_is_refused(make_analysis: Make, make_card: Cards) -> None:
    before = make_analysis(9, stage=Stage.AS_FOUND, sha256="one", path="old.wav")
    after = make_analysis(1, sha256="one", path="new.wav")
    message = (
        "new.wav: the same recording is given as before (old.wav) and after; give the recording "
        "made after the rebuild"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        judge([before], [make_analysis(2), after], card=make_card())
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        assess([before.recording], [after.recording], card=make_card())
    other = replace(after, recording=recording_of(after, channel=2))
    assert judge([before], [other], card=make_card()).recordings


def test_a_machine_without_exciter_needs_no_motion(judged: Judged, make_card: Cards) -> None:
    ordinary = judged(has_motion=False, variation=None, card=make_card(exciter=None))
    assert ordinary.verdict is Verdict.PASS
    assert judged(has_motion=False, variation=None).verdict is Verdict.HOLD
