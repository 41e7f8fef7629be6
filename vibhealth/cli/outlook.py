"""``vibhealth outlook``: rebuild early, in which window, and when to order the spare."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth import __version__
from vibhealth.cli import _options as option
from vibhealth.cli._output import (
    FIGURES,
    emit,
    generated_at,
    progress_bar,
    refuse_existing,
    talk,
    terminal_form,
    write_report,
)
from vibhealth.cli._past import DEFAULT_STORE, StoreOption, given_day, trend_past_of
from vibhealth.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from vibhealth.card import MachineCard
    from vibhealth.model import Outlook, Trend
    from vibhealth.report.planner_view import PlannerPage

__all__ = ["outlook", "write_outlook"]

HTML, PDF, JSON = "outlook.html", "outlook.pdf", "outlook.json"
MOST_FIGURES = 2


def outlook(
    cards: Annotated[
        list[Path], typer.Argument(metavar="CARD...", help="Machine cards; several make a list.")
    ],
    *,
    store: StoreOption = DEFAULT_STORE,
    as_of: Annotated[
        str | None, typer.Option("--as-of", help="Day that is asked for; today. 2031-05-10.")
    ] = None,
    window: Annotated[
        list[str] | None,
        typer.Option("--window", help="Planned stop, instead of the card's; several times."),
    ] = None,
    json: option.JsonOption = False,
    output: option.OutputOption = None,
    overwrite: option.OverwriteOption = False,
) -> None:
    """Rebuild early? State, evidence, windows with cost and risk, spare, next recording."""
    from vibhealth.report import dumps
    from vibhealth.report.planner_json import outlooks_dict
    from vibhealth.report.planner_text import page_text
    from vibhealth.report.planner_view import by_urgency

    if output is not None:
        refuse_existing(output, (HTML, PDF, JSON, FIGURES), overwrite=overwrite)
    day = given_day(as_of, "--as-of")
    stops = None if window is None else [given_day(text, "--window") for text in window]
    machines = _machines(cards)
    with progress_bar() as say:
        found = []
        for number, card in enumerate(machines):
            say(card.machine.id, number, len(machines))
            found.append(_outlook_of(card, store, day, stops, in_fleet=len(machines) > 1))
    outlooks = by_urgency(found)
    document = dumps(outlooks_dict(outlooks))
    pages = _pages(outlooks)
    if json:
        emit(document)
    else:
        width, color = terminal_form()
        emit("\n\n".join(page_text(page, width=width, color=color) for page in pages[:1]))
    if output is not None:
        write_outlook(output, outlooks, overwrite=overwrite)
        talk(f"The outlook is {output / HTML}")


def _machines(cards: list[Path]) -> "list[MachineCard]":
    """The cards, read; each machine once."""
    from vibhealth.card import read_card

    by_name: dict[str, MachineCard] = {}
    for path in cards:
        card = read_card(path)
        name = _safe(card.machine.id).lower()  # of its files, also where case does not count
        if name in by_name:
            msg = (
                f"{path}: machine {card.machine.id!r} is asked for already, by "
                f"{by_name[name].path}; give each machine once, and ids that make other file names"
            )
            raise InputError(msg)
        by_name[name] = card
    return list(by_name.values())


def _outlook_of(
    the_card: "MachineCard",
    store: Path,
    day: "date",
    stops: "Sequence[date] | None",
    *,
    in_fleet: bool,
) -> "Outlook":
    """Outlook of one machine; in a list one without a history is not known, and stops no other."""
    from vibhealth.outlook.planner import machine_outlook

    past = trend_past_of(store, the_card.machine.id, as_of=day, may_be_new=in_fleet)
    if past.recordings and not any(r.point for r in past.recordings):
        msg = (
            f"{store}: no recording of {the_card.machine.id} names its point; add them with --point"
        )
        raise InputError(msg)
    return machine_outlook(the_card, past, as_of=day, windows=stops)


def _pages(outlooks: "Sequence[Outlook]") -> "list[PlannerPage]":
    """The list of several machines first, then a page for each."""
    from vibhealth.report.planner_view import fleet_page, planner_page

    facts = {"generated_at": generated_at(), "version": __version__}
    single = [planner_page(item, **facts) for item in outlooks]
    return single if len(single) == 1 else [fleet_page(outlooks, **facts), *single]


def write_outlook(folder: Path, outlooks: "Sequence[Outlook]", *, overwrite: bool) -> None:
    """Write HTML, PDF, JSON and figures; of several machines also a page for each.

    Raises
    ------
    OutputError
        If the folder cannot be written, or holds them already.
    """
    from vibhealth.report import dumps
    from vibhealth.report.planner_html import page_html
    from vibhealth.report.planner_json import outlooks_dict
    from vibhealth.report.planner_pdf import page_pdf
    from vibhealth.report.trend_figure import trend_image

    pages = _pages(outlooks)
    telling = [_telling(item) for item in outlooks]
    images = [[trend_image(trend) for trend in trends] for trends in telling]
    documents: dict[str, str | bytes] = {JSON: dumps(outlooks_dict(outlooks))}
    several = len(outlooks) > 1
    if several:
        documents |= {HTML: page_html(pages[0]), PDF: page_pdf(pages[0])}
    names = [f"outlook-{_safe(item.machine)}" if several else "outlook" for item in outlooks]
    rows = zip(names, pages[several:], images, telling, strict=True)
    for name, page, own_images, trends in rows:
        documents[f"{name}.html"] = page_html(page, own_images)
        documents[f"{name}.pdf"] = page_pdf(page, trends)
    figures = {
        f"{_safe(item.machine)}-{image.name}.png": image.png
        for item, own in zip(outlooks, images, strict=True)
        for image in own
    }
    write_report(folder, documents, figures, overwrite=overwrite)


def _telling(outlook: "Outlook") -> "list[Trend]":
    """The trends that say most: dated or above watch first, at most two."""

    def weight(trend: "Trend") -> float:
        used = [p.value for p in trend.points if not p.left_out_because]
        if not used or not trend.action_level:
            return 0.0
        return used[-1] / trend.action_level + (trend.crossing.earliest is not None)

    with_points = [trend for trend in outlook.trends if trend.points]
    return sorted(with_points, key=weight, reverse=True)[:MOST_FIGURES]


def _safe(name: str) -> str:
    return "".join(c if c.isalnum() or c in "-_." else "_" for c in name)
