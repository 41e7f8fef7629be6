"""``vibhealth job``: the record of a rebuild, asked at the machine question by question."""

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth.cli._options import JsonOption
from vibhealth.cli._output import emit, talk
from vibhealth.cli._run import ExitCode
from vibhealth.errors import InputError

if TYPE_CHECKING:
    from vibhealth.job import Phase

__all__ = ["job_app"]

job_app = typer.Typer(
    help="Job record: what hands and eyes did and saw, beside the recordings.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

JobArgument = Annotated[Path, typer.Argument(metavar="JOB", help="Job folder, or its job.toml.")]


@job_app.command()
def new(
    card: Annotated[Path, typer.Argument(metavar="CARD", help="Machine card.")],
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="New folder of this rebuild.")],
) -> None:
    """Start the record of one rebuild: folders for recordings, a job.toml with every question."""
    from vibhealth.job import new_job

    record = new_job(card, folder)
    talk(
        f"{record.path} written, with a copy of the card and folders for the recordings.\n"
        f"Next: record the machine as found into {folder / 'as-found'}, while it is safe to run; "
        f"then, at the machine: vibhealth job ask {folder}\n"
        f"At any time: vibhealth job status {folder}"
    )


@job_app.command()
def ask(
    job: JobArgument,
    *,
    by: Annotated[str | None, typer.Option("--by", help="Who answers; signs each answer.")] = None,
    from_phase: Annotated[
        str | None,
        typer.Option("--from", help="Skip earlier phases: as-found, strip, build, pre-start, ..."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help='Ask again what was answered "no".')
    ] = False,
) -> None:
    """Ask the open questions one at a time; each answer is saved at once, stop and resume freely."""
    from vibhealth.job import Console, ask_job

    asked = ask_job(
        job,
        console=Console(say=_say, ask=_line, now=lambda: datetime.now().astimezone()),
        by=by,
        from_phase=_phase(from_phase),
        again=again,
    )
    _say(f"\n{asked.open} open. Everything answered is in {asked.record.path}")
    if asked.stop_now:
        raise typer.Exit(ExitCode.HOLD)


@job_app.command()
def status(job: JobArgument, *, json: JsonOption = False) -> None:
    """Show what is open, what was answered no, what is recorded, and what comes next when."""
    from vibhealth.job import job_files, job_status, read_job, status_dict, status_text
    from vibhealth.report import dumps

    record = read_job(job)
    found = job_status(record, job_files(Path(record.path).parent), now=datetime.now().astimezone())
    emit(dumps(status_dict(found)) if json else status_text(found))


def _phase(name: str | None) -> "Phase":
    from vibhealth.job import Phase

    if name is None:
        return Phase.AS_FOUND
    try:
        return Phase(name.lower())
    except ValueError as error:
        msg = f"--from: no phase is named {name!r}; known are {', '.join(Phase)}"
        raise InputError(msg) from error


def _say(text: str) -> None:
    """One line of the talk, visible at once also through a pipe."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def _line(prompt: str) -> str | None:
    """One line from the user; None at the end of the input."""
    sys.stdout.write(prompt)
    sys.stdout.flush()
    try:
        line = sys.stdin.readline()
    except UnicodeDecodeError as error:
        msg = f"the input is not UTF-8 text ({error.reason}); every answer before it is saved"
        raise InputError(msg) from error
    if not line:
        _say("")
        return None
    return line
