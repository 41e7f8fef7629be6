"""The command line: one file per command, registered in the order of use."""

import contextlib
import io
import sys
from collections.abc import Sequence
from typing import Annotated

import typer
from typer.core import TyperGroup

from vibhealth import __version__
from vibhealth.cli._run import (
    configure_logging,
    expand_lists,
    guarded,
    single_threaded_algebra,
)
from vibhealth.cli.accept import accept
from vibhealth.cli.analyze import analyze
from vibhealth.cli.baseline import baseline_app
from vibhealth.cli.card import card_app
from vibhealth.cli.compare import compare
from vibhealth.cli.demo import demo
from vibhealth.cli.frequencies import frequencies
from vibhealth.cli.history import history_app
from vibhealth.cli.inspect import inspect
from vibhealth.cli.job import job_app
from vibhealth.cli.outlook import outlook
from vibhealth.cli.plan import plan
from vibhealth.cli.simulate import simulate
from vibhealth.cli.trend import trend

__all__ = ["app", "main"]

ORDER = (
    "demo",
    "card",
    "frequencies",
    "plan",
    "inspect",
    "analyze",
    "job",
    "accept",
    "compare",
    "baseline",
    "history",
    "trend",
    "outlook",
    "simulate",
)


class _InOrderOfUse(TyperGroup):
    """Lists groups among the commands, where typer would put them last."""

    def list_commands(self, ctx: typer.Context) -> list[str]:  # type: ignore[override]
        return sorted(super().list_commands(ctx), key=ORDER.index)


app = typer.Typer(
    name="vibhealth",
    cls=_InOrderOfUse,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Exit codes: 0 PASS or done, 3 HOLD or record again, 2 unusable input, 1 a bug.",
)
app.command()(demo)
app.add_typer(card_app, name="card")
app.command()(frequencies)
app.command()(plan)
app.command()(inspect)
app.command()(analyze)
app.add_typer(job_app, name="job")
app.command()(accept)
app.command()(compare)
app.add_typer(baseline_app, name="baseline")
app.add_typer(history_app, name="history")
app.command()(trend)
app.command()(outlook)
app.command()(simulate)


def _show_version(value: bool) -> None:
    if value:
        typer.echo(f"vibhealth {__version__}")
        raise typer.Exit


@app.callback()
def start(
    *,
    version: Annotated[  # noqa: ARG001 - acts by its callback
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
    verbose: Annotated[
        int, typer.Option("--verbose", "-v", count=True, help="Log to stderr; -vv logs more.")
    ] = 0,
) -> None:
    """Does the rebuilt eccentric bearing run clean? PASS or HOLD from accelerometer recordings."""
    configure_logging(verbose)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave the process with its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        Default: those of the process.

    Raises
    ------
    SystemExit
        Always, with 0 PASS or done, 3 HOLD or record again, 2 unusable input, 1 a
        bug, 130 interrupted.
    """
    single_threaded_algebra()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            with contextlib.suppress(ValueError, OSError):
                stream.reconfigure(errors="replace")  # a console without the signs still prints
    given = expand_lists(sys.argv[1:] if arguments is None else arguments)
    command = typer.main.get_command(app)
    sys.exit(guarded(lambda: command.main(args=given, prog_name="vibhealth")))
