"""A comparison worded for printing, and as plain JSON values and CSV."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from string import ascii_uppercase
from typing import Any

from vibhealth.baseline import ComparedSpectrum, Comparison, RaisedLine, Side, explain_order
from vibhealth.model import CriterionResult, RollingBearing
from vibhealth.report._wording import MARKS, Mark, clean, quantity
from vibhealth.units import hz_to_rpm

__all__ = [
    "CompareView",
    "ConditionRow",
    "LineRow",
    "SideRow",
    "TableRow",
    "compare_csv",
    "compare_dict",
    "compare_view",
    "letter",
]

SPECTRUM_WORDS = {
    "order-spectrum": "acceleration",
    "envelope-spectrum": "envelope",
    "whitened-envelope-spectrum": "whitened envelope",
}
MOST_LINES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class SideRow:
    """One side: its letter, name and state."""

    letter: str
    name: str
    kind: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionRow:
    """How a condition of a side compares with the first side's."""

    letter: str
    mark: Mark
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One quantity: its values, and what differs from the first side."""

    title: str
    values: tuple[str, ...]
    differences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """One line above the first side."""

    letter: str
    spectrum: str
    order: str
    frequency: str
    above: str
    allowed: str
    size: str
    fits: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareView:
    """Everything that is printed of the comparison of one point."""

    point: str
    machine: str
    label: str
    sides: tuple[SideRow, ...]
    conditions: tuple[ConditionRow, ...]
    values: tuple[TableRow, ...]
    families: tuple[TableRow, ...]
    lines: tuple[LineRow, ...]
    more_lines: int
    not_compared: tuple[str, ...]

    @property
    def letters(self) -> tuple[str, ...]:
        """Letters of the sides."""
        return tuple(side.letter for side in self.sides)


def letter(place: int) -> str:
    """Letter of a side: A for the first.

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'A1')
    """
    turn, rest = divmod(place, len(ascii_uppercase))
    return f"{ascii_uppercase[rest]}{turn or ''}"


def compare_view(
    comparison: Comparison,
    *,
    point: str,
    machine: str,
    bearings: Sequence[RollingBearing],
    slip_percent: float,
) -> CompareView:
    """Word the comparison of one point.

    Parameters
    ----------
    comparison : Comparison
        Of the sides.
    point, machine : str
        As printed.
    bearings : sequence of RollingBearing
        Whose families may explain a line.
    slip_percent : float
        Half width of their windows.

    Returns
    -------
    CompareView
    """
    rows = list(_line_rows(comparison, bearings, slip_percent))
    invented = any(side.readings.label for side in comparison.sides)
    return CompareView(
        point=clean(point),
        machine=clean(machine),
        label="INVENTED recordings or signatures are among them: for practice, never evidence."
        if invented
        else "",
        sides=tuple(_side_row(place, side) for place, side in enumerate(comparison.sides)),
        conditions=tuple(_condition_rows(comparison)),
        values=tuple(_value_rows(comparison)),
        families=tuple(_family_rows(comparison)),
        lines=tuple(row for _, row in sorted(rows, key=_farthest)[:MOST_LINES]),
        more_lines=max(0, len(rows) - MOST_LINES),
        not_compared=tuple(map(clean, comparison.not_compared)),
    )


def _farthest(row: tuple[float, LineRow]) -> float:
    return -row[0]


def _side_row(place: int, side: Side) -> SideRow:
    conditions = side.readings.conditions
    warm = conditions.temperature_c
    state = [
        f"{hz_to_rpm(conditions.shaft_frequency_hz.middle):.1f} r/min",
        f"{warm.middle:.0f} °C" if warm is not None else "",
        conditions.load,
        conditions.direction,
        conditions.sensor,
        conditions.mount,
        f"{conditions.sampling_rate_hz:g} Hz",
        f"{side.readings.n_recordings} recordings" if side.kind == "baseline" else "",
        side.meaning,
    ]
    return SideRow(
        letter=letter(place),
        name=clean(side.label),
        kind=side.kind,
        state=clean(", ".join(filter(None, state))),
    )


def _condition_rows(comparison: Comparison) -> Iterator[ConditionRow]:
    for place, findings in enumerate(comparison.conditions, start=1):
        for finding in findings:
            if finding.result is not CriterionResult.PASS:
                yield ConditionRow(
                    letter=letter(place),
                    mark=MARKS[finding.result],
                    sentence=clean(finding.sentence),
                )


def _db(value: float | None) -> str:
    if value is None:
        return ""
    return "0.0 dB" if abs(value) < 0.05 else f"{value:+.1f} dB"


def _value_rows(comparison: Comparison) -> Iterator[TableRow]:
    for row in comparison.values:
        scaled = ", speed taken out" if row.is_scaled else ""
        yield TableRow(
            title=clean(f"{row.title}{scaled}"),
            values=tuple("" if v is None else quantity(v, row.unit) for v in row.values),
            differences=tuple(_db(value) for value in row.differences_db[1:]),
        )


def _family_rows(comparison: Comparison) -> Iterator[TableRow]:
    for row in comparison.families:
        yield TableRow(
            title=clean(f"{row.element.words.capitalize()} of bearing {row.bearing}"),
            values=tuple(
                "" if depth is None else f"{depth:.2f}{'' if is_sure else ' (noise)'}"
                for depth, is_sure in zip(row.depths, row.is_significant, strict=True)
            ),
            differences=tuple(_db(value) for value in row.differences_db[1:]),
        )


def _line_rows(
    comparison: Comparison, bearings: Sequence[RollingBearing], slip_percent: float
) -> Iterator[tuple[float, LineRow]]:
    for spectrum in comparison.spectra:
        found = [
            (row.bearing, row.element, order)
            for row in comparison.families
            if row.is_significant[spectrum.place]
            and (order := row.orders[spectrum.place]) is not None
        ]
        for line in spectrum.raised:
            fits = explain_order(line.order, bearings, slip_percent=slip_percent, found=found)
            row = LineRow(
                letter=letter(spectrum.place),
                spectrum=SPECTRUM_WORDS[spectrum.kind],
                order=f"{line.order:.2f}",
                frequency=f"{line.frequency_hz:.1f} Hz",
                above=f"{line.difference_db:+.0f} dB",
                allowed=f"{line.allowed_db:.0f} dB",
                size=_size(line),
                fits=clean(fits) or "no known family",
            )
            yield line.difference_db - line.allowed_db, row


def _size(line: RaisedLine) -> str:
    return (
        f"depth {line.amplitude:.2g}" if line.unit == "1" else quantity(line.amplitude, line.unit)
    )


def compare_dict(view: CompareView, comparison: Comparison) -> dict[str, Any]:
    """The comparison of one point as plain JSON values.

    Parameters
    ----------
    view : CompareView
        Words of it.
    comparison : Comparison
        Its numbers; those of every line stand in the CSV files.

    Returns
    -------
    dict
    """
    return {
        "point": view.point,
        "sides": [
            {
                "letter": row.letter,
                "name": row.name,
                "kind": row.kind,
                "meaning": side.meaning,
                "label": side.readings.label,
                "shaft_frequency_hz": side.readings.conditions.shaft_frequency_hz.middle,
                "n_recordings": side.readings.n_recordings,
                "digest": side.readings.digest or None,
                "recordings": [
                    {"name": r.name, "sha256": r.sha256} for r in side.readings.recordings
                ],
            }
            for row, side in zip(view.sides, comparison.sides, strict=True)
        ],
        "conditions": [
            {
                "side": letter(place),
                "id": finding.id,
                "result": finding.result,
                "sentence": finding.sentence,
            }
            for place, findings in enumerate(comparison.conditions, start=1)
            for finding in findings
        ],
        "values": [
            {
                "id": row.id,
                "title": row.title,
                "unit": row.unit,
                "values": row.values,
                "differences_db": row.differences_db,
                "is_scaled_by_speed": row.is_scaled,
            }
            for row in comparison.values
        ],
        "families": [
            {
                "bearing": row.bearing,
                "element": row.element,
                "orders": row.orders,
                "depths_whitened": row.depths,
                "significant": row.is_significant,
                "differences_db": row.differences_db,
            }
            for row in comparison.families
        ],
        "raised_lines": [
            _raised_dict(spectrum, line)
            for spectrum in comparison.spectra
            for line in spectrum.raised
        ],
        "not_compared": comparison.not_compared,
    }


def _raised_dict(spectrum: ComparedSpectrum, line: RaisedLine) -> dict[str, Any]:
    return {
        "side": letter(spectrum.place),
        "spectrum": spectrum.kind,
        "order": line.order,
        "frequency_hz": line.frequency_hz,
        "difference_db": line.difference_db,
        "allowed_db": line.allowed_db,
        "amplitude": line.amplitude,
        "unit": line.unit,
        "is_shaft_order": line.is_locked,
    }


def compare_csv(comparison: Comparison) -> dict[str, str]:
    """Tables of the comparison of one point as CSV text.

    Parameters
    ----------
    comparison : Comparison
        Of the sides.

    Returns
    -------
    dict of str to str
        ``values.csv``, ``families.csv``, and one table of all lines per spectrum and side.
    """
    letters = [letter(place) for place in range(len(comparison.sides))]
    tables = {
        "values.csv": _csv(
            ["id", "title", "unit", *letters, *(f"{x}_over_A_db" for x in letters[1:])],
            (
                [row.id, row.title, row.unit, *row.values, *row.differences_db[1:]]
                for row in comparison.values
            ),
        ),
        "families.csv": _csv(
            [
                "bearing",
                "element",
                *(f"depth_whitened_{x}" for x in letters),
                *(f"{x}_over_A_db" for x in letters[1:]),
            ],
            (
                [row.bearing, row.element.value, *row.depths, *row.differences_db[1:]]
                for row in comparison.families
            ),
        ),
    }
    for spectrum in comparison.spectra:
        item, side = spectrum.difference, letter(spectrum.place)
        unit = "depth" if item.unit == "1" else f"amplitude_{item.unit.replace('/', '_')}"
        columns = (
            item.order,
            item.amplitude,
            item.baseline_amplitude,
            item.difference_db,
            item.allowed_db,
        )
        tables[f"{spectrum.kind}-{side}.csv"] = _csv(
            ["order", f"{unit}_{side}", f"{unit}_A", "difference_db", "allowed_db"],
            (list(row) for row in zip(*(column.tolist() for column in columns), strict=True)),
        )
    return tables


def _csv(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(
        ["" if v is None else f"{v:.7g}" if isinstance(v, float) else v for v in row]
        for row in rows
    )
    return stream.getvalue()
