"""Change single values of a record in place: comments and order stay, or nothing is written."""

import contextlib
import copy
import os
import secrets
import tomllib
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from vibhealth._toml import Value, toml_value
from vibhealth.card._types import place
from vibhealth.errors import JobError, OutputError
from vibhealth.job._toml_places import comments, toml_places
from vibhealth.job.reading import check_record, record_bytes
from vibhealth.job.record import JobRecord

__all__ = ["Changes", "edit_record", "edited", "with_row", "write_aside"]

Changes = Mapping[tuple[str, ...], Value]
MARK = "\ufeff"  # some editors put a byte-order mark first


def edit_record(
    path: Path, changes: Changes, *, row: tuple[str, Mapping[str, Value]] | None = None
) -> JobRecord:
    """Change values of a record's file, atomically, and only these.

    The file is read anew, so that what a text editor saved meanwhile is kept.

    Parameters
    ----------
    path : Path
        The record's file.
    changes : mapping of key path to value
        As ``{("oil", "grade"): "ISO VG 220"}``.
    row : (str, mapping), optional
        A row to append to that list of tables.

    Returns
    -------
    JobRecord
        The record as it now stands in the file.

    Raises
    ------
    JobError
        If the file cannot be edited in place, or would become invalid; it is
        left as it was.
    OutputError
        If the system refuses to write.
    """
    before = record_bytes(path)
    check_record(before, path)
    text = before.decode()
    changed = edited(text, changes, path=path)
    if row is not None:
        changed = with_row(changed, *row, path=path)
    content = changed.encode()
    record = check_record(content, path)
    write_aside(path, content)
    return record


def edited(text: str, changes: Changes, *, path: Path) -> str:
    """A TOML text with some values replaced or added; comments and order stay.

    Parameters
    ----------
    text : str
        Valid TOML.
    changes : mapping of key path to value
        A key that is not there is added at the end of its table, a table that is
        not there at the end of the text.
    path : Path
        The file, for messages.

    Returns
    -------
    str
        Parses to the old content with just these changes.

    Raises
    ------
    JobError
        If that cannot be done, as with keys inside of an inline table.
    """
    changed = _with_replaced(text, changes)
    known = toml_places(text).values
    for where, value in changes.items():
        if where not in known:
            changed = _with_added(changed, where, value)
    expected = copy.deepcopy(tomllib.loads(text.removeprefix(MARK)))
    with contextlib.suppress(TypeError, AttributeError):  # a value where a table is due
        for where, value in changes.items():
            _put(expected, where, value)
    _verify(text, changed, expected, [place(where) for where in changes], path)
    return changed


def with_row(text: str, name: str, row: Mapping[str, Value], *, path: Path) -> str:
    """A TOML text with one more row of a list of tables at its end.

    Parameters
    ----------
    text : str
        Valid TOML.
    name : str
        The list of tables.
    row : mapping of str to value
        Keys in the order of writing.
    path : Path
        The file, for messages.

    Returns
    -------
    str

    Raises
    ------
    JobError
        If the list stands there in another form.
    """
    expected = tomllib.loads(text.removeprefix(MARK))
    rows = expected.setdefault(name, [])
    if isinstance(rows, list):
        rows.append(_plain(dict(row)))
    lines = [f"[[{name}]]", *(f"{key} = {toml_value(value)}" for key, value in row.items())]
    changed = _with_lines_at_end(text, lines)
    _verify(text, changed, expected, [f"[[{name}]]"], path)
    return changed


def _with_replaced(text: str, changes: Changes) -> str:
    """Values that are there, replaced from the last to the first: offsets ahead stay right."""
    newline = _newline(text)
    places = toml_places(text).values
    spans = [(*places[where], value) for where, value in changes.items() if where in places]
    for start, end, value in sorted(spans, key=lambda span: -span[0]):
        line = text.rfind("\n", 0, start) + 1
        kept = "".join(f"{comment}{newline}" for comment in comments(text, start, end))
        written = toml_value(value).replace("\n", newline)
        text = f"{text[:line]}{kept}{text[line:start]}{written}{text[end:]}"
    return text


def _with_added(text: str, where: tuple[str, ...], value: Value) -> str:
    """A key that is not there: behind the last of its table, or in a new table at the end."""
    places = toml_places(text)
    newline = _newline(text)
    table = where[:-1]
    added = f"{where[-1]} = {toml_value(value)}".replace("\n", newline)
    if table in places.table_ends:
        end = places.table_ends[table]
        end -= text[:end].endswith("\r")
        return f"{text[:end]}{newline}{added}{text[end:]}"
    return _with_lines_at_end(text, [f"[{'.'.join(table)}]", added])


def _with_lines_at_end(text: str, lines: list[str]) -> str:
    newline = _newline(text)
    gap = "" if not text or text.endswith("\n") else newline
    body = newline.join(line.replace("\n", newline) for line in lines)
    return f"{text}{gap}{newline}{body}{newline}"


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _put(table: dict[str, Any], where: tuple[str, ...], value: Value) -> None:
    for key in where[:-1]:
        table = table.setdefault(key, {})
    table[where[-1]] = _plain(value)


def _plain(value: Any) -> Any:
    """As the TOML parser gives it back: sequences are lists."""
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    return [_plain(entry) for entry in value] if isinstance(value, list | tuple) else value


def _verify(
    text: str, changed: str, expected: dict[str, Any], names: list[str], path: Path
) -> None:
    """Refuse an edit that changed anything else, or lost a comment."""
    try:
        found = tomllib.loads(changed.removeprefix(MARK))
    except tomllib.TOMLDecodeError:
        found = None
    lost = Counter(comments(text)) - Counter(comments(changed))
    if found != expected or lost:
        msg = (
            f"{path}: {', '.join(names)} cannot be changed in place, because it is written there "
            "in another form (as { ... } or with dots); write it in a text editor, or as a "
            "[table] with a line for each key; the file is as it was"
        )
        raise JobError(msg)


def write_aside(path: Path, content: bytes) -> None:
    """Replace a file so that a crash leaves the old or the new one, never a part.

    Parameters
    ----------
    path : Path
        File to write; links are followed.
    content : bytes
        All of it.

    Raises
    ------
    OutputError
        If the system refuses to write.
    """
    target = path.resolve()
    aside = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        with aside.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            aside.chmod(target.stat().st_mode & 0o777)
        aside.replace(target)
        _sync_folder(target.parent)
    except OSError as error:
        msg = f"cannot write {path}: {error.strerror or error}; check the folder and its space"
        raise OutputError(msg) from error
    finally:
        with contextlib.suppress(OSError):
            aside.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """Make the rename durable where the system lets a folder be opened (not on Windows)."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
