"""The view as terminal text: verdict first, then why, then what to do, then the numbers."""

from io import StringIO

from rich.box import SIMPLE
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from vibhealth.errors import InputError
from vibhealth.report._wording import Mark
from vibhealth.report.recording_view import Fact, RecordingView
from vibhealth.report.view import GroupView, ImprovementRow, OrbitRow, ReportView

__all__ = ["analysis_text", "terminal_text"]

MINIMUM_WIDTH = 40
# Colour is an addition for a terminal that has it: word and shape always stand beside it.
_COLOURS = {"pass": "green", "watch": "yellow", "hold": "bold red", "not-judged": "bold magenta"}


def terminal_text(view: ReportView, *, width: int = 100, color: bool = False) -> str:
    """Return the report as text; the first line is the verdict.

    Parameters
    ----------
    view : ReportView
        From `report_view`.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours; the words and shapes are the same.

    Returns
    -------
    str
        Lines without trailing blanks, ended by a line end.

    Raises
    ------
    InputError
        If ``width`` is below 40.
    """
    parts: list[RenderableType] = [Text(view.headline, style=_COLOURS[view.mark.tone])]
    parts += [_item(reason) for reason in view.reasons]
    parts += [
        Text(""),
        *_facts(
            Fact(label="Do now", value=view.next_action),
            Fact(label="Check again", value=view.check_at),
            Fact(label="Rests on", value=view.scope),
            Fact(label="Machine", value=view.machine),
        ),
        *_heading(f"Criteria ({view.criteria_summary})"),
    ]
    parts += _criteria(view.groups)
    if view.improvements:
        parts += [*_heading("As found to as left"), _improvements(view.improvements)]
    if view.orbits:
        parts += [*_heading("Orbit at 1x"), _orbits(view.orbits)]
    for recording in view.recordings:
        parts += _recording(recording)
    parts += [*_heading("Cautions"), *map(_item, view.cautions)]
    parts += [Text(""), Text(f"vibhealth {view.version}, {view.generated_at}")]
    return _printed(parts, width=width, color=color)


def analysis_text(view: RecordingView, *, width: int = 100, color: bool = False) -> str:
    """One analysed recording as text.

    Parameters
    ----------
    view : RecordingView
        From `analysis_view`.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours.

    Returns
    -------
    str
        Lines without trailing blanks, ended by a line end.

    Raises
    ------
    InputError
        If ``width`` is below 40.
    """
    return _printed(_recording(view)[1:], width=width, color=color)


def _printed(parts: list[RenderableType], *, width: int, color: bool) -> str:
    if width < MINIMUM_WIDTH:
        msg = f"width must be at least {MINIMUM_WIDTH} columns, got {width}"
        raise InputError(msg)
    stream = StringIO()
    console = Console(
        file=stream,
        width=width,
        height=100,
        force_terminal=color,
        color_system="standard" if color else None,
        legacy_windows=False,
        highlight=False,
        markup=False,
        emoji=False,
        _environ={},
    )
    for part in parts:
        console.print(part)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def _heading(title: str) -> tuple[RenderableType, ...]:
    return Text(""), Text(title.upper(), style="bold")


def _facts(*facts: Fact) -> list[RenderableType]:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    for fact in facts:
        grid.add_row(Text(fact.label), Text(fact.value))
    return [Padding(grid, (0, 0, 0, 2))]


def _item(text: str, *, bullet: str = "-") -> RenderableType:
    """Return one item of a list, hanging on its bullet."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Text(bullet), Text(text))
    return Padding(grid, (0, 0, 0, 2))


def _table(*columns: str) -> Table:
    table = Table(box=SIMPLE, pad_edge=False, show_edge=False, padding=(0, 1))
    for column in columns:
        table.add_column(Text(column), overflow="fold")
    return table


def _marked(mark: Mark) -> Text:
    return Text(f"{mark.symbol} {mark.word}", style=_COLOURS[mark.tone])


def _criteria(groups: tuple[GroupView, ...]) -> list[RenderableType]:
    table = _table("Result", "Criterion", "Value", "Limit", "Source of the limit")
    table.columns[0].no_wrap = True
    for group in groups:
        table.add_row(Text(""), Text(group.title.upper(), style="bold"))
        for row in group.rows:
            value = f"{row.value} ({row.comparison})" if row.comparison else row.value
            cells = (row.title, value, row.limit, row.limit_source)
            table.add_row(_marked(row.mark), *map(Text, cells))
    notes = [
        _item(f"{row.title}: {row.said}", bullet=row.mark.symbol)
        for group in groups
        for row in group.rows
        if row.said
    ]
    return [Padding(table, (0, 0, 0, 2)), Text(""), *notes]


def _improvements(rows: tuple[ImprovementRow, ...]) -> RenderableType:
    table = _table("Quantity", "As found", "As left", "Change", "Remark")
    for row in rows:
        table.add_row(*map(Text, (row.title, row.before, row.after, row.change, row.detail)))
    return Padding(table, (0, 0, 0, 2))


def _orbits(rows: tuple[OrbitRow, ...]) -> RenderableType:
    table = _table("Stage", "Points", "Axes, peak to peak", "Tilt", "Direction")
    for row in rows:
        table.add_row(*map(Text, (row.stage, row.points, row.axes, row.tilt, row.direction)))
    return Padding(table, (0, 0, 0, 2))


def _recording(view: RecordingView) -> list[RenderableType]:
    parts: list[RenderableType] = [
        *_heading(f"Recording {view.point}, {view.stage}"),
        *_facts(*view.source, *view.speed),
        Text(""),
        Text(f"  Usable? {view.quality_summary}"),
    ]
    parts += [
        _item(f"{row.mark.word}  {row.title}: {row.said}", bullet=row.mark.symbol)
        for row in view.quality
    ]
    parts += [Text(""), _levels(view), Text(""), *_facts(*view.motion)]
    parts += [Text(""), *_families(view), Text(""), Text("  What could have been seen")]
    return parts + [_item(sentence) for sentence in view.sensitivity]


def _levels(view: RecordingView) -> RenderableType:
    if not view.levels:
        return Text("  Levels: not measured")
    table = _table("Level", "Value", "Band")
    for row in view.levels:
        table.add_row(*map(Text, (row.title, row.value, row.band)))
    return Padding(table, (0, 0, 0, 2))


def _families(view: RecordingView) -> list[RenderableType]:
    parts: list[RenderableType] = []
    if view.families_not_judged:
        parts.append(Text(f"  Defect families not judged: {view.families_not_judged}"))
    if not view.families:
        return parts or [Text("  Defect families: none searched")]
    columns = (
        "Result",
        "Bearing, element",
        "Found",
        "Order",
        "Slip",
        "Depth",
        "Whitened",
        "Impact",
    )
    table = _table(*columns)
    table.columns[0].no_wrap = True
    for row in view.families:
        cells = (
            f"{row.bearing}, {row.element}",
            row.found,
            row.order,
            row.slip,
            row.depth,
            row.depth_whitened,
            row.impact,
        )
        table.add_row(_marked(row.mark), *map(Text, cells))
    parts.append(Padding(table, (0, 0, 0, 2)))
    for row in view.families:
        said = f"false-alarm probability {row.false_alarm}, band {row.band}"
        remarks = f"; {row.remarks}" if row.remarks else ""
        parts.append(_item(f"{row.bearing}, {row.element}: {said}{remarks}"))
    return parts
