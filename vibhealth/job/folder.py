"""The job folder: which recordings it holds, of which stage and moment."""

import difflib
import functools
from dataclasses import dataclass
from pathlib import Path

from vibhealth.errors import JobError
from vibhealth.job.reading import RECORD
from vibhealth.model import Moment, Stage

__all__ = ["MOMENTS", "JobFile", "job_files"]

# The folders of each stage; recordings right below as-found are those of the running machine.
MOMENTS: dict[Stage, tuple[Moment, ...]] = {
    Stage.AS_FOUND: (Moment.RUN_UP, Moment.COAST_DOWN),
    Stage.AS_LEFT: tuple(Moment),
}
STAGE_NAMES = tuple(stage.value for stage in MOMENTS)
ARRAYS = frozenset((".npy", ".npz", ".mat"))
# ".txt" may be a table too, but beside recordings it is a note: name a table .csv.
TABLES = frozenset((".csv", ".tsv", ".dat", ".asc", ".prn"))
NOTES = frozenset((".toml", ".txt", ".md", ".jpg", ".jpeg", ".png", ".heic", ".pdf"))
SYSTEM_FILES = frozenset(("thumbs.db", "desktop.ini"))


@functools.cache
def _audio() -> frozenset[str]:
    """Suffixes of audio files that the reader knows; loaded late, since asking needs no reader."""
    from vibhealth.recording._content import AUDIO_SUFFIXES  # noqa: PLC0415 - loads half of scipy

    return AUDIO_SUFFIXES


@functools.cache
def _recording_kinds() -> frozenset[str]:
    return _audio() | ARRAYS | TABLES


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """One recording of a job; ``moment`` is None right below the folder of its stage."""

    path: Path
    stage: Stage
    moment: Moment | None


def job_files(folder: str | Path) -> tuple[JobFile, ...]:
    """Recordings of a job, by the folders they lie in.

    Sidecars (``.toml``), notes (``.txt``, ``.md``), pictures and hidden files are
    left out. Nothing is opened.

    Parameters
    ----------
    folder : str or Path
        Job folder, or the ``job.toml`` in it.

    Returns
    -------
    tuple of JobFile
        As found before as left; in each first what has no moment, then by moment
        in the order of time, then by name.

    Raises
    ------
    JobError
        If there is no such folder, a sub-folder has no known name, or a file is
        of no kind that can be read or lies outside the folders of the stages.
    """
    root = Path(folder)
    root = root.parent if root.name == RECORD else root
    if not root.is_dir():
        msg = f"{root}: no such folder; start a job with: vibhealth job new CARD {root}"
        raise JobError(msg)
    try:
        _check_root(root)
        return tuple(
            JobFile(path=path, stage=stage, moment=moment)
            for stage in MOMENTS
            for moment, place in _places(root, stage)
            for path in _recordings(place)
        )
    except OSError as error:
        msg = f"{error.filename or root}: cannot be looked into ({error.strerror}); check the disk"
        raise JobError(msg) from error


def _entries(folder: Path) -> list[Path]:
    """What is in a folder, sorted, without hidden and system files."""
    return sorted(
        path
        for path in folder.iterdir()
        if not path.name.startswith(".") and path.name.lower() not in SYSTEM_FILES
    )


def _kind(path: Path) -> str:
    """Suffix in lower case; that below ``.gz``, where a compressed text is a table."""
    suffix = path.suffix.lower()
    if suffix != ".gz":
        return suffix
    inner = Path(path.stem).suffix.lower()
    return ".csv" if inner in {*TABLES, ".txt"} else suffix


def _check_root(root: Path) -> None:
    """Refuse recordings that would be overlooked; other folders and notes are the user's own."""
    for path in _entries(root):
        if path.is_dir():
            if path.name not in STAGE_NAMES:
                _refuse_stage_folder(path)
        elif _kind(path) in _recording_kinds():
            msg = (
                f"{path}: lies outside the folders of a stage; move a recording into "
                f"{' or '.join(STAGE_NAMES)}, anything else into a folder of its own"
            )
            raise JobError(msg)


def _refuse_stage_folder(path: Path) -> None:
    close = difflib.get_close_matches(path.name.lower(), STAGE_NAMES, n=1, cutoff=0.6)
    if close:
        _refuse_folder(path, STAGE_NAMES, f"did you mean {close[0]!r}? ")
    if any(_kind(inner) in _audio() for inner in path.rglob("*") if inner.is_file()):
        _refuse_folder(path, STAGE_NAMES, "it holds recordings; ")


def _refuse_folder(path: Path, known: tuple[str, ...], hint: str = "") -> None:
    msg = f"{path}: is no folder of a job; {hint}known here: {', '.join(known)}"
    raise JobError(msg)


def _places(root: Path, stage: Stage) -> list[tuple[Moment | None, Path]]:
    """The folder of a stage and those of its moments, as far as they are there."""
    place = root / stage.value
    if not place.is_dir():
        return []
    known = tuple(moment.value for moment in MOMENTS[stage])
    for path in _entries(place):
        if path.is_dir() and path.name not in known:
            close = difflib.get_close_matches(path.name.lower(), known, n=1, cutoff=0.5)
            _refuse_folder(path, known, f"did you mean {close[0]!r}? " if close else "")
    found: list[tuple[Moment | None, Path]] = [(None, place)]
    found += [(moment, place / moment.value) for moment in MOMENTS[stage]]
    return [(moment, path) for moment, path in found if path.is_dir()]


def _recordings(place: Path) -> list[Path]:
    found: list[Path] = []
    is_moment = place.name not in STAGE_NAMES
    for path in _entries(place):
        if path.is_dir():
            if is_moment:
                msg = f"{path}: no folder can be inside {place.name}; move its files up"
                raise JobError(msg)
        elif _kind(path) in _recording_kinds():
            found.append(path)
        elif path.suffix.lower() not in NOTES:
            msg = (
                f"{path}: is of no kind that can be read ({_known()}); export it as one of these, "
                "or name a note .txt"
            )
            raise JobError(msg)
    return found


def _known() -> str:
    return ", ".join(sorted(_recording_kinds()))
