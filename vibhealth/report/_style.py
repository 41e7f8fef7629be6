"""Look of the figures: palette, line styles, fonts, and how a figure becomes bytes."""

from contextlib import AbstractContextManager
from io import BytesIO
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from vibhealth.model import Element, Stage

__all__ = [
    "ELEMENT_COLOURS",
    "ELEMENT_MARKERS",
    "FLOOR_LINE",
    "FLOOR_LINES",
    "STAGE_HATCHES",
    "STAGE_LABELS",
    "STAGE_LINES",
    "drawing_style",
    "figure_bytes",
    "new_figure",
]

# M. Okabe and K. Ito, Color Universal Design (2002, revised 2008): eight colours that stay apart
# for all common kinds of colour blindness. Values from memory. Its light ones are left
# out: too faint on white paper. Every colour comes with a line style, marker, hatch or label of its own.
_GREEN, _BLUE = "#009E73", "#0072B2"
_VERMILION, _PURPLE, _BLACK = "#D55E00", "#CC79A7", "#000000"

STAGE_LABELS = {
    Stage.AS_FOUND: "as found (before)",
    Stage.AS_LEFT: "as left (after)",
    Stage.UNSTATED: "stage not stated",
}
STAGE_LINES: dict[Stage, dict[str, Any]] = {
    Stage.AS_FOUND: {"color": _VERMILION, "linestyle": (0, (3, 1)), "linewidth": 0.9},
    Stage.AS_LEFT: {"color": _BLUE, "linestyle": "-", "linewidth": 1.1},
    Stage.UNSTATED: {"color": _BLACK, "linestyle": (0, (1, 1)), "linewidth": 1.0},
}
STAGE_HATCHES = {Stage.AS_FOUND: "////", Stage.AS_LEFT: "", Stage.UNSTATED: "...."}
ELEMENT_COLOURS = {
    Element.OUTER_RING: _VERMILION,
    Element.INNER_RING: _BLUE,
    Element.ROLLING_ELEMENT: _GREEN,
    Element.CAGE: _PURPLE,
}
ELEMENT_MARKERS = {
    Element.OUTER_RING: "o",
    Element.INNER_RING: "s",
    Element.ROLLING_ELEMENT: "D",
    Element.CAGE: "^",
}
FLOOR_LINE: dict[str, Any] = {"color": _BLACK, "linestyle": "--", "linewidth": 1.6}
# Where several floors stand on one axis: darker than the curves they belong to.
FLOOR_LINES: dict[Stage, dict[str, Any]] = {
    Stage.AS_FOUND: {"color": "#7A3500", "linestyle": ":", "linewidth": 2.0},
    Stage.AS_LEFT: {"color": "#003A5C", "linestyle": "--", "linewidth": 1.6},
    Stage.UNSTATED: {"color": _BLACK, "linestyle": "-.", "linewidth": 1.6},
}

_RC: Any = {
    "font.size": 11.0,
    "axes.titlesize": 12.0,
    "axes.titlelocation": "left",
    "axes.titleweight": "bold",
    "axes.labelsize": 11.0,
    "xtick.labelsize": 10.0,
    "ytick.labelsize": 10.0,
    "legend.fontsize": 10.0,
    "font.family": ["DejaVu Sans"],  # ships with matplotlib: the same letters on every machine
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#DDDDDD",
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "figure.facecolor": "white",
    "legend.frameon": False,
    "svg.hashsalt": "vibhealth",  # else the ids in an SVG change from run to run
    "svg.fonttype": "path",
    "path.simplify": True,
    "text.parse_math": False,  # names from outside may hold dollar signs
    "hatch.linewidth": 0.8,
}
PNG_DPI = 130
LAYOUT: Any = "constrained"


def drawing_style() -> AbstractContextManager[None]:
    """Context in which figures are drawn and saved; what was set before comes back after."""
    return mpl.rc_context(_RC)


def new_figure(width_in: float, height_in: float) -> Figure:
    """Empty figure on an Agg canvas, laid out so that nothing overlaps."""
    figure = Figure(figsize=(width_in, height_in), layout=LAYOUT)
    FigureCanvasAgg(figure)
    return figure


def figure_bytes(figure: Figure, kind: str) -> bytes:
    """PNG or SVG of a figure, without dates or versions: the same bytes every time."""
    stream = BytesIO()
    metadata = {"Software": None} if kind == "png" else {"Date": None, "Creator": None}
    with drawing_style():
        figure.savefig(stream, format=kind, dpi=PNG_DPI, metadata=metadata)
    return stream.getvalue()
