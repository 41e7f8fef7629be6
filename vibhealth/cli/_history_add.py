"""What ``vibhealth history add`` does with recordings, folders of them, and job folders."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from vibhealth import __version__
from vibhealth.cli._load import Source, read_points
from vibhealth.cli._output import progress_bar, talk
from vibhealth.errors import InputError, VibhealthError

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.model import Assessment, HistoryRecording
    from vibhealth.recording import ReadOptions
    from vibhealth.store import History

__all__ = ["Added", "How", "add_assessment", "add_sources", "is_job"]

SUFFIXES = frozenset(
    (".wav", ".rf64", ".w64", ".flac", ".aif", ".aiff", ".caf", ".csv", ".tsv", ".txt", ".gz",
     ".npy", ".npz", ".mat")
)  # fmt: skip
JOB_RECORD = "job.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class How:
    """How recordings are to be read, and what holds where their sidecar says nothing."""

    options: "ReadOptions"
    point: str | None
    channel: int | None
    speed_rpm: float | None
    recorded_at: datetime | None
    load: str
    running_hours_h: float | None = None


@dataclass(slots=True)
class Added:
    """Counts of what became of the files."""

    new: int = 0
    known: int = 0
    undated: int = 0
    failed: int = 0


def is_job(path: Path) -> bool:
    """Whether a folder is a job."""
    return (path / JOB_RECORD).is_file()


def add_sources(
    history: "History", sources: list[Path], card: "MachineCard | None", how: How
) -> Added:
    """Add recordings and folders, each file as it is done; jobs whole or not at all.

    Raises
    ------
    VibhealthError
        If a source that was named itself cannot be used, or recordings come without a card.
    """
    added = Added()
    files = [file for source in sources if not is_job(source) for file in _files(source)]
    if files and card is None:
        msg = "give the machine card of the recordings with --card"
        raise InputError(msg)
    with progress_bar() as say:
        for number, file in enumerate(files):
            say(file.name, number, len(files))
            if card is not None:
                _add_file(history, file, card, how, added, is_alone=file in sources)
    for source in sources:
        if is_job(source):
            _add_job(history, source, how, added)
    return added


def add_assessment(history: "History", assessment: "Assessment", added: Added) -> None:
    """Recordings, verdict, override and rebuild of an assessment, whole or not at all."""
    from vibhealth.store.from_results import history_rebuild, history_recording, history_verdict

    machine = str(assessment.machine["id"])
    digest = str(assessment.machine.get("card_sha256", ""))
    kept = [
        history_recording(a, machine=machine, card_sha256=digest, tool_version=__version__)
        for a in assessment.recordings
    ]
    with history.transaction():
        results = history.add_recordings(kept)
        history.add_verdict(history_verdict(assessment, tool_version=__version__))
        rebuild = history_rebuild(assessment)
        if rebuild is not None and rebuild.at not in {b.at for b in history.rebuilds(machine)}:
            history.add_rebuild(rebuild)
    added.new += sum(result.added for result in results)
    added.known += sum(not result.added for result in results)
    added.undated += sum(item.recorded_at is None for item in kept)


def _files(source: Path) -> Iterator[Path]:
    if not source.exists():
        msg = f"{source}: no such file or folder; check the name"
        raise InputError(msg)
    if not source.is_dir():
        yield source
        return
    found = [
        path
        for path in sorted(source.rglob("*"))
        if path.is_file() and path.suffix.lower() in SUFFIXES and not path.name.startswith(".")
    ]
    if not found:
        msg = f"{source}: holds no recording (looked for {', '.join(sorted(SUFFIXES))})"
        raise InputError(msg)
    yield from found


def _add_file(
    history: "History",
    file: Path,
    card: "MachineCard",
    how: How,
    added: Added,
    is_alone: bool,
) -> None:
    """Add one file; in a folder a file that cannot be used is told and passed over."""
    try:
        _refuse_other_machine(history, file, card)
        if how.channel is None and how.point is None and _is_known(history, file, card):
            added.known += 1
            return
        rows = _rows(file, card, how)
        results = history.add_recordings(rows)
    except VibhealthError as error:
        if is_alone:
            raise
        talk(f"left out: {error}")
        added.failed += 1
        return
    added.new += any(result.added for result in results)
    added.known += not any(result.added for result in results)
    added.undated += any(row.recorded_at is None for row in rows)


def _rows(file: Path, card: "MachineCard", how: How) -> "list[HistoryRecording]":
    from vibhealth.diagnosis import analyze_recording
    from vibhealth.model import Stage
    from vibhealth.store.from_results import history_recording

    source = Source(path=file, options=how.options, point=how.point, channel=how.channel)
    return [
        history_recording(
            analyze_recording(
                recording, card=card, given_speed_rpm=how.speed_rpm, with_sensitivity=False
            ),
            machine=card.machine.id,
            card_sha256=card.sha256,
            tool_version=__version__,
            recorded_at=how.recorded_at,
            load=how.load,
            running_hours_h=how.running_hours_h,
        )
        for recording in read_points(source, card, Stage.UNSTATED)
    ]


def _digest(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        msg = f"{file}: cannot be read ({error.strerror}); check the name and the disk"
        raise InputError(msg) from error


def _is_known(history: "History", file: Path, card: "MachineCard") -> bool:
    return bool(history.stored_channels(card.machine.id, _digest(file)))


def _refuse_other_machine(history: "History", file: Path, card: "MachineCard") -> None:
    """Refuse a recording that stands in the history under another machine."""
    digest = _digest(file)
    for machine in history.machines():
        if machine != card.machine.id and history.stored_channels(machine, digest):
            msg = (
                f"{file}: this very recording is in the history as one of machine {machine}, and "
                f"{card.path} is of {card.machine.id}; check the card, or withdraw the wrong entry"
            )
            raise InputError(msg)


def _add_job(history: "History", folder: Path, how: How, added: Added) -> None:
    from vibhealth.cli._baselines import baselines_folder
    from vibhealth.cli.accept import assess_folder

    known_good = baselines_folder(None, beside=folder)
    assessment = assess_folder(folder, how.options, how.speed_rpm, baselines=known_good)
    add_assessment(history, assessment, added)
    talk(f"{folder}: {assessment.headline}")
