"""``vibhealth plan``: what to record, how, and in which order; to be printed."""

from pathlib import Path
from typing import Annotated

import typer

from vibhealth.cli._options import JsonOption, OverwriteOption
from vibhealth.cli._output import emit, talk
from vibhealth.errors import InputError, OutputError

__all__ = ["plan"]

TEXT, PAGE = (".txt",), (".html", ".htm")


def plan(
    path: Annotated[Path, typer.Argument(metavar="CARD", help="Machine card.")],
    *,
    json: JsonOption = False,
    output: Annotated[
        Path | None, typer.Option(help="File to write instead: .txt, or .html to print on A4.")
    ] = None,
    overwrite: OverwriteOption = False,
) -> None:
    """Recording plan of a rebuild: settings, points, order of events, safety; a sheet to tick."""
    if output is not None:
        _check_output(output, is_json=json)
    from vibhealth import __version__, report
    from vibhealth.acceptance.plan import recording_plan
    from vibhealth.card import read_card

    facts = recording_plan(read_card(path))
    if json:
        emit(report.dumps(report.plan_dict(facts)))
        return
    view = report.plan_view(facts, version=__version__)
    if output is None:
        emit(report.plan_text(view))
        return
    is_page = output.suffix.lower() in PAGE
    document = report.plan_html(view) if is_page else report.plan_text(view)
    report.write_document(output, document, overwrite=overwrite)
    talk(f"{output} written")


def _check_output(output: Path, *, is_json: bool) -> None:
    if is_json:
        msg = "give either --json or --output, not both; --json prints to the terminal"
        raise InputError(msg)
    if output.suffix.lower() not in {*TEXT, *PAGE}:
        msg = f"cannot write {output}: a plan is written as .txt or .html; give such a name"
        raise OutputError(msg)
