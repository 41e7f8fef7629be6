"""``vibhealth inspect``: is this recording usable, before anyone leaves the machine."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth.cli import _options as option
from vibhealth.cli._load import Source, checked_speed, read_one, read_options
from vibhealth.cli._output import emit, terminal_form
from vibhealth.cli._run import ExitCode

if TYPE_CHECKING:
    from vibhealth.model import RecordingAnalysis

__all__ = ["inspect"]


def inspect(
    path: Annotated[Path, typer.Argument(metavar="RECORDING", help="File of one recording.")],
    *,
    card: option.OptionalCardOption = None,
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
    json: option.JsonOption = False,
) -> None:
    """Is this recording usable? Speed, levels, faults of the recording. Exit 3: record again."""
    from vibhealth.card import read_card
    from vibhealth.diagnosis.inspection import (
        inspect_recording,
        reasons_to_record_again,
        speed_reasons,
    )
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
    )
    speed = checked_speed(speed_rpm)
    the_card = None if card is None else read_card(card)
    source = Source(path=path, options=options, point=point, channel=channel)
    recording = read_one(source, the_card)
    analysis = inspect_recording(recording, card=the_card, given_speed_rpm=speed)
    reasons = reasons_to_record_again(analysis, is_nominal_speed_known=the_card is not None)
    if the_card is not None and speed is None:
        reasons += speed_reasons(analysis, card=the_card)
    if json:
        facts = {"usable": not reasons, "record_again_because": list(reasons)}
        emit(dumps({**recording_dict(analysis), **facts}))
    else:
        width, color = terminal_form()
        text = analysis_text(analysis_view(analysis), width=width, color=color)
        emit("\n".join((*_headline(analysis, reasons), "", text)))
    raise typer.Exit(ExitCode.HOLD if reasons else ExitCode.DONE)


def _headline(analysis: "RecordingAnalysis", reasons: tuple[str, ...]) -> list[str]:
    from vibhealth.diagnosis.inspection import not_checked

    if reasons:
        return ["RECORD AGAIN because", *(f"  - {reason}" for reason in reasons)]
    lines = ["USABLE. Nothing found that speaks against judging this recording."]
    if open_checks := not_checked(analysis):
        lines.append(f"Not checked: {'; '.join(open_checks)}. See below what is missing.")
    return lines
