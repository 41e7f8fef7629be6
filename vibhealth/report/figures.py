"""Plots on a given axis: each takes data, returns the axis and computes nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import fill, shorten
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullFormatter
from matplotlib.transforms import ScaledTranslation, Transform, blended_transform_factory
from numpy.typing import NDArray

from vibhealth.model import Element, EnvelopeCurve, Orbit, Stage
from vibhealth.report._style import (
    ELEMENT_COLOURS,
    ELEMENT_MARKERS,
    FLOOR_LINE,
    FLOOR_LINES,
    STAGE_HATCHES,
    STAGE_LABELS,
    STAGE_LINES,
)
from vibhealth.report._wording import clean, quantity, unit_text

__all__ = [
    "EnvelopeTrace",
    "FamilyMark",
    "LevelBar",
    "Trace",
    "plot_envelope_spectra",
    "plot_levels",
    "plot_orbit",
    "plot_order_spectrum",
    "plot_waveform",
]

_PLAIN = FuncFormatter(lambda value, _: f"{value:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyMark:
    """Where one defect family is looked for, in orders.

    ``orders`` are the centre lines, first harmonic first; ``side_bands`` all
    side-band orders around them; ``found`` whether the family is present;
    ``status`` says in words where, if that is more than found or not.
    """

    label: str
    element: Element
    orders: tuple[float, ...]
    found: bool
    side_bands: tuple[float, ...] = ()
    status: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One curve of a recording, already in the units of the axes."""

    stage: Stage
    label: str
    x: NDArray[np.float64]
    y: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvelopeTrace:
    """One envelope spectrum of a recording, and what it is called in the legend."""

    stage: Stage
    label: str
    curve: EnvelopeCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelBar:
    """One descriptor of one stage; ``value`` is None where it was not measured."""

    stage: Stage
    value: float | None


def plot_order_spectrum(
    axis: Axes, traces: Sequence[Trace], *, unit: str, abscissa: str = "Order (multiples of 1x)"
) -> Axes:
    """Draw amplitude spectra of several stages over one another, logarithmic upwards.

    Parameters
    ----------
    axis : Axes
        Drawn on.
    traces : sequence of Trace
        ``x`` in orders (or Hz where no speed is known), ``y`` zero-to-peak
        amplitude in ``unit``.
    unit : str
        As in the result, for example ``"m/s2"``.
    abscissa : str
        Label of the x axis.

    Returns
    -------
    Axes
        The axis given.
    """
    for trace in traces:
        axis.plot(trace.x, trace.y, label=trace.label, **STAGE_LINES[trace.stage])
    axis.set_yscale("log")
    axis.yaxis.set_major_formatter(_PLAIN)
    axis.yaxis.set_minor_formatter(NullFormatter())
    axis.set_xlabel(abscissa)
    axis.set_ylabel(f"Amplitude, {unit_text(unit)}")
    axis.xaxis.set_major_locator(MaxNLocator(nbins=10, integer=True, steps=[1, 2, 5, 10]))
    axis.margins(x=0)
    return axis


def plot_envelope_spectra(
    axis: Axes, traces: Sequence[EnvelopeTrace], marks: Sequence[FamilyMark], *, title: str
) -> Axes:
    """Draw modulation depth over order with its floor; searched families in lanes above.

    Several recordings stand over one another: read in the same band they can be
    compared line by line. Each family has a lane of its own above the data, with
    one marker per centre line (filled: found) and a light tick per side band;
    guide lines run behind the data.

    Parameters
    ----------
    axis : Axes
        Drawn on; its x limits are kept if they were set before.
    traces : sequence of EnvelopeTrace
        Depth and floor over order, drawn in this order.
    marks : sequence of FamilyMark
        Families that were searched.
    title : str
        Printed above the lanes.

    Returns
    -------
    Axes
        The axis given.
    """
    for trace in traces:
        line = STAGE_LINES[trace.stage] | ({"linestyle": "-"} if len(traces) == 1 else {})
        axis.plot(trace.curve.order, trace.curve.depth, label=trace.label, **line)
    for trace in traces:
        floor = FLOOR_LINES[trace.stage] if len(traces) > 1 else FLOOR_LINE
        words = f"floor, {STAGE_LABELS[trace.stage]}" if len(traces) > 1 else "local floor (median)"
        axis.plot(trace.curve.order, trace.curve.floor, label=words, **floor)
    for mark in marks:
        for order in mark.orders:
            axis.axvline(order, **_guide_line(mark))
    axis.set_yscale("log")
    axis.yaxis.set_major_formatter(_PLAIN)
    axis.yaxis.set_minor_formatter(NullFormatter())
    axis.set_xlabel("Order (multiples of 1x)", loc="left")
    axis.set_ylabel("Modulation depth")
    axis.legend(
        loc="upper left",
        bbox_to_anchor=(0.0, LEGEND_IN),
        bbox_transform=_inches_from(axis, 0.0),
        ncols=2,
        borderaxespad=0.0,
    )
    if marks:
        _family_lanes(axis, marks)
    top = 2 * GAP_IN + LANE_IN * len(marks)
    above = _inches_from(axis, 1.0)
    axis.text(
        0.0, top, fill(clean(title), TITLE_COLUMNS), transform=above, va="bottom", **_TITLE_FONT
    )
    return axis


def _inches_from(axis: Axes, edge: float) -> Transform:
    """Width as a fraction of the axis, height in inches from its lower (0) or upper (1) edge.

    Lanes of a fixed height let the layout find their room; a fraction would not settle.
    """
    # The stubs do not say that an axis on a figure has one, nor that transAxes is affine.
    inches: Any = axis.get_figure(root=True)
    box: Any = axis.transAxes
    upwards = inches.dpi_scale_trans + ScaledTranslation(0, edge, box)
    return blended_transform_factory(axis.transAxes, upwards)


def _guide_line(mark: FamilyMark) -> dict[str, Any]:
    return {
        "color": ELEMENT_COLOURS[mark.element],
        "linestyle": ":",
        "linewidth": 1.5 if mark.found else 1.0,
        "alpha": 0.9 if mark.found else 0.35,
        "zorder": 0.9,
    }


_TITLE_FONT: dict[str, Any] = {"fontsize": 12, "fontweight": "bold"}
TITLE_COLUMNS, LABEL_COLUMNS = 70, 36
LANE_IN, GAP_IN, LEGEND_IN = 0.25, 0.1, -0.55


def _family_lanes(axis: Axes, marks: Sequence[FamilyMark]) -> None:
    """One lane per family above the axis, sharing its x axis."""
    lanes = axis.inset_axes(
        (0.0, GAP_IN, 1.0, LANE_IN * len(marks)), transform=_inches_from(axis, 1.0), sharex=axis
    )
    lanes.set_ylim(len(marks) - 0.5, -0.5)
    lanes.set_yticks(range(len(marks)), [_lane_label(mark) for mark in marks])
    lanes.tick_params(axis="x", bottom=False, labelbottom=False)
    lanes.tick_params(axis="y", length=0)
    lanes.spines["bottom"].set_visible(False)
    lanes.grid(visible=False)
    for lane, mark in enumerate(marks):
        colour = ELEMENT_COLOURS[mark.element]
        lanes.axhline(lane, color="#DDDDDD", linewidth=0.8, zorder=0)
        lanes.plot(
            mark.orders,
            [lane] * len(mark.orders),
            linestyle="none",
            marker=ELEMENT_MARKERS[mark.element],
            markersize=8,
            markerfacecolor=colour if mark.found else "white",
            markeredgecolor=colour,
            markeredgewidth=1.4,
        )
        lanes.plot(
            mark.side_bands,
            [lane] * len(mark.side_bands),
            linestyle="none",
            marker="|",
            markersize=6,
            color=colour,
            alpha=0.55,
        )
        if mark.found:
            lanes.get_yticklabels()[lane].set_fontweight("bold")


def _lane_label(mark: FamilyMark) -> str:
    label = shorten(clean(mark.label), LABEL_COLUMNS, placeholder="…")
    return f"{label}: {mark.status or ('FOUND' if mark.found else 'not found')}"


def plot_waveform(axis: Axes, trace: Trace, *, unit: str) -> Axes:
    """Draw a stretch of the recording over time.

    Parameters
    ----------
    axis : Axes
        Drawn on.
    trace : Trace
        ``x`` in seconds, ``y`` in ``unit``.
    unit : str
        As in the result.

    Returns
    -------
    Axes
        The axis given.
    """
    axis.plot(trace.x, trace.y, **(STAGE_LINES[trace.stage] | {"linestyle": "-", "linewidth": 0.7}))
    axis.set_xlabel("Time, s")
    axis.set_ylabel(f"Acceleration, {unit_text(unit)}")
    axis.margins(x=0)
    return axis


def plot_orbit(axis: Axes, orbits: Sequence[Orbit]) -> Axes:
    """Draw ellipses of the 1x motion in the plane of two points, with their direction.

    Parameters
    ----------
    axis : Axes
        Drawn on, with equal scales.
    orbits : sequence of Orbit
        All in the same plane; displacement in mm.

    Returns
    -------
    Axes
        The axis given.
    """
    for orbit in orbits:
        stage = Stage(orbit.stage)
        line = STAGE_LINES[stage] | {"linewidth": 2.0}
        axis.plot(
            orbit.curve_x_mm,
            orbit.curve_y_mm,
            label=f"{STAGE_LABELS[stage]}, {orbit.direction}",
            **line,
        )
        axis.plot(
            orbit.curve_x_mm[:1],
            orbit.curve_y_mm[:1],
            marker="o",
            color=line["color"],
            markersize=6,
        )
        if orbit.curve_x_mm.size > 8 and orbit.direction != "line":
            ends = [(orbit.curve_x_mm[i], orbit.curve_y_mm[i]) for i in (8, 7)]
            arrow = {"arrowstyle": "-|>", "color": line["color"], "mutation_scale": 20}
            axis.annotate("", xy=ends[0], xytext=ends[1], arrowprops=arrow)
    axis.set_aspect("equal", adjustable="datalim")
    if orbits:
        first, second = orbits[0].points
        axis.set_xlabel(f"{clean(first)}, mm")
        axis.set_ylabel(f"{clean(second)}, mm")
    return axis


def plot_levels(axis: Axes, bars: Sequence[LevelBar], *, title: str, unit: str) -> Axes:
    """Draw one descriptor before and after as bars from zero, each with its value.

    Parameters
    ----------
    axis : Axes
        Drawn on; one descriptor per axis, so that every bar starts at zero.
    bars : sequence of LevelBar
        Drawn from the top down.
    title : str
        Name of the descriptor, with its band.
    unit : str
        As in the result.

    Returns
    -------
    Axes
        The axis given.
    """
    for place, bar in enumerate(bars):
        width = 0.0 if bar.value is None else bar.value
        axis.barh(
            place,
            width,
            height=0.7,
            facecolor="white" if STAGE_HATCHES[bar.stage] else STAGE_LINES[bar.stage]["color"],
            edgecolor=STAGE_LINES[bar.stage]["color"],
            hatch=STAGE_HATCHES[bar.stage],
        )
        axis.annotate(
            quantity(bar.value, unit),
            xy=(width, place),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            fontsize=10,
        )
    axis.set_yticks(range(len(bars)), [STAGE_LABELS[bar.stage] for bar in bars])
    axis.invert_yaxis()
    axis.margins(x=0.3)
    axis.set_xlim(left=0)
    axis.set_title(clean(title), fontsize=10.5)
    axis.tick_params(axis="y", length=0)
    axis.tick_params(axis="x", bottom=False, labelbottom=False)
    axis.spines["bottom"].set_visible(False)
    axis.grid(visible=False)
    return axis
