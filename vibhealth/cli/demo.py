"""``vibhealth demo``: the whole job on an invented machine, no hardware needed."""

from pathlib import Path
from typing import Annotated

import typer

from vibhealth.cli._demo_job import CARD, STAGES, demo_card, make_recordings
from vibhealth.cli._options import OverwriteOption
from vibhealth.cli._output import emit, refuse_existing, talk
from vibhealth.cli.accept import HTML, assess_rebuilds, write_assessment

__all__ = ["demo"]

REPORTS = ("report-clean", "report-faulty")


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="Folder to make the job in.")
    ] = Path("vibhealth-demo"),
    *,
    seconds: Annotated[float, typer.Option(help="Length of each recording.")] = 63.0,
    seed: Annotated[int, typer.Option(help="Same seed, same recordings.")] = 1,
    overwrite: OverwriteOption = False,
) -> None:
    """The whole job on an INVENTED machine: card, recordings, PASS and HOLD reports."""
    from vibhealth.report import write_document

    refuse_existing(folder, (CARD, *STAGES, *REPORTS), overwrite=overwrite)
    folder.mkdir(parents=True, exist_ok=True)
    card = write_document(folder / CARD, demo_card(), overwrite=overwrite)
    talk("Making recordings of an invented deck feeder F3 ...")
    found, *left = make_recordings(card, folder, seconds=seconds, seed=seed)
    emit("INVENTED machine and recordings: for practice, never evidence.")
    assessments = assess_rebuilds(card, found, left)
    for name, after, assessment in zip(REPORTS, left, assessments, strict=True):
        write_assessment(folder / name, assessment, overwrite=overwrite)
        emit(f"{after.parent.name}: {assessment.headline}")
        emit(f"  Do now: {assessment.next_step.action}")
    emit(f"Recordings and card are in {folder}; look at both with: vibhealth card check {card}")
    emit(f"Reports: {folder / REPORTS[0] / HTML} and {folder / REPORTS[1] / HTML}")
