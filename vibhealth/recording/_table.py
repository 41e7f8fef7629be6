"""Tables of text (CSV, TSV, TXT, also gzip): columns through pandas, errors with line and cell."""

import gzip
import io
import re
import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from vibhealth.errors import RecordingError
from vibhealth.recording._source import SampleSource, as_clause
from vibhealth.recording._table_layout import (
    Column,
    TableLayout,
    as_number,
    data_lines,
    split_line,
    table_layout,
)
from vibhealth.recording._time_axis import Stamps, TimeAxis, even_samples, measure_time_axis
from vibhealth.recording.request import ReadOptions

__all__ = ["open_table"]

_ISO_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d([.,]\d+)?(Z|[+-]\d\d:?\d\d)?")
# A vibration rises from sample to sample about half of the time. A column that
# rises this often over that many samples is a time axis or a counter.
_RISING_SHARE = 0.9
_ENOUGH_ROWS = 16
_EVEN_SHARE = 1e-2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """Numbers of all columns, time stamps as text turned into seconds from the first."""

    path: str
    text: str
    layout: TableLayout
    numbers: NDArray[np.float64]  # shape (n_columns, n_rows)
    date_columns: frozenset[int]  # positions from 1

    def line_of(self, row: int) -> int:
        """Line of the file that holds a row (from 0)."""
        skip = 1 if self.layout.header_line is not None else 0
        for index, (number, _) in enumerate(data_lines(self.text)):
            if index == row + skip:
                return number
        return 0

    def of(self, column: Column) -> NDArray[np.float64]:
        return np.asarray(self.numbers[column.position - 1])


def open_table(
    path: Path, options: ReadOptions, *, given_rate_hz: float | None = None
) -> SampleSource:
    """Read a table of text; channels are its columns without time and counter.

    Raises
    ------
    RecordingError
        If the text cannot be decoded, a cell is no number, a line has too few
        or too many cells, or the time column is ambiguous, uneven or not rising.
    """
    text = _read_text(path)
    layout = table_layout(text, path=str(path))
    table = _read_columns(str(path), text, layout)
    time_column = _time_column(table, options.time_column)
    channels, remarks = _channels(table, time_column)
    if time_column is None:
        return _source(table, channels, remarks)
    axis = _time_axis(table, time_column, options)
    target_hz = given_rate_hz or axis.sampling_rate_hz
    remarks += (("time axis", f"{time_column.words}, {_rate_words(axis, target_hz)}"),)
    source = _source(table, channels, remarks)
    load = source.load
    if not axis.is_even:

        def load(wanted: tuple[int, ...]) -> NDArray[np.float64]:
            return even_samples(source.load(wanted), axis, target_hz)

    return replace(
        source,
        load=load,
        sampling_rate_hz=axis.sampling_rate_hz,
        rate_tolerance_hz=axis.rate_tolerance_hz,
        rate_place=time_column.words,
    )


def _read_text(path: Path) -> str:
    content = path.read_bytes()
    if content[:2] == b"\x1f\x8b":
        try:
            content = gzip.decompress(content)
        except (EOFError, OSError, zlib.error) as error:
            msg = (
                f"{path}: its gzip data is damaged or cut short ({as_clause(error)}); copy it again"
            )
            raise RecordingError(msg) from error
    encodings = (
        ("utf-16",) if content[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252")
    )
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text.replace("\r\n", "\n").replace("\r", "\n")
    msg = f"{path}: its content is not readable text; export it as plain text (UTF-8)"
    raise RecordingError(msg)


def _read_columns(path: str, text: str, layout: TableLayout) -> _Table:
    dates = _date_positions(text, layout)
    n_columns = len(layout.columns)
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            sep=r"\s+" if layout.separator == " " else layout.separator,
            decimal=layout.decimal,
            header=None,
            skiprows=layout.header_line or 0,
            comment="#",
            dtype={i: "str" if i + 1 in dates else "float64" for i in range(n_columns)},
            na_filter=False,
            skipinitialspace=True,
            engine="c",
        )
        if frame.shape[1] != n_columns:
            raise _cell_error(path, text, layout, dates, "header and lines differ in width")
        values = np.empty((n_columns, len(frame)), dtype=np.float64)
        for index in range(n_columns):
            values[index] = _numbers(frame[index], is_date=index + 1 in dates)
    except RecordingError:
        raise
    except (ValueError, OverflowError) as error:  # pandas' parser errors are ValueErrors
        raise _cell_error(path, text, layout, dates, str(error)) from error
    return _Table(path=path, text=text, layout=layout, numbers=values, date_columns=dates)


def _numbers(column: "pd.Series[Any]", *, is_date: bool) -> NDArray[np.float64]:
    if not is_date:
        return np.asarray(column.to_numpy(), dtype=np.float64)
    plain = column.str.strip().str.strip('"').str.replace(",", ".", regex=False)
    moments = pd.to_datetime(plain, format="ISO8601", utc=True).to_numpy("datetime64[ns]")
    nanoseconds = (moments - moments[0]).astype(np.int64)
    return np.asarray(nanoseconds / 1e9, dtype=np.float64)


def _date_positions(text: str, layout: TableLayout) -> frozenset[int]:
    """Columns whose first data cell is an ISO 8601 date with time of day."""
    skip = 1 if layout.header_line is not None else 0
    for index, (_, line) in enumerate(data_lines(text)):
        if index == skip:
            cells = split_line(line, layout.separator)
            return frozenset(i for i, c in enumerate(cells, start=1) if _ISO_TIME.fullmatch(c))
    return frozenset()


def _cell_error(
    path: str, text: str, layout: TableLayout, dates: frozenset[int], reason: str
) -> RecordingError:
    """The first line that cannot be read, in words."""
    width = len(layout.columns)
    for row, (number, line) in enumerate(data_lines(text)):
        if number == layout.header_line:
            continue
        cells = split_line(line, layout.separator)
        place = f"{path}: line {number}"
        if len(cells) != width:
            return RecordingError(
                f"{place} has {len(cells)} cells where {width} are expected; "
                "correct the line or export the file again"
            )
        for position, cell in enumerate(cells, start=1):
            if position in dates:
                bad = _ISO_TIME.fullmatch(cell) is None
            else:
                value = as_number(cell, layout.decimal)
                bad = value is None
                if value is not None and not np.isfinite(value):
                    index = row - (1 if layout.header_line is not None else 0)
                    return RecordingError(
                        f"{place}: {layout.columns[position - 1].words} holds {cell} at index "
                        f"{index} (from 0); samples must be finite numbers, record again"
                    )
            if bad:
                found = f"{cell[:40]!r} is no number" if cell else "is empty"
                kind = "date and time" if position in dates else "number"
                return RecordingError(
                    f"{place}, cell {position}: {found}; every cell must hold a {kind}"
                )
    return RecordingError(f"{path}: cannot be read as a table of numbers ({as_clause(reason)})")


def _time_column(table: _Table, wanted: str | int | None) -> Column | None:
    columns = table.layout.columns
    if wanted is not None:
        return _wanted_column(table, wanted)
    named = [c for c in columns if c.is_named_time or c.position in table.date_columns]
    if len(columns) == 1:
        if named:
            msg = f"{table.path}: holds only a time column; export the samples beside it"
            raise RecordingError(msg)
        return None
    found = named or [
        c for c in columns if _looks_like_time(table.of(c)) and not _is_counter(table, c)
    ]
    if len(found) > 1:
        names = " and ".join(column.words for column in found)
        msg = f"{table.path}: {names} both look like time; say which is the time column"
        raise RecordingError(msg)
    return found[0] if found else None


def _wanted_column(table: _Table, wanted: str | int) -> Column:
    columns = table.layout.columns
    for column in columns:
        names = (column.name, column.title, column.plain_name)
        if wanted == column.position or (isinstance(wanted, str) and wanted in names):
            return column
    titles = ", ".join(column.title for column in columns if column.name) or "without names"
    msg = f"{table.path}: has no time column {wanted!r}; its {len(columns)} columns are {titles}"
    raise RecordingError(msg)


def _looks_like_time(values: NDArray[np.float64]) -> bool:
    """Rising nearly always over many rows, or evenly and always over few."""
    steps = np.diff(values)
    if steps.size + 1 >= _ENOUGH_ROWS:
        return float(np.mean(steps > 0)) >= _RISING_SHARE
    is_rising = steps.size >= 2 and bool(np.all(steps > 0))
    return is_rising and float(np.ptp(steps)) <= _EVEN_SHARE * float(np.mean(steps))


def _is_counter(table: _Table, column: Column) -> bool:
    """Whether a column counts lines: whole numbers, each one more than the last."""
    values = table.of(column)
    is_counting = values.size >= 2 and bool(np.all(np.diff(values) == 1))
    is_whole = is_counting and float(values[0]).is_integer()
    return is_whole and (column.is_named_counter or values.size >= _ENOUGH_ROWS)


def _channels(
    table: _Table, time_column: Column | None
) -> tuple[tuple[Column, ...], tuple[tuple[str, str], ...]]:
    """Columns that are channels, and what was left out."""
    columns = table.layout.columns
    if len(columns) == 1:
        return columns, ()
    left_out = [
        c
        for c in columns
        if c != time_column
        and (c.is_named_time or c.position in table.date_columns or _is_counter(table, c))
    ]
    kept = tuple(c for c in columns if c != time_column and c not in left_out)
    if not kept:
        msg = f"{table.path}: holds no column of samples beside time and counter; export it again"
        raise RecordingError(msg)
    return kept, tuple(("column left out", f"{c.words}, time or counter") for c in left_out)


def _time_axis(table: _Table, column: Column, options: ReadOptions) -> TimeAxis:
    scale_s = 1.0 if column.position in table.date_columns else column.seconds_per_unit
    if scale_s is None:
        msg = (
            f"{table.path}: {column.words} is in {column.unit_text}, which is no known unit of "
            "time; name it s, ms, us or ns"
        )
        raise RecordingError(msg)
    stamps = table.of(column)
    _check_rows(table.path, stamps.size)
    column_of_stamps = Stamps(
        values=stamps,
        seconds_per_unit=scale_s,
        path=table.path,
        place=column.words,
        line_of=table.line_of,
    )
    return measure_time_axis(column_of_stamps, resample=options.resample)


def _check_rows(path: str, rows: int) -> None:
    if rows < 2:
        msg = f"{path}: holds {rows} sample, a recording needs at least 2; record again"
        raise RecordingError(msg)


def _rate_words(axis: TimeAxis, target_hz: float) -> str:
    words = f"{target_hz:.9g} Hz"
    if axis.is_even:
        return words
    return (
        f"uneven by up to {axis.worst_deviation_percent:.3g} % of the step, resampled on request "
        f"to {words} by cubic spline"
    )


def _source(
    table: _Table, channels: tuple[Column, ...], remarks: tuple[tuple[str, str], ...]
) -> SampleSource:
    rows = [column.position - 1 for column in channels]

    def load(wanted: tuple[int, ...]) -> NDArray[np.float64]:
        return table.numbers[[rows[channel - 1] for channel in wanted]]

    return SampleSource(
        n_channels=len(channels),
        load=load,
        channel_units=tuple(column.sample_unit() for column in channels),
        remarks=remarks,
    )
