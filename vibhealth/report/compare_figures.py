"""Figures of a comparison: spectra over one another, and their difference with what is allowed."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullFormatter

from vibhealth.baseline import ComparedSpectrum, Comparison, RaisedLine, SpectrumStatistic
from vibhealth.model import PatternKind
from vibhealth.report._style import drawing_style, figure_bytes, new_figure
from vibhealth.report._wording import band, clean, file_stem, unit_text
from vibhealth.report.compare_view import letter
from vibhealth.report.images import FigureImage

__all__ = ["compare_images"]

# Colour and dash of each side; Okabe and Ito, as in the other figures.
LINES: tuple[dict[str, Any], ...] = (
    {"color": "#000000", "linestyle": "-", "linewidth": 1.0},
    {"color": "#0072B2", "linestyle": "-", "linewidth": 1.1},
    {"color": "#D55E00", "linestyle": (0, (4, 1)), "linewidth": 1.1},
    {"color": "#009E73", "linestyle": (0, (1, 1)), "linewidth": 1.3},
    {"color": "#CC79A7", "linestyle": (0, (5, 1, 1, 1)), "linewidth": 1.3},
)
TITLES: dict[PatternKind, str] = {
    "order-spectrum": "Order spectrum of the acceleration",
    "envelope-spectrum": "Envelope spectrum as recorded",
    "whitened-envelope-spectrum": "Envelope spectrum of the whitened record",
}
LABEL_COLUMNS = 44
MOST_MARKED = 6
LABEL_ORDERS, LABEL_DB = 4.0, 6.0  # room that a label takes
LOWEST_DB, LEAST_TOP_DB = -12.0, 20.0
_PLAIN = FuncFormatter(lambda value, _: f"{value:g}")


def compare_images(
    comparison: Comparison, point: str, *, wanted: Sequence[PatternKind] = tuple(TITLES)
) -> tuple[FigureImage, ...]:
    """Draw the comparison of one point.

    Parameters
    ----------
    comparison : Comparison
        Of the sides.
    point : str
        For names and titles.
    wanted : sequence of str
        Kinds of spectra to draw; all of them by default.

    Returns
    -------
    tuple of FigureImage
        One figure per kind of spectrum that at least two sides share, one of half octaves.
    """
    shared = {spectrum.kind for spectrum in comparison.spectra}
    kinds = [kind for kind in wanted if kind in shared]
    return (
        *(_spectrum(comparison, point, kind) for kind in kinds),
        *_half_octaves(comparison, point),
    )


def _label(comparison: Comparison, place: int) -> str:
    name = clean(comparison.sides[place].label)
    short = name if len(name) <= LABEL_COLUMNS else f"…{name[-LABEL_COLUMNS:]}"
    return f"{letter(place)}: {short}"


def _spectrum(comparison: Comparison, point: str, kind: PatternKind) -> FigureImage:
    compared = [item for item in comparison.spectra if item.kind == kind]
    with drawing_style():
        figure = new_figure(9.5, 7.0)
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        places = [0, *(item.place for item in compared)]
        for place in places:
            statistic = comparison.sides[place].readings.spectrum(kind)
            if statistic is not None:
                _draw_spectrum(upper, statistic, _label(comparison, place), place)
        first = comparison.sides[0].readings.spectrum(kind)
        _dress(upper, first)
        for item in compared:
            difference = item.difference
            lower.plot(difference.order, difference.difference_db, **_line(item.place))
            lower.plot(
                difference.order,
                difference.allowed_db,
                color=_line(item.place)["color"],
                linestyle="--",
                linewidth=0.9,
                label=f"allowed for {letter(item.place)}",
            )
        _mark(lower, compared)
        tops = [float(item.difference.difference_db.max()) for item in compared]
        lower.set_ylim(LOWEST_DB, 1.25 * max([LEAST_TOP_DB, *tops]))
        lower.axhline(0.0, color="#888888", linewidth=0.8)
        lower.set_ylabel("Above A, dB")
        lower.set_xlabel("Order (multiples of 1x)")
        lower.xaxis.set_major_locator(MaxNLocator(nbins=10, integer=True, steps=[1, 2, 5, 10]))
        lower.margins(x=0)
        lower.legend(loc="upper right", ncols=2)
        png = figure_bytes(figure, "png")
    raised = {line for item in compared for line in item.raised if not line.is_locked}
    return FigureImage(
        name=f"compare-{file_stem(point)}-{kind}",
        title=f"{TITLES[kind]}, {clean(point)}",
        caption=f"{_band_words(first)}Upper panel: each side on the common grid of 0.02 orders. "
        "Lower panel: each line over its local floor against the largest of A within its wander; "
        "dashed: what is allowed before a line is told. Marked: the lines farthest beyond it.",
        alt=f"{TITLES[kind]} of {len(places)} sides over order, and the difference in dB; "
        f"{len(raised)} lines stand beyond what is allowed.",
        png=png,
    )


def _band_words(statistic: SpectrumStatistic | None) -> str:
    if statistic is None or statistic.band_hz is None:
        return ""
    return f"Band {band(statistic.band_hz)}. "


def _line(place: int) -> dict[str, Any]:
    return LINES[place % len(LINES)]


def _draw_spectrum(axis: Axes, statistic: SpectrumStatistic, label: str, place: int) -> None:
    axis.plot(statistic.order, statistic.amplitude, label=label, **_line(place))


def _dress(axis: Axes, first: SpectrumStatistic | None) -> None:
    axis.set_yscale("log")
    axis.yaxis.set_major_formatter(_PLAIN)
    axis.yaxis.set_minor_formatter(NullFormatter())
    unit = first.unit if first is not None else "1"
    axis.set_ylabel("Modulation depth" if unit == "1" else f"Amplitude, {unit_text(unit)}")
    axis.legend(loc="upper right")
    axis.margins(x=0)


def _mark(axis: Axes, compared: Sequence[ComparedSpectrum]) -> None:
    """Labels at the farthest lines of all sides, where they have room."""
    lines = [(line, item.place) for item in compared for line in item.raised[:MOST_MARKED]]
    taken: list[RaisedLine] = []
    for line, place in sorted(lines, key=_farthest):
        if any(_touch(line, other) for other in taken):
            continue
        taken.append(line)
        axis.annotate(
            f"{line.order:.2f}: {line.difference_db:+.0f} dB",
            xy=(line.order, line.difference_db),
            xytext=(0, 4),
            textcoords="offset points",
            ha="center",
            fontsize=9,
            color=_line(place)["color"],
        )


def _farthest(row: tuple[RaisedLine, int]) -> float:
    return row[0].allowed_db - row[0].difference_db


def _touch(one: RaisedLine, two: RaisedLine) -> bool:
    """Whether the labels of two lines would stand in each other's way."""
    near = abs(one.order - two.order) < LABEL_ORDERS
    return near and abs(one.difference_db - two.difference_db) < LABEL_DB


def _half_octaves(comparison: Comparison, point: str) -> Iterator[FigureImage]:
    shown = [
        place for place, side in enumerate(comparison.sides) if side.readings.bands_db.size > 1
    ]
    if len(shown) < 2:
        return
    with drawing_style():
        figure = new_figure(9.5, 3.6)
        axis = figure.subplots()
        for place in shown:
            readings = comparison.sides[place].readings
            style = _line(place) | {"drawstyle": "steps-mid", "linewidth": 1.6}
            label = _label(comparison, place)
            axis.plot(readings.bands_centre_hz, readings.bands_db, label=label, **style)
            if readings.bands_spread_db is not None:
                axis.fill_between(
                    readings.bands_centre_hz,
                    readings.bands_db - 2 * readings.bands_spread_db,
                    readings.bands_db + 2 * readings.bands_spread_db,
                    step="mid",
                    alpha=0.15,
                    color=_line(place)["color"],
                )
        axis.set_xscale("log")
        axis.xaxis.set_major_formatter(_PLAIN)
        axis.xaxis.set_minor_formatter(NullFormatter())
        edges = np.concatenate(
            [comparison.sides[place].readings.bands_centre_hz for place in shown]
        )
        axis.set_xticks([f for f in (250, 500, 1000, 2000, 4000, 8000, 16000) if f <= edges.max()])
        axis.set_xlabel("Middle of the half octave, Hz")
        axis.set_ylabel("Density, dB")
        axis.legend(loc="best")
        png = figure_bytes(figure, "png")
    yield FigureImage(
        name=f"compare-{file_stem(point)}-half-octaves",
        title=f"Half octaves, {clean(point)}",
        caption="Median power density of each half octave in dB of one (m/s²)² per Hz; single "
        "lines do not move it. Shaded: twice the spread from recording to recording.",
        alt="Level of every half octave of all sides over frequency.",
        png=png,
    )
