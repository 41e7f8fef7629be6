"""The counting behind every campaign: intervals, tables, outcomes."""

import re
from typing import Any

import pytest
from scipy import stats

from tests.benchmark import (
    disturbances,
    false_alarms,
    kinematics,
    marks,
    paired_evidence,
    seeded_depth,
)
from tests.benchmark.compact_json import compact
from tests.benchmark.counting import confusion, share
from tests.benchmark.naming import is_found, named_words, outcome
from tests.benchmark.run_benchmark import confusions, times
from tests.benchmark.run_benchmark import false_alarms as healthy_counts
from tests.benchmark.run_campaign import parsed
from vibhealth.model import CriterionResult, Element, FamilyFinding

ROUNDED = 1e-5  # rates and interval ends are given to five digits


def family(element: Element, **changes: Any) -> FamilyFinding:
    values: dict[str, Any] = {
        "bearing": "main",
        "element": element,
        "order": 4.0,
        "frequency_hz": 80.0,
        "slip_percent": 0.0,
        "false_alarm_probability": 1e-6,
        "depth": 0.5,
        "depth_whitened": 0.5,
        "impact_m_s2": 1.0,
        "band_hz": (1000.0, 2000.0),
        "result": CriterionResult.HOLD,
        "present": True,
    }
    return FamilyFinding(**(values | changes))


def test_no_event_in_n_trials_has_the_closed_interval() -> None:
    """0 of n: the upper end solves (1 - p)^n = 0.025."""
    low, high = share(0, 2000)["interval_95"]
    assert low == 0.0
    assert high == pytest.approx(1 - 0.025 ** (1 / 2000), abs=ROUNDED)


def test_interval_ends_leave_the_stated_tails() -> None:
    low, high = share(7, 40)["interval_95"]
    assert stats.binom.sf(6, 40, low) == pytest.approx(0.025, rel=1e-3)
    assert stats.binom.cdf(7, 40, high) == pytest.approx(0.025, rel=1e-3)


def test_share_refuses_more_counts_than_trials() -> None:
    with pytest.raises(ValueError, match=re.escape("count must lie in 0 to 3, got 4")):
        share(4, 3)


def test_share_of_no_trials_has_no_rate() -> None:
    assert share(0, 0) == {"count": 0, "trials": 0, "rate": None, "interval_95": None}


def test_confusion_has_a_row_per_truth() -> None:
    pairs = [("inner", "inner-ring"), ("inner", "none"), ("inner", "none"), ("outer", "cage")]
    assert confusion(pairs) == {"inner": {"inner-ring": 1, "none": 2}, "outer": {"cage": 1}}


def test_outcome_goes_by_the_largest_present_family() -> None:
    outer = family(Element.OUTER_RING, depth_whitened=0.4)
    inner = family(Element.INNER_RING, depth_whitened=0.6)
    assert outcome([outer, inner], Element.INNER_RING) == "right"
    assert outcome([outer, inner], Element.OUTER_RING) == "wrong"
    assert outcome([family(Element.CAGE, present=False)], Element.CAGE) == "none"


def test_outcome_tells_ambiguity_apart() -> None:
    element = family(Element.ROLLING_ELEMENT, ambiguous_with=("cage",))
    assert outcome([element], Element.ROLLING_ELEMENT) == "right-ambiguous"
    assert outcome([element], Element.CAGE) == "other-ambiguous"
    assert outcome([element], Element.INNER_RING) == "wrong"
    assert named_words([element]) == "rolling-element or cage"
    assert named_words([]) == "none"


@pytest.mark.parametrize(("result", "found"), [("pass", False), ("watch", True), ("hold", True)])
def test_found_is_watch_or_hold_of_that_element(result: str, found: bool) -> None:
    own = family(Element.CAGE, result=CriterionResult(result))
    assert is_found([own], Element.CAGE) is found
    assert not is_found([own], Element.INNER_RING)


def test_false_alarms_are_counted_once_per_recording_and_level() -> None:
    def alarm(probability: float, *results: str) -> false_alarms.Alarm:
        return false_alarms.Alarm(
            kind="white", seed=1, probability=probability, element="cage", results=results
        )

    alarms = [alarm(0.001, "hold", "hold"), alarm(0.01, "watch"), alarm(0.02, "pass"), alarm(1.0)]
    rates = false_alarms.summarize(alarms)["rates"]["pooled"]
    assert [rates[name]["count"] for name in rates] == [1, 2, 3, 2, 1]


def test_kinematics_counts_what_else_is_held() -> None:
    def named(outcome_word: str, held: tuple[str, ...]) -> kinematics.Named:
        return kinematics.Named(
            cell="rotating:cage",
            seed=1,
            machine=0,
            outcome=outcome_word,
            named="cage",
            found=outcome_word != "none",
            others_held=held,
        )

    trials = [named("right", ()), named("wrong", ("inner-ring",)), named("none", ())]
    cell = kinematics.summarize(trials)["cells"]["rotating:cage"]
    assert cell["right"]["count"] == cell["wrong"]["count"] == cell["none"]["count"] == 1
    assert cell["at_watch_or_hold"]["count"] == 2
    assert cell["another_element_held_too"]["count"] == 1


def test_cell_names_are_read_and_refused() -> None:
    assert kinematics.cell_of("twice-per-turn:inner-ring").element is Element.INNER_RING
    with pytest.raises(ValueError, match=re.escape("got 'rotating:shaft'")):
        kinematics.cell_of("rotating:shaft")


def test_marks_counts_right_empty_and_wrong() -> None:
    def marked(told: str) -> marks.Marked:
        return marks.Marked(
            load="rotating", ring="outer-ring", wanted="single-mark", told=told, seed=1
        )

    results = [marked("single-mark"), marked(""), marked(""), marked("marks-at-every-element")]
    kind = marks.summarize(results)["kinds"]["rotating outer-ring single-mark"]
    assert [kind[word]["count"] for word in ("right", "empty", "wrong")] == [1, 2, 1]


def pair(before: float, after: float) -> paired_evidence.Pair:
    return paired_evidence.Pair(seed=1, evidence=(before, after), found=(True, True))


def test_paired_difference_and_standard_error_are_those_of_the_decibels() -> None:
    """Ten times less and equal: -10 dB and 0 dB, mean -5, standard error 5."""
    figures = paired_evidence.summarize([pair(100.0, 10.0), pair(50.0, 50.0)])
    assert figures["difference_db"] == -5.0
    assert figures["standard_error_db"] == 5.0


def test_no_difference_is_given_where_the_evidence_is_missing() -> None:
    figures = paired_evidence.summarize([pair(100.0, 10.0), pair(50.0, 0.0)])
    assert figures["refused"] == "the evidence is 0 in 1 of 2 pairs"
    assert "difference_db" not in figures


def test_a_masked_defect_is_not_a_missed_one() -> None:
    def answer(*, found: bool, masked: bool, coarse: bool) -> str:
        return disturbances.Disturbed(
            kind="inverter",
            is_defective=True,
            found=found,
            any_hold=found,
            masked=masked,
            too_coarse=coarse,
            disturbances=(),
            seed=1,
        ).answer

    assert answer(found=True, masked=True, coarse=True) == "found"
    assert answer(found=False, masked=True, coarse=False) == "masked"
    assert answer(found=False, masked=False, coarse=True) == "masked"
    assert answer(found=False, masked=False, coarse=False) == "clean"


def test_seedings_are_pooled_by_target_and_factor() -> None:
    def seeding(factor: float, *, found: bool) -> seeded_depth.Seeding:
        size = seeded_depth.Size(
            piece=0,
            file="a.wav",
            element=Element.CAGE,
            target="depth",
            factor=factor,
            stated=0.2,
            amplitude=1.0,
            ring_hz=3000.0,
        )
        return seeded_depth.Seeding(
            size=size, seed=1, found=found, significant=True, depth_read=0.2
        )

    shares = seeded_depth.summarize([seeding(1.0, found=True), seeding(0.5, found=False)])
    assert shares["pooled: depth x 1"]["found"]["count"] == 1
    assert shares["pooled: depth x 0.5"]["found"]["count"] == 0
    assert shares["a.wav depth x 0.5 cage"]["significant"]["count"] == 1


def test_benchmark_tables_go_by_data_set_and_grade() -> None:
    common = {
        "label": "inner",
        "published_grade": "Y2",
        "seconds": 3.0,
        "cpu_seconds": 2.0,
        "recorded_s": 30.0,
    }
    found = [
        {"file": "cwru/a.wav", "named": "inner-ring", **common},
        {"file": "cwru/b.wav", "named": None, **common},
    ]
    assert confusions(found) == {"cwru Y2": {"inner": {"inner-ring": 1, "none": 1}}}
    assert times(found)["seconds_per_recorded_minute"] == 6.0
    assert times(found)["cpu_seconds_per_recorded_minute"] == 4.0
    assert healthy_counts([]) == {}


def test_shares_stay_on_one_line() -> None:
    text = compact({"cells": {"a": share(1, 2)}})
    assert text.count("\n") == 4
    assert '"a": {"count": 1, "trials": 2' in text


def test_command_refuses_an_option_that_the_campaign_does_not_have(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert parsed(["kinematics", "--cell", "rotating:cage"]).cell[0].load == "rotating"
    with pytest.raises(SystemExit):
        parsed(["false-alarms", "--cell", "rotating:cage"])
    assert "campaign false-alarms has no option cells" in capsys.readouterr().err
