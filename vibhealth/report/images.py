"""Which curves of which recordings stand together, and the finished figures of a report."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from vibhealth.model import (
    Assessment,
    EnvelopeCurve,
    Orbit,
    RecordingAnalysis,
    SpectrumCurve,
    Stage,
)
from vibhealth.report._style import RC, STAGE_LABELS, figure_bytes, new_figure
from vibhealth.report._wording import band, clean, number
from vibhealth.report.figures import (
    FamilyMark,
    LevelBar,
    Trace,
    plot_envelope_spectrum,
    plot_levels,
    plot_orbit,
    plot_order_spectrum,
    plot_waveform,
)

__all__ = [
    "FigureImage",
    "MarksOf",
    "analysis_images",
    "assessment_figures",
    "assessment_images",
    "family_marks",
]

MarksOf = Callable[[RecordingAnalysis], Sequence[FamilyMark]]
HARMONICS = (1, 2, 3)
LOW_ORDERS = 20.0  # where the working motion and its harmonics are read
DRAWN_COLUMNS = 2000  # more than a page has; a column shows its highest value
_STAGES = (Stage.AS_FOUND, Stage.AS_LEFT, Stage.UNSTATED)


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureImage:
    """A finished figure: file stem, title, caption, text for those who cannot see it, PNG."""

    name: str
    title: str
    caption: str
    alt: str
    png: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """A drawn figure before it becomes bytes."""

    name: str
    title: str
    caption: str
    alt: str
    figure: Figure


def family_marks(analysis: RecordingAnalysis) -> tuple[FamilyMark, ...]:
    """Return the families of one recording as marks: first three centre lines as found.

    Parameters
    ----------
    analysis : RecordingAnalysis
        With its families; their side bands are not known here.

    Returns
    -------
    tuple of FamilyMark
        In the order of the families.
    """
    return tuple(
        FamilyMark(
            label=f"{item.bearing}, {item.element.words}",
            element=item.element,
            orders=tuple(n * item.order for n in HARMONICS),
            found=item.present,
        )
        for item in analysis.families
    )


def assessment_images(
    assessment: Assessment, *, marks_of: MarksOf = family_marks
) -> tuple[FigureImage, ...]:
    """Return all figures of a report as PNG, with titles, captions and alternative texts.

    Parameters
    ----------
    assessment : Assessment
        What the acceptance decided.
    marks_of : callable
        Families to mark in the envelope spectra of a recording; a caller that
        knows the machine card can add the side bands.

    Returns
    -------
    tuple of FigureImage
        Per point: order spectrum, envelope spectra, waveform, levels; then orbits.
    """
    return tuple(_image(sheet) for sheet in _assessment_sheets(assessment, marks_of))


def assessment_figures(
    assessment: Assessment,
    *,
    kinds: Sequence[str] = ("png",),
    marks_of: MarksOf = family_marks,
) -> dict[str, bytes]:
    """Return all figures of a report as files; the same bytes every time.

    Parameters
    ----------
    assessment : Assessment
        What the acceptance decided.
    kinds : sequence of {"png", "svg"}
        Which formats.
    marks_of : callable
        As for `assessment_images`.

    Returns
    -------
    dict of str to bytes
        File name to content.
    """
    return {
        f"{sheet.name}.{kind}": figure_bytes(sheet.figure, kind)
        for sheet in _assessment_sheets(assessment, marks_of)
        for kind in kinds
    }


def analysis_images(
    analysis: RecordingAnalysis, *, marks_of: MarksOf = family_marks
) -> tuple[FigureImage, ...]:
    """Return the figures of one recording.

    Parameters
    ----------
    analysis : RecordingAnalysis
        What the diagnosis found in it.
    marks_of : callable
        As for `assessment_images`.

    Returns
    -------
    tuple of FigureImage
        Order spectrum, envelope spectra, waveform, levels.
    """
    return tuple(_image(sheet) for sheet in _point_sheets(_point(analysis), [analysis], marks_of))


def _image(sheet: _Sheet) -> FigureImage:
    return FigureImage(
        name=sheet.name,
        title=sheet.title,
        caption=sheet.caption,
        alt=sheet.alt,
        png=figure_bytes(sheet.figure, "png"),
    )


def _point(analysis: RecordingAnalysis) -> str:
    recording = analysis.recording
    return clean(recording.point) if recording.point else f"channel {recording.channel}"


def _assessment_sheets(assessment: Assessment, marks_of: MarksOf) -> Iterator[_Sheet]:
    for point in dict.fromkeys(map(_point, assessment.recordings)):
        yield from _point_sheets(
            point, [item for item in assessment.recordings if _point(item) == point], marks_of
        )
    planes = groupby(sorted(assessment.orbits, key=lambda o: o.points), key=lambda o: o.points)
    for points, orbits in planes:
        yield _orbit_sheet(" and ".join(map(clean, points)), list(orbits))


def _point_sheets(
    point: str, analyses: Sequence[RecordingAnalysis], marks_of: MarksOf
) -> Iterator[_Sheet]:
    chosen = _chosen(analyses)
    files = "; ".join(
        f"{STAGE_LABELS[item.recording.stage]}: {_file_words(item, analyses)}" for item in chosen
    )
    for sheet in (
        _spectrum_sheet(point, chosen),
        _envelope_sheet(point, chosen, marks_of, role="found"),
        _envelope_sheet(point, chosen, marks_of, role="card"),
        _waveform_sheet(point, chosen),
        _levels_sheet(point, chosen),
    ):
        if sheet is not None:
            yield _Sheet(
                name=sheet.name,
                title=sheet.title,
                caption=f"{sheet.caption} {files}.",
                alt=sheet.alt,
                figure=sheet.figure,
            )


def _chosen(analyses: Sequence[RecordingAnalysis]) -> list[RecordingAnalysis]:
    """One recording per stage: the one with the deepest family, so that none is hidden."""
    chosen = []
    for stage in _STAGES:
        of_stage = [item for item in analyses if item.recording.stage is stage]
        if of_stage:
            chosen.append(max(of_stage, key=_deepest))
    return chosen


def _deepest(analysis: RecordingAnalysis) -> float:
    depths = [item.depth_whitened for item in analysis.families]
    return max((depth for depth in depths if np.isfinite(depth)), default=-1.0)


def _file_words(analysis: RecordingAnalysis, analyses: Sequence[RecordingAnalysis]) -> str:
    name = clean(analysis.recording.path)
    count = sum(item.recording.stage is analysis.recording.stage for item in analyses)
    return name if count == 1 else f"{name} (of {count} recordings the one with the deepest family)"


def _stem(*parts: str) -> str:
    kept = "-".join(parts)
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in kept)


def _panels(count: int, *, height_in: float, width_in: float = 9.5) -> tuple[Figure, list[Axes]]:
    figure = new_figure(width_in, height_in * count)
    axes = figure.subplots(count, 1, squeeze=False)
    return figure, [axis for row in axes for axis in row]


def _peaks(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
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


def _extremes(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest value per drawn column, in their order in time."""
    high, low = _peaks(x, y), _peaks(x, -y)
    both = np.concatenate([high[0], low[0]])
    values = np.concatenate([high[1], -low[1]])
    order = np.argsort(both, kind="stable")
    return both[order], values[order]


def _acceleration(analysis: RecordingAnalysis) -> SpectrumCurve | None:
    return next((curve for curve in analysis.spectra if curve.kind == "acceleration"), None)


def _spectrum_sheet(point: str, chosen: Sequence[RecordingAnalysis]) -> _Sheet | None:
    found = [(item, curve) for item in chosen if (curve := _acceleration(item)) is not None]
    if not found:
        return None
    groups: dict[tuple[bool, str], list[tuple[RecordingAnalysis, SpectrumCurve]]] = {}
    for item, curve in found:
        groups.setdefault((curve.order is not None, curve.unit), []).append((item, curve))
    with mpl.rc_context(RC):
        rows = [(key, low) for key in groups for low in ((True, False) if key[0] else (False,))]
        figure, axes = _panels(len(rows), height_in=3.3)
        for axis, (key, low) in zip(axes, rows, strict=True):
            _spectrum_panel(axis, groups[key], has_order=key[0], unit=key[1], low=low)
    stages = _stage_list(item for item, _ in found)
    spacing = ", ".join(f"{number(curve.line_spacing_hz)} Hz" for _, curve in found)
    return _Sheet(
        name=_stem("spectrum", point),
        title=f"Acceleration spectrum, {point}",
        caption=f"Zero-to-peak amplitude; line spacing {spacing}.",
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
        traces.append(Trace(stage=stage, label=STAGE_LABELS[stage], x=x, y=y))
    abscissa = "Order (multiples of 1x)" if has_order else "Frequency, Hz (no speed known)"
    plot_order_spectrum(axis, traces, unit=unit, abscissa=abscissa)
    axis.set_title(f"Orders up to {LOW_ORDERS:g}: working motion" if low else "Whole range")
    _legend(axis)


def _legend(axis: Axes) -> None:
    """Legend above the axis at the right, outside the data, beside the title at the left."""
    axis.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=3, borderaxespad=0.2)


def _stage_list(analyses: Iterable[RecordingAnalysis]) -> str:
    return " and ".join(STAGE_LABELS[item.recording.stage] for item in analyses)


def _envelope_sheet(
    point: str, chosen: Sequence[RecordingAnalysis], marks_of: MarksOf, *, role: str
) -> _Sheet | None:
    found = [
        (item, curve)
        for item in chosen
        if (curve := next((c for c in item.envelopes if c.band.role == role), None)) is not None
    ]
    if not found:
        return None
    marks = [tuple(marks_of(item)) for item, _ in found]
    highest = max((order for mark in marks for m in mark for order in m.orders), default=np.inf)
    limit = min(1.05 * highest, max(float(curve.order[-1]) for _, curve in found))
    with mpl.rc_context(RC):
        lanes = max(map(len, marks))
        figure, axes = _panels(len(found), height_in=3.4 + 0.24 * lanes)
        for axis, (item, curve), families in zip(axes, found, marks, strict=True):
            _envelope_panel(axis, item, curve, families, limit)
        _share_range(axes, [curve for _, curve in found])
    words = "band in which a family stood out most" if role == "found" else "band of the card"
    return _Sheet(
        name=_stem("envelope", role, point),
        title=f"Envelope spectrum, {point}, {words}",
        caption="Lanes above the data: where each defect family was looked for (n = 1, 2, 3).",
        alt=f"Envelope spectrum of {point}. "
        + " ".join(_envelope_words(i, m) for (i, _), m in zip(found, marks, strict=True)),
        figure=figure,
    )


def _envelope_panel(
    axis: Axes,
    analysis: RecordingAnalysis,
    curve: EnvelopeCurve,
    marks: Sequence[FamilyMark],
    limit: float,
) -> None:
    stage = analysis.recording.stage
    kept = curve.order <= limit
    x, depth = _peaks(curve.order[kept], curve.depth[kept])
    floor = np.interp(x, curve.order[kept], curve.floor[kept])
    drawn = EnvelopeCurve(label=curve.label, band=curve.band, order=x, depth=depth, floor=floor)
    axis.set_xlim(0, limit)
    plot_envelope_spectrum(axis, drawn, marks, stage=stage)
    edges = band((curve.band.low_hz, curve.band.high_hz))
    axis.figure.align_labels()
    title = f"{STAGE_LABELS[stage]}: {clean(curve.label)}, {edges}"
    (axis.child_axes[0] if axis.child_axes else axis).set_title(title, pad=22)
    axis.legend(
        loc="lower right",
        bbox_to_anchor=(1.0, 1.035 + (0.085 * len(marks))),
        ncols=2,
        borderaxespad=0.0,
    )


def _share_range(axes: Sequence[Axes], curves: Sequence[EnvelopeCurve]) -> None:
    """Same depth scale before and after, from a third of the lowest floor up."""
    floors = np.concatenate([curve.floor for curve in curves])
    depths = np.concatenate([curve.depth for curve in curves])
    if not (floors > 0).any() or not (depths > 0).any():
        return
    low, high = float(floors[floors > 0].min()) / 3, 1.5 * float(depths.max())
    for axis in axes:
        axis.set_ylim(low, high)


def _envelope_words(analysis: RecordingAnalysis, marks: Sequence[FamilyMark]) -> str:
    names = [clean(mark.label) for mark in marks if mark.found]
    stage = STAGE_LABELS[analysis.recording.stage]
    return f"{stage}: {'found ' + '; '.join(names) if names else 'no family found'}."


def _waveform_sheet(point: str, chosen: Sequence[RecordingAnalysis]) -> _Sheet | None:
    found = [item for item in chosen if item.waveform.size]
    if not found:
        return None
    with mpl.rc_context(RC):
        figure, axes = _panels(len(found), height_in=2.6)
        for axis, item in zip(axes, found, strict=True):
            x, y = _extremes(item.waveform_time_s, item.waveform)
            stage, unit = item.recording.stage, item.recording.unit
            plot_waveform(axis, Trace(stage=stage, label="", x=x, y=y), unit=unit)
            axis.set_title(STAGE_LABELS[stage])
        for unit in {item.recording.unit for item in found}:
            _share_height([a for a, i in zip(axes, found, strict=True) if i.recording.unit == unit])
    return _Sheet(
        name=_stem("waveform", point),
        title=f"Waveform, {point}",
        caption="A stretch of each recording, same scale where the units agree.",
        alt=f"Acceleration over time at {point}, {_stage_list(found)}.",
        figure=figure,
    )


def _share_height(axes: Sequence[Axes]) -> None:
    limits = [axis.get_ylim() for axis in axes]
    for axis in axes:
        axis.set_ylim(min(low for low, _ in limits), max(high for _, high in limits))


def _levels_sheet(point: str, chosen: Sequence[RecordingAnalysis]) -> _Sheet | None:
    titles: dict[tuple[str, str, tuple[float, float] | None], str] = {}
    values: dict[tuple[tuple[str, str, tuple[float, float] | None], Stage], float | None] = {}
    for item in chosen:
        for level in item.descriptors:
            key = (level.id, level.unit, level.band_hz)
            titles.setdefault(key, f"{level.title}, {band(level.band_hz)}")
            value = level.value if np.isfinite(level.value) and level.value >= 0 else None
            values[key, item.recording.stage] = value
    if not titles:
        return None
    stages = [item.recording.stage for item in chosen]
    with mpl.rc_context(RC):
        figure, axes = _panels(len(titles), height_in=0.55 + 0.35 * len(stages))
        for axis, (key, title) in zip(axes, titles.items(), strict=True):
            bars = [LevelBar(stage=stage, value=values.get((key, stage))) for stage in stages]
            plot_levels(axis, bars, title=title, unit=key[1])
    return _Sheet(
        name=_stem("levels", point),
        title=f"Levels, {point}",
        caption="Every bar starts at zero; each level has a scale of its own.",
        alt=f"Levels at {point} as bars, {_stage_list(chosen)}; the numbers are in the tables.",
        figure=figure,
    )


def _orbit_sheet(plane: str, orbits: Sequence[Orbit]) -> _Sheet:
    with mpl.rc_context(RC):
        figure = new_figure(7.0, 6.0)
        axis = figure.subplots()
        plot_orbit(axis, orbits)
        axis.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=1)
    words = "; ".join(f"{clean(o.stage)} {number(o.major_mm)} × {number(o.minor_mm)} mm, "
                      f"{o.direction}" for o in orbits)  # fmt: skip
    return _Sheet(
        name=_stem("orbit", plane),
        title=f"Orbit at 1x, {plane}",
        caption="Dot: start of the turn; arrow: direction of travel.",
        alt=f"Orbit in the plane of {plane}: {words}.",
        figure=figure,
    )
