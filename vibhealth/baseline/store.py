"""Where baselines are kept: one folder per machine, point and version; nothing is overwritten.

``<folder>/<machine>/<point>/v3/`` is the third known-good baseline of a point, the one with the
highest number is in force and supersedes the others; ``candidate-1/`` is a set that nobody has
accepted yet.
"""

import hashlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

from vibhealth.baseline.files import FACTS, SUMS, baseline_documents
from vibhealth.baseline.parsing import parse_baseline
from vibhealth.baseline.reference import Baseline, Status
from vibhealth.errors import BaselineError, OutputError

__all__ = ["Stored", "in_force", "list_stored", "read_baseline", "store_baseline"]

PREFIXES = {Status.KNOWN_GOOD: "v", Status.CANDIDATE: "candidate-"}
FOLDER_NAME = re.compile(r"(v|candidate-)([1-9][0-9]*)")
MOST_ATTEMPTS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """A folder of the store that holds a baseline or claims to, not yet read."""

    path: Path
    status: Status
    version: int
    is_superseded: bool


def store_baseline(folder: str | Path, baseline: Baseline) -> Baseline:
    """Write a baseline under the next free number; others stay as they are.

    Parameters
    ----------
    folder : str or Path
        Folder of all baselines, made if it is missing.
    baseline : Baseline
        Its version and digest are set here.

    Returns
    -------
    Baseline
        As it is read again from its files.

    Raises
    ------
    OutputError
        If the system refuses to write; then nothing of it is left.
    BaselineError
        If a name or number of it cannot be kept in such files.
    """
    place = Path(folder) / _folder_name(baseline.machine_id) / _folder_name(baseline.point)
    try:
        place.mkdir(parents=True, exist_ok=True)
        return read_baseline(_written(place, baseline))
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        msg = f"cannot write {place}: {error.strerror or error}; check the folder and its space"
        raise OutputError(msg) from error


def _written(place: Path, baseline: Baseline) -> Path:
    """Aside first, synced, then renamed to the first number that is free."""
    prefix = PREFIXES[baseline.status]
    for _ in range(MOST_ATTEMPTS):
        taken = [s.version for s in _of_point(place) if s.status is baseline.status]
        numbered = replace(baseline, version=max(taken, default=0) + 1)
        documents = baseline_documents(numbered)
        # What could not be read again is refused before a number is taken for it.
        contents = {name: text.encode() for name, text in documents.items()}
        parse_baseline(contents, path=place / f"{prefix}{numbered.version}", digest="")
        aside = place / f".{secrets.token_hex(8)}.part"
        aside.mkdir()
        try:
            for name, content in contents.items():
                _write_synced(aside / name, content)
            _sync(aside)
            target = place / f"{prefix}{numbered.version}"
            if _is_renamed(aside, target):
                return target
        finally:
            if aside.exists():
                shutil.rmtree(aside, ignore_errors=True)
    msg = f"{place}: others keep writing baselines of this point; try again"
    raise OutputError(msg)


def _is_renamed(aside: Path, target: Path) -> bool:
    """Whether the number was free; another writer may have taken it in the meantime."""
    try:
        aside.rename(target)
    except OSError:
        if target.exists():
            return False
        raise
    _sync(target.parent)
    return True


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("xb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _sync(folder: Path) -> None:
    """Make names durable where the system lets a folder be opened (not on Windows)."""
    if os.name == "posix":
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _folder_name(name: str) -> str:
    """A name as a folder: what a file system may not hold is written as %XX.

    >>> _folder_name("F3"), _folder_name("deck/2 top"), _folder_name("..")
    ('F3', 'deck%2F2 top', '%2E%2E')
    """
    safe = quote(name, safe=" ()+,") or "_"
    return safe if safe.strip(".") else safe.replace(".", "%2E")


def read_baseline(path: str | Path) -> Baseline:
    """Read a baseline folder, all of it, after checking its digests.

    Parameters
    ----------
    path : str or Path
        The folder of one version.

    Returns
    -------
    Baseline

    Raises
    ------
    BaselineError
        If a listed file is missing or was changed, or the content cannot be read.
    """
    folder = Path(path)
    try:
        sums = (folder / SUMS).read_bytes()
    except OSError as error:
        msg = (
            f"{folder}: no complete baseline: {SUMS} cannot be read ({error.strerror}); it was not "
            "written to its end or files were lost; make it again from its recordings"
        )
        raise BaselineError(msg) from error
    documents = _checked(folder, _listed(folder, sums))
    return parse_baseline(documents, path=folder, digest=hashlib.sha256(sums).hexdigest())


def _listed(folder: Path, sums: bytes) -> Mapping[str, str]:
    """Digest of each file by name."""
    found = {}
    for row in sums.decode("utf-8", errors="replace").splitlines():
        digest, _, name = row.partition("  ")
        if not re.fullmatch(r"[0-9a-f]{64}", digest) or Path(name).name != name:
            msg = f"{folder / SUMS}: not a list of digests: {row[:80]!r}; make the baseline again"
            raise BaselineError(msg)
        found[name] = digest
    if FACTS not in found:
        msg = f"{folder / SUMS}: {FACTS} is not listed; make the baseline again"
        raise BaselineError(msg)
    return found


def _checked(folder: Path, listed: Mapping[str, str]) -> dict[str, bytes]:
    documents = {}
    for name, digest in listed.items():
        try:
            content = (folder / name).read_bytes()
        except OSError as error:
            msg = f"{folder / name}: cannot be read ({error.strerror}); make the baseline again"
            raise BaselineError(msg) from error
        if hashlib.sha256(content).hexdigest() != digest:
            msg = (
                f"{folder / name}: changed since the baseline was made (its digest is not the one "
                f"in {SUMS}); fetch the file as it was, or make the baseline again from its "
                "recordings"
            )
            raise BaselineError(msg)
        documents[name] = content
    return documents


def list_stored(
    folder: str | Path, *, machine_id: str | None = None, point: str | None = None
) -> tuple[Stored, ...]:
    """Baselines of a store in the order of machine, point and number, without reading them.

    Parameters
    ----------
    folder : str or Path
        Folder of all baselines; one that does not exist holds none.
    machine_id, point : str, optional
        Only those of this machine, of this point.

    Returns
    -------
    tuple of Stored
    """
    root = Path(folder)
    machines = [_folder_name(machine_id)] if machine_id is not None else _folders(root)
    return tuple(
        stored
        for machine in machines
        for name in ([_folder_name(point)] if point is not None else _folders(root / machine))
        for stored in _of_point(root / machine / name)
    )


def _folders(place: Path) -> list[str]:
    if not place.is_dir():
        return []
    return sorted(p.name for p in place.iterdir() if p.is_dir() and not p.name.startswith("."))


def _of_point(place: Path) -> Iterator[Stored]:
    """All versions of a point, oldest first, known-good before candidates."""
    by_prefix = {prefix: status for status, prefix in PREFIXES.items()}
    found: dict[Status, list[int]] = {status: [] for status in PREFIXES}
    for name in _folders(place):
        if match := FOLDER_NAME.fullmatch(name):
            found[by_prefix[match[1]]].append(int(match[2]))
    for status, versions in found.items():
        for version in sorted(versions):
            yield Stored(
                path=place / f"{PREFIXES[status]}{version}",
                status=status,
                version=version,
                is_superseded=version < max(versions),
            )


def in_force(folder: str | Path, machine_id: str, point: str | None = None) -> tuple[Baseline, ...]:
    """Known-good baselines of a machine that nothing supersedes, one per point.

    Parameters
    ----------
    folder : str or Path
        Folder of all baselines.
    machine_id : str
        As on the machine card.
    point : str, optional
        Only of this point.

    Returns
    -------
    tuple of Baseline

    Raises
    ------
    BaselineError
        If one of them cannot be relied upon; an older one is never taken in its place.
    """
    found = []
    for stored in list_stored(folder, machine_id=machine_id, point=point):
        if stored.status is Status.KNOWN_GOOD and not stored.is_superseded:
            baseline = read_baseline(stored.path)
            is_elsewhere = _folder_name(baseline.point) != stored.path.parent.name
            if baseline.machine_id != machine_id or is_elsewhere:
                msg = (
                    f"{stored.path}: holds a baseline of {baseline.machine_id}, point "
                    f"{baseline.point}; put it back where it belongs"
                )
                raise BaselineError(msg)
            found.append(baseline)
    return tuple(found)
