"""A planner's page as a PDF on A4: the same words, the figures on a page of their own."""

import textwrap
from collections.abc import Sequence
from io import BytesIO

from matplotlib.backends.backend_pdf import FigureCanvasPdf, PdfPages
from matplotlib.figure import Figure

from vibhealth.model import Trend
from vibhealth.report._style import drawing_style
from vibhealth.report.planner_view import PageSection, PlannerPage
from vibhealth.report.trend_figure import draw_trend

__all__ = ["page_pdf"]

A4_IN = (8.27, 11.69)
LINES_PER_PAGE, COLUMNS = 86, 108
LEFT, TOP, STEP = 0.07, 0.96, 0.0106
TRENDS_PER_PAGE = 2
NARROWEST = 8
Line = tuple[str, str]  # style, text


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
        lines = _lines(page)
        for start in range(0, len(lines), LINES_PER_PAGE):
            pdf.savefig(_sheet(lines[start : start + LINES_PER_PAGE], page.foot))
        for start in range(0, len(trends), TRENDS_PER_PAGE):
            pdf.savefig(_trend_sheet(trends[start : start + TRENDS_PER_PAGE]))
    return stream.getvalue()


def _figure() -> Figure:
    figure = Figure(figsize=A4_IN)
    FigureCanvasPdf(figure)
    return figure


def _sheet(lines: Sequence[Line], foot: str) -> Figure:
    figure = _figure()
    for number, (style, text) in enumerate(lines):
        figure.text(
            LEFT,
            TOP - number * STEP,
            text,
            fontsize={"title": 13, "answer": 12, "head": 9.5}.get(style, 7.5),
            fontweight="normal" if style == "text" else "bold",
            family="DejaVu Sans Mono" if style == "text" else "DejaVu Sans",
            va="top",
        )
    figure.text(LEFT, 0.02, foot, fontsize=7)
    return figure


def _trend_sheet(trends: Sequence[Trend]) -> Figure:
    figure = _figure()
    for place, trend in enumerate(trends):
        axis = figure.add_axes((0.12, 0.62 - 0.48 * place, 0.82, 0.30))
        draw_trend(axis, trend)
        axis.set_title(textwrap.fill(axis.get_title(loc="left"), 78), fontsize=9, loc="left")
        words = textwrap.fill(f"{trend.sentence}. State: {trend.state}.", 105)
        figure.text(0.12, 0.52 - 0.48 * place, words, fontsize=8, va="top")
    return figure


def _lines(page: PlannerPage) -> list[Line]:
    lines: list[Line] = [("title", page.title), ("text", ""), ("text", page.subtitle), ("text", "")]
    if page.word:
        lines += [("answer", page.word), ("text", "")]
    lines += [
        (kind, part)
        for text in textwrap.wrap(page.headline, 80)
        for kind, part in (("head", text), ("text", ""))
    ]
    for section in page.sections:
        lines += [("text", ""), ("head", section.title), ("text", ""), *_section_lines(section)]
    return lines


def _section_lines(section: PageSection) -> list[Line]:
    lines = [("text", part) for text in section.paragraphs for part in textwrap.wrap(text, COLUMNS)]
    if section.rows:
        lines += [("text", line) for line in _table(section)]
    for text in section.items:
        first, *rest = textwrap.wrap(text, COLUMNS - 2) or [""]
        lines += [("text", f"- {first}"), *(("text", f"  {part}") for part in rest)]
    return lines


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
