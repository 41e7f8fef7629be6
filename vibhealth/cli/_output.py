"""Documents to stdout or a folder, talk to stderr, and refusals before the work starts."""

import os
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from vibhealth.cli._run import silence_stdout
from vibhealth.errors import OutputError

__all__ = [
    "emit",
    "generated_at",
    "progress_bar",
    "refuse_existing",
    "talk",
    "terminal_form",
    "write_report",
]

FIGURES = "figures"
WIDTH_WITHOUT_TERMINAL = 100
NARROWEST, WIDEST = 40, 120


def emit(text: str) -> None:
    """Write a document to stdout; a reader that closes the pipe early is no error."""
    try:
        sys.stdout.write(text if text.endswith("\n") else f"{text}\n")
        sys.stdout.flush()
    except BrokenPipeError:
        silence_stdout()


def talk(text: str) -> None:
    """Say something beside the document; a reader that closes the pipe early stops nothing."""
    with suppress(BrokenPipeError):
        sys.stderr.write(f"{text}\n")


def generated_at() -> str:
    """Return date and time for the foot of a report."""
    return datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")


def terminal_form() -> tuple[int, bool]:
    """Return columns and whether to colour, as stdout allows."""
    if not sys.stdout.isatty():
        return WIDTH_WITHOUT_TERMINAL, False
    columns = shutil.get_terminal_size((WIDTH_WITHOUT_TERMINAL, 24)).columns
    return min(max(columns, NARROWEST), WIDEST), "NO_COLOR" not in os.environ


def refuse_existing(folder: Path, names: Sequence[str], *, overwrite: bool) -> None:
    """Refuse, before a long computation, a folder that could not take the documents.

    Parameters
    ----------
    folder : Path
        Where they are to go; it need not exist.
    names : sequence of str
        File names, or folders that must be empty.
    overwrite : bool
        Whether files of these names may be replaced.

    Raises
    ------
    OutputError
        If a file is there already, or the folder cannot be made or written.
    """
    try:
        existing = next(place for place in (folder, *folder.absolute().parents) if place.exists())
    except OSError as error:
        msg = f"cannot write into {str(folder)[:60]}...: {error.strerror}; give another folder"
        raise OutputError(msg) from error
    if not existing.is_dir():
        msg = f"cannot write into {folder}: {existing} is a file; give the name of a folder"
        raise OutputError(msg)
    if not os.access(existing, os.W_OK | os.X_OK):
        msg = f"cannot write into {folder}: no permission to write in {existing}; give another"
        raise OutputError(msg)
    for name in names:
        target = folder / name
        is_taken = any(target.iterdir()) if target.is_dir() else target.exists()
        if is_taken and not overwrite:
            msg = f"{target} exists already; give another folder, or --overwrite to replace it"
            raise OutputError(msg)


def write_report(
    folder: Path,
    documents: Mapping[str, str | bytes],
    figures: Mapping[str, bytes],
    *,
    overwrite: bool,
) -> None:
    """Write figures, then the documents, so that a report never stands without its figures."""
    from vibhealth.report import write_report_folder

    if figures:
        write_report_folder(folder / FIGURES, figures, overwrite=overwrite)
    write_report_folder(folder, documents, overwrite=overwrite)


@contextmanager
def progress_bar() -> Iterator[Callable[[str, int, int], None]]:
    """Progress on stderr where that is a terminal: call with text, step and steps."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(bar_width=20),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
    )
    console = Console(stderr=True)
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal
    ) as bar:
        task = bar.add_task("reading", total=None)

        def say(text: str, step: int, steps: int) -> None:
            bar.update(task, description=text, completed=step, total=steps)

        yield say
