"""From a job folder to its record, card and the recordings that the verdict rests on."""

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from vibhealth.cli._load import Source, read_points
from vibhealth.errors import JobError

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.job import JobRecord
    from vibhealth.job.folder import JobFile
    from vibhealth.model import Recording
    from vibhealth.recording import ReadOptions

__all__ = ["read_job_folder"]


def read_job_folder(
    folder: Path, options: "ReadOptions"
) -> "tuple[JobRecord, MachineCard, list[Recording]]":
    """Read record, card, and the recordings needed for the check reached.

    Recordings of checks before the last but one are left where they are.

    Raises
    ------
    VibhealthError
        If the record, the card or a recording cannot be used.
    """
    from vibhealth.job import read_job
    from vibhealth.job.folder import job_files

    if not folder.exists():
        msg = f"{folder}: no such job; start one with: vibhealth job new CARD {folder}"
        raise JobError(msg)
    job = read_job(folder)
    card = job.machine_card
    if card is None:
        msg = (
            f"{job.path}: [job] card names no machine card; write the name of the card file that "
            "lies beside it"
        )
        raise JobError(msg)
    files = job_files(folder)
    needed = _needed(files)
    _refuse_copies(files, needed)
    recordings = [
        replace(recording, moment=file.moment)
        for file in needed
        for recording in read_points(Source(path=file.path, options=options), card, file.stage)
    ]
    return job, card, recordings


def _refuse_copies(files: "tuple[JobFile, ...]", needed: "list[JobFile]") -> None:
    """Refuse the copy of a recording of an earlier check, which is not read again."""
    first: dict[str, JobFile] = {}
    for file in files:
        other = first.setdefault(_digest(file.path), file)
        if other is not file and not (other in needed and file in needed):
            msg = (
                f"{file.path}: holds the same recording as {other.path}; one recording belongs to "
                "one check, so take the copy out or record that check"
            )
            raise JobError(msg)


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        msg = f"{path}: cannot be read ({error.strerror}); check the disk"
        raise JobError(msg) from error


def _needed(files: "tuple[JobFile, ...]") -> "list[JobFile]":
    """Without the checks that lie farther back than the one before the last."""
    from vibhealth.model import Moment, Stage

    transient = (Moment.RUN_UP, Moment.COAST_DOWN)

    def check(file: "JobFile") -> Moment:
        return file.moment or Moment.HOUR_1

    left = [f for f in files if f.stage is Stage.AS_LEFT and f.moment not in transient]
    order = list(Moment)
    reached = sorted({check(file) for file in left}, key=order.index)[-2:]
    return [file for file in files if file not in left or check(file) in reached]
