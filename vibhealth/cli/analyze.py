"""``vibhealth analyze``: one recording in full."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth import __version__
from vibhealth.cli import _options as option
from vibhealth.cli._load import Source, checked_speed, read_one, read_options
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

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.model import RecordingAnalysis

__all__ = ["analyze"]

HTML, JSON = "recording.html", "recording.json"
STEPS = 5  # of analyze_recording


def analyze(
    path: Annotated[Path, typer.Argument(metavar="RECORDING", help="File of one recording.")],
    *,
    card: option.CardOption,
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
    json: option.JsonOption = False,
    output: option.OutputOption = None,
    overwrite: option.OverwriteOption = False,
) -> None:
    """One recording in full: levels, motion, bearing families, smallest defect it could show."""
    from vibhealth.card import read_card
    from vibhealth.diagnosis.analysis import analyze_recording
    from vibhealth.report import analysis_text, analysis_view, dumps, recording_dict

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
    speed = checked_speed(speed_rpm)
    if output is not None:
        refuse_existing(output, (HTML, JSON, FIGURES), overwrite=overwrite)
    the_card = read_card(card)
    source = Source(path=path, options=options, point=point, channel=channel)
    recording = read_one(source, the_card)
    with progress_bar() as say:
        steps = iter(range(STEPS))
        analysis = analyze_recording(
            recording,
            card=the_card,
            given_speed_rpm=speed,
            progress=lambda word: say(word, next(steps, STEPS), STEPS),
        )
    if json:
        emit(dumps(recording_dict(analysis)))
    else:
        width, color = terminal_form()
        emit(analysis_text(analysis_view(analysis), width=width, color=color))
    if output is not None:
        _write(output, analysis, the_card, overwrite=overwrite)


def _write(
    folder: Path, analysis: "RecordingAnalysis", card: "MachineCard", *, overwrite: bool
) -> None:
    from vibhealth.report import (
        analysis_csv,
        analysis_html,
        analysis_images,
        analysis_view,
        dumps,
        marks_with_side_bands,
        recording_dict,
    )

    marks_of = marks_with_side_bands(card.rolling_bearings())
    images = analysis_images(analysis, marks_of=marks_of)
    html = analysis_html(
        analysis_view(analysis), images, generated_at=generated_at(), version=__version__
    )
    documents = {
        HTML: html,
        JSON: dumps(recording_dict(analysis)),
        **analysis_csv(analysis),
    }
    figures = {f"{image.name}.png": image.png for image in images}
    write_report(folder, documents, figures, overwrite=overwrite)
    talk(f"Figures, tables and {HTML} are in {folder}")
