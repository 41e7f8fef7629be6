"""HTML: escaped, self-contained, well-formed, the same bytes every time."""

import base64
import re
from collections.abc import Callable
from html.parser import HTMLParser

from vibhealth.model import Criterion, CriterionResult, Group, RecordingAnalysis
from vibhealth.report import (
    FigureImage,
    ReportView,
    analysis_html,
    analysis_images,
    analysis_view,
    html_text,
)

VOID = {"meta", "img", "br", "hr", "link", "input"}


class Page(HTMLParser):
    """Collects tags with attributes and text; refuses tags that do not nest."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def named(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.tags if tag == name]


def test_hostile_names_and_remarks_are_text(
    make_view: Callable[..., ReportView], images: tuple[FigureImage, ...]
) -> None:
    page = Page(html_text(make_view(), images))
    assert page.named("script") == []
    assert [i for i in page.named("img") if "onerror" in i or i["src"] == "x"] == []
    assert "as-left/<script>alert(1)</script>.wav" in "".join(page.words)


def test_hostile_text_is_escaped_wherever_the_acceptance_may_carry_it(
    make_view: Callable[..., ReportView],
) -> None:
    bad = "<b onclick='x'>&\"</b>"
    view = make_view(
        headline=bad, scope=bad, reasons=(bad,), cautions=(bad,),
        machine={"name": bad, bad: bad}, settings={bad: {"value": bad, "source": bad}},
    )  # fmt: skip
    page = Page(html_text(view))
    assert page.named("b") == []
    assert "".join(page.words).count(bad) >= 9


def test_nothing_is_fetched_from_elsewhere(
    make_view: Callable[..., ReportView], images: tuple[FigureImage, ...]
) -> None:
    text = html_text(make_view(), images)
    page = Page(text)
    for _, attributes in page.tags:
        for name in ("src", "href", "srcset", "action", "data", "poster", "background"):
            assert (attributes.get(name) or "data:").startswith("data:")
    assert {tag for tag, _ in page.tags}.isdisjoint({"script", "link", "iframe", "object", "base"})
    assert not re.search(r"https?://|url\(|@import", text)


def test_every_figure_is_inside_with_an_alternative_text(
    make_view: Callable[..., ReportView], images: tuple[FigureImage, ...]
) -> None:
    found = Page(html_text(make_view(), images)).named("img")
    assert len(found) == len(images)
    for tag, image in zip(found, images, strict=True):
        assert tag["alt"] == image.alt
        assert base64.b64decode((tag["src"] or "").partition(",")[2]) == image.png


def test_accessible_bones(make_view: Callable[..., ReportView]) -> None:
    page = Page(html_text(make_view()))
    assert page.named("html") == [{"lang": "en"}]
    assert page.named("title")
    assert page.named("main")
    assert all(cell.get("scope") for cell in page.named("th"))
    assert any(m.get("name") == "viewport" for m in page.named("meta"))


def test_the_verdict_comes_before_anything_else_and_cautions_are_there(
    make_view: Callable[..., ReportView],
) -> None:
    view = make_view()
    words = "\n".join(Page(html_text(view)).words)
    body = words[words.index("does the rebuilt") :]
    wanted = ["HOLD · FIX", "Why, most urgent first", "What to do now",
              "What holds, what to watch", "All criteria", "Cautions",
              "Where this comes from"]  # fmt: skip
    places = [body.index(text) for text in wanted]
    assert places == sorted(places)
    assert all(caution in words for caution in view.cautions)
    assert all(recording.sha256 in words for recording in view.recordings)


def test_a_value_that_is_a_sentence_stands_across_the_row(
    make_view: Callable[..., ReportView], make_criterion: Callable[..., Criterion]
) -> None:
    sentence = "No flat tops: the extreme value occurs once, as its neighbours explain"
    text = html_text(make_view(criteria=(make_criterion(value=sentence, unit="", limit=None),)))
    assert f'<td class="said" colspan="5">{sentence}. ' in text
    assert f'data-label="Value">{sentence}' not in text
    assert '<td class="number" data-label="Limit"></td>' in text


def test_checks_of_the_recordings_that_pass_are_folded_and_nothing_else_is(
    make_view: Callable[..., ReportView], make_criterion: Callable[..., Criterion]
) -> None:
    passed = make_criterion(group=Group.RECORDING, result=CriterionResult.PASS, title="Not clipped")
    watched = make_criterion(group=Group.RECORDING, result=CriterionResult.WATCH, title="Long")
    bearing = make_criterion(result=CriterionResult.PASS, title="Cage")
    text = html_text(make_view(criteria=(passed, watched, bearing), recordings=()))
    folded = re.findall(r"<details>.*?</details>", text, flags=re.DOTALL)
    assert len(folded) == 1
    assert "Not clipped" in folded[0]
    assert text.count("Not clipped") == 1
    for title in ("Long", "Cage"):
        assert f">{title}</th>" not in folded[0]
        assert f">{title}</th>" in text


def test_sources_of_limits_are_numbered_once(
    make_view: Callable[..., ReportView], make_criterion: Callable[..., Criterion]
) -> None:
    criteria = [make_criterion(id=str(n), limit_source=s) for n, s in enumerate(["a", "b", "a"])]
    view = make_view(criteria=tuple(criteria))
    assert view.limit_sources == ("a", "b")
    assert [row.source_number for row in view.groups[0].rows] == ["1", "2", "1"]
    assert re.search(r"<ol class=\"quiet\">\s*<li>a</li>\s*<li>b</li>\s*</ol>", html_text(view))


def test_the_same_bytes_twice(
    make_view: Callable[..., ReportView], images: tuple[FigureImage, ...]
) -> None:
    assert html_text(make_view(), images) == html_text(make_view(), images)


def test_one_recording_as_a_page(spalled: RecordingAnalysis, silent: RecordingAnalysis) -> None:
    for analysis in (spalled, silent):
        text = analysis_html(
            analysis_view(analysis), analysis_images(analysis), generated_at="then", version="0"
        )
        page = Page(text)
        assert "One recording in full; this page gives no verdict" in "".join(page.words)
        assert page.named("img")
        assert "http" not in re.sub(r"http-equiv", "", text)
