"""Pieces of terminal text: headings, lists, tables, and how they become lines."""

from io import StringIO

from rich.box import SIMPLE
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from vibhealth.errors import InputError
from vibhealth.report._wording import Mark
from vibhealth.report.recording_view import Fact

__all__ = ["COLOURS", "fact_rows", "heading", "item", "marked", "printed", "table"]

MINIMUM_WIDTH = 40
# Colour is an addition for a terminal that has it: word and shape always stand beside it.
COLOURS = {"pass": "green", "watch": "yellow", "hold": "bold red", "not-judged": "bold magenta"}


def printed(parts: list[RenderableType], *, width: int, color: bool) -> str:
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


def heading(title: str) -> tuple[RenderableType, ...]:
    return Text(""), Text(title.upper(), style="bold")


def fact_rows(*facts: Fact) -> list[RenderableType]:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    for fact in facts:
        grid.add_row(Text(fact.label), Text(fact.value))
    return [Padding(grid, (0, 0, 0, 2))]


def item(text: str, *, bullet: str = "-") -> RenderableType:
    """Return one item of a list, hanging on its bullet."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Text(bullet), Text(text))
    return Padding(grid, (0, 0, 0, 2))


def table(*columns: str) -> Table:
    empty = Table(box=SIMPLE, pad_edge=False, show_edge=False, padding=(0, 1))
    for column in columns:
        empty.add_column(Text(column), overflow="fold")
    return empty


def marked(mark: Mark) -> Text:
    return Text(f"{mark.symbol} {mark.word}", style=COLOURS[mark.tone])
