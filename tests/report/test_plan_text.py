"""The recording plan on paper: width, boxes, everything said, everything escaped."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from vibhealth.acceptance.plan import RecordingPlan, recording_plan
from vibhealth.card import MachineCard, card_template, read_card
from vibhealth.report import dumps, plan_dict, plan_html, plan_text, plan_view
from vibhealth.report.plan_view import PlanView

HOSTILE = '"><img src=x onerror=alert(2)><script>alert(1)</script>'


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> RecordingPlan:
    path = tmp_path_factory.mktemp("plan") / "F3.toml"
    path.write_text(card_template(), encoding="utf-8")
    return recording_plan(read_card(path))


@pytest.fixture(scope="module")
def view(plan: RecordingPlan) -> PlanView:
    return plan_view(plan, version="1.2.3")


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_the_sheet_fits_a_hundred_columns(view: PlanView) -> None:
    text = plan_text(view)
    assert max(map(len, text.splitlines())) <= 100
    assert text.endswith("vibhealth 1.2.3.\n")
    assert not any(line != line.rstrip() for line in text.splitlines())
    assert all(ord(sign) < 0x2190 for sign in text), "signs that a plain printer lacks"


def test_the_sheet_says_what_the_card_implies(view: PlanView) -> None:
    text = _flat(plan_text(view))
    for words in (
        "Recording plan: Deck feeder F3 (F3) 978 r/min = 16.30 turns per second; 2 points",
        "25600 Hz per channel",
        "70 s = 1141 turns; never below 25 s = 400 turns",
        "working motion 3.21 g peak, so at least ±6.4 g (it takes 6 % of the range)",
        "24 bit: steps of 0.00006 g. 16 bit has steps of 0.015 g",
        "Not on the card: exciter.run_up_s. It costs: a slow start",
        "[ ] P1X on the body x, radial A1 1 3.21 g 1",
        "3 recordings of 70 s (1141 turns) into as-left/1h/",
        "sits on the shaft's 6x",
        "[ ] * empty or loaded",
        "housing above 82 °C",
    ):
        assert words in text, words


def test_every_recording_has_a_line_to_fill_in(plan: RecordingPlan, view: PlanView) -> None:
    lines = plan_text(view).splitlines()
    blanks = [line for line in lines if "file ____" in line]
    assert len(blanks) == sum(step.recordings for step in plan.steps) == 19
    assert all(line.endswith("ok [ ]") for line in blanks)
    readings = sum(line.count("__:__  housing") for line in lines if "file" not in line)
    assert readings >= 7


def test_safety_stands_before_everything_else(view: PlanView) -> None:
    first, second = view.sections[:2]
    assert first.is_boxed
    assert first.items[0].startswith("Lock out, tag")
    assert second.title == "Stop at once and lock out"


def test_a_page_says_the_same_as_the_text(view: PlanView) -> None:
    class Words(HTMLParser):
        """Text of a page without its style."""

        def __init__(self) -> None:
            super().__init__()
            self.words: list[str] = []
            self.is_style = False

        def handle_starttag(self, tag: str, attrs: Any) -> None:  # noqa: ARG002 (of the base class)
            self.is_style = tag == "style"

        def handle_data(self, data: str) -> None:
            if not self.is_style:
                self.words.append(data)

    parser = Words()
    parser.feed(plan_html(view))
    page, text = _flat(" ".join(parser.words)), _flat(plan_text(view))
    for section in view.sections:
        assert section.title in page
        assert section.title.upper() in text
        cells = [cell for row in section.rows for cell in row]
        for words in (*section.paragraphs, *section.items, *section.ticks, *cells):
            assert _flat(words) in page, words
        for step in section.steps:
            for words in (step.title, step.when, step.what, *step.ticks):
                assert _flat(words) in page, words
                assert _flat(words) in text, words


def test_the_page_is_one_file_for_a4_and_loads_nothing(view: PlanView) -> None:
    page = plan_html(view)
    assert not re.search(r"(?:src|href)=|url\(|@import|<script", page)
    assert "size: A4" in page
    assert page.count('<li class="tick">') > 20
    assert re.findall(r"#[0-9a-f]{3,6}\b", page), "colours are black, white and grey only"
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", page)) <= {"#000", "#fff", "#999"}


def test_names_from_outside_are_escaped(plan: RecordingPlan) -> None:
    page = plan_html(plan_view(replace(plan, machine_name=HOSTILE, card=HOSTILE), version="1"))
    assert "<script>alert" not in page
    assert "<img" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_long_names_stay_within_the_width() -> None:
    table = {
        "schema_version": 1,
        "machine": {"id": "F3", "name": "deck " * 40, "nominal_speed_rpm": 978.0},
        "sensor": [{"name": "A" * 60, "full_scale_g": 50.0, "range_g": 50.0}],
        "point": [
            {
                "name": f"P{n}" + "Q" * 40,
                "direction": "radial, seen from the discharge side of the deck",
                "sensor": "A" * 60,
                "position": "upper bearing housing " * 6,
            }
            for n in (1, 2)
        ],
    }
    text = plan_text(plan_view(recording_plan(MachineCard.model_validate(table)), version="1.2.3"))
    assert max(map(len, text.splitlines())) <= 100
    assert "Some points share a channel: record in 2 sittings" in text


def test_an_ordinary_machine_on_paper() -> None:
    table = {
        "schema_version": 1,
        "machine": {"id": "M1", "nominal_speed_rpm": 1500.0},
        "sensor": [{"name": "A1", "unit": "g"}],
        "point": [{"name": "P1", "direction": "radial", "sensor": "A1"}],
    }
    view = plan_view(recording_plan(MachineCard.model_validate(table)), version="1.2.3")
    text = _flat(plan_text(view))
    assert "an ordinary machine, without an exciter" in text
    assert "The card has no bearing: no bearing fault is looked for." in text
    assert "run-up" not in text
    assert "coast" not in text.partition("SET THE RECORDER")[2]
    assert "not on the card; the working motion here is not known from the card" in text


def test_json_holds_the_facts(plan: RecordingPlan) -> None:
    facts = json.loads(dumps(plan_dict(plan)))
    assert facts["schema_version"] == 1
    assert facts["settings"]["rate_hz"] == 25600
    assert facts["settings"]["seconds"] == 70
    assert facts["sensors"][0]["share_of_range"] == pytest.approx(3.209 / 50, abs=1e-4)
    assert [point["name"] for point in facts["points"]] == ["P1X", "P1Y"]
    assert facts["steps"][0]["folder"] == "as-found"
    assert {"text": "empty or loaded", "needed_for_decision": True} in facts["write_down"]
    assert facts["bearings"][0]["rows"][0]["element"] == "cage"


def test_the_same_plan_gives_the_same_bytes(plan: RecordingPlan, view: PlanView) -> None:
    again = plan_view(plan, version="1.2.3")
    assert again == view
    assert plan_html(again) == plan_html(view)


def test_the_page_is_small_enough_to_mail(view: PlanView, tmp_path: Path) -> None:
    page = tmp_path / "plan.html"
    page.write_text(plan_html(view), encoding="utf-8")
    assert page.stat().st_size < 60_000
