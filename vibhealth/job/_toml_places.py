"""Where in a TOML text each value stands, so that one can be replaced without the rest."""

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

__all__ = ["Path", "TomlPlaces", "comments", "toml_places"]

Path = tuple[str | int, ...]
QUOTES = "\"'"
KEY = re.compile(r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[ \t.])+(?==)""")


@dataclass(frozen=True, slots=True, kw_only=True)
class TomlPlaces:
    """Offsets into the text: (start, end) of each value, end of the last line of each table."""

    values: dict[Path, tuple[int, int]] = field(default_factory=dict)
    table_ends: dict[Path, int] = field(default_factory=dict)


def toml_places(text: str) -> TomlPlaces:
    r"""Find the values that stand on lines of their own, table by table.

    What is inside inline tables is not looked into.

    Parameters
    ----------
    text : str
        Valid TOML.

    Returns
    -------
    TomlPlaces
        Rows of a list of tables have their 0-based number in the path.

    Examples
    --------
    >>> toml_places("[oil]\ngrade = 'x'  # drum").values
    {('oil', 'grade'): (14, 17)}
    """
    places = TomlPlaces()
    rows: dict[Path, int] = {}
    table: Path = ()
    at = 0
    while at < len(text):
        if text[at] in " \t\r\n\ufeff":
            at += 1
        elif text[at] == "#":
            at = _line_end(text, at)
        elif text[at] == "[":
            end = _header_end(text, at)
            table = _header_path(text[at:end], rows)
            places.table_ends[table] = at = _line_end(text, end)
        else:
            at = _key_value(text, at, table, places)
    return places


def _key_value(text: str, at: int, table: Path, places: TomlPlaces) -> int:
    found = KEY.match(text, at)
    if found is None:  # valid TOML has no such line
        return _line_end(text, at)
    start = found.end() + 1
    while text[start] in " \t":
        start += 1
    end = _value_end(text, start)
    path = (*table, *_only_path(tomllib.loads(f"{found[0]}=0")))
    places.values[path] = (start, end)
    line_end = _line_end(text, end)
    places.table_ends[table] = line_end
    return line_end


def _only_path(parsed: Any) -> Path:
    """Keys down a chain of tables with one entry each."""
    path: Path = ()
    while isinstance(parsed, dict) and parsed:
        ((key, parsed),) = parsed.items()
        path += (key,)
    return path


def _header_end(text: str, at: int) -> int:
    depth = 0
    while True:
        if text[at] in QUOTES:
            at = _string_end(text, at)
            continue
        depth += {"[": 1, "]": -1}.get(text[at], 0)
        at += 1
        if depth == 0:
            return at


def _header_path(header: str, rows: dict[Path, int]) -> Path:
    """Path of a header; below a list of tables it means the latest row."""
    is_row = header.startswith("[[")
    name = _only_path(tomllib.loads(header[1:-1] if is_row else header))
    path: Path = ()
    for number, key in enumerate(name, start=1):
        path += (key,)
        if is_row and number == len(name):
            rows[path] = rows.get(path, -1) + 1
        if path in rows:
            path += (rows[path],)
    return path


def _line_end(text: str, at: int) -> int:
    """Offset of the line feed that ends the line, or of the end of the text."""
    end = text.find("\n", at)
    return len(text) if end < 0 else end


def _value_end(text: str, at: int) -> int:
    if text[at] in QUOTES:
        return _string_end(text, at)
    if text[at] in "[{":
        return _bracket_end(text, at)
    end = at
    while end < len(text) and text[end] not in "#\r\n":
        end += 1
    return at + len(text[at:end].rstrip())


def _bracket_end(text: str, at: int) -> int:
    depth = 0
    while True:
        sign = text[at]
        if sign in QUOTES:
            at = _string_end(text, at)
        elif sign == "#":
            at = _line_end(text, at)
        else:
            depth += (sign in "[{") - (sign in "]}")
            at += 1
            if depth == 0:
                return at


def _string_end(text: str, at: int) -> int:
    quote = text[at]
    fence = quote * 3 if text.startswith(quote * 3, at) else quote
    at += len(fence)
    while not text.startswith(fence, at):
        at += 2 if quote == '"' and text[at] == "\\" else 1
    at += len(fence)
    while len(fence) == 3 and text.startswith(quote, at):  # up to two quotes may end the text
        at += 1
    return at


def comments(text: str, start: int = 0, end: int | None = None) -> list[str]:
    """Comments in a part of a TOML text, without those that stand inside of strings.

    Parameters
    ----------
    text : str
        Valid TOML.
    start, end : int, optional
        Part to look at; it may not cut a string.

    Returns
    -------
    list of str
        From ``#`` to the end of the line, trailing blanks removed.

    Examples
    --------
    >>> comments('a = "#"  # b')
    ['# b']
    """
    end = len(text) if end is None else end
    found: list[str] = []
    at = start
    while at < end:
        if text[at] in QUOTES:
            at = _string_end(text, at)
        elif text[at] == "#":
            line_end = min(_line_end(text, at), end)
            found.append(text[at:line_end].rstrip())
            at = line_end
        else:
            at += 1
    return found
