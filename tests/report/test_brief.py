"""The short report: fits the screen, hides nothing that does not pass, repeats nothing."""

from collections.abc import Callable
from dataclasses import replace
from math import inf

import pytest

from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Element,
    Group,
    Improvement,
    RecordingAnalysis,
    SensitivityFinding,
    Stage,
)
from vibhealth.report import CAUTIONS, ReportView, terminal_text
from vibhealth.report._wording import GROUP_TITLES, MARKS

SCREEN_AND_A_HALF = 60
Make = Callable[..., ReportView]


def joined(view: ReportView) -> str:
    """Short report on one line, so that no sentence is broken."""
    return " ".join(terminal_text(view, width=400).split())


def many_criteria(make: Callable[..., Criterion]) -> tuple[Criterion, ...]:
    """Two points, one bearing and every check of the recordings: what a real job brings."""
    names = {Group.RECORDING: 20, Group.STATE: 2, Group.MOTION: 5, Group.BEARING: 5}
    rows = [
        make(id=f"{group}-{n}", group=group, title=f"Criterion number {n}", limit=0.3,
             result=CriterionResult.WATCH if n == 0 else CriterionResult.PASS)
        for group, count in names.items() for n in range(count)
    ]  # fmt: skip
    return (*rows, make(group=Group.SENSITIVITY), make(group=Group.IMPROVEMENT))


def test_a_job_of_two_points_fits_one_screen_and_a_half(
    make_view: Make, make_criterion: Callable[..., Criterion]
) -> None:
    view = make_view(criteria=many_criteria(make_criterion))
    short, long = terminal_text(view), terminal_text(view, details=True)
    assert len(short.splitlines()) <= SCREEN_AND_A_HALF
    assert len(long.splitlines()) > 3 * SCREEN_AND_A_HALF


def test_many_points_do_not_make_it_longer_without_end(
    make_view: Make, make_criterion: Callable[..., Criterion]
) -> None:
    rows = [make_criterion(id=str(n), group=Group.MOTION, result=CriterionResult.PASS,
                           title=f"Stroke at point {n}", limit=0.3) for n in range(20)]  # fmt: skip
    changes = tuple(
        Improvement(title=f"P{n}: level, bearing band", before=2.0, after=1.0, unit="m/s2",
                    improvement_db=6.0 if n < 19 else -6.0) for n in range(20)
    )  # fmt: skip
    text = joined(make_view(criteria=tuple(rows), improvements=changes))
    assert "stroke at point 7 0.84 of 0.3, 12 more" in text
    assert "stroke at point 8" not in text
    assert "P19: level, bearing band 2 m/s² → 1 m/s² 6 dB worse P0:" in text
    assert "and 12 more" in text


@pytest.mark.parametrize("result", [r for r in CriterionResult if r is not CriterionResult.PASS])
@pytest.mark.parametrize("group", list(Group))
def test_what_does_not_pass_is_said_in_full(
    make_view: Make,
    make_criterion: Callable[..., Criterion],
    group: Group,
    result: CriterionResult,
) -> None:
    criterion = make_criterion(
        group=group, result=result, title="Some criterion", advice="Look at the oil."
    )
    mark = MARKS[result]
    text = joined(make_view(criteria=(criterion,)))
    assert (
        f"{mark.symbol} {mark.word} Some criterion: 0.84, limit 0.3 (2.8 × limit, starting limit "
        "without a baseline). Look at the oil."
    ) in text
    assert "WHAT PASSED" not in text
    title = "WHAT TO WATCH" if result is CriterionResult.WATCH else "WHAT HOLDS, WHAT TO WATCH"
    assert f" {title} {mark.symbol}" in text


@pytest.mark.parametrize("group", list(Group))
def test_what_passes_is_one_line_per_group(
    make_view: Make, make_criterion: Callable[..., Criterion], group: Group
) -> None:
    criterion = make_criterion(group=group, result=CriterionResult.PASS, title="Some criterion")
    text = joined(make_view(criteria=(criterion,)))
    expected = f"✓ {GROUP_TITLES[group]}: some criterion 0.84 of 0.3"
    if group is Group.RECORDING:
        expected = "✓ 1 check of the recordings passed"
    assert expected in text
    assert "TO WATCH" not in text


def test_what_holds_stands_before_what_is_to_be_watched(
    make_view: Make, make_criterion: Callable[..., Criterion]
) -> None:
    results = (CriterionResult.WATCH, CriterionResult.NOT_JUDGED, CriterionResult.HOLD)
    rows = tuple(
        make_criterion(group=group, result=result, title=f"Line {result}")
        for group, result in zip(Group, results, strict=False)
    )
    text = joined(make_view(criteria=rows))
    places = [text.index(f"Line {result}") for result in reversed(results)]
    assert places == sorted(places)


def test_a_sentence_keeps_the_limit_it_names_and_gets_the_one_it_does_not(
    make_view: Make, make_criterion: Callable[..., Criterion]
) -> None:
    said = "973 turns in 60 s, at least 400 are needed for a verdict"
    for limit, expected in (
        (400.0, f"Long: {said}. Do not load"),
        (500.0, f"Long: {said}. Limit 500 (starting limit without a baseline). Do not load"),
    ):
        criterion = make_criterion(title="Long", value=said, limit=limit, unit="")
        step = make_view().next_action
        view = replace(make_view(criteria=(criterion,)), next_action="Wait.")
        assert expected in joined(view)
        assert step.startswith("Do not load")


def test_reasons_and_advice_that_stand_above_are_not_repeated(make_view: Make) -> None:
    view = make_view(reasons=("It ticks.", "It is hot."), headline="HOLD - FIX. It ticks.")
    text = joined(view)
    assert text.count("It ticks.") == 1
    assert "Also 1. It is hot." in text
    assert text.count(view.next_action) == 1
    everything = joined(make_view(reasons=("A.", "B."), headline="HOLD - FIX."))
    assert "Why 1. A. 2. B." in everything
    assert "Also" not in joined(make_view(reasons=("It ticks.",), headline="HOLD. It ticks."))


def test_more_reasons_than_fit_are_counted(make_view: Make) -> None:
    text = joined(make_view(reasons=tuple(f"Reason number {n}." for n in range(9))))
    assert "6. Reason number 5. and 3 more" in text


def test_the_scope_ends_with_a_whole_sentence(make_view: Make) -> None:
    first, second = "First sentence of the scope.", "Second sentence of the scope."
    assert f"{first} {second}" in joined(make_view(scope=f"{first} {second}"))
    lines = terminal_text(make_view(scope=f"{first} {second}"), width=40)
    assert first in " ".join(lines.split())
    assert "Second" not in lines


def seen(element: Element, depth: float, impact: float | None) -> SensitivityFinding:
    return SensitivityFinding(bearing="upper", element=element, detectable_depth=depth,
                              detectable_impact_m_s2=impact, probability=0.95)  # fmt: skip


def test_sensitivity_is_that_of_the_best_as_left_recording(
    make_view: Make, spalled: RecordingAnalysis
) -> None:
    def at(point: str, stage: Stage, *findings: SensitivityFinding) -> RecordingAnalysis:
        recording = replace(spalled.recording, point=point, stage=stage)
        return replace(spalled, recording=recording, sensitivity=findings)

    outer, cage = Element.OUTER_RING, Element.CAGE
    view = make_view(
        recordings=(
            at("P0X", Stage.AS_FOUND, seen(outer, 0.001, 0.01)),
            at("P1X", Stage.AS_LEFT, seen(outer, 0.05, 0.2), seen(cage, inf, inf)),
            at("P2X", Stage.AS_LEFT, seen(outer, 0.04, None), seen(cage, inf, None)),
        )
    )
    text = joined(view)
    outer_words = (
        "Bearing upper: an outer-ring defect with a modulation depth of 0.04 or more would have been "
        "found (95 of 100) (P2X)."
    )
    cage_words = "Bearing upper: a cage defect: no size tried would have been found (P1X, "
    assert text.index(cage_words) < text.index(outer_words)
    assert "0.001" not in text


def test_a_blind_element_is_not_promised_on_the_shafts_lines(
    make_view: Make, spalled: RecordingAnalysis
) -> None:
    hidden = tuple(
        replace(family, blind_spot=family.element is Element.OUTER_RING)
        for family in spalled.families
    )
    left = replace(
        spalled,
        recording=replace(spalled.recording, point="P1X", stage=Stage.AS_LEFT),
        families=hidden,
        sensitivity=(seen(Element.OUTER_RING, 0.05, 0.2), seen(Element.INNER_RING, 0.05, 0.2)),
    )
    text = joined(make_view(recordings=(left,)))
    assert text.count("P1X, not on the shaft's lines: blind spot") == 1
    assert "(95 of 100); as modulation depth 0.05 or more (P1X, not on" in text


def test_of_many_elements_the_worst_are_told_and_the_rest_counted(
    make_view: Make, spalled: RecordingAnalysis
) -> None:
    findings = tuple(
        replace(seen(element, 0.05, 0.01 * n), bearing=f"B{n}", n_trials=40)
        for n, element in enumerate([*Element, *Element], start=1)
    )
    recording = replace(spalled.recording, stage=Stage.AS_LEFT)
    view = make_view(recordings=(replace(spalled, recording=recording, sensitivity=findings),))
    text = joined(view)
    assert [f"Bearing B{n}:" in text for n in range(1, 9)] == [False] * 4 + [True] * 4
    assert text.index("Bearing B8:") < text.index("Bearing B5:")
    assert "and 4 more" in text
    assert [row.bearing for row in view.sensitivity] == [f"B{n}" for n in range(8, 0, -1)]
    assert {row.chance for row in view.sensitivity} == {"95 % of 40"}


def test_what_a_pass_does_not_mean_is_said_on_a_pass(make_view: Make, passing: Assessment) -> None:
    certifies = "It does not certify that the machine is safe"
    holding = make_view()
    passed = make_view(verdict=passing.verdict, hold=None)
    assert certifies in joined(passed)
    assert certifies not in joined(holding)
    for view in (passed, holding):
        assert f"! {CAUTIONS[0].partition('. ')[0]}." in joined(view)
        assert "! Site rules, local codes" in joined(view)
        assert "--details" in joined(view)


def test_only_what_concerns_the_bearing_is_compared(make_view: Make) -> None:
    text = joined(make_view())
    assert "Level in the bearing band 1.9 m/s² → 0.6 m/s² 10 dB better" in text
    assert "Velocity" not in text
