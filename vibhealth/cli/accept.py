"""``vibhealth accept``: PASS or HOLD from recordings before and after the rebuild."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth import __version__
from vibhealth.cli import _options as option
from vibhealth.cli._baselines import (
    DEFAULT_FOLDER,
    BaselinesOption,
    baselines_folder,
    baselines_of,
    keep_candidates,
)
from vibhealth.cli._load import Source, checked_speed, read_options, read_points
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
from vibhealth.cli._run import ExitCode
from vibhealth.errors import InputError, OutputError

if TYPE_CHECKING:
    from vibhealth.model import Assessment
    from vibhealth.recording import ReadOptions

__all__ = [
    "HTML",
    "REPORT_NAMES",
    "accept",
    "assess_files",
    "assess_folder",
    "write_assessment",
]

HTML, JSON = "report.html", "report.json"
REPORT_NAMES = (HTML, JSON, FIGURES)


def accept(
    job: Annotated[
        Path | None,
        typer.Argument(metavar="[JOB]", help="Job folder; without it give --card and --after."),
    ] = None,
    *,
    card: Annotated[
        Path | None, typer.Option("--card", help="Machine card; a job brings its own.")
    ] = None,
    before: Annotated[
        list[Path] | None, typer.Option(help="Recordings as found, before the rebuild.")
    ] = None,
    after: Annotated[
        list[Path] | None, typer.Option(help="Recordings as left, after the rebuild.")
    ] = None,
    point: option.PointOption = None,
    channel: option.ChannelOption = None,
    unit: option.UnitOption = None,
    rate: option.RateOption = None,
    speed_rpm: option.SpeedOption = None,
    full_scale_g: option.FullScaleGOption = None,
    sensitivity_mv_per_g: option.SensitivityOption = None,
    full_scale_v: option.FullScaleVOption = None,
    variable: option.VariableOption = None,
    time_column: option.TimeColumnOption = None,
    resample: option.ResampleOption = False,
    tachometer_channel: option.TachometerOption = None,
    tachometer_pulses_per_turn: option.PulsesOption = 1.0,
    baselines: BaselinesOption = None,
    details: Annotated[
        bool, typer.Option("--details", help="Print every check of every recording.")
    ] = False,
    json: option.JsonOption = False,
    output: option.OutputOption = None,
    overwrite: option.OverwriteOption = False,
    store: Annotated[
        Path | None, typer.Option("--store", help="Keep recordings and verdict in this history.")
    ] = None,
) -> None:
    """PASS or HOLD: does the rebuilt bearing run clean? Exit 0 PASS, 3 HOLD."""
    from vibhealth.model import Verdict
    from vibhealth.report import assessment_dict, dumps, report_view, terminal_text

    options = read_options(
        rate_hz=rate,
        unit=unit,
        full_scale_g=full_scale_g,
        sensitivity_mv_per_g=sensitivity_mv_per_g,
        full_scale_v=full_scale_v,
        variable=variable,
        time_column=time_column,
        resample=resample,
        tachometer_channel=tachometer_channel,
        tachometer_pulses_per_turn=tachometer_pulses_per_turn,
    )
    if output is not None:
        refuse_existing(output, REPORT_NAMES, overwrite=overwrite)
    speed = checked_speed(speed_rpm)
    if job is not None:
        _refuse_beside_job(
            {"--card": card, "--before": before, "--after": after, "--point": point,
             "--channel": channel}
        )  # fmt: skip
        kept_in = baselines_folder(baselines, beside=job)
        assessment = assess_folder(job, options, speed, baselines=kept_in)
    else:
        the_card = _given_card(card)
        kept_in = baselines_folder(baselines)
        assessment = assess_files(
            the_card, before or [], after or [], options, point, channel, speed, baselines=kept_in
        )
    if json:
        emit(dumps(assessment_dict(assessment)))
    else:
        width, color = terminal_form()
        view = report_view(assessment, generated_at=generated_at(), version=__version__)
        emit(terminal_text(view, width=width, color=color, details=details))
    if output is not None:
        write_assessment(output, assessment, overwrite=overwrite, baselines=kept_in)
        talk(f"The report is {output / HTML}")
    if store is not None:
        _keep_in_history(store, assessment)
    _keep_candidate(assessment, kept_in or (output / DEFAULT_FOLDER if output else None))
    raise typer.Exit(ExitCode.DONE if assessment.verdict is Verdict.PASS else ExitCode.HOLD)


def _keep_in_history(store: Path, assessment: "Assessment") -> None:
    from vibhealth.cli._history_add import Added, add_assessment
    from vibhealth.store import History

    added = Added()
    with History.open(store, create=True) as history:
        add_assessment(history, assessment, added)
    talk(f"{store}: the verdict is kept, with {added.new} recordings, {added.known} there already")


def _keep_candidate(assessment: "Assessment", folder: Path | None) -> None:
    """Keep a set that passed without a known-good reference, for when somebody answers for it."""
    from vibhealth.card import read_card
    from vibhealth.model import Verdict

    if assessment.verdict is not Verdict.PASS or folder is None:
        return
    try:
        kept = keep_candidates(assessment, read_card(assessment.machine["card"]), folder)
    except OutputError as error:
        talk(f"The set could not be kept as a candidate for a reference: {error}")
        return
    if kept:
        places = ", ".join(item.path for item in kept)
        talk(
            f"Kept as candidate{'s' * (len(kept) > 1)} for a reference: {places}. Once it ran well "
            "for 24 h and 7 days: vibhealth baseline make JOB --accepted-by NAME"
        )


def _refuse_beside_job(given: dict[str, object]) -> None:
    for name, value in given.items():
        if value:
            msg = f"{name} does not go with a job folder: the job holds card and recordings"
            raise InputError(msg)


def _given_card(card: Path | None) -> Path:
    if card is None:
        msg = "give a job folder, or the machine card with --card and recordings with --after"
        raise InputError(msg)
    return card


def assess_folder(
    folder: Path,
    options: "ReadOptions",
    speed_rpm: float | None = None,
    *,
    baselines: Path | None = None,
) -> "Assessment":
    """Read a job folder and assess it as far as it has come, with progress on stderr.

    ``baselines`` is the folder of baselines, None for none.

    Raises
    ------
    VibhealthError
        If anything in it cannot be used.
    """
    from vibhealth.acceptance import assess_job
    from vibhealth.cli._job_load import read_job_folder

    record, card, recordings = read_job_folder(folder, options)
    known_good = baselines_of(baselines, card)
    with progress_bar() as say:
        return assess_job(
            record,
            recordings,
            card=card,
            given_speed_rpm=speed_rpm,
            progress=say,
            baselines=known_good,
        )


def assess_files(
    card: Path,
    before: list[Path],
    after: list[Path],
    options: "ReadOptions",
    point: str | None = None,
    channel: int | None = None,
    speed_rpm: float | None = None,
    *,
    baselines: Path | None = None,
) -> "Assessment":
    """Read card and recordings and assess them, with progress on stderr.

    ``baselines`` is the folder of baselines, None for none.

    Raises
    ------
    VibhealthError
        If anything given cannot be used, or no recording after the rebuild is given.
    """
    from vibhealth.acceptance import assess
    from vibhealth.card import read_card
    from vibhealth.model import Stage

    if not after:
        msg = "give at least one recording made after the rebuild with --after"
        raise InputError(msg)
    the_card = read_card(card)
    stages = {Stage.AS_FOUND: before, Stage.AS_LEFT: after}
    found, left = (
        [
            recording
            for path in paths
            for recording in read_points(
                Source(path=path, options=options, point=point, channel=channel), the_card, stage
            )
        ]
        for stage, paths in stages.items()
    )
    known_good = baselines_of(baselines, the_card)
    with progress_bar() as say:
        return assess(
            found,
            left,
            card=the_card,
            given_speed_rpm=speed_rpm,
            progress=say,
            baselines=known_good,
        )


def write_assessment(
    folder: Path, assessment: "Assessment", *, overwrite: bool, baselines: Path | None = None
) -> None:
    """Write the report of an assessment: HTML, JSON and the figures.

    ``baselines`` is the folder whose reference signatures make the annex, None for no annex.
    """
    from vibhealth.card import read_card
    from vibhealth.report import (
        assessment_dict,
        assessment_images,
        dumps,
        html_text,
        marks_with_side_bands,
        reference_images,
        report_view,
        signature_images,
    )
    from vibhealth.report.transient_figures import transient_images

    card = read_card(assessment.machine["card"])
    images = (
        *assessment_images(assessment, marks_of=marks_with_side_bands(card.rolling_bearings())),
        *reference_images(assessment, card),
        *transient_images(assessment.transients),
    )
    view = report_view(assessment, generated_at=generated_at(), version=__version__)
    annex = () if baselines is None else signature_images(baselines, assessment.recordings)
    documents = {HTML: html_text(view, images, annex), JSON: dumps(assessment_dict(assessment))}
    figures = {f"{image.name}.png": image.png for image in (*images, *annex)}
    write_report(folder, documents, figures, overwrite=overwrite)
