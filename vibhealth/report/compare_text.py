"""A comparison as terminal text and as one HTML document."""

from collections.abc import Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from vibhealth.report._console import heading, item, printed, table
from vibhealth.report.compare_view import CompareView, TableRow
from vibhealth.report.html import embedded, template
from vibhealth.report.images import FigureImage

__all__ = ["compare_html", "compare_text"]

# In the terminal only what says most; the rest stands in HTML, JSON and CSV.
SHORT = (
    "stroke, peak to peak",
    "amplitude of 1x",
    "harmonics 2x to 10x over 1x",
    "half orders over 1x",
    "rms, ",
    "median rms",
)


def compare_text(
    view: CompareView, *, width: int = 100, color: bool = False, details: bool = False
) -> str:
    """The comparison of one point as text.

    Parameters
    ----------
    view : CompareView
        From `compare_view`.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours.
    details : bool
        Whether to print every level.

    Returns
    -------
    str
    """
    parts: list[RenderableType] = [
        Text(f"{view.machine}, {view.point}: {len(view.sides)} sides, A is the reference", "bold"),
        *([Text(view.label)] if view.label else []),
        *(item(f"{row.name} ({row.kind}): {row.state}", bullet=row.letter) for row in view.sides),
    ]
    if view.conditions:
        parts += [*heading("Conditions that differ from A")]
        parts += [
            item(f"{row.letter}: {row.sentence}", bullet=row.mark.symbol) for row in view.conditions
        ]
    if view.families:
        parts += [*heading("Families (whitened depth)"), _rows(view, view.families)]
    parts += [*heading("Lines above A")]
    parts += [_lines(view)] if view.lines else [Text("  none beyond what is allowed")]
    if view.more_lines:
        parts.append(Text(f"  and {view.more_lines} more"))
    shown = [row for row in view.values if details or row.title.startswith(SHORT)]
    if shown:
        parts += [*heading("Levels and motion"), _rows(view, shown)]
    parts += [item(text, bullet="?") for text in view.not_compared]
    return printed(parts, width=width, color=color)


def _rows(view: CompareView, rows: Sequence[TableRow]) -> RenderableType:
    listed = table("", *view.letters, *(f"{name} over A" for name in view.letters[1:]))
    for row in rows:
        listed.add_row(*map(Text, (row.title, *row.values, *row.differences)))
    return Padding(listed, (0, 0, 0, 2))


def _lines(view: CompareView) -> RenderableType:
    listed = table("Side", "Spectrum", "Order", "Frequency", "Above A", "Allowed", "Size", "Fits")
    for row in view.lines:
        cells = (row.letter, row.spectrum, row.order, row.frequency, row.above, row.allowed)
        listed.add_row(*map(Text, (*cells, row.size, row.fits)))
    return Padding(listed, (0, 0, 0, 2))


def compare_html(
    views: Sequence[CompareView],
    images: Sequence[Sequence[FigureImage]],
    *,
    generated_at: str,
    version: str,
) -> str:
    """Comparisons of several points as one HTML document.

    Parameters
    ----------
    views : sequence of CompareView
        One per point.
    images : sequence of sequence of FigureImage
        Of each of them.
    generated_at, version : str
        As printed at the end.

    Returns
    -------
    str
        Everything from outside is escaped.
    """
    pairs = [(view, embedded(found)) for view, found in zip(views, images, strict=True)]
    return template("compare.html").render(
        comparisons=pairs, generated_at=generated_at, version=version
    )
