"""The view as terminal text: verdict first, then why, then what to do, then the numbers."""

from collections.abc import Iterable

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from vibhealth.report._brief import brief_parts
from vibhealth.report._console import COLOURS, fact_rows, heading, item, marked, printed, table
from vibhealth.report.criteria_view import GroupView
from vibhealth.report.recording_view import Fact, QualityRow, RecordingView
from vibhealth.report.view import ImprovementRow, OrbitRow, ReportView

__all__ = ["analysis_text", "channel_text", "terminal_text"]


def terminal_text(
    view: ReportView, *, width: int = 100, color: bool = False, details: bool = False
) -> str:
    """Return the report as text; the first line is the verdict.

    Parameters
    ----------
    view : ReportView
        From `report_view`.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours; the words and shapes are the same.
    details : bool
        Whether to print every criterion, level, family and caution. Without
        them the text fits about one screen and a half: what does not pass in
        full, what passes by name.

    Returns
    -------
    str
        Lines without trailing blanks, ended by a line end.

    Raises
    ------
    InputError
        If ``width`` is below 40.
    """
    parts = _detailed_parts(view) if details else brief_parts(view, width=width)
    signature = Text(f"vibhealth {view.version}, {view.generated_at}")
    return printed([*parts, Text(""), signature], width=width, color=color)


def analysis_text(
    view: RecordingView, *, width: int = 100, color: bool = False, with_bearing: bool = True
) -> str:
    """One analysed recording as text.

    Parameters
    ----------
    view : RecordingView
        From `analysis_view`.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours.
    with_bearing : bool
        Whether to say what is known of the bearing; an inspection does not look for it.

    Returns
    -------
    str
        Lines without trailing blanks, ended by a line end.

    Raises
    ------
    InputError
        If ``width`` is below 40.
    """
    parts = _recording(view)[1:] if with_bearing else _checked(view)[1:]
    return printed(parts, width=width, color=color)


def channel_text(view: RecordingView, *, width: int = 100, color: bool = False) -> str:
    """One channel of a file in short: what is not passed, and its motion.

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
    parts: list[RenderableType] = [
        *heading(f"Channel {view.point}"),
        Text(f"  Checks of this channel: {view.quality_summary}"),
    ]
    parts += _quality(row for row in view.quality if row.mark.tone != "pass")
    return printed([*parts[1:], *fact_rows(*view.motion[:1])], width=width, color=color)


def _detailed_parts(view: ReportView) -> list[RenderableType]:
    parts: list[RenderableType] = [Text(view.headline, style=COLOURS[view.mark.tone])]
    parts += [item(reason) for reason in view.reasons]
    parts += [
        Text(""),
        *fact_rows(*_first_facts(view)),
        *heading(f"Criteria ({view.criteria_summary})"),
    ]
    parts += _criteria(view.groups)
    if view.improvements:
        parts += [*heading("As found to as left"), _improvements(view.improvements)]
    if view.orbits:
        parts += [*heading("Orbit at 1x"), _orbits(view.orbits)]
    parts += _starts_and_stops(view)
    for recording in view.recordings:
        parts += _recording(recording)
    return [*parts, *heading("Cautions"), *map(item, view.cautions)]


def _first_facts(view: ReportView) -> list[Fact]:
    looks = [f"{place}. {row.sentence}" for place, row in enumerate(view.checks, start=1)]
    return [
        Fact(label="Do now", value=view.next_action),
        *([Fact(label="Look at", value="\n".join(looks))] if looks else []),
        *([Fact(label="Override", value=view.override)] if view.override else []),
        Fact(label="Check again", value=view.check_at),
        *([Fact(label="Reference", value=view.compared_with)] if view.compared_with else []),
        Fact(label="Rests on", value=view.scope),
        Fact(label="Machine", value=view.machine),
        *view.job,
    ]


def _starts_and_stops(view: ReportView) -> list[RenderableType]:
    if not view.transients:
        return []
    rows_table = table("What", "Stage", "Point", "Time", "Swing", "Isolators", "Strikes", "Remark")
    for row in view.transients:
        cells = (row.kind, row.stage, row.point, row.time, row.swing, row.isolators)
        rows_table.add_row(*map(Text, (*cells, row.strikes, row.remark)))
    return [*heading("Starts and stops"), Padding(rows_table, (0, 0, 0, 2))]


def _criteria(groups: tuple[GroupView, ...]) -> list[RenderableType]:
    rows_table = table("Result", "Criterion", "Value", "Limit", "Source of the limit")
    rows_table.columns[0].no_wrap = True
    for group in groups:
        rows_table.add_row(Text(""), Text(group.title.upper(), style="bold"))
        for row in group.rows:
            value = row.sentence or row.value
            value = f"{value} ({row.comparison})" if row.comparison else value
            cells = (row.title, value, row.limit, row.limit_source)
            rows_table.add_row(marked(row.mark), *map(Text, cells))
    notes = [
        item(f"{row.title}: {row.said}", bullet=row.mark.symbol)
        for group in groups
        for row in group.rows
        if row.said
    ]
    return [Padding(rows_table, (0, 0, 0, 2)), Text(""), *notes]


def _improvements(rows: tuple[ImprovementRow, ...]) -> RenderableType:
    rows_table = table("Quantity", "As found", "As left", "Change", "Remark")
    for row in rows:
        rows_table.add_row(*map(Text, (row.title, row.before, row.after, row.change, row.detail)))
    return Padding(rows_table, (0, 0, 0, 2))


def _orbits(rows: tuple[OrbitRow, ...]) -> RenderableType:
    rows_table = table("Stage", "Points", "Axes, peak to peak", "Tilt", "Direction")
    for row in rows:
        rows_table.add_row(*map(Text, (row.stage, row.points, row.axes, row.tilt, row.direction)))
    return Padding(rows_table, (0, 0, 0, 2))


def _checked(view: RecordingView) -> list[RenderableType]:
    """What was recorded, its faults, levels and motion."""
    parts: list[RenderableType] = [
        *heading(f"Recording {view.point}, {view.stage}"),
        *fact_rows(*view.source, *view.speed),
        Text(""),
        Text(f"  Checks of this recording: {view.quality_summary}"),
    ]
    parts += _quality(view.quality)
    return [*parts, Text(""), _levels(view), Text(""), *fact_rows(*view.motion)]


def _quality(rows: Iterable[QualityRow]) -> list[RenderableType]:
    return [
        item(f"{row.mark.word}  {row.title}: {row.said}", bullet=row.mark.symbol) for row in rows
    ]


def _recording(view: RecordingView) -> list[RenderableType]:
    parts = [*_checked(view), Text(""), *_families(view), *_around(view)]
    parts += [Text(""), Text("  What could have been seen")]
    return parts + [item(sentence) for sentence in view.sensitivity]


def _around(view: RecordingView) -> list[RenderableType]:
    """The cage speed, what else strikes or hums, and whether it hides the bearing."""
    parts: list[RenderableType] = [item(view.masked, bullet="?")] if view.masked else []
    parts += [item(text) for text in view.cage_speeds]
    parts += [item(text, bullet="▲") for text in view.disturbances]
    return [Text(""), *parts] if parts else []


def _levels(view: RecordingView) -> RenderableType:
    if not view.levels:
        return Text("  Levels: not measured")
    rows_table = table("Level", "Value", "Band")
    for row in view.levels:
        rows_table.add_row(*map(Text, (row.title, row.value, row.band)))
    return Padding(rows_table, (0, 0, 0, 2))


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
    rows_table = table(*columns)
    rows_table.columns[0].no_wrap = True
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
        rows_table.add_row(marked(row.mark), *map(Text, cells))
    parts.append(Padding(rows_table, (0, 0, 0, 2)))
    for row in view.families:
        said = f"false-alarm probability {row.false_alarm}, band {row.band}"
        remarks = f"; {row.remarks}" if row.remarks else ""
        parts.append(item(f"{row.bearing}, {row.element}: {said}{remarks}"))
    return parts
