"""``vibhealth card``: a commented template, and what a card implies."""

from pathlib import Path
from typing import Annotated

import typer

from vibhealth.cli._options import JsonOption, OverwriteOption
from vibhealth.cli._output import emit, talk

__all__ = ["card_app"]

card_app = typer.Typer(
    help="Machine card: make one from the template, check what it implies.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@card_app.command()
def new(
    path: Annotated[Path, typer.Argument(metavar="CARD", help="File to write, ending in .toml.")],
    *,
    overwrite: OverwriteOption = False,
) -> None:
    """Write a commented card of an invented machine, to be filled in with yours."""
    from vibhealth.card import card_template
    from vibhealth.report import write_document

    write_document(path, card_template(), overwrite=overwrite)
    talk(f"{path} written; fill in your machine, then run: vibhealth card check {path}")


@card_app.command()
def check(
    path: Annotated[Path, typer.Argument(metavar="CARD", help="Machine card.")],
    *,
    json: JsonOption = False,
) -> None:
    """Check a card: frequencies, blind spots, what to record, what stays unjudged, limits."""
    from vibhealth.card import read_card
    from vibhealth.report import card_check_dict, card_check_text, dumps

    card = read_card(path)
    emit(dumps(card_check_dict(card)) if json else card_check_text(card))
