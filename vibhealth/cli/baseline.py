"""``vibhealth baseline``: known-good references of measurement points."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from urllib.parse import unquote

import typer

from vibhealth.cli import _options as option
from vibhealth.cli._baselines import (
    DEFAULT_FOLDER,
    BaselinesOption,
    baselines_folder,
    is_baseline_folder,
    now,
)
from vibhealth.cli._load import Source, checked_speed, read_options, read_points
from vibhealth.cli._output import emit, progress_bar, talk, terminal_form
from vibhealth.cli._run import ExitCode
from vibhealth.errors import BaselineError, InputError

if TYPE_CHECKING:
    from vibhealth.baseline import Baseline, Stored
    from vibhealth.card import MachineCard
    from vibhealth.model import Assessment, Orbit, RecordingAnalysis
    from vibhealth.recording import ReadOptions

__all__ = ["baseline_app"]

baseline_app = typer.Typer(
    help="Known-good references of measurement points: make, list, show, check.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Who:
    """Who answers for a baseline, why, and where it is to be kept."""

    accepted_by: str
    note: str
    folder: Path


@baseline_app.command()
def make(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="RECORDING... | JOB | CANDIDATE",
            help="Recordings of the good machine, an accepted job, or a candidate's folder.",
        ),
    ],
    *,
    accepted_by: Annotated[
        str, typer.Option("--accepted-by", help="Who answers for it: name of a person.")
    ],
    card: Annotated[
        Path | None, typer.Option("--card", help="Machine card; a job brings its own.")
    ] = None,
    baselines: Annotated[
        Path, typer.Option("--baselines", help="Folder of baselines, made if it is missing.")
    ] = DEFAULT_FOLDER,
    note: Annotated[
        str, typer.Option("--note", help="Why it holds although something speaks against it.")
    ] = "",
    point: option.PointOption = None,
    channel: option.ChannelOption = None,
    unit: option.UnitOption = None,
    rate: option.RateOption = None,
    speed_rpm: option.SpeedOption = None,
    full_scale_g: option.FullScaleGOption = None,
    sensitivity_mv_per_g: option.SensitivityOption = None,
    full_scale_v: option.FullScaleVOption = None,
    json: option.JsonOption = False,
) -> None:
    """Make a baseline of every point recorded; a new version, nothing is overwritten."""
    from vibhealth.baseline import store_baseline
    from vibhealth.report import baseline_dict, dumps

    options = read_options(
        rate_hz=rate,
        unit=unit,
        full_scale_g=full_scale_g,
        sensitivity_mv_per_g=sensitivity_mv_per_g,
        full_scale_v=full_scale_v,
    )
    who = _Who(accepted_by=accepted_by, note=note, folder=baselines)
    made = _made(sources, card, options, point, channel, checked_speed(speed_rpm), who)
    stored = [store_baseline(baselines, item) for item in made]
    if json:
        emit(dumps({"schema_version": 1, "baselines": [baseline_dict(item) for item in stored]}))
    for item in stored:
        flags = f"; accepted although {'; '.join(item.flags)}" if item.flags else ""
        words = (
            f"{item.name}: {item.n_recordings} recording{'s' * (item.n_recordings != 1)}, "
            f"accepted by {item.accepted_by}{flags}. It is in {item.path}"
        )
        (talk if json else emit)(words)


def _made(
    sources: list[Path],
    card: Path | None,
    options: "ReadOptions",
    point: str | None,
    channel: int | None,
    speed_rpm: float | None,
    who: _Who,
) -> "list[Baseline]":
    if len(sources) == 1 and sources[0].is_dir():
        folder = sources[0]
        is_stored = is_baseline_folder(folder)
        for option_name, value in (("--card", card), ("--point", point), ("--channel", channel)):
            if value is not None:
                what = "a candidate" if is_stored else "a job folder"
                msg = f"{option_name} does not go with {what}: it holds card and points"
                raise InputError(msg)
        if is_stored:
            return [_promoted(folder, who.accepted_by, who.note)]
        return _of_job(folder, options, speed_rpm, who)
    if card is None:
        msg = "give the machine card of the recordings with --card"
        raise InputError(msg)
    return _of_recordings(sources, card, options, point, channel, speed_rpm, who)


def _promoted(folder: Path, accepted_by: str, note: str) -> "Baseline":
    """A candidate that somebody answers for now."""
    from vibhealth.baseline import Status, read_baseline, refuse_unanswered

    candidate = read_baseline(folder)
    if candidate.status is not Status.CANDIDATE:
        msg = f"{folder}: is known-good already, accepted by {candidate.accepted_by}"
        raise BaselineError(msg)
    refuse_unanswered(str(folder), accepted_by, note, candidate.flags)
    return replace(
        candidate,
        status=Status.KNOWN_GOOD,
        accepted_by=accepted_by.strip(),
        note=note.strip(),
        made_at=now(),
    )


def _of_job(
    folder: Path,
    options: "ReadOptions",
    speed_rpm: float | None,
    who: _Who,
) -> "list[Baseline]":
    """Recordings of an accepted job at 24 h and 7 days."""
    from vibhealth.card import read_card
    from vibhealth.cli.accept import assess_folder
    from vibhealth.model import Moment, Stage, Verdict

    in_force = who.folder if who.folder.is_dir() else None
    assessment = assess_folder(folder, options, speed_rpm, baselines=in_force)
    _refuse_not_accepted(folder, assessment)
    steady = {Moment.HOUR_24, Moment.DAY_7}
    everything = [a for a in assessment.recordings if a.recording.stage is Stage.AS_LEFT]
    left = [a for a in everything if a.recording.moment in steady]
    left = left or (everything if who.note.strip() else [])
    if not left:
        msg = (
            f"{folder}: no recording of the check at 24 h or 7 days; before that the machine still "
            "settles, and a limit set from such readings gives false alarms: record at 24 h"
        )
        raise BaselineError(msg)
    card = read_card(assessment.machine["card"])
    against = []
    if assessment.verdict is Verdict.HOLD and assessment.override is not None:
        override = assessment.override
        against = [
            f"the job was a HOLD ({assessment.reasons[0].rstrip('.')}), overridden by {override.by}"
        ]
        who = replace(who, note=who.note or f"override: {override.reason}")
    return _of_analyses(left, card, assessment.orbits, who, against)


def _refuse_not_accepted(folder: Path, assessment: "Assessment") -> None:
    from vibhealth.model import Verdict

    overridden = assessment.override is not None and assessment.override.is_valid
    if assessment.verdict is not Verdict.PASS and not overridden:
        msg = f"{folder}: this job is not accepted, so it makes no reference: {assessment.headline}"
        raise BaselineError(msg)


def _of_recordings(
    paths: list[Path],
    card: Path,
    options: "ReadOptions",
    point: str | None,
    channel: int | None,
    speed_rpm: float | None,
    who: _Who,
) -> "list[Baseline]":
    from vibhealth.acceptance import analyze_all, orbits_of
    from vibhealth.card import read_card
    from vibhealth.model import Stage

    the_card = read_card(card)
    recordings = [
        recording
        for path in paths
        for recording in read_points(
            Source(path=path, options=options, point=point, channel=channel),
            the_card,
            Stage.UNSTATED,
        )
    ]
    with progress_bar() as say:
        analyses = analyze_all(recordings, card=the_card, given_speed_rpm=speed_rpm, progress=say)
    orbits = tuple(orbits_of(analyses, the_card))
    return _of_analyses(analyses, the_card, orbits, who)


def _of_analyses(
    analyses: "Sequence[RecordingAnalysis]",
    card: "MachineCard",
    orbits: "Sequence[Orbit]",
    who: _Who,
    against: Sequence[str] = (),
) -> "list[Baseline]":
    """One baseline per point on the body; all are made before any is stored."""
    from vibhealth.baseline import build_baseline

    on_body = [a for a in analyses if card.is_on_body(a.recording.point)]
    points = dict.fromkeys(a.recording.point for a in on_body)
    if not points:
        msg = "no recording of a point on the moving body; a baseline is made there"
        raise BaselineError(msg)
    files = {a.recording.path for a in on_body}
    made_at = now()
    return [
        build_baseline(
            [a for a in on_body if a.recording.point == name],
            card=card,
            made_at=made_at,
            accepted_by=who.accepted_by,
            note=who.note,
            against=[*against, *_against(on_body, card, who.folder, str(name))],
            orbits=[orbit for orbit in orbits if orbit.path in files],
        )
        for name in points
    ]


def _against(
    analyses: "Sequence[RecordingAnalysis]", card: "MachineCard", folder: Path, point: str
) -> tuple[str, ...]:
    """What speaks against a set: its motion against the card, and the reference that it supersedes."""
    from vibhealth.acceptance import judge
    from vibhealth.baseline import in_force
    from vibhealth.model import CriterionResult, Group, Stage

    found: list[str] = []
    known: tuple[Baseline, ...] = ()
    try:
        known = in_force(folder, card.machine.id, point)
    except BaselineError as error:
        found.append(f"the reference in force cannot be read ({str(error).rstrip('.')})")
    left = [
        replace(a, recording=replace(a.recording, stage=Stage.AS_LEFT))
        for a in analyses
        if a.recording.point == point
    ]
    for criterion in judge([], left, card=card, baselines=known).criteria:
        is_news = "baseline" in criterion.id or "has grown" in criterion.reason
        is_motion = criterion.group in {Group.MOTION, Group.STATE}
        if criterion.result is CriterionResult.HOLD and (is_news or is_motion):
            found.append(criterion.reason.rstrip("."))
    return tuple(found)


@baseline_app.command(name="list")
def list_(baselines: BaselinesOption = None, *, json: option.JsonOption = False) -> None:
    """List all baselines with state, date and who answers for them."""
    from vibhealth.report import baseline_list_dict, baseline_list_text, dumps

    rows = [(stored, *_read(stored)) for stored in _all(baselines)]
    if json:
        emit(dumps(baseline_list_dict(rows)))
    else:
        width, color = terminal_form()
        emit(baseline_list_text(rows, width=width, color=color))


@baseline_app.command()
def show(
    machine: Annotated[str, typer.Argument(metavar="MACHINE|FOLDER", help="Id, or a folder.")],
    point: Annotated[str | None, typer.Argument(metavar="[POINT]", help="Its point.")] = None,
    *,
    version: Annotated[
        int | None, typer.Option("--version", help="Another than the one in force.")
    ] = None,
    baselines: BaselinesOption = None,
    json: option.JsonOption = False,
) -> None:
    """Show one baseline: conditions, levels with their spread, families, who and when."""
    from vibhealth.baseline import read_baseline
    from vibhealth.report import baseline_dict, baseline_text, dumps

    baseline = read_baseline(_found(machine, point, version, baselines))
    if json:
        emit(dumps({"schema_version": 1, **baseline_dict(baseline)}))
    else:
        width, color = terminal_form()
        emit(baseline_text(baseline, width=width, color=color))


@baseline_app.command()
def check(baselines: BaselinesOption = None, *, json: option.JsonOption = False) -> None:
    """Check the digests of all baselines; exit 2 if one was changed or is not complete."""
    from vibhealth.report import baseline_list_dict, clean, dumps

    rows = [(stored, *_read(stored)) for stored in _all(baselines)]
    if json:
        emit(dumps(baseline_list_dict(rows)))
    elif not rows:
        emit("No baseline is kept here.")
    for stored, baseline, fault in rows:
        if not json and baseline is not None:
            emit(clean(f"whole: {stored.path}"))
        if fault:
            (talk if json else emit)(clean(f"DAMAGED: {fault}"))
    if any(fault for _, _, fault in rows):
        raise typer.Exit(ExitCode.BAD_INPUT)


def _all(folder: Path | None) -> "tuple[Stored, ...]":
    from vibhealth.baseline import list_stored

    place = baselines_folder(folder)
    if place is None:
        msg = (
            f"no folder {DEFAULT_FOLDER} here; give one with --baselines, or make a baseline with: "
            "vibhealth baseline make"
        )
        raise InputError(msg)
    return list_stored(place)


def _read(stored: "Stored") -> "tuple[Baseline | None, str]":
    from vibhealth.baseline import read_baseline

    try:
        return read_baseline(stored.path), ""
    except BaselineError as error:
        return None, str(error)


def _found(machine: str, point: str | None, version: int | None, folder: Path | None) -> Path:
    from vibhealth.baseline import Status, list_stored

    if point is None:
        if version is not None:
            msg = "--version goes with a machine and its point, not with the folder of one version"
            raise InputError(msg)
        if Path(machine).is_dir():
            return Path(machine)
        msg = f"{machine}: no such folder; give a machine and its point, or a baseline's folder"
        raise BaselineError(msg)
    place = baselines_folder(folder) or DEFAULT_FOLDER
    found = [
        stored
        for stored in list_stored(place, machine_id=machine)
        if unquote(stored.path.parent.name).casefold() == point.casefold()
        and stored.status is Status.KNOWN_GOOD
        and (stored.version == version if version is not None else not stored.is_superseded)
    ]
    if not found:
        which = "" if version is None else f" version {version}"
        msg = (
            f"{place}: no baseline{which} of machine {machine}, point {point}; "
            "see: vibhealth baseline list"
        )
        raise BaselineError(msg)
    return found[0].path
