"""The planner's page in its forms, on an INVENTED outlook: no number here was measured."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from jsonschema import Draft202012Validator, ValidationError

from vibhealth.model import Outlook, Sign, Trend, TrendPoint
from vibhealth.model.outlook import (
    BearingLife,
    CrossingRange,
    LifeAssumption,
    PlanBasis,
    SpareAdvice,
    TrendStep,
    Window,
)
from vibhealth.report.json_document import dumps, schema
from vibhealth.report.planner_html import page_html
from vibhealth.report.planner_json import outlooks_dict, trends_dict
from vibhealth.report.planner_pdf import page_pdf
from vibhealth.report.planner_text import page_text
from vibhealth.report.planner_view import by_urgency, fleet_page, planner_page, trend_page
from vibhealth.report.trend_figure import trend_image

START = datetime(2026, 1, 5, 8, tzinfo=UTC)


def invented_trend() -> Trend:
    """INVENTED: twelve visits, one of them in another state, a rebuild, a range of dates."""
    points = tuple(
        TrendPoint(
            at=START + timedelta(days=7 * k),
            running_hours_h=1000.0 + 100 * k,
            value=1.1**k,
            low=0.9 * 1.1**k,
            high=1.1 ** (k + 1),
            n_recordings=3,
            left_out_because="loaded, the others empty" if k == 4 else "",
        )
        for k in range(12)
    )
    step = TrendStep(at=START + timedelta(days=3), before=3.0, after=1.0, ratio=0.33,
                     ratio_interval=(0.28, 0.4))  # fmt: skip
    return Trend(
        quantity="level", title="bearing band, rms", unit="m/s2", point="DE", bearing=None,
        element=None, points=points, steps=(step,), watch_level=2.0, action_level=4.0,
        action_source="INVENTED", course="rising", slope_per_day=0.0136,
        slope_interval=(0.01, 0.017), sentence="rises by 10 % a week", state="empty, 40 to 50 °C",
        crossing=CrossingRange(earliest=date(2026, 4, 10), latest=date(2026, 6, 2),
                               withheld_because=""),
        fit=tuple((point.at, point.value) for point in points),
    )  # fmt: skip


def invented_outlook() -> Outlook:
    """INVENTED machine with everything a page can hold."""
    return Outlook(
        machine="INVENTED-1", name="INVENTED <screen>", as_of=date(2026, 3, 24), sign=Sign.CLEAR,
        headline="Clear sign: use the window of 02 May 2026", reasons=("the level rises",),
        evidence=("12 visits",), trends=(invented_trend(),),
        life=(BearingLife(bearing="DE", load_kn=100.0, l10h=20000.0, lnmh=15000.0, kappa=1.5,
                          a_iso=0.75, faster_5_percent=0.68, stroke_10_percent=0.73,
                          factors=(LifeAssumption(name="C", value=800.0, unit="kN",
                                                  source="INVENTED"),)),),
        life_sentence="rating life is a comparison of designs",
        basis=PlanBasis(source="given", slope=2.0, scale_h=20000.0, slope_interval=None,
                        scale_interval_h=None, n_failed=0, n_running_on=0, age_h=2000.0,
                        optimum_age_h=9000.0, cost_rate_ratio=0.8, sentence="INVENTED"),
        windows=(Window(name="May", at=date(2026, 5, 2), probability_before=0.12,
                        expected_cost=0.0, is_cheapest=True, sentence="likely reached in order"),
                 Window(name="July", at=date(2026, 7, 4), probability_before=0.6,
                        expected_cost=30123.0, is_cheapest=False, sentence="likely too late")),
        spare=SpareAdvice(order_by=date(2026, 3, 30), is_due=False, sentence="order by 30 Mar"),
        would_change=("a visit in the same state",), next_recording=date(2026, 3, 31),
        next_recording_sentence="record by 31 Mar", cautions=("lock out first",), currency="EUR",
    )  # fmt: skip


def test_json_holds_to_its_schemas_and_the_schemas_refuse_a_single_number() -> None:
    for name, document in (
        ("outlook", outlooks_dict([invented_outlook()])),
        ("trend", trends_dict("INVENTED-1", [invented_trend()])),
    ):
        plain = json.loads(dumps(document))
        validator = Draft202012Validator(schema(name))
        validator.validate(plain)
        with pytest.raises(ValidationError):
            validator.validate({**plain, "remaining_life_h": 100.0})


def test_more_urgent_signs_come_first() -> None:
    machines = [replace(invented_outlook(), sign=sign) for sign in Sign]
    assert [item.sign for item in by_urgency(machines)] == [
        Sign.STOP, Sign.CLEAR, Sign.EARLY, Sign.NOT_KNOWN, Sign.NONE,
    ]  # fmt: skip


def test_every_form_says_the_same_answer_and_html_escapes_it() -> None:
    outlook = invented_outlook()
    page = planner_page(outlook, generated_at="2026-03-24", version="0")
    text, html = page_text(page, width=120, color=False), page_html(page)
    assert "Clear sign: use" in outlook.headline
    for said in (text, html.replace("\N{NO-BREAK SPACE}", " ")):
        assert "CLEAR SIGN" in said
        assert "Use the window of 02 May 2026" in said
    assert "INVENTED &lt;screen&gt;" in html
    assert "<screen>" not in html


def test_pdf_of_the_same_page_has_the_same_bytes() -> None:
    page = planner_page(invented_outlook(), generated_at="2026-03-24", version="0")
    first = page_pdf(page, [invented_trend()])
    assert first == page_pdf(page, [invented_trend()])
    assert first != page_pdf(page)


@pytest.mark.parametrize("visits", [0, 1, 12])
def test_a_trend_is_drawn_with_any_number_of_visits(visits: int) -> None:
    trend = replace(invented_trend(), points=invented_trend().points[:visits])
    assert trend_image(trend).png.startswith(b"\x89PNG")


def bare_outlook() -> Outlook:
    """INVENTED machine of which hardly anything is known."""
    empty = BearingLife(bearing="DE", load_kn=None, l10h=None, lnmh=None, kappa=None, a_iso=None,
                        faster_5_percent=None, stroke_10_percent=None,
                        missing=("bearing.dynamic_load_rating_kn",))  # fmt: skip
    return replace(
        invented_outlook(), sign=Sign.NOT_KNOWN, headline="Not known: nothing was recorded",
        reasons=(), evidence=(), trends=(), life=(empty,), windows=(), settings={},
        spare=SpareAdvice(order_by=None, is_due=False, sentence="no order date"),
        next_recording=None,
    )  # fmt: skip


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("outlook", [invented_outlook(), bare_outlook()], ids=["full", "bare"])
def test_no_line_is_wider_than_the_terminal_and_nothing_is_lost(
    outlook: Outlook, width: int
) -> None:
    facts = {"generated_at": "2026-03-24", "version": "0"}
    pages = (
        planner_page(outlook, **facts),
        fleet_page([outlook, bare_outlook()], **facts),
        trend_page("INVENTED-1", outlook.trends, **facts),
    )
    for page in pages:
        text = page_text(page, width=width, color=False)
        assert max(len(line) for line in text.splitlines()) <= width
        said = "".join(text.split())
        for section in page.sections:
            assert ("".join(section.title.upper().split()) in said) is not section.is_annex
            for sentence in (*section.paragraphs, *section.items):
                assert "".join(sentence.split()) in said


def test_what_is_not_known_is_said_and_makes_no_empty_table() -> None:
    page = planner_page(bare_outlook(), generated_at="2026-03-24", version="0")
    text = page_text(page, width=100, color=False)
    assert "Nothing was recorded" in text
    assert "no planned stop is known" in text
    assert "missing on the card: bearing.dynamic_load_rating_kn" in text
    tables = [section.title for section in page.sections if section.rows]
    assert tables == []
    assert page_html(page).count("<table>") == 0
    assert page_pdf(page).startswith(b"%PDF")


def test_windows_without_costs_still_say_the_risk() -> None:
    windows = tuple(replace(w, expected_cost=None, is_cheapest=False)
                    for w in invented_outlook().windows)  # fmt: skip
    outlook = replace(invented_outlook(), windows=windows)
    page = planner_page(outlook, generated_at="2026-03-24", version="0")
    (rows,) = [section.rows for section in page.sections if section.title == "Windows"]
    assert [row[:4] for row in rows] == [
        ("02 May 2026", "12 %", "not known", "-"), ("04 Jul 2026", "60 %", "not known", "-"),
    ]  # fmt: skip


def test_factors_and_limits_stand_in_the_files_only() -> None:
    limits = {"depth_hold": {"value": 0.3, "unit": "1", "source": "INVENTED limit"}}
    page = planner_page(
        replace(invented_outlook(), settings=limits), generated_at="2026-03-24", version="0"
    )
    annexes = {section.title: section.rows for section in page.sections if section.is_annex}
    assert annexes["What went into the rating life"] == (("DE", "C", "800 kN", "INVENTED"),)
    assert annexes["Limits used"] == (("depth hold", "0.3", "INVENTED limit"),)
    assert "INVENTED limit" in page_html(page)
    assert "INVENTED limit" not in page_text(page, width=100, color=False)


def test_dates_and_shares_are_never_broken_over_two_lines() -> None:
    page = planner_page(invented_outlook(), generated_at="2026-03-24", version="0")
    html = page_html(page)
    for whole in ("02 May 2026", "12 %"):
        assert whole not in html
        assert whole.replace(" ", "\N{NO-BREAK SPACE}") in html


def test_figures_stand_behind_the_evidence_and_before_the_tables_of_a_trend() -> None:
    facts = {"generated_at": "2026-03-24", "version": "0"}
    images = [trend_image(invented_trend())]
    outlook = page_html(planner_page(invented_outlook(), **facts), images)
    assert outlook.index("<h2>Evidence") < outlook.index("<figure") < outlook.index("<h2>Rating")
    trend = page_html(trend_page("INVENTED-1", [invented_trend()], **facts), images)
    assert trend.count("<figure") == 1
    assert trend.index("<figure") < trend.index("<h2>")
