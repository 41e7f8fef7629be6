"""A planner's page as one self-contained HTML file to print on A4."""

import re
from collections.abc import Sequence
from dataclasses import replace

from vibhealth.report.html import embedded, template
from vibhealth.report.images import FigureImage
from vibhealth.report.planner_view import PageSection, PlannerPage

__all__ = ["page_html"]

# A number and its unit, a day and its month and year: never on two lines.
TOGETHER = re.compile(
    r"(?<=\d) (?=%|h\b|°C|kN\b|days?\b|(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b)"
    r"|(?<=[A-Z][a-z]{2}) (?=\d{4}\b)|(?<=below|above) (?=\d+ %)"
)


def page_html(page: PlannerPage, images: Sequence[FigureImage] = ()) -> str:
    """The page as HTML.

    Parameters
    ----------
    page : PlannerPage
        Of `planner_page`, `fleet_page` or `trend_page`.
    images : sequence of FigureImage
        Trends; embedded as data.

    Returns
    -------
    str
        Everything from outside is escaped; the same page gives the same text.
    """
    has_evidence = any(section.title == "Evidence" for section in page.sections)
    after = "Evidence" if has_evidence else ""  # else the figures come first
    sections = tuple(_held_together(section) for section in page.sections)
    whole = replace(page, headline=_together(page.headline), sections=sections)
    return template("planner.html").render(page=whole, images=embedded(images), figures_after=after)


def _held_together(section: PageSection) -> PageSection:
    return replace(
        section,
        paragraphs=tuple(map(_together, section.paragraphs)),
        items=tuple(map(_together, section.items)),
        rows=tuple(tuple(map(_together, row)) for row in section.rows),
    )


def _together(text: str) -> str:
    return TOGETHER.sub("\N{NO-BREAK SPACE}", text)
