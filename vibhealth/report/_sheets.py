"""Drawn figures of a report: panels, scales and captions around the plots."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from vibhealth.model import (
    Descriptor,
    Element,
    EnvelopeCurve,
    Orbit,
    RecordingAnalysis,
    SpectrumCurve,
    Stage,
)
from vibhealth.report._style import STAGE_LABELS, drawing_style, new_figure
from vibhealth.report._wording import band, clean, file_label, file_stem, number
from vibhealth.report.figures import (
    EnvelopeTrace,
    FamilyMark,
    LevelBar,
    Trace,
    plot_envelope_spectra,
    plot_levels,
    plot_orbit,
    plot_order_spectrum,
    plot_waveform,
)

__all__ = [
    "MarksOf",
    "Sheet",
    "envelope_sheet",
    "levels_sheet",
    "orbit_sheet",
    "spectrum_sheet",
    "waveform_sheet",
]

Samples = NDArray[np.float64]
MarksOf = Callable[[RecordingAnalysis], Sequence[FamilyMark]]
LOW_ORDERS = 20.0  # where the working motion and its harmonics are read
DRAWN_COLUMNS = 2000  # more than a page has; a column shows its highest value
NO_BREAK_SPACE = "\N{NO-BREAK SPACE}"
FILE_COLUMNS = 36  # of a file name in a legend
STAGE_SHORT = {Stage.AS_FOUND: "before", Stage.AS_LEFT: "after", Stage.UNSTATED: "stage not stated"}
DRAWN_LEVEL = "rms"  # levels with this word in their title stand in the figure
CLOSE_LINES = "Where lines stand closer than can be drawn, the highest is drawn."


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A drawn figure before it becomes bytes."""

    name: str
    title: str
    caption: str
    alt: str
    figure: Figure


def _panels(count: int, *, height_in: float, width_in: float = 9.5) -> tuple[Figure, list[Axes]]:
    figure = new_figure(width_in, height_in * count)
    axes = figure.subplots(count, 1, squeeze=False)
    return figure, [axis for row in axes for axis in row]


def _peaks(x: Samples, y: Samples) -> tuple[Samples, Samples]:
    """Highest value per drawn column: what a pen of one column's width would show."""
    step = -(-x.size // DRAWN_COLUMNS)
    if step <= 1:
        return x, y
    whole = x.size // step * step
    blocks = y[:whole].reshape(-1, step)
    highest = np.argmax(blocks, axis=1) + step * np.arange(blocks.shape[0])
    rest = whole + np.argmax(y[whole:], keepdims=True) if whole < x.size else highest[:0]
    places = np.concatenate([highest, rest])
    return x[places], y[places]


def _extremes(x: Samples, y: Samples) -> tuple[Samples, Samples]:
    """Lowest and highest value per drawn column, in their order in time."""
    high, low = _peaks(x, y), _peaks(x, -y)
    both = np.concatenate([high[0], low[0]])
    values = np.concatenate([high[1], -low[1]])
    order = np.argsort(both, kind="stable")
    return both[order], values[order]


def _acceleration(analysis: RecordingAnalysis) -> SpectrumCurve | None:
    return next((curve for curve in analysis.spectra if curve.kind == "acceleration"), None)


def spectrum_sheet(point: str, chosen: Sequence[RecordingAnalysis]) -> Sheet | None:
    """Before and after over one another, low orders and the whole range; None without a curve."""
    found = [(item, curve) for item in chosen if (curve := _acceleration(item)) is not None]
    if not found:
        return None
    groups: dict[tuple[bool, str], list[tuple[RecordingAnalysis, SpectrumCurve]]] = {}
    for item, curve in found:
        groups.setdefault((curve.order is not None, curve.unit), []).append((item, curve))
    with drawing_style():
        rows = [(key, low) for key in groups for low in ((True, False) if key[0] else (False,))]
        figure, axes = _panels(len(rows), height_in=3.3)
        for axis, (key, low) in zip(axes, rows, strict=True):
            _spectrum_panel(axis, groups[key], has_order=key[0], unit=key[1], low=low)
    stages = _stage_list(item for item, _ in found)
    spacing = " and ".join(
        dict.fromkeys(f"{number(curve.line_spacing_hz)} Hz" for _, curve in found)
    )
    return Sheet(
        name=file_stem("spectrum", point),
        title=f"Acceleration spectrum, {point}",
        caption=f"Zero-to-peak amplitude; line spacing {spacing}. {CLOSE_LINES}",
        alt=f"Acceleration spectrum of {point}, {stages}, over order, logarithmic amplitude.",
        figure=figure,
    )


def _spectrum_panel(
    axis: Axes,
    group: Sequence[tuple[RecordingAnalysis, SpectrumCurve]],
    *,
    has_order: bool,
    unit: str,
    low: bool,
) -> None:
    traces = []
    for item, curve in group:
        x = curve.order if curve.order is not None else curve.frequency_hz
        kept = x <= LOW_ORDERS if low else np.ones(x.shape, dtype=bool)
        x, y = _peaks(x[kept], curve.values[kept])
        stage = item.recording.stage
        traces.append(Trace(stage=stage, label=_legend_label(item), x=x, y=y))
    abscissa = "Order (multiples of 1x)" if has_order else "Frequency, Hz (no speed known)"
    plot_order_spectrum(axis, traces, unit=unit, abscissa=abscissa)
    axis.set_title(f"Orders up to {LOW_ORDERS:g}: working motion" if low else "Whole range")
    if low or not has_order:
        _legend(axis)


def _legend(axis: Axes) -> None:
    """Legend above the axis at the right, outside the data, beside the title at the left."""
    axis.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=1, borderaxespad=0.2)


def _stage_list(analyses: Iterable[RecordingAnalysis]) -> str:
    return " and ".join(STAGE_LABELS[item.recording.stage] for item in analyses)


def envelope_sheet(
    point: str, chosen: Sequence[RecordingAnalysis], marks_of: MarksOf, *, role: str
) -> Sheet | None:
    """One panel per band; in the band of the card before and after over one another.

    None without a curve of this role.
    """
    found = [
        (item, curve)
        for item in chosen
        if (curve := next((c for c in item.envelopes if c.band.role == role), None)) is not None
    ]
    if not found:
        return None
    panels = _panels_of(found)
    marks = [_marks_together([(i, marks_of(i)) for i, _ in panel]) for panel in panels]
    highest = max((order for mark in marks for m in mark for order in m.orders), default=np.inf)
    limit = min(1.05 * highest, max(float(curve.order[-1]) for _, curve in found))
    drawn = [[_trace(item, curve, limit) for item, curve in panel] for panel in panels]
    with drawing_style():
        lanes, height_in = max(map(len, marks)), 3.9 if len(panels) > 1 else 4.6
        figure, axes = _panels(len(panels), height_in=height_in + 0.25 * lanes)
        for axis, traces, families in zip(axes, drawn, marks, strict=True):
            axis.set_xlim(0, limit)
            plot_envelope_spectra(axis, traces, families, title=_panel_title(traces))
        _share_range(axes, [trace.curve for panel in drawn for trace in panel])
    words = "band in which a family stood out most" if role == "found" else "band of the card"
    return Sheet(
        name=file_stem("envelope", role, point),
        title=f"Envelope spectrum, {point}, {words}",
        caption="Lanes above the data: where each defect family was looked for (n = 1, 2, 3); filled "
        f"markers: found. {CLOSE_LINES} So the curve runs above its floor even where nothing "
        "stands out.",
        alt=f"Envelope spectrum of {point}. "
        + " ".join(_envelope_words(item, marks_of(item)) for item, _ in found),
        figure=figure,
    )


Reading = tuple[RecordingAnalysis, EnvelopeCurve]


def _panels_of(found: Sequence[Reading]) -> list[list[Reading]]:
    """Readings of the same band on the same kind of record stand on one axis.

    The band of a found family belongs to its recording alone.
    """
    panels: dict[object, list[Reading]] = {}
    for place, (item, curve) in enumerate(found):
        key: object = curve.band if curve.band.role == "card" else place
        panels.setdefault(key, []).append((item, curve))
    return list(panels.values())


def _marks_together(
    given: Sequence[tuple[RecordingAnalysis, Sequence[FamilyMark]]],
) -> tuple[FamilyMark, ...]:
    """One lane per family, placed where it was found last, with the stages that show it."""
    if len(given) == 1:
        return tuple(given[0][1])
    lanes: dict[tuple[str, Element], FamilyMark] = {}
    stages: dict[tuple[str, Element], list[str]] = {}
    for item, marks in given:
        for mark in marks:
            key = mark.label, mark.element
            if mark.found:
                stages.setdefault(key, []).append(STAGE_SHORT[item.recording.stage])
            if mark.found or key not in lanes or not lanes[key].found:
                lanes[key] = mark
    return tuple(
        replace(mark, status=f"FOUND {', '.join(stages[key])}") if key in stages else mark
        for key, mark in lanes.items()
    )


def _trace(analysis: RecordingAnalysis, curve: EnvelopeCurve, limit: float) -> EnvelopeTrace:
    kept = curve.order <= limit
    x, depth = _peaks(curve.order[kept], curve.depth[kept])
    floor = np.interp(x, curve.order[kept], curve.floor[kept])
    drawn = EnvelopeCurve(label=curve.label, band=curve.band, order=x, depth=depth, floor=floor)
    return EnvelopeTrace(stage=analysis.recording.stage, label=_legend_label(analysis), curve=drawn)


def _panel_title(traces: Sequence[EnvelopeTrace]) -> str:
    curve = traces[0].curve
    edges = band((curve.band.low_hz, curve.band.high_hz)).replace(" ", NO_BREAK_SPACE)
    who = "before and after" if len(traces) > 1 else STAGE_LABELS[traces[0].stage]
    return f"{who}: {curve.label}, {edges}"


def _legend_label(analysis: RecordingAnalysis) -> str:
    """Stage, point, folder and file: what a legend must say for the figure to stand alone."""
    name = file_label(analysis.recording.path)
    if len(name) > FILE_COLUMNS:
        name = f"…{name[1 - FILE_COLUMNS :]}"
    point = f"{clean(analysis.recording.point)}, " if analysis.recording.point else ""
    return f"{STAGE_LABELS[analysis.recording.stage]}: {point}{name}"


def _share_range(axes: Sequence[Axes], curves: Sequence[EnvelopeCurve]) -> None:
    """Same depth scale in all panels, from a little under the lowest floor up."""
    floors = np.concatenate([curve.floor for curve in curves])
    depths = np.concatenate([curve.depth for curve in curves])
    if not (floors > 0).any() or not (depths > 0).any():
        return
    low, high = float(floors[floors > 0].min()) / 2, 1.5 * float(depths.max())
    for axis in axes:
        axis.set_ylim(low, high)


def _envelope_words(analysis: RecordingAnalysis, marks: Sequence[FamilyMark]) -> str:
    names = [clean(mark.label) for mark in marks if mark.found]
    stage = STAGE_LABELS[analysis.recording.stage]
    return f"{stage}: {'found ' + '; '.join(names) if names else 'no family found'}."


def waveform_sheet(point: str, chosen: Sequence[RecordingAnalysis]) -> Sheet | None:
    """A stretch of each recording; None where no recording has one."""
    found = [item for item in chosen if item.waveform.size]
    if not found:
        return None
    with drawing_style():
        figure, axes = _panels(len(found), height_in=2.6)
        for axis, item in zip(axes, found, strict=True):
            x, y = _extremes(item.waveform_time_s, item.waveform)
            stage, unit = item.recording.stage, item.recording.unit
            plot_waveform(axis, Trace(stage=stage, label="", x=x, y=y), unit=unit)
            axis.set_title(_legend_label(item))
        for unit in {item.recording.unit for item in found}:
            _share_height([a for a, i in zip(axes, found, strict=True) if i.recording.unit == unit])
    return Sheet(
        name=file_stem("waveform", point),
        title=f"Waveform, {point}",
        caption="A stretch of each recording, same scale where the units agree.",
        alt=f"Acceleration over time at {point}, {_stage_list(found)}.",
        figure=figure,
    )


def _share_height(axes: Sequence[Axes]) -> None:
    limits = [axis.get_ylim() for axis in axes]
    for axis in axes:
        axis.set_ylim(min(low for low, _ in limits), max(high for _, high in limits))


def levels_sheet(point: str, chosen: Sequence[RecordingAnalysis]) -> Sheet | None:
    """One axis per rms value, one bar per stage; None without two stages to compare."""
    found: dict[tuple[str, str], dict[Stage, Descriptor]] = {}
    for item in chosen:
        for level in item.descriptors:
            if DRAWN_LEVEL in level.title.replace(",", " ").split():
                found.setdefault((level.id, level.unit), {})[item.recording.stage] = level
    if not found or len(chosen) < 2:
        return None
    stages = [item.recording.stage for item in chosen]
    with drawing_style():
        figure, axes = _panels(len(found), height_in=0.55 + 0.35 * len(stages))
        for axis, ((_, unit), levels) in zip(axes, found.items(), strict=True):
            bars = [LevelBar(stage=s, value=_bar_value(levels.get(s))) for s in stages]
            plot_levels(axis, bars, title=_level_title(list(levels.values())), unit=unit)
    return Sheet(
        name=file_stem("levels", point),
        title=f"Levels, {point}",
        caption="Every bar starts at zero, each level on a scale of its own; rms values only, "
        "the other levels are in the tables.",
        alt=f"Levels at {point} as bars, {_stage_list(chosen)}; the numbers are in the tables.",
        figure=figure,
    )


def _bar_value(level: Descriptor | None) -> float | None:
    return level.value if level is not None and np.isfinite(level.value) else None


def _level_title(levels: Sequence[Descriptor]) -> str:
    """Title with the band, unless the title says it or the band moved with the speed."""
    title, edges = levels[0].title, {band(level.band_hz) for level in levels}
    (words,) = edges if len(edges) == 1 else ("",)
    return title if words in title else f"{title}, {words}"


def orbit_sheet(plane: str, orbits: Sequence[Orbit]) -> Sheet:
    """Ellipses of one plane."""
    with drawing_style():
        figure = new_figure(7.0, 6.0)
        axis = figure.subplots()
        plot_orbit(axis, orbits)
        axis.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=1)
    words = "; ".join(f"{clean(o.stage)} {number(o.major_mm)} × {number(o.minor_mm)} mm, "
                      f"{o.direction}" for o in orbits)  # fmt: skip
    return Sheet(
        name=file_stem("orbit", plane),
        title=f"Orbit at 1x, {plane}",
        caption="Dot: start of the turn; arrow: direction of travel.",
        alt=f"Orbit in the plane of {plane}: {words}.",
        figure=figure,
    )
