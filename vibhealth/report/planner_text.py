"""A planner's page for the terminal."""

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from vibhealth.report._console import COLOURS, heading, item, printed, table
from vibhealth.report.planner_view import PageSection, PlannerPage

__all__ = ["page_text"]


def page_text(page: PlannerPage, *, width: int, color: bool) -> str:
    """The page as text.

    Parameters
    ----------
    page : PlannerPage
        Of `planner_page`, `fleet_page` or `trend_page`.
    width : int
        Columns, at least 40. An annex is left to the files.
    color : bool
        Whether the terminal may be coloured; the words stand there anyway.

    Returns
    -------
    str
    """
    parts: list[RenderableType] = [Text(page.title, style="bold"), Text(page.subtitle)]
    if page.word:
        parts += [Text(""), Text(page.word, style=COLOURS[page.tone])]
    if page.headline:
        parts.append(Text(page.headline, style="bold"))
    for section in page.sections:
        if not section.is_annex:
            parts += _section(section)
    return printed([*parts, Text(""), Text(page.foot)], width=width, color=color)


def _section(section: PageSection) -> list[RenderableType]:
    parts: list[RenderableType] = [*heading(section.title)]
    parts += [Padding(Text(text), (0, 0, 0, 2)) for text in section.paragraphs if text]
    if section.rows:
        grid = table(*section.headers)
        for row in section.rows:
            grid.add_row(*(Text(cell) for cell in row))
        parts.append(Padding(grid, (0, 0, 0, 2)))
    return parts + [item(text) for text in section.items]
