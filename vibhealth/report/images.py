"""Which curves of which recordings stand together, and the finished figures of a report."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, product

import numpy as np

from vibhealth.bearing import side_bands
from vibhealth.model import Assessment, Element, RecordingAnalysis, RollingBearing, Stage
from vibhealth.report._sheets import (
    MarksOf,
    Sheet,
    envelope_sheet,
    levels_sheet,
    orbit_sheet,
    spectrum_sheet,
    waveform_sheet,
)
from vibhealth.report._style import STAGE_LABELS, figure_bytes
from vibhealth.report._wording import clean
from vibhealth.report.figures import FamilyMark

__all__ = [
    "FigureImage",
    "MarksOf",
    "analysis_images",
    "assessment_figures",
    "assessment_images",
    "family_marks",
    "marks_with_side_bands",
]

HARMONICS = (1, 2, 3)
_STAGES = (Stage.AS_FOUND, Stage.AS_LEFT, Stage.UNSTATED)


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureImage:
    """A finished figure: file stem, title, caption, text for those who cannot see it, PNG."""

    name: str
    title: str
    caption: str
    alt: str
    png: bytes


def family_marks(analysis: RecordingAnalysis) -> tuple[FamilyMark, ...]:
    """Return the families of one recording as marks: first three centre lines as found.

    Parameters
    ----------
    analysis : RecordingAnalysis
        With its families; their side bands are not known here.

    Returns
    -------
    tuple of FamilyMark
        By bearing, then outer ring, inner ring, rolling element, cage: the same
        lanes before and after, whatever was found.
    """
    bearings = dict.fromkeys(item.bearing for item in analysis.families)
    pairs = product(sorted(bearings), Element)
    lanes = {pair: lane for lane, pair in enumerate(pairs)}
    return tuple(
        FamilyMark(
            label=f"{item.bearing}, {item.element.words}",
            element=item.element,
            orders=tuple(n * item.order for n in HARMONICS),
            found=item.present,
        )
        for item in sorted(analysis.families, key=lambda item: lanes[item.bearing, item.element])
    )


def marks_with_side_bands(bearings: Sequence[RollingBearing]) -> MarksOf:
    """Return a marker that adds the strong side bands of the bearings' load cases.

    Parameters
    ----------
    bearings : sequence of RollingBearing
        Of the machine card.

    Returns
    -------
    callable
        To be given as ``marks_of``: `family_marks` with, for present families, two
        side bands on each side of every centre line.
    """
    spacings = {
        (bearing.name, element): [
            band.spacing_order
            for band in side_bands(bearing, element)
            if band.strength == "strong" and element is not Element.CAGE
        ]
        for bearing in bearings
        for element in Element
    }

    def marks_of(analysis: RecordingAnalysis) -> tuple[FamilyMark, ...]:
        return tuple(
            replace(mark, side_bands=_side_band_orders(mark, spacings)) if mark.found else mark
            for mark in family_marks(analysis)
        )

    return marks_of


def _side_band_orders(
    mark: FamilyMark, spacings: Mapping[tuple[str, Element], list[float]]
) -> tuple[float, ...]:
    bearing = mark.label.rsplit(", ", 1)[0]
    return tuple(
        centre + number * spacing
        for centre in mark.orders
        for spacing in spacings.get((bearing, mark.element), [])
        for number in (-2, -1, 1, 2)
        if centre + number * spacing > 0
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
        Per point: order spectrum, envelope spectra, waveform, levels where there are two
        stages to compare; then orbits.
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
        Order spectrum, envelope spectra, waveform.
    """
    return tuple(_image(sheet) for sheet in _point_sheets(_point(analysis), [analysis], marks_of))


def _image(sheet: Sheet) -> FigureImage:
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


def _assessment_sheets(assessment: Assessment, marks_of: MarksOf) -> Iterator[Sheet]:
    for point in dict.fromkeys(map(_point, assessment.recordings)):
        yield from _point_sheets(
            point, [item for item in assessment.recordings if _point(item) == point], marks_of
        )
    planes = groupby(sorted(assessment.orbits, key=lambda o: o.points), key=lambda o: o.points)
    for points, orbits in planes:
        yield orbit_sheet(" and ".join(map(clean, points)), list(orbits))


def _point_sheets(
    point: str, analyses: Sequence[RecordingAnalysis], marks_of: MarksOf
) -> Iterator[Sheet]:
    chosen = _chosen(analyses)
    files = "; ".join(
        f"{STAGE_LABELS[item.recording.stage]}: {_file_words(item, analyses)}" for item in chosen
    )
    for sheet in (
        spectrum_sheet(point, chosen),
        envelope_sheet(point, chosen, marks_of, role="card"),
        envelope_sheet(point, chosen, marks_of, role="found"),
        waveform_sheet(point, chosen),
        levels_sheet(point, chosen),
    ):
        if sheet is not None:
            yield Sheet(
                name=sheet.name,
                title=sheet.title,
                caption=f"{sheet.caption} Recordings: {files}.",
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
