"""Documents made whole beside their place, then moved there."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkstemp

from vibhealth.errors import OutputError

__all__ = ["replacing"]


@contextmanager
def replacing(target: Path, *, overwrite: bool) -> Iterator[Path]:
    """Path of an empty file beside ``target`` that takes its name when all went well.

    Raises
    ------
    OutputError
        If ``target`` exists and is not to be overwritten, or cannot be written.
    """
    _refuse_existing(target, overwrite=overwrite)
    temporary: Path | None = None
    try:
        handle, name = mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
        os.close(handle)
        temporary = Path(name)
        yield temporary
        _sync(temporary)
        _refuse_existing(target, overwrite=overwrite)
        temporary.replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        msg = f"{target}: cannot be written ({error.strerror}): check folder, space and rights"
        raise OutputError(msg) from error
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def _refuse_existing(target: Path, *, overwrite: bool) -> None:
    if target.is_dir():
        msg = f"{target}: this is a folder: name a file in it"
        raise OutputError(msg)
    if target.exists() and not overwrite:
        msg = f"{target}: this file exists already: name another, or ask to overwrite it"
        raise OutputError(msg)


def _sync(path: Path) -> None:
    with path.open("rb+") as stream:
        os.fsync(stream.fileno())


def _sync_folder(folder: Path) -> None:
    """Keep the new name through a loss of power, where the system can sync a folder."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
