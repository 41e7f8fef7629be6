"""Documents written whole or not at all: aside first, synced, then renamed."""

import os
import secrets
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from vibhealth.errors import OutputError

__all__ = ["write_document", "write_report_folder"]


def write_document(path: str | Path, content: str | bytes, *, overwrite: bool = False) -> Path:
    """Write one document so that a reader never sees half of it.

    Parameters
    ----------
    path : str or Path
        Target; its folder must exist.
    content : str or bytes
        Text is written as UTF-8, line ends as they are.
    overwrite : bool
        Whether an existing file may be replaced.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    OutputError
        If the folder is missing, the file exists and ``overwrite`` is false, or
        the system refuses to write.
    """
    target = Path(path)
    _refuse_existing([target], overwrite=overwrite)
    if not target.parent.is_dir():
        msg = f"cannot write {target}: folder {target.parent} does not exist; create it first"
        raise OutputError(msg)
    _write_all({target: _as_bytes(content)})
    return target


def write_report_folder(
    directory: str | Path, documents: Mapping[str, str | bytes], *, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write several documents into one folder; all are staged before any appears.

    Parameters
    ----------
    directory : str or Path
        Folder, made if it is missing.
    documents : mapping of str to str or bytes
        Plain file name (no folder part) to content.
    overwrite : bool
        Whether existing files of these names may be replaced; others stay.

    Returns
    -------
    tuple of Path
        The files written, in the order given.

    Raises
    ------
    OutputError
        If a name has a folder part, a file exists and ``overwrite`` is false, or
        the system refuses to write.
    """
    folder = Path(directory)
    for name in documents:
        if Path(name).name != name or "\\" in name or name in {"", ".", ".."}:
            msg = f"cannot write {name!r} into {folder}: a document name may not hold a folder part"
            raise OutputError(msg)
    targets = {folder / name: _as_bytes(content) for name, content in documents.items()}
    _refuse_existing(targets, overwrite=overwrite)
    with _system_refusals(folder):
        folder.mkdir(parents=True, exist_ok=True)
    _write_all(targets)
    return tuple(targets)


def _as_bytes(content: str | bytes) -> bytes:
    return content.encode("utf-8") if isinstance(content, str) else content


def _refuse_existing(
    targets: Iterator[Path] | Mapping[Path, bytes] | list[Path], *, overwrite: bool
) -> None:
    for target in targets:
        if target.is_dir():
            msg = f"cannot write {target}: it is a folder; give the name of a file"
            raise OutputError(msg)
        if target.exists() and not overwrite:
            msg = f"{target} exists already; give another name, or --overwrite to replace it"
            raise OutputError(msg)


@contextmanager
def _system_refusals(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        msg = f"cannot write {target}: {error.strerror or error}; check the folder and its space"
        raise OutputError(msg) from error


def _write_all(documents: Mapping[Path, bytes]) -> None:
    """Stage every document beside its target, then rename them one after the other."""
    staged: dict[Path, Path] = {}
    try:
        for target, content in documents.items():
            with _system_refusals(target):
                aside = target.with_name(f".{secrets.token_hex(8)}.part")
                staged[target] = aside
                _write_synced(aside, content)
        for target, aside in staged.items():
            with _system_refusals(target):
                aside.replace(target)
        for folder in {target.parent for target in documents}:
            _sync_folder(folder)
    finally:
        for aside in staged.values():
            aside.unlink(missing_ok=True)


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("xb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _sync_folder(folder: Path) -> None:
    """Make the renames durable where the system lets a folder be opened (not on Windows)."""
    if os.name != "posix":
        return
    with _system_refusals(folder):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
