"""What hides a bearing is never a pass; what is found in spite of it holds."""

from collections.abc import Callable
from typing import Any

import pytest

from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Disturbance,
    Element,
    FamilyFinding,
    Hold,
    Verdict,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Family = Callable[..., FamilyFinding]

OUTER = "family-DE-outer-ring"
WHY = "Masked: falling material (12 hard hits per second) hides the bearing."
STONES = Disturbance(
    id="material-strikes",
    title="Material strikes",
    value=12.0,
    unit="1/s",
    detail="12 hard hits per second.",
    advice="Stop the feed and run empty.",
)
MASKED: dict[str, Any] = {"masked": WHY, "disturbances": [STONES]}


def test_a_masked_point_is_measured_again(judged: Judged, criterion: Pick) -> None:
    assessment = judged(**MASKED)
    found = criterion(assessment, "masked")
    assert found.result is CriterionResult.NOT_JUDGED
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert "falling material (12 hard hits per second) hides the bearing" in found.reason
    assert found.advice.startswith("Stop the feed and run empty.")
    for element in Element:
        family = criterion(assessment, f"family-DE-{element.value}")
        assert (family.result, family.value) == (CriterionResult.NOT_JUDGED, None)
    assert [reason for reason in assessment.reasons if "hides" in reason] == [found.reason]
    assert assessment.next_step.action.startswith("Stop the feed and run empty.")


def test_a_clean_recording_of_the_same_point_speaks_for_it(judged: Judged, criterion: Pick) -> None:
    assessment = judged(MASKED)
    found = criterion(assessment, "masked")
    assert (found.result, found.value) == (CriterionResult.WATCH, "masked: as-left/1.wav (P1X)")
    assert criterion(assessment, OUTER).result is CriterionResult.PASS
    assert assessment.verdict is Verdict.PASS
    assert "as-left/1.wav (P1X)" in assessment.headline
    assert "No fault found" in assessment.headline
    assert assessment.next_step.check_at.startswith("Within 4 h")


@pytest.mark.parametrize(
    "other", [{"point": "P2X"}, {"not_judged": "no speed"}, {"masked": WHY}], ids=str
)
def test_nothing_else_does(judged: Judged, criterion: Pick, other: dict[str, Any]) -> None:
    assessment = judged(MASKED, other, other)
    assert criterion(assessment, "masked").result is CriterionResult.NOT_JUDGED
    assert assessment.hold is Hold.MEASURE_AGAIN


def test_a_family_found_in_spite_of_it_holds_and_masked_ones_do_not_outvote_it(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    spall = {"families": [make_family(depth=0.6)]}
    shown = judged(MASKED | spall, MASKED, MASKED)
    assert criterion(shown, OUTER).hold is Hold.FIX
    assert shown.hold is Hold.FIX
    assert shown.reasons[0] == criterion(shown, OUTER).reason
    assert criterion(judged(spall, MASKED, MASKED), OUTER).result is CriterionResult.HOLD
    assert criterion(judged(spall, {}, {}), OUTER).result is CriterionResult.WATCH
    assert criterion(judged(MASKED | spall, {}, {}), OUTER).result is CriterionResult.WATCH


def test_disturbances_are_listed_once_the_strongest_first_hand(
    judged: Judged, criterion: Pick
) -> None:
    weaker = Disturbance(
        id="material-strikes", title="Material strikes", value=2.0, unit="1/s",
        detail="2 hard hits per second", advice=STONES.advice,
    )  # fmt: skip
    lines = Disturbance(
        id="lines-fixed-in-hz", title="Lines fixed in Hz", value=20.0, unit="%",
        detail="One line keeps to 2000 Hz", advice="Look at the inverter.",
    )  # fmt: skip
    assessment = judged({"disturbances": [weaker]}, {"disturbances": [lines, STONES]})
    found = criterion(assessment, "disturbances")
    assert found.result is CriterionResult.WATCH
    assert found.value == (
        "Material strikes, as-left/2.wav (P1X): 12 hard hits per second. Lines fixed in Hz, "
        "as-left/2.wav (P1X): One line keeps to 2000 Hz."
    )
    assert found.advice == "Stop the feed and run empty. Look at the inverter."
    assert assessment.verdict is Verdict.PASS
    assert "No fault found" in assessment.headline
    assert assessment.next_step.check_at == "At 8 h, 24 h and 7 days of running"
    assert any(reason.endswith(found.advice) for reason in assessment.reasons)


def test_without_any_there_is_nothing_to_say(judged: Judged) -> None:
    assert not {"masked", "disturbances"} & {item.id for item in judged().criteria}
