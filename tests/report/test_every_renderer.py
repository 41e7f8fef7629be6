"""Every enum member is in every renderer, and none claims more than the view."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from vibhealth.model import (
    Criterion,
    CriterionResult,
    Element,
    Group,
    Hold,
    RecordingAnalysis,
    Verdict,
)
from vibhealth.report import (
    ReportView,
    html_text,
    terminal_text,
)
from vibhealth.report._wording import GROUP_TITLES, HOLD_WORDS, MARKS


@pytest.mark.parametrize("result", list(CriterionResult))
@pytest.mark.parametrize("group", list(Group))
def test_every_group_and_result_is_in_every_renderer(
    make_view: Callable[..., ReportView],
    make_criterion: Callable[..., Criterion],
    group: Group,
    result: CriterionResult,
) -> None:
    criterion = make_criterion(group=group, result=result)
    view = make_view(criteria=(criterion,), recordings=(), orbits=(), improvements=())
    mark = MARKS[result]
    terminal, page = terminal_text(view, details=True), html_text(view)
    assert f"{mark.symbol} {mark.word}" in terminal
    assert GROUP_TITLES[group].upper() in terminal
    assert f'aria-hidden="true">{mark.symbol}</span>{mark.word}' in page
    assert f">{GROUP_TITLES[group]}<" in page


@pytest.mark.parametrize("hold", [None, *Hold])
def test_every_verdict_and_hold_is_in_every_renderer(
    make_view: Callable[..., ReportView], hold: Hold | None
) -> None:
    verdict = Verdict.PASS if hold is None else Verdict.HOLD
    expected = "PASS" if hold is None else f"HOLD · {HOLD_WORDS[hold]}"
    view = make_view(
        verdict=verdict, hold=hold, headline=f"{expected} - because", recordings=(), orbits=()
    )
    assert view.verdict == expected
    assert terminal_text(view).splitlines()[0] == f"{expected} - because"
    page = html_text(view)
    assert f"</span> {expected}</p>" in page
    assert f'<section class="answer {"pass" if hold is None else "hold"}"' in page


@pytest.mark.parametrize("result", list(CriterionResult))
@pytest.mark.parametrize("element", list(Element))
def test_every_element_and_result_of_a_family_is_in_every_renderer(
    make_view: Callable[..., ReportView],
    spalled: RecordingAnalysis,
    element: Element,
    result: CriterionResult,
) -> None:
    family = replace(spalled.families[0], element=element, result=result)
    view = make_view(recordings=(replace(spalled, families=(family,)),), criteria=())
    assert f"{MARKS[result].symbol} {MARKS[result].word}" in terminal_text(view, details=True)
    assert f"upper, {element.words}" in terminal_text(view, details=True)
    assert f">upper, {element.words}<" in html_text(view)


def test_no_renderer_claims_by_itself_what_would_have_been_seen(
    make_view: Callable[..., ReportView], silent: RecordingAnalysis
) -> None:
    view = make_view(recordings=(silent,), criteria=())
    for text in (
        terminal_text(view, width=400),
        terminal_text(view, width=400, details=True),
        html_text(view),
    ):
        assert "would have been" not in text
        assert "small" not in text.replace("too small to find", "")
