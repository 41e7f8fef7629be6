"""``vibhealth trend``: descriptors of one machine over time, in one state."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from vibhealth import __version__
from vibhealth.cli import _options as option
from vibhealth.cli._output import (
    FIGURES,
    emit,
    generated_at,
    refuse_existing,
    talk,
    terminal_form,
    write_report,
)
from vibhealth.cli._past import DEFAULT_STORE, StoreOption, trend_past_of
from vibhealth.errors import InputError

if TYPE_CHECKING:
    from vibhealth.model import Trend
    from vibhealth.report.planner_view import PlannerPage

__all__ = ["trend"]

HTML, JSON = "trend.html", "trend.json"


def trend(
    card: Annotated[Path, typer.Argument(metavar="CARD", help="Machine card.")],
    *,
    store: StoreOption = DEFAULT_STORE,
    point: option.PointOption = None,
    over: Annotated[Literal["dates", "hours"], typer.Option(help="Axis of the figures.")] = "dates",
    json: option.JsonOption = False,
    output: option.OutputOption = None,
    overwrite: option.OverwriteOption = False,
) -> None:
    """Levels and defect families over time, same state only, with steps at rebuilds."""
    from vibhealth.card import read_card
    from vibhealth.outlook.trend import machine_trends
    from vibhealth.report import dumps
    from vibhealth.report.planner_json import trends_dict
    from vibhealth.report.planner_text import page_text
    from vibhealth.report.planner_view import trend_page

    if output is not None:
        refuse_existing(output, (HTML, JSON, FIGURES), overwrite=overwrite)
    the_card = read_card(card)
    if point is not None:
        the_card.point(point)
    past = trend_past_of(store, the_card.machine.id)
    chosen = [r for r in past.recordings if point is None or r.point == point]
    trends = machine_trends(chosen, the_card, past.rebuilds)
    if not any(t.points for t in trends):
        msg = (
            f"{store}: no dated recording of {the_card.machine.id} stands at a point of "
            f"{the_card.path}; see what is there with: vibhealth history list {the_card.machine.id}"
        )
        raise InputError(msg)
    page = trend_page(the_card.machine.id, trends, generated_at=generated_at(), version=__version__)
    document = dumps(trends_dict(the_card.machine.id, trends))
    if json:
        emit(document)
    else:
        width, color = terminal_form()
        emit(page_text(page, width=width, color=color))
    if output is not None:
        _write(output, page, trends, document, over, overwrite=overwrite)


def _write(
    folder: Path,
    page: "PlannerPage",
    trends: "tuple[Trend, ...]",
    document: str,
    over: Literal["dates", "hours"],
    *,
    overwrite: bool,
) -> None:
    from vibhealth.report.planner_html import page_html
    from vibhealth.report.trend_figure import trend_image

    images = tuple(trend_image(item, over=over) for item in trends if item.points)
    figures = {f"{image.name}.png": image.png for image in images}
    documents: dict[str, str | bytes] = {HTML: page_html(page, images), JSON: document}
    write_report(folder, documents, figures, overwrite=overwrite)
    talk(f"The trend is {folder / HTML}")
