"""Layout of a table of text: separator, decimal sign, header, and what the header says."""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from vibhealth.errors import RecordingError
from vibhealth.recording._source import FileUnit, file_unit

__all__ = ["Column", "TableLayout", "as_number", "data_lines", "split_line", "table_layout"]

_SAMPLED_LINES = 50
_COMMENT = "#"
# Plain decimal numbers only: no digit grouping, no hexadecimal, no underscores.
_NUMBER = re.compile(
    r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?|[+-]?(nan|inf|infinity)", re.IGNORECASE
)
_COMMA_NUMBER = re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?")
_BRACKETED = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]+)[\])]\s*$")
_TIME_NAMES = frozenset(
    [
        "time",
        "t",
        "timestamp",
        "time stamp",
        "elapsed time",
        "seconds",
        "sec",
        "date",
        "datetime",
        "date time",
        "time s",
        "t s",
        "time ms",
        "t ms",
        "time us",
        "t us",
        "zeit",
        "temps",
        "tiempo",
    ]
)
_COUNTER_NAMES = frozenset(("index", "sample", "samples", "no", "nr", "n", "#", "row", "count"))
_SECONDS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6}
_SECONDS |= {"ns": 1e-9, "min": 60.0, "h": 3600.0}

Separator = Literal[";", "\t", ",", " "]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table; ``title`` is its header cell, ``name`` that without the unit."""

    position: int
    name: str = ""
    unit_text: str | None = None
    title: str = ""

    @property
    def words(self) -> str:
        """How messages call the column."""
        return f"column {self.position} {self.title!r}" if self.name else f"column {self.position}"

    @property
    def plain_name(self) -> str:
        """Name in lower case with blanks for underscores."""
        return " ".join(self.name.lower().replace("_", " ").split())

    @property
    def is_named_time(self) -> bool:
        """Whether the header calls this a time column."""
        return self.plain_name in _TIME_NAMES

    @property
    def is_named_counter(self) -> bool:
        """Whether the header calls this a sample counter."""
        return self.plain_name in _COUNTER_NAMES

    @property
    def seconds_per_unit(self) -> float | None:
        """Factor to seconds of a time column; None for an unknown unit, 1 where none is stated."""
        suffix = self.plain_name.rpartition(" ")[2]
        text = self.unit_text or (suffix if suffix in ("ms", "us") else "s")
        return _SECONDS.get(text)

    def sample_unit(self) -> FileUnit | None:
        """Unit of the samples that the header states in brackets, if it is a known one."""
        if self.unit_text is None:
            return None
        return file_unit(self.unit_text, place=f"header of {self.words}")


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLayout:
    """How to read the lines of a table."""

    separator: Separator
    decimal: Literal[".", ","]
    header_line: int | None
    columns: tuple[Column, ...]


def data_lines(text: str) -> Iterator[tuple[int, str]]:
    """Number (from 1) and content of each line that is neither blank nor a comment."""
    start, number = 0, 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        number += 1
        line = text[start:end].partition(_COMMENT)[0].rstrip("\r")
        if line.strip():
            yield number, line
        start = end + 1


def split_line(line: str, separator: Separator) -> list[str]:
    """Cells of a line without surrounding blanks and quotes."""
    if separator == " ":
        return [cell.strip('"') for cell in line.split()]
    reader = csv.reader([line], delimiter=separator, skipinitialspace=separator != "\t")
    return [cell.strip() for cell in next(reader)]


def as_number(cell: str, decimal: str) -> float | None:
    """Value of a cell, None when it is no number."""
    if decimal == ",":
        if "." in cell or cell.count(",") > 1:
            return None
        cell = cell.replace(",", ".")
    return float(cell) if _NUMBER.fullmatch(cell) else None


def _is_comma_number(cell: str) -> bool:
    return _COMMA_NUMBER.fullmatch(cell) is not None


def table_layout(text: str, *, path: str) -> TableLayout:
    """Find separator, decimal sign and header from the first lines.

    Raises
    ------
    RecordingError
        If there are no lines of numbers, or a comma may be separator as well as
        decimal sign.
    """
    sample = [pair for _, pair in zip(range(_SAMPLED_LINES + 1), data_lines(text), strict=False)]
    if not sample:
        msg = f"{path}: holds no lines of numbers; export the recording again"
        raise RecordingError(msg)
    first_number, first = sample[0]
    body = [line for _, line in sample[1:]] or [first]
    separator = _separator(body, first, path)
    cells = split_line(first, separator)
    decimal = _decimal(body, separator)
    has_header = any(as_number(cell, decimal) is None for cell in cells)
    if has_header and len(sample) == 1:
        msg = f"{path}: line {first_number}: {_short(first)!r} is no line of numbers, and no others follow"
        raise RecordingError(msg)
    if not has_header:
        columns = tuple(Column(position=i) for i, _ in enumerate(cells, start=1))
        return TableLayout(separator=separator, decimal=decimal, header_line=None, columns=columns)
    if separator == " ":
        cells = _blank_separated_titles(first, len(split_line(body[0], separator)))
    columns = tuple(_column(i, cell) for i, cell in enumerate(cells, start=1))
    return TableLayout(
        separator=separator, decimal=decimal, header_line=first_number, columns=columns
    )


def _blank_separated_titles(line: str, width: int) -> list[str]:
    """Header cells parted by blanks; empty where blanks inside of names leave it open."""
    if width == 1:
        return [line.strip().strip('"')]
    cells = [cell.strip('"') for cell in re.split(r"\s+(?![\[(])", line.strip())]
    return cells if len(cells) == width else [""] * width


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 40 else f"{text[:37]}..."


def _column(position: int, cell: str) -> Column:
    if match := _BRACKETED.match(cell):
        name, unit = match["name"] or match["unit"], match["unit"].strip()
        return Column(position=position, name=name, unit_text=unit, title=cell)
    return Column(position=position, name=cell, title=cell)


def _separator(body: list[str], first: str, path: str) -> Separator:
    # Half of the lines decide, so that a faulty one is found later and named.
    for candidate in (";", "\t"):
        if 2 * sum(candidate in line for line in body) >= len(body):
            return ";" if candidate == ";" else "\t"
    if 2 * sum("," in line for line in body) < len(body):
        return " "
    tokens = [line.split() for line in body]
    are_comma_numbers = all(_is_comma_number(token) for row in tokens for token in row)
    if are_comma_numbers and all(len(row) > 1 for row in tokens):
        return " "  # decimal commas, columns parted by blanks
    if are_comma_numbers and all(line.count(",") <= 1 for line in body):
        return _one_comma_per_line(first, path)
    return ","


def _one_comma_per_line(first: str, path: str) -> Separator:
    """``0,5`` is one number or two: only a header can tell."""
    is_header = not _is_comma_number(first.strip())
    if not is_header:
        msg = (
            f"{path}: the comma in {_short(first)!r} may separate two columns or be a decimal sign; "
            "add a header line, or export with semicolons"
        )
        raise RecordingError(msg)
    return "," if "," in first else " "


def _decimal(body: list[str], separator: Separator) -> Literal[".", ","]:
    cells = [cell for line in body for cell in split_line(line, separator)]
    return "," if any("," in cell for cell in cells) else "."
