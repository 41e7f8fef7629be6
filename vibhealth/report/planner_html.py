"""A planner's page as one self-contained HTML file to print on A4."""

from collections.abc import Sequence

from vibhealth.report.html import embedded, template
from vibhealth.report.images import FigureImage
from vibhealth.report.planner_view import PlannerPage

__all__ = ["page_html"]


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
    titles = [section.title for section in page.sections]
    after = "Evidence" if "Evidence" in titles else next(iter(titles), "")
    return template("planner.html").render(page=page, images=embedded(images), figures_after=after)
