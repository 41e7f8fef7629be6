"""``vibhealth demo``: the whole job on an invented machine, no hardware needed."""

from pathlib import Path
from typing import Annotated

import typer

from vibhealth.cli._demo_job import BASELINES, CARD, JOBS, demo_card, make_baselines, make_job
from vibhealth.cli._demo_past import AS_OF, HISTORY, STOPS, make_history, outlook_before
from vibhealth.cli._load import read_options
from vibhealth.cli._options import OverwriteOption
from vibhealth.cli._output import emit, refuse_existing, talk
from vibhealth.cli.accept import HTML, assess_folder, write_assessment
from vibhealth.cli.outlook import HTML as PAGE
from vibhealth.cli.outlook import write_outlook

__all__ = ["demo"]

REPORT, OUTLOOK = "report", "outlook"


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="Folder to make the jobs in.")
    ] = Path("vibhealth-demo"),
    *,
    seconds: Annotated[float, typer.Option(help="Length of each steady recording.")] = 63.0,
    seed: Annotated[int, typer.Option(help="Same seed, same recordings.")] = 1,
    overwrite: OverwriteOption = False,
) -> None:
    """An INVENTED machine: whether to rebuild early, then a good and a bad rebuild, PASS and HOLD."""
    from vibhealth.report import write_document

    refuse_existing(folder, (CARD, HISTORY, OUTLOOK, BASELINES, *JOBS), overwrite=overwrite)
    folder.mkdir(parents=True, exist_ok=True)
    card = write_document(folder / CARD, demo_card(), overwrite=overwrite)
    emit("INVENTED machine and recordings: for practice, never evidence.")
    (folder / HISTORY).unlink(missing_ok=True)
    make_history(card, folder / HISTORY)
    before = outlook_before(card, folder / HISTORY)
    write_outlook(folder / OUTLOOK, [before], overwrite=overwrite)
    emit(f"Four weeks before the rebuild: {before.headline}")
    emit(f"  Page: {folder / OUTLOOK / PAGE}")
    talk("Keeping the reference of the machine from after its last rebuild ...")
    make_baselines(card, folder / BASELINES, seconds=seconds, seed=seed)
    for name, fault in JOBS.items():
        job = folder / name
        talk(f"Making {name}: start, three recordings, stop of an invented deck feeder F3 ...")
        make_job(card, job, fault=fault, seconds=seconds, seed=seed)
        assessment = assess_folder(job, read_options(), baselines=folder / BASELINES)
        write_assessment(job / REPORT, assessment, overwrite=overwrite)
        emit(f"{name}: {assessment.headline}")
        emit(f"  Do now: {assessment.next_step.action}")
        emit(f"  Report: {job / REPORT / HTML}")
    emit(f"Try: vibhealth job status {folder / next(iter(JOBS))}")
    emit(f"     vibhealth baseline list --baselines {folder / BASELINES}")
    stops = " ".join(f"--window {day}" for day in STOPS)
    emit(f"     vibhealth outlook {card} --store {folder / HISTORY} --as-of {AS_OF} {stops}")
