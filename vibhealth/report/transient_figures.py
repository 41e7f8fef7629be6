"""The figure of a start or a stop: speed, swing with hits, and the map of shaft orders."""

from collections.abc import Iterable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from vibhealth.model import MotionCurve, SpeedTimeMap, Transient, TransientAnalysis
from vibhealth.report._style import drawing_style, figure_bytes, new_figure
from vibhealth.report._wording import clean, file_label, number
from vibhealth.report.images import FigureImage
from vibhealth.units import hz_to_rpm

__all__ = ["transient_figure", "transient_image", "transient_images"]

SIZE_IN = (9.5, 9.5)
LOWEST_DB = -60.0
SPEED_LINE: dict[str, Any] = {"color": "#0072B2", "linewidth": 1.4}
SWING_LINE: dict[str, Any] = {"color": "#000000", "linewidth": 0.7}
SHADES = {
    "standstill": "#FFFFFF",
    "run-up": "#D9D9D9",
    "steady": "#F7F7F7",
    "coast-down": "#D9D9D9",
}
HATCHES = {"run-up": "///", "coast-down": "\\\\\\"}
SHORTEST_LABEL = 0.06  # of the time shown: what is shorter has no room for its word
WORDS = {"run-up": "start", "coast-down": "stop"}


def transient_figure(analysis: TransientAnalysis) -> Figure:
    """Draw speed, displacement and shaft orders of a recording over one time axis.

    Parameters
    ----------
    analysis : TransientAnalysis
        With a curve and a map; where there are none the figure says why.

    Returns
    -------
    Figure
        Top: shaft speed with the segments marked; middle: displacement with the largest swing
        and the hits; bottom: levels of shaft orders, grey, dark is strong.
    """
    with drawing_style():
        figure = new_figure(*SIZE_IN)
        if analysis.curve is None or analysis.map is None:
            axis = figure.subplots()
            axis.set_axis_off()
            axis.text(0.5, 0.5, clean(analysis.not_judged), ha="center", va="center", wrap=True)
            return figure
        top, middle, bottom = figure.subplots(3, 1, sharex=True)
        _draw_speed(top, analysis, analysis.curve)
        _draw_swing(middle, analysis, analysis.curve)
        _draw_map(figure, bottom, analysis.map)
        top.set_xlim(0, analysis.recording.duration_s)
        bottom.set_xlabel("Time, s")
    return figure


def transient_images(analyses: Iterable[TransientAnalysis]) -> tuple[FigureImage, ...]:
    """Return one figure per recording that holds a start or stop, as read at its first point.

    Parameters
    ----------
    analyses : iterable of TransientAnalysis
        Of an assessment: several points of each recording.

    Returns
    -------
    tuple of FigureImage
    """
    first: dict[str, TransientAnalysis] = {}
    for analysis in analyses:
        if analysis.transients:
            first.setdefault(analysis.recording.path, analysis)
    return tuple(transient_image(analysis) for analysis in first.values())


def transient_image(analysis: TransientAnalysis) -> FigureImage:
    """Return the figure of a start or stop as PNG, with title, caption and alternative text.

    Parameters
    ----------
    analysis : TransientAnalysis
        As for `transient_figure`.

    Returns
    -------
    FigureImage
    """
    recording = analysis.recording
    point = clean(recording.point) if recording.point else f"channel {recording.channel}"
    kinds = " and ".join(dict.fromkeys(WORDS[item.kind] for item in analysis.transients))
    title = f"{(kinds or 'start or stop').capitalize()}, {point}"
    stem = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in point)
    path = "".join(
        c if c.isascii() and (c.isalnum() or c in "-_") else "-"
        for c in file_label(recording.path).rsplit(".", 1)[0]
    )
    return FigureImage(
        name=f"transient-{stem}-{path}",
        title=title,
        caption="Hatched: starting or stopping. Triangles: hard hits that do not go on at steady "
        "speed; ring: largest swing. Bottom: levels of shaft orders below the strongest, dark is "
        f"strong. Recording: {file_label(recording.path)}.",
        alt=f"{title}: "
        + ("; ".join(map(_words, analysis.transients)) or analysis.not_judged)
        + ".",
        png=figure_bytes(transient_figure(analysis), "png"),
    )


def _words(item: Transient) -> str:
    parts = [f"{item.kind} from {item.start_s:.1f} to {item.end_s:.1f} s"]
    if item.swing_ratio is not None:
        parts.append(f"largest swing {number(item.swing_ratio)} times that at speed")
    parts.append("hits not read" if item.strikes is None else f"{len(item.strikes)} hits")
    return ", ".join(parts)


def _draw_speed(axis: Axes, analysis: TransientAnalysis, curve: MotionCurve) -> None:
    axis.plot(curve.time_s, hz_to_rpm(1.0) * curve.shaft_frequency_hz, **SPEED_LINE)
    axis.set_ylabel("Shaft speed, r/min")
    axis.set_ylim(bottom=0, top=1.25 * hz_to_rpm(float(curve.shaft_frequency_hz.max()) or 1.0))
    total = analysis.recording.duration_s
    for segment in analysis.segments:
        axis.axvspan(
            segment.start_s,
            segment.end_s,
            facecolor=SHADES[segment.kind],
            edgecolor="#999999",
            hatch=HATCHES.get(segment.kind),
            linewidth=0.5,
            zorder=0.5,
        )
        if segment.end_s - segment.start_s >= SHORTEST_LABEL * total:
            axis.text(
                0.5 * (segment.start_s + segment.end_s),
                0.97,
                segment.kind,
                transform=axis.get_xaxis_transform(),
                ha="center",
                va="top",
                fontsize=10,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
            )
    axis.set_title("Shaft speed")


def _draw_swing(axis: Axes, analysis: TransientAnalysis, curve: MotionCurve) -> None:
    scale = curve.steady_amplitude_mm or 1.0
    axis.plot(curve.time_s, scale * curve.displacement_ratio, **SWING_LINE)
    unit = "mm" if curve.steady_amplitude_mm is not None else "times that at speed"
    axis.set_ylabel(f"Displacement, {unit}")
    top = scale * max(float(np.abs(curve.displacement_ratio).max()), 1.0)
    axis.set_ylim(-1.25 * top, 1.45 * top)
    for item in analysis.transients:
        times = [strike.time_s for strike in item.strikes or ()]
        axis.plot(times, [-1.12 * top] * len(times), **_HIT_MARK)
        if item.swing_ratio is not None:
            _mark_swing(axis, item, curve, scale)
    axis.set_title("Displacement, largest swing (ring) and hard hits (triangles)")


_HIT_MARK: dict[str, Any] = {
    "linestyle": "none",
    "marker": "^",
    "markersize": 9,
    "markerfacecolor": "#D55E00",
    "markeredgecolor": "#000000",
}


def _mark_swing(axis: Axes, item: Transient, curve: MotionCurve, scale: float) -> None:
    ratio = item.swing_ratio or 0.0
    at = int(np.argmin(np.abs(np.abs(curve.displacement_ratio) - ratio)))
    where = (float(curve.time_s[at]), scale * float(curve.displacement_ratio[at]))
    axis.plot(
        *where, marker="o", markersize=10, markerfacecolor="none", markeredgecolor="#D55E00",
        markeredgewidth=1.8,
    )  # fmt: skip
    size = f" ({number(item.swing_mm)} mm)" if item.swing_mm is not None else ""
    axis.annotate(
        f"{number(ratio)} times the swing at speed{size}",
        xy=(where[0], axis.get_ylim()[1]),
        xytext=(6, -4),
        textcoords="offset points",
        va="top",
        ha="left" if where[0] < 0.6 * float(curve.time_s[-1]) else "right",
        fontsize=10,
    )


def _draw_map(figure: Figure, axis: Axes, shown: SpeedTimeMap) -> None:
    mesh = axis.pcolormesh(
        shown.time_s,
        shown.order,
        np.maximum(shown.level_db, LOWEST_DB),
        cmap="Greys",
        vmin=LOWEST_DB,
        vmax=0,
        shading="nearest",
        rasterized=True,
    )
    axis.set_ylabel("Order (multiples of 1x)")
    axis.grid(visible=False)
    axis.set_title("Shaft orders")
    bar = figure.colorbar(mesh, ax=axis, pad=0.01)
    bar.set_label("Level, dB below the strongest")
