"""Figures against the reference, and the annex of reference signatures."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, NullFormatter

from vibhealth.acceptance import condition_limits, line_settings
from vibhealth.baseline import (
    Baseline,
    Comparison,
    Side,
    Signature,
    compare_sides,
    gather,
    list_signatures,
    read_baseline,
    read_signature,
)
from vibhealth.card import MachineCard
from vibhealth.errors import BaselineError
from vibhealth.model import Assessment, PatternKind, PatternSpectrum, RecordingAnalysis, Stage
from vibhealth.report._style import drawing_style, figure_bytes, new_figure
from vibhealth.report.compare_figures import compare_images
from vibhealth.report.images import FigureImage

__all__ = ["reference_images", "signature_images"]

# What decides; the envelope as recorded stands in a figure of its own already.
DRAWN: tuple[PatternKind, ...] = ("order-spectrum", "whitened-envelope-spectrum")
COLUMNS = 3
HIGHEST_ORDER = 16.0
_PLAIN = FuncFormatter(lambda value, _: f"{value:g}")
INVENTED = (
    "INVENTED by simulation on another machine than yours: it shows where the lines of a fault "
    "stand, not how large they are."
)


def reference_images(assessment: Assessment, card: MachineCard) -> tuple[FigureImage, ...]:
    """Reference, as left and as found over one another, of every point with a fair reference.

    Parameters
    ----------
    assessment : Assessment
        With its references, whose files must still be whole.
    card : MachineCard
        The machine's.

    Returns
    -------
    tuple of FigureImage
        Empty where there is no baseline.
    """
    found: list[FigureImage] = []
    for use in assessment.references:
        if use.path and use.is_fair:
            comparison = _comparison(assessment, card, use.point, use.path)
            if comparison is not None:
                found += compare_images(comparison, use.point, wanted=DRAWN)
    return tuple(found)


def _comparison(
    assessment: Assessment, card: MachineCard, point: str, path: str
) -> Comparison | None:
    try:
        baseline = read_baseline(path)
    except BaselineError:  # it was whole when the verdict was made; the verdict stands
        return None
    words = {Stage.AS_LEFT: "as left", Stage.AS_FOUND: "as found"}
    sides = [Side(label=f"reference, {baseline.name}", kind="baseline", readings=baseline)]
    for stage, label in words.items():
        readings = _gathered(assessment.recordings, card, point, stage, baseline)
        if readings is not None:
            sides.append(Side(label=label, kind="recording", readings=readings))
    if len(sides) < 2:
        return None
    return compare_sides(
        sides, conditions=condition_limits(card.limits), settings=line_settings(card)
    )


def _gathered(
    analyses: Sequence[RecordingAnalysis],
    card: MachineCard,
    point: str,
    stage: Stage,
    baseline: Baseline,
) -> Baseline | None:
    chosen = [a for a in analyses if a.recording.point == point and a.recording.stage is stage]
    if not chosen:
        return None
    latest = chosen[-1].recording.moment
    try:
        return gather(
            [a for a in chosen if a.recording.moment is latest],
            card=card,
            point=point,
            made_at=baseline.made_at,
        )
    except BaselineError:  # recordings in several states make no one curve
        return None


def signature_images(
    folder: str | Path, recordings: Sequence[RecordingAnalysis] = ()
) -> tuple[FigureImage, ...]:
    """The annex: envelope spectra of all reference signatures, with a recording behind them.

    Parameters
    ----------
    folder : str or Path
        Folder of baselines; without signatures below it there is no annex.
    recordings : sequence of RecordingAnalysis
        The last as-left one along x or y with an envelope is drawn in grey behind each signature.

    Returns
    -------
    tuple of FigureImage
        One figure, or none.
    """
    found = list(_readable(folder))
    if not found:
        return ()
    own = _own(recordings)
    rows = -(-len(found) // COLUMNS)
    with drawing_style():
        figure = new_figure(10.5, 2.1 * rows)
        axes = figure.subplots(rows, COLUMNS, sharex=True, sharey=True, squeeze=False)
        flat = [axis for row in axes for axis in row]
        for axis, signature in zip(flat, found, strict=False):
            _draw(axis, signature, own)
        for axis in flat[len(found) :]:
            axis.set_axis_off()
        figure.supxlabel("Order (multiples of 1x)")
        figure.supylabel("Modulation depth, envelope as recorded")
        png = figure_bytes(figure, "png")
    behind = " Grey behind each: your own recording." if own is not None else ""
    told = " ".join(f"{item.name}: {item.look_for}" for item in found)
    return (
        FigureImage(
            name="annex-signatures",
            title="What faults look like in the envelope spectrum",
            caption=f"{INVENTED}{behind} {told}",
            alt=f"Envelope spectra of {len(found)} reference signatures over order, one panel each.",
            png=png,
        ),
    )


def _readable(folder: str | Path) -> Iterator[Signature]:
    for path in list_signatures(folder):
        try:
            yield read_signature(path)
        except BaselineError:  # an annex for training: what cannot be read is left out
            continue


def _own(recordings: Sequence[RecordingAnalysis]) -> PatternSpectrum | None:
    for analysis in reversed(recordings):
        is_left = analysis.recording.stage is Stage.AS_LEFT
        if is_left and analysis.pattern is not None and analysis.recording.direction != "z":
            return analysis.pattern.spectrum("envelope-spectrum")
    return None


def _draw(axis: Axes, signature: Signature, own: PatternSpectrum | None) -> None:
    if own is not None:
        low = own.order <= HIGHEST_ORDER
        axis.plot(own.order[low], own.amplitude[low], color="#999999", linewidth=0.8)
    spectrum = signature.spectra.spectrum("envelope-spectrum")
    if spectrum is not None:
        low = spectrum.order <= HIGHEST_ORDER
        values = np.maximum(spectrum.amplitude[low], 1e-4)
        axis.plot(spectrum.order[low], values, color="#0072B2", linewidth=1.0)
    axis.set_yscale("log")
    axis.yaxis.set_major_formatter(_PLAIN)
    axis.yaxis.set_minor_formatter(NullFormatter())
    axis.set_title(signature.name, fontsize=10)
    axis.margins(x=0)
