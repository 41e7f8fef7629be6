"""Plots draw what they are given; sheets pair the right curves; bytes repeat."""

import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.axes._base import _AxesBase
from matplotlib.figure import Figure
from matplotlib.text import Text

from vibhealth.model import Assessment, Element, Orbit, RecordingAnalysis, Stage
from vibhealth.report import (
    EnvelopeTrace,
    FamilyMark,
    FigureImage,
    LevelBar,
    Trace,
    analysis_images,
    assessment_figures,
    assessment_images,
    family_marks,
    plot_envelope_spectra,
    plot_levels,
    plot_orbit,
    plot_order_spectrum,
    plot_waveform,
)
from vibhealth.report import _sheets as sheets
from vibhealth.report._style import ELEMENT_COLOURS, ELEMENT_MARKERS, STAGE_LINES

MINIMUM_POINTS = 9.0
# A Rayleigh line lies below half its median with a chance of 1 - 2^(-1/4) = 0.16, the higher of
# two lines in a drawn column with 0.16² = 0.025; doubled for the scatter of 1500 columns.
SHARE_IN_VIEW = 0.95
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def axis() -> Axes:
    return Figure(figsize=(9.5, 4.5), layout="constrained").subplots()


def trace(stage: Stage) -> Trace:
    return Trace(stage=stage, label=stage.value, x=np.arange(3.0), y=np.array([1.0, 10.0, 2.0]))


def envelope_trace(analysis: RecordingAnalysis) -> EnvelopeTrace:
    stage = analysis.recording.stage
    return EnvelopeTrace(stage=stage, label=stage.value, curve=analysis.envelopes[0])


def test_spectrum_draws_the_data_unchanged_on_a_logarithmic_axis(axis: Axes) -> None:
    traces = [trace(Stage.AS_FOUND), trace(Stage.AS_LEFT)]
    assert plot_order_spectrum(axis, traces, unit="m/s2") is axis
    for line, given in zip(axis.lines, traces, strict=True):
        np.testing.assert_array_equal(line.get_xydata(), np.column_stack([given.x, given.y]))
    assert axis.get_yscale() == "log"
    assert axis.get_ylabel() == "Amplitude, m/s²"
    assert axis.get_xlabel() == "Order (multiples of 1x)"


def test_stages_and_elements_differ_in_more_than_colour() -> None:
    styles = [STAGE_LINES[stage]["linestyle"] for stage in Stage]
    assert len(set(styles)) == len(list(Stage))
    assert len(set(ELEMENT_MARKERS.values())) == len(set(ELEMENT_COLOURS.values())) == 4


def test_envelope_shows_depth_floor_and_a_lane_for_every_family(
    axis: Axes, spalled: RecordingAnalysis
) -> None:
    curve, marks = spalled.envelopes[0], family_marks(spalled)
    plot_envelope_spectra(axis, [envelope_trace(spalled)], marks, title="as found")
    np.testing.assert_array_equal(axis.lines[0].get_ydata(), curve.depth)
    np.testing.assert_array_equal(axis.lines[1].get_ydata(), curve.floor)
    (lanes,) = axis.child_axes
    labels = [label.get_text() for label in lanes.get_yticklabels()]
    assert labels == [
        "upper, outer ring: FOUND",
        "upper, inner ring: not found",
        "upper, rolling element: FOUND",
        "upper, cage: not found",
    ]
    markers = [line for line in lanes.lines if line.get_marker() in ELEMENT_MARKERS.values()]
    for line, mark in zip(markers, marks, strict=True):
        np.testing.assert_array_equal(line.get_xdata(), mark.orders)
        assert (line.get_markerfacecolor() == "white") is not mark.found


def test_side_bands_are_ticks_in_the_lane_of_their_family(
    axis: Axes, spalled: RecordingAnalysis
) -> None:
    mark = FamilyMark(
        label="upper, outer ring", element=Element.OUTER_RING, orders=(7.1,), found=True,
        side_bands=(6.1, 8.1),
    )  # fmt: skip
    plot_envelope_spectra(axis, [envelope_trace(spalled)], [mark], title="t")
    (ticks,) = [line for line in axis.child_axes[0].lines if line.get_marker() == "|"]
    np.testing.assert_array_equal(ticks.get_xdata(), [6.1, 8.1])


def test_waveform_levels_and_orbit(axis: Axes, assessment: Assessment) -> None:
    plot_waveform(axis, trace(Stage.AS_LEFT), unit="counts")
    assert axis.get_ylabel() == "Acceleration, counts"
    axis.clear()
    bars = [LevelBar(stage=Stage.AS_FOUND, value=1.9), LevelBar(stage=Stage.AS_LEFT, value=None)]
    plot_levels(axis, bars, title="rms", unit="m/s2")
    assert [patch.get_width() for patch in axis.patches] == [1.9, 0.0]  # type: ignore[attr-defined]
    assert [text.get_text() for text in axis.texts] == ["1.9 m/s²", "not measured"]
    assert axis.get_xlim()[0] == 0
    axis.clear()
    plot_orbit(axis, assessment.orbits)
    np.testing.assert_array_equal(axis.lines[0].get_xdata(), assessment.orbits[0].curve_x_mm)
    labels = axis.get_legend_handles_labels()[1]
    assert labels == [
        "as found (before), counter-clockwise",
        "as left (after), counter-clockwise",
    ]


def test_an_orbit_without_width_has_no_arrow(axis: Axes, assessment: Assessment) -> None:
    flat: Orbit = replace(assessment.orbits[0], direction="line")
    plot_orbit(axis, [flat])
    assert list(axis.texts) == []


def all_axes(figure: Figure) -> list[_AxesBase]:
    return [found for axes in figure.axes for found in (axes, *axes.child_axes)]


def ticks_out_of_view(figure: Figure) -> set[Text]:
    """Labels of ticks beyond the limits: they exist and are not drawn."""
    hidden = set()
    for axes in all_axes(figure):
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
                if not low <= tick.get_loc() <= high:
                    hidden |= {tick.label1, tick.label2}
    return hidden


def shown_texts(figure: Figure) -> list[Text]:
    hidden = ticks_out_of_view(figure)
    found: Any = figure.findobj(Text)
    return [text for text in found if text not in hidden and text.get_text() and text.get_visible()]


def figures_of(assessment: Assessment) -> list[Figure]:
    chosen = list(assessment.recordings[:2])
    drawn = [
        sheets.spectrum_sheet("P1X", chosen),
        sheets.envelope_sheet("P1X", chosen, family_marks, role="card"),
        sheets.envelope_sheet("P1X", chosen, family_marks, role="found"),
        sheets.levels_sheet("P1X", chosen),
        sheets.orbit_sheet("P1X and P1Y", assessment.orbits),
    ]
    return [sheet.figure for sheet in drawn if sheet is not None]


def test_letters_are_large_enough_and_do_not_overlap(assessment: Assessment) -> None:
    figures = figures_of(assessment)
    assert len(figures) == 5
    for figure in figures:
        figure.draw_without_rendering()
        texts = shown_texts(figure)
        assert min(float(text.get_fontsize()) for text in texts) >= MINIMUM_POINTS
        boxes = [(text.get_text(), text.get_window_extent()) for text in texts]
        for (one, first), (two, second) in combinations(boxes, 2):
            # One pixel of touching is no overlap of letters.
            overlap = first.padded(-1).overlaps(second.padded(-1))
            assert not overlap, f"{one!r} lies over {two!r}"
        for name, box in boxes:
            assert box.y1 <= figure.bbox.y1 + 1, f"{name!r} runs out of the figure"
            assert box.x1 <= figure.bbox.x1 + 1, f"{name!r} runs out of the figure"


def test_names_and_texts(images: tuple[FigureImage, ...]) -> None:
    names = [image.name for image in images]
    assert names[:5] == [
        "spectrum-P1X", "envelope-card-P1X", "envelope-found-P1X", "waveform-P1X", "levels-P1X",
    ]  # fmt: skip
    assert [name for name in names if name.startswith("levels")] == ["levels-P1X"]
    assert names[-2:] == ["spectrum-P2Y", "orbit-P1X-and-P1Y"]
    assert len(set(names)) == len(names)
    assert all(image.png.startswith(PNG_SIGNATURE) for image in images)
    for image in images[1:3]:
        assert "found upper, outer ring" in image.alt
        assert "as left (after): no family found" in image.alt
    assert "as-found/P1X.wav" in images[1].caption


def test_the_same_bytes_twice(passing: Assessment) -> None:
    first, second = (assessment_figures(passing, kinds=("png", "svg")) for _ in range(2))
    assert first == second
    svg = first["spectrum-P1X.svg"]
    assert svg.startswith(b"<?xml")
    assert b"<dc:date>" not in svg
    assert {name.rsplit(".", 1)[1] for name in first} == {"png", "svg"}


def test_the_recording_with_the_deepest_family_is_drawn(
    make_assessment: Callable[..., Assessment], assessment: Assessment, spalled: RecordingAnalysis
) -> None:
    clean = assessment.recordings[1]
    deep = replace(spalled, recording=replace(clean.recording, path="as-left/second.wav"))
    two = make_assessment(recordings=(clean, deep), orbits=())
    images = assessment_images(two)
    assert "as-left/second.wav (of 2 recordings the one with the deepest family)" in (
        images[0].caption
    )


def test_different_units_are_never_drawn_on_one_axis(
    assessment: Assessment, silent: RecordingAnalysis
) -> None:
    calibrated, uncalibrated = assessment.recordings[0], assessment.recordings[2]
    sheet = sheets.spectrum_sheet("P", [calibrated, uncalibrated, silent])
    assert sheet is not None
    labels = [(axis.get_ylabel(), axis.get_xlabel()[:5]) for axis in sheet.figure.axes]
    assert labels == [
        ("Amplitude, m/s²", "Order"), ("Amplitude, m/s²", "Order"),
        ("Amplitude, counts", "Order"), ("Amplitude, counts", "Order"),
        ("Amplitude, m/s²", "Frequ"),
    ]  # fmt: skip
    assert {len(axis.lines) for axis in sheet.figure.axes} == {1}


def test_before_and_after_share_their_depth_scale(assessment: Assessment) -> None:
    sheet = sheets.envelope_sheet("P", assessment.recordings[:2], family_marks, role="found")
    assert sheet is not None
    first, second = (axis for axis in sheet.figure.axes if axis.get_ylabel())
    assert first.get_ylim() == second.get_ylim()
    assert first.get_xlim() == second.get_xlim()


def test_before_and_after_stand_on_one_axis_in_the_band_of_the_card(
    assessment: Assessment,
) -> None:
    sheet = sheets.envelope_sheet("P", assessment.recordings[:2], family_marks, role="card")
    assert sheet is not None
    (panel,) = (axis for axis in sheet.figure.axes if axis.get_ylabel())
    labels = panel.get_legend_handles_labels()[1]
    assert labels == [
        "as found (before): P1X, as-found/P1X.wav",
        "as left (after): P1X, <script>alert(1)</script>.wav",  # the last two parts of the path
        "floor, as found (before)",
        "floor, as left (after)",
    ]
    styles = [line.get_linestyle() for line in panel.lines[:4]]
    assert len(set(styles)) > 1
    for line, item in zip(panel.lines[:2], assessment.recordings[:2], strict=True):
        shown = np.asarray(line.get_ydata())
        assert np.isin(shown, item.envelopes[1].depth).all()
    low, high = panel.get_ylim()
    for line in panel.lines[:4]:
        drawn = np.asarray(line.get_ydata())
        assert (low < drawn).mean() > SHARE_IN_VIEW
        assert drawn.max() < high
    assert low < min(np.asarray(line.get_ydata()).min() for line in panel.lines[2:4])
    (lanes,) = panel.child_axes
    assert [label.get_text() for label in lanes.get_yticklabels()] == [
        "upper, outer ring: FOUND before",
        "upper, inner ring: not found",
        "upper, rolling element: FOUND before",
        "upper, cage: not found",
    ]


def test_another_band_gets_an_axis_of_its_own(assessment: Assessment) -> None:
    before, after = assessment.recordings[:2]
    found, card = after.envelopes
    other = replace(after, envelopes=(found, replace(card, band=replace(card.band, high_hz=5e3))))
    sheet = sheets.envelope_sheet("P", [before, other], family_marks, role="card")
    assert sheet is not None
    assert len([axis for axis in sheet.figure.axes if axis.get_ylabel()]) == 2


def test_a_family_is_marked_where_it_was_found_last(
    assessment: Assessment, spalled: RecordingAnalysis
) -> None:
    moved = tuple(replace(f, order=1.01 * f.order) for f in spalled.families)
    left = replace(
        spalled, recording=replace(spalled.recording, stage=Stage.AS_LEFT), families=moved
    )
    marks = sheets._marks_together([(item, family_marks(item)) for item in (spalled, left)])
    assert [mark.status for mark in marks] == [
        "FOUND before, after", "", "FOUND before, after", "",
    ]  # fmt: skip
    assert [mark.orders[0] for mark in marks] == [m.orders[0] for m in family_marks(left)]
    clean = assessment.recordings[1]
    kept = sheets._marks_together([(item, family_marks(item)) for item in (left, clean)])
    assert kept[0].found
    assert kept[0].orders == family_marks(left)[0].orders


@pytest.mark.parametrize("size", [1, 1999, 2000, 2001, 4001, 10000])
def test_thinning_for_the_drawing_keeps_the_highest_line(size: int) -> None:
    y = np.random.default_rng(3).random(size)
    x = np.arange(size, dtype=np.float64)
    drawn_x, drawn_y = sheets._peaks(x, y)
    assert drawn_x.size <= 2000
    np.testing.assert_array_equal(y[drawn_x.astype(int)], drawn_y)
    assert drawn_y.max() == y.max()
    assert y[-1] <= drawn_y[-1] or size <= 2000
    wave_x, wave_y = sheets._extremes(x, y)
    assert (wave_y.min(), wave_y.max()) == (y.min(), y.max())
    assert (np.diff(wave_x) >= 0).all()


def test_levels_pair_by_name_though_their_bands_move_with_the_speed(
    assessment: Assessment,
) -> None:
    before, after = assessment.recordings[:2]
    moved = tuple(
        replace(d, band_hz=None if d.band_hz is None else (d.band_hz[0] + 1, d.band_hz[1]))
        for d in after.descriptors
    )
    sheet = sheets.levels_sheet("P", [before, replace(after, descriptors=moved)])
    assert sheet is not None
    titles = [axis.get_title(loc="left") for axis in sheet.figure.axes]
    assert titles == [
        "rms, whole recording",
        "rms in the bearing band",
        "median block rms in the bearing band",
        "velocity rms",
    ]
    values = [text.get_text() for text in sheet.figure.axes[1].texts]
    assert values == ["1.9 m/s²", "0.6 m/s²"]
    assert sheets.levels_sheet("P", [before]) is None


def test_lanes_keep_their_order_whatever_stands_out_most(spalled: RecordingAnalysis) -> None:
    turned = replace(spalled, families=spalled.families[::-1])
    assert family_marks(turned) == family_marks(spalled)
    assert [mark.element for mark in family_marks(turned)] == list(Element)


def test_nothing_to_draw_draws_nothing(silent: RecordingAnalysis) -> None:
    bare = replace(silent, spectra=())
    assert analysis_images(bare) == ()


def settings_now() -> dict[str, object]:
    """Every plotting setting but the backend: to ask for that one loads pyplot."""
    return {name: mpl.rcParams[name] for name in mpl.rcParams if name != "backend"}


def test_the_global_plotting_state_is_neither_loaded_nor_changed(passing: Assessment) -> None:
    before = settings_now()
    assessment_images(passing)
    assert settings_now() == before
    assert "matplotlib.pyplot" not in sys.modules
