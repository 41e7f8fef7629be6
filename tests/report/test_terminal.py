"""Terminal text: the verdict first, no control codes, any width."""

import re
from collections.abc import Callable

import pytest

from vibhealth.errors import InputError
from vibhealth.model import RecordingAnalysis
from vibhealth.report import ReportView, analysis_text, analysis_view, terminal_text


def test_report_as_agreed(
    make_view: Callable[..., ReportView], check_golden: Callable[[str, str], None]
) -> None:
    check_golden("report_terminal.txt", terminal_text(make_view(), details=True))


def test_short_report_as_agreed(
    make_view: Callable[..., ReportView], check_golden: Callable[[str, str], None]
) -> None:
    check_golden("report_terminal_short.txt", terminal_text(make_view()))


def test_analysis_as_agreed(
    spalled: RecordingAnalysis, check_golden: Callable[[str, str], None]
) -> None:
    check_golden("report_analysis.txt", analysis_text(analysis_view(spalled)))


def test_order_of_what_is_said(make_view: Callable[..., ReportView]) -> None:
    text = terminal_text(make_view(), details=True)
    wanted = ["HOLD · FIX", "- Regular", "- Only one", "Do now", "Check again", "Rests on",
              "CRITERIA", "RECORDING P1X", "CAUTIONS", "Lock out"]  # fmt: skip
    places = [text.index(words) for words in wanted]
    assert places == sorted(places)
    assert places[0] == 0


@pytest.mark.parametrize("width", [40, 60, 100, 160])
@pytest.mark.parametrize("details", [False, True])
def test_lines_keep_to_the_width(
    make_view: Callable[..., ReportView], width: int, details: bool
) -> None:
    lines = terminal_text(make_view(), width=width, details=details).splitlines()
    assert max(map(len, lines)) <= width
    assert not [line for line in lines if line != line.rstrip()]


def test_colour_adds_codes_and_changes_no_word(make_view: Callable[..., ReportView]) -> None:
    view = make_view()
    plain, coloured = terminal_text(view), terminal_text(view, color=True)
    assert "\x1b" not in plain
    assert "\x1b[" in coloured
    stripped = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert stripped.split() == plain.split()


def test_the_environment_does_not_change_the_text(
    make_view: Callable[..., ReportView], monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = terminal_text(make_view())
    for name, value in {"FORCE_COLOR": "1", "COLUMNS": "33", "TERM": "dumb"}.items():
        monkeypatch.setenv(name, value)
    assert terminal_text(make_view()) == plain


def test_too_narrow_is_refused(make_view: Callable[..., ReportView]) -> None:
    message = re.escape("width must be at least 40 columns, got 39")
    with pytest.raises(InputError, match=message):
        terminal_text(make_view(), width=39)


def test_an_analysis_gives_no_verdict(silent: RecordingAnalysis) -> None:
    text = analysis_text(analysis_view(silent))
    assert "Defect families not judged: no speed was found" in text
    assert "Levels: not measured" in text
    assert "HOLD" not in text
