"""``vibhealth inspect``: is this recording usable, before anyone leaves the machine."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from vibhealth.cli import _options as option
from vibhealth.cli._load import Source, checked_speed, read_one, read_options, read_points
from vibhealth.cli._output import emit, terminal_form
from vibhealth.cli._run import ExitCode

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.diagnosis.file_inspection import ChannelLook
    from vibhealth.model import QualityFinding, Recording, RecordingAnalysis

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
    files = [_inspected(source, the_card, speed) for source in sources]
    series = _together(files, the_card)
    reasons = [
        reason if len(files) == 1 else f"{file.path}: {reason}"
        for file in files
        for reason in file.reasons
    ]
    reasons += [f"{f.detail} {f.advice}" for f in series if f.result == "hold"]
    emit(_document(files, series, reasons) if json else _page(files, series, reasons))
    raise typer.Exit(ExitCode.HOLD if reasons else ExitCode.DONE)


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    """What was seen of one file; ``left_out`` says which channels were not looked at."""

    path: str
    looks: "tuple[ChannelLook, ...]"
    reasons: tuple[str, ...]
    left_out: str = ""

    @property
    def first(self) -> "RecordingAnalysis":
        """The channel that speaks for the file."""
        return self.looks[0].analysis


def _inspected(source: Source, card: "MachineCard | None", speed_rpm: float | None) -> _File:
    """One file, and why it has to be recorded again."""
    from vibhealth.diagnosis.file_inspection import inspect_file, said_of_file

    channels, left_out = _channels(source, card)
    looks = inspect_file(channels, card=card, given_speed_rpm=speed_rpm)
    return _File(path=channels[0].path, looks=looks, reasons=said_of_file(looks), left_out=left_out)


def _channels(source: Source, card: "MachineCard | None") -> "tuple[tuple[Recording, ...], str]":
    """The channels to look at, and words on those that are not."""
    from vibhealth.errors import VibhealthError
    from vibhealth.model import Stage

    is_whole_file = source.channel is None and source.point is None
    why = "give --card to look at every point that it names"
    if card is not None and is_whole_file:
        try:
            return read_points(source, card, Stage.UNSTATED), ""
        except VibhealthError as error:  # channels of no point of the card, or a file at fault
            why = f"the others belong to no point of the card ({error})"
    recording = read_one(source, card)
    if recording.n_channels < 2 or not is_whole_file:
        return (recording,), ""
    return (recording,), f"Only channel {recording.channel} of {recording.n_channels}: {why}."


def _together(files: "list[_File]", card: "MachineCard | None") -> "tuple[QualityFinding, ...]":
    """What several files show together, point by point."""
    from vibhealth.diagnosis.inspection import series_findings

    if len(files) < 2:
        return ()
    if all(len(file.looks) == 1 for file in files):
        return series_findings([file.first for file in files], card=card)
    points: dict[str | None, list[RecordingAnalysis]] = {}
    for file in files:
        for look in file.looks:
            points.setdefault(look.analysis.recording.point, []).append(look.analysis)
    return tuple(
        replace(finding, detail=f"{point}: {finding.detail}")
        for point, analyses in points.items()
        if len(analyses) > 1
        for finding in series_findings(analyses, card=card)
    )


def _document(
    files: "list[_File]", series: "tuple[QualityFinding, ...]", reasons: list[str]
) -> str:
    """JSON of one file, or of several with what they show together."""
    from vibhealth.report import dumps

    one_by_one = [_file_dict(file) for file in files]
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


def _file_dict(file: _File) -> "dict[str, Any]":
    """The first channel with the word on the whole file, and the others beside it."""
    from vibhealth.report import recording_dict

    others = [
        {
            **recording_dict(look.analysis),
            "usable": not look.reasons,
            "record_again_because": list(look.reasons),
        }
        for look in file.looks[1:]
    ]
    return {
        **recording_dict(file.first),
        "usable": not file.reasons,
        "record_again_because": list(file.reasons),
        "other_channels": others,
        "channels_left_out": file.left_out,
    }


def _page(files: "list[_File]", series: "tuple[QualityFinding, ...]", reasons: list[str]) -> str:
    from vibhealth.report import analysis_text, analysis_view, channel_text

    width, color = terminal_form()
    lines = _headline(files, reasons)
    if series:
        lines += ["", "Together:", *(f"  {f.result.value:10} {f.detail}" for f in series)]
    for file in files:
        view = analysis_view(file.first)
        lines += ["", analysis_text(view, width=width, color=color, with_bearing=False)]
        for look in file.looks[1:]:
            lines.append(channel_text(analysis_view(look.analysis), width=width, color=color))
    return "\n".join(lines)


def _headline(files: "list[_File]", reasons: list[str]) -> list[str]:
    from vibhealth.diagnosis.inspection import not_checked

    left_out = [file.left_out for file in files if file.left_out]
    if reasons:
        also = [f"  - also: {reason}" for reason in reasons[1:]]
        return [f"RECORD AGAIN because {reasons[0]}", *also, *left_out]
    lines = ["USABLE. Nothing found that speaks against judging this recording.", *left_out]
    analyses = [look.analysis for file in files for look in file.looks]
    if open_checks := dict.fromkeys(title for a in analyses for title in not_checked(a)):
        lines.append(f"Not checked: {'; '.join(open_checks)}. See below what is missing.")
    return lines
