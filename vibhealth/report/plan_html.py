"""A recording plan as one HTML page to print on A4: no link, font or script from elsewhere."""

from vibhealth.report.html import template
from vibhealth.report.plan_view import PlanView

__all__ = ["plan_html"]


def plan_html(view: PlanView) -> str:
    """The sheet.

    Parameters
    ----------
    view : PlanView
        From `plan_view`.

    Returns
    -------
    str
        Everything from outside is escaped; the same view gives the same text.
    """
    return template("plan.html").render(view=view)
