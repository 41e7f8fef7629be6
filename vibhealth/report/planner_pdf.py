"""A planner's page as a PDF on A4: the same words, the figures on a page of their own."""

import textwrap
from collections.abc import Iterator, Sequence
from io import BytesIO
from itertools import groupby
from typing import NamedTuple

from matplotlib.backends.backend_pdf import FigureCanvasPdf, PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from vibhealth.model import Trend
from vibhealth.report._style import drawing_style
from vibhealth.report.planner_view import PageSection, PlannerPage
from vibhealth.report.trend_figure import draw_trend

__all__ = ["page_pdf"]

A4_IN = (8.27, 11.69)
LINES_PER_PAGE, COLUMNS = 76, 100
LEFT, TOP, STEP = 0.07, 0.96, 0.0121
TRENDS_PER_PAGE = 2
NARROWEST = 8
# A heading stands with so many lines below it, or at the top of the next page.
LEAST_WITH_HEADING = 5


class Line(NamedTuple):
    """One line of the page: how it is set, what it says, whether a box is drawn around it."""

    style: str
    text: str
    is_boxed: bool = False


def page_pdf(page: PlannerPage, trends: Sequence[Trend] = ()) -> bytes:
    """The page as PDF; the same page gives the same bytes.

    Parameters
    ----------
    page : PlannerPage
        Of `planner_page` or `fleet_page`.
    trends : sequence of Trend
        Drawn two to a page behind the words.

    Returns
    -------
    bytes
    """
    stream = BytesIO()
    metadata = {"Creator": None, "Producer": None, "CreationDate": None, "Title": page.title}
    with drawing_style(), PdfPages(stream, metadata=metadata) as pdf:
        for lines in _sheets(page):
            pdf.savefig(_sheet(lines, page.foot))
        for start in range(0, len(trends), TRENDS_PER_PAGE):
            pdf.savefig(_trend_sheet(trends[start : start + TRENDS_PER_PAGE]))
    return stream.getvalue()


def _figure() -> Figure:
    figure = Figure(figsize=A4_IN)
    FigureCanvasPdf(figure)
    return figure


def _sheet(lines: Sequence[Line], foot: str) -> Figure:
    figure = _figure()
    for is_boxed, group in groupby(enumerate(lines), key=lambda pair: pair[1].is_boxed):
        if is_boxed:
            _frame(figure, [number for number, _ in group])
    for number, (style, text, _) in enumerate(lines):
        figure.text(
            LEFT,
            TOP - number * STEP,
            text,
            fontsize={"title": 13, "answer": 12, "head": 10}.get(style, 8.2),
            fontweight="normal" if style == "text" else "bold",
            family="DejaVu Sans Mono" if style == "text" else "DejaVu Sans",
            va="top",
        )
    figure.text(LEFT, 0.02, foot, fontsize=7)
    return figure


def _frame(figure: Figure, numbers: Sequence[int]) -> None:
    low = TOP - (numbers[-1] + 1.3) * STEP
    high = TOP - (numbers[0] - 0.5) * STEP
    figure.add_artist(
        Rectangle((LEFT - 0.015, low), 1.03 - 2 * LEFT, high - low, fill=False, linewidth=1.2)
    )


def _trend_sheet(trends: Sequence[Trend]) -> Figure:
    figure = _figure()
    for place, trend in enumerate(trends):
        axis = figure.add_axes((0.12, 0.62 - 0.48 * place, 0.82, 0.30))
        draw_trend(axis, trend)
        axis.set_title(textwrap.fill(axis.get_title(loc="left"), 78), fontsize=9, loc="left")
        words = textwrap.fill(f"{trend.sentence}. State: {trend.state}.", 105)
        figure.text(0.12, 0.52 - 0.48 * place, words, fontsize=8, va="top")
    return figure


def _sheets(page: PlannerPage) -> Iterator[list[Line]]:
    """Pages full of lines; a box is never broken, a heading never left behind."""
    lines = _head(page)
    for section in page.sections:
        own = _section_lines(section)
        least = len(own) if section.is_boxed else min(len(own), LEAST_WITH_HEADING)
        if len(lines) + least > LINES_PER_PAGE and len(own) <= LINES_PER_PAGE:
            yield lines
            lines = []
        lines += own
        while len(lines) > LINES_PER_PAGE:
            yield lines[:LINES_PER_PAGE]
            lines = lines[LINES_PER_PAGE:]
    yield lines


def _head(page: PlannerPage) -> list[Line]:
    empty = Line("text", "")
    lines = [Line("title", page.title), empty, Line("text", page.subtitle), empty]
    if page.word:
        lines += [Line("answer", page.word), empty]
    for text in textwrap.wrap(page.headline, 80):
        lines += [Line("head", text), empty]
    return lines


def _section_lines(section: PageSection) -> list[Line]:
    texts = [part for text in section.paragraphs for part in textwrap.wrap(text, COLUMNS)]
    if section.rows:
        texts += _table(section)
    for text in section.items:
        first, *rest = textwrap.wrap(text, COLUMNS - 2) or [""]
        texts += [f"- {first}", *(f"  {part}" for part in rest)]
    inside = [Line("head", section.title), Line("text", ""), *(Line("text", t) for t in texts)]
    boxed = [line._replace(is_boxed=section.is_boxed) for line in inside]
    return [Line("text", ""), *boxed, Line("text", "")]


def _table(section: PageSection) -> list[str]:
    """Columns as wide as their widest cell; the widest are narrowed until they fit the page."""
    cells = [section.headers, *section.rows]
    widths = [max(1, *(len(row[k]) for row in cells)) for k in range(len(section.headers))]
    while sum(widths) + 2 * (len(widths) - 1) > COLUMNS and max(widths) > NARROWEST:
        widths[widths.index(max(widths))] -= 1
    lines = []
    for row in cells:
        folded = [
            textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)
        ]
        for k in range(max(len(part) for part in folded)):
            parts = [part[k] if k < len(part) else "" for part in folded]
            lines.append("  ".join(p.ljust(w) for p, w in zip(parts, widths, strict=True)).rstrip())
    return lines
