"""The view: worded, rounded, compared; hostile text harmless."""

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace

import pytest

from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Group,
    Improvement,
    RecordingAnalysis,
)
from vibhealth.report import (
    CAUTIONS,
    ReportView,
    analysis_view,
    recording_dict,
)
from vibhealth.report._wording import GROUP_TITLES


def texts(value: object) -> list[str]:
    """Every string anywhere in a view."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, tuple):
        return [text for item in value for text in texts(item)]
    if is_dataclass(value):
        return [text for item in fields(value) for text in texts(getattr(value, item.name))]
    pytest.fail(f"a view holds text only, found {type(value).__name__}")


def test_a_view_holds_nothing_but_harmless_text(make_view: Callable[..., ReportView]) -> None:
    found = texts(make_view())
    assert len(found) > 100
    assert not [text for text in found if not text.isprintable()]


def test_foreign_controls_are_written_out(make_view: Callable[..., ReportView]) -> None:
    view = make_view()
    remark = next(f for f in view.recordings[1].source if f.label == "Remark: note")
    assert remark.value == ('"><img src=x onerror=alert(2)> \\x1b[31mred\\x1b[0m \\u202eevil')


def test_first_things_are_the_acceptances_own_words(make_view: Callable[..., ReportView]) -> None:
    view = make_view()
    assert view.verdict == "HOLD · FIX"
    assert view.headline.startswith("HOLD · FIX - Regular ticking")
    assert view.reasons[0] == "Regular ticking that fits the outer ring."
    assert view.check_at == "before any restart"
    assert view.criteria_summary == "7 criteria: 1 on hold, 1 not judged, 1 to watch, 4 passed"


def test_criteria_stand_in_groups_with_value_limit_comparison_and_source(
    make_view: Callable[..., ReportView],
) -> None:
    view = make_view()
    expected = [
        title
        for group, title in GROUP_TITLES.items()
        if group not in {Group.JOB, Group.START_AND_STOP}
    ]
    assert [group.title for group in view.groups] == expected
    (row,) = next(group.rows for group in view.groups if group.title == "Bearing")
    assert (row.mark.word, row.value, row.limit, row.comparison) == (
        "HOLD", "0.84", "0.3", "2.8 × limit",
    )  # fmt: skip
    assert row.limit_source == "starting limit without a baseline"
    assert row.said == (
        "Regular ticking that fits the outer ring. Do not load the machine. Call the engineer."
    )


@pytest.mark.parametrize(
    ("value", "limit", "unit", "expected"),
    [
        (0.886, 0.3, "1", "0.89"),
        (-5.852, 3.0, "dB", "-5.9 dB"),
        (0.304, 0.3, "1", "0.304"),
        (0.296, 0.3, "1", "0.296"),
        (0.3, 0.3, "1", "0.3"),
        (978.0, 400.0, "turns", "978 turns"),
        (5.994, None, "mm", "5.99 mm"),
    ],
)
def test_sizes_have_two_digits_and_stay_on_their_side_of_the_limit(
    make_view: Callable[..., ReportView],
    make_criterion: Callable[..., Criterion],
    *,
    value: float,
    limit: float | None,
    unit: str,
    expected: str,
) -> None:
    (group,) = make_view(criteria=(make_criterion(value=value, limit=limit, unit=unit),)).groups
    assert group.rows[0].value == expected


def test_a_line_that_passes_gives_no_advice(
    make_view: Callable[..., ReportView], make_criterion: Callable[..., Criterion]
) -> None:
    passed = make_criterion(result=CriterionResult.PASS, detail="3 of 3 recordings")
    (group,) = make_view(criteria=(passed,)).groups
    assert group.rows[0].said == "3 of 3 recordings."


def test_no_criteria_are_said_to_be_none(make_view: Callable[..., ReportView]) -> None:
    assert make_view(criteria=()).criteria_summary == "nothing was judged"


@pytest.mark.parametrize(
    ("change_db", "at_least", "expected"),
    [
        (10.0, False, "10 dB better"),
        (26.2, True, "at least 26 dB better"),
        (-0.8, False, "0.8 dB worse"),
        (-3.0, True, "at most 3 dB worse"),
        (0.0, False, "unchanged"),
        (-0.00161, False, "unchanged"),
        (0.099, False, "unchanged"),
        (0.1, False, "0.1 dB better"),
        (0.0, True, "at least 0 dB better"),
        (float("nan"), True, "not measured"),
    ],
)
def test_improvements_in_words(
    make_view: Callable[..., ReportView], change_db: float, at_least: bool, expected: str
) -> None:
    item = Improvement(
        title="Level", before=2.0, after=1.0, unit="m/s2", improvement_db=change_db,
        at_least=at_least,
    )  # fmt: skip
    (row,) = make_view(improvements=(item,)).improvements
    assert row.change == expected
    assert row.after == ("below 1 m/s²" if at_least else "1 m/s²")


def test_settings_are_listed_in_full_with_their_source(
    make_view: Callable[..., ReportView],
) -> None:
    rows = {row.name: (row.value, row.source) for row in make_view().settings}
    assert rows == {
        "limits, depth hold": ("0.3 1", "starting limit"),
        "limits, stroke tolerance": ("10 percent", "machine card"),
        "seed": ("7", "no source stated"),
    }


def test_the_machine_is_listed_down_to_its_bearings(make_view: Callable[..., ReportView]) -> None:
    facts = {fact.label: fact.value for fact in make_view().machine_facts}
    assert facts["exciter, stroke mm, x"] == "6"
    assert facts["bearing, 1, element count"] == "17"


def test_cautions_of_the_assessment_come_first_and_ours_always(
    make_view: Callable[..., ReportView],
) -> None:
    view = make_view()
    assert view.cautions[0] == "The salt works' own isolation procedure applies."
    assert view.cautions[1:] == CAUTIONS
    assert make_view(cautions=CAUTIONS).cautions == CAUTIONS


def test_a_recording_says_what_it_is(spalled: RecordingAnalysis) -> None:
    view = analysis_view(spalled)
    facts = {fact.label: fact.value for fact in (*view.source, *view.speed)}
    assert facts["Length"] == "60.0 s, 978 turns"
    assert facts["Sampling rate"] == "25600 Hz"
    assert facts["Shaft speed"] == "978.0 r/min (16.3 Hz), found in the recording itself"
    assert facts["Calibration"] == "490 m/s² per file unit, sensor A1 of the machine card"
    family = view.families[0]
    assert (family.element, family.found, family.order) == ("outer ring", "FOUND", "7.119")
    assert family.remarks.startswith("lines 28, 25, 20 dB above the floor; side bands")
    assert view.families[2].remarks == "cannot be told from outer ring"
    assert view.families[3].remarks == "blind spot: falls on a shaft order"
    assert (family.false_alarm, view.families[1].false_alarm) == ("below 10⁻⁶", "0.31")


def test_no_strike_is_stated_where_no_family_is(spalled: RecordingAnalysis) -> None:
    view = analysis_view(spalled)
    for row, family in zip(view.families, spalled.families, strict=True):
        assert family.impact_m_s2 is not None
        if family.result is CriterionResult.PASS:
            assert row.impact == "-"
        else:
            assert row.impact == f"{family.impact_m_s2:.2g} m/s²"
    assert {row.impact == "-" for row in view.families} == {True, False}
    kept = {f["element"]: f["impact_m_s2"] for f in recording_dict(spalled)["families"]}
    # The document keeps ten significant digits: half a unit of the last is 5e-10 at most.
    whole = {f.element.value: f.impact_m_s2 for f in spalled.families}
    assert kept == pytest.approx(whole, rel=5e-10)


def test_checks_of_a_recording_that_pass_stand_apart(assessment: Assessment) -> None:
    view = analysis_view(assessment.recordings[2])
    assert [row.title for row in view.quality_passed] == ["Clipping"]
    assert [row.title for row in view.quality_open] == ["Length"]
    assert view.quality_summary == "1 to watch, 1 passed"


def test_a_file_of_several_points_is_listed_once(
    make_view: Callable[..., ReportView], spalled: RecordingAnalysis
) -> None:
    other = replace(spalled, recording=replace(spalled.recording, point="P1Y", channel=2))
    assert make_view(recordings=(spalled, other)).files == (
        ("as-found/P1X.wav", spalled.recording.sha256),
    )


def test_gaps_are_said_and_nothing_is_claimed_for_them(silent: RecordingAnalysis) -> None:
    view = analysis_view(silent)
    facts = {fact.label: fact.value for fact in (*view.source, *view.speed, *view.motion)}
    assert facts["Length"] == "60.0 s, turns unknown (no speed found)"
    assert facts["Shaft speed"].startswith("not found: no line stands out")
    assert facts["Working motion"] == "not measured"
    assert view.quality_summary == "no check of the recording was made"
    assert view.sensitivity[0].startswith("Not stated")


def test_an_uncalibrated_recording_says_so(assessment: Assessment) -> None:
    view = analysis_view(assessment.recordings[2])
    facts = {fact.label: fact.value for fact in view.source}
    assert facts["Calibration"] == "none known: nothing absolute is judged"
    assert {row.impact for row in view.families} == {"no calibration"}


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("C:\\job\\data\\P1X.wav", "data/P1X.wav"),
        ("/job/data/P1X.wav", "data/P1X.wav"),
        ("./P1X.wav", "P1X.wav"),
        ("P1X.wav", "P1X.wav"),
    ],
)
def test_the_name_is_folder_and_file_of_either_kind_of_path(
    spalled: RecordingAnalysis, path: str, name: str
) -> None:
    altered = replace(spalled, recording=replace(spalled.recording, path=path))
    assert analysis_view(altered).name == name
