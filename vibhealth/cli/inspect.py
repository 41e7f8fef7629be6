"""``vibhealth inspect``: is this recording usable, before anyone leaves the machine."""

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth.cli import _options as option
from vibhealth.cli._load import Source, checked_speed, read_one, read_options, read_points
from vibhealth.cli._output import emit, terminal_form
from vibhealth.cli._run import ExitCode

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.model import QualityFinding, RecordingAnalysis

__all__ = ["inspect"]


def inspect(
    paths: Annotated[
        list[Path],
        typer.Argument(
            metavar="RECORDING...", help="File of one recording, or several of one point in turn."
        ),
    ],
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
    from vibhealth.diagnosis.inspection import series_findings

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
    sources = [Source(path=path, options=options, point=point, channel=channel) for path in paths]
    looks = [_inspected(source, the_card, speed) for source in sources]
    analyses = [analysis for analysis, _ in looks]
    series = series_findings(analyses, card=the_card) if len(looks) > 1 else ()
    reasons = [
        reason if len(looks) == 1 else f"{analysis.recording.path}: {reason}"
        for analysis, found in looks
        for reason in found
    ]
    reasons += [f"{f.detail} {f.advice}" for f in series if f.result == "hold"]
    emit(_document(looks, series, reasons) if json else _page(analyses, series, reasons))
    raise typer.Exit(ExitCode.HOLD if reasons else ExitCode.DONE)


def _inspected(
    source: Source, card: "MachineCard | None", speed_rpm: float | None
) -> "tuple[RecordingAnalysis, tuple[str, ...]]":
    """One recording, and why it has to be made again."""
    from vibhealth.diagnosis.inspection import (
        inspect_recording,
        reasons_to_record_again,
        speed_reasons,
        with_axes,
    )
    from vibhealth.diagnosis.start_stop_inspection import start_stop_reasons
    from vibhealth.errors import VibhealthError
    from vibhealth.model import Stage

    recording = read_one(source, card)
    analysis = inspect_recording(recording, card=card, given_speed_rpm=speed_rpm)
    is_whole_file = source.channel is None and source.point is None
    if card is not None and recording.n_channels > 1 and is_whole_file:
        with suppress(VibhealthError):  # channels of no point of the card: nothing to compare
            analysis = with_axes(analysis, read_points(source, card, Stage.UNSTATED), card=card)
    started = None if card is None else start_stop_reasons(analysis, card=card)
    if started is not None:
        return analysis, started
    reasons = reasons_to_record_again(analysis, is_nominal_speed_known=card is not None)
    if card is not None and speed_rpm is None:
        reasons += speed_reasons(analysis, card=card)
    return analysis, reasons


def _document(
    looks: "list[tuple[RecordingAnalysis, tuple[str, ...]]]",
    series: "tuple[QualityFinding, ...]",
    reasons: list[str],
) -> str:
    """JSON of one recording, or of several with what they show together."""
    from vibhealth.report import dumps, recording_dict

    one_by_one = [
        {**recording_dict(analysis), "usable": not own, "record_again_because": list(own)}
        for analysis, own in looks
    ]
    if len(one_by_one) == 1:
        return dumps(one_by_one[0])
    together = [
        {
            "id": f.id,
            "title": f.title,
            "result": f.result.value,
            "detail": f.detail,
            "advice": f.advice,
        }
        for f in series
    ]
    return dumps(
        {
            "recordings": one_by_one,
            "together": together,
            "usable": not reasons,
            "record_again_because": reasons,
        }
    )


def _page(
    analyses: "list[RecordingAnalysis]", series: "tuple[QualityFinding, ...]", reasons: list[str]
) -> str:
    from vibhealth.report import analysis_text, analysis_view

    width, color = terminal_form()
    lines = _headline(analyses, reasons)
    if series:
        lines += ["", "Together:", *(f"  {f.result.value:10} {f.detail}" for f in series)]
    for analysis in analyses:
        lines += ["", analysis_text(analysis_view(analysis), width=width, color=color)]
    return "\n".join(lines)


def _headline(analyses: "list[RecordingAnalysis]", reasons: list[str]) -> list[str]:
    from vibhealth.diagnosis.inspection import not_checked

    if reasons:
        return [f"RECORD AGAIN because {reasons[0]}", *(f"  - also: {r}" for r in reasons[1:])]
    lines = ["USABLE. Nothing found that speaks against judging this recording."]
    if open_checks := dict.fromkeys(title for a in analyses for title in not_checked(a)):
        lines.append(f"Not checked: {'; '.join(open_checks)}. See below what is missing.")
    return lines
