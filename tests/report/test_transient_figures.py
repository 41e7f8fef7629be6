"""The figure of a start or stop says what was found, in words and units."""

import sys
from dataclasses import replace

import numpy as np
import pytest

from tests.diagnosis.transient_machines import Machine, card_of, make
from vibhealth.diagnosis.transients import analyze_transients
from vibhealth.model import TransientAnalysis
from vibhealth.report.transient_figures import transient_figure, transient_image

MINIMUM_POINTS = 9.0
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
START = Machine(
    kind="run-up",
    ramp_s=3.0,
    isolator_hz=3.0,
    damping=0.05,
    shaft_hz=20.0,
    strikes_s=(3.6, 3.9),
)


@pytest.fixture(scope="module")
def analysis() -> TransientAnalysis:
    recording = replace(make(START).recording, point="bearing <x>")
    return analyze_transients(recording, card=card_of(20.0))


def texts(analysis: TransientAnalysis) -> list[str]:
    figure = transient_figure(analysis)
    found = []
    for axis in figure.axes:
        found += [text.get_text() for text in axis.texts]
        found += [axis.get_xlabel(), axis.get_ylabel(), axis.get_title(loc="left")]
    return found


def test_axes_have_units_and_segments_have_names(analysis: TransientAnalysis) -> None:
    found = texts(analysis)
    for wanted in ("Shaft speed, r/min", "Displacement, mm", "Order (multiples of 1x)", "Time, s"):
        assert wanted in found
    assert {"standstill", "run-up", "steady"} <= set(found)


def test_swing_and_hits_are_marked_where_they_are(analysis: TransientAnalysis) -> None:
    transient = analysis.transients[0]
    middle = transient_figure(analysis).axes[1]
    triangles = next(line for line in middle.lines if line.get_marker() == "^")
    assert np.asarray(triangles.get_xdata()).tolist() == [
        strike.time_s for strike in transient.strikes or ()
    ]
    assert len(transient.strikes or ()) == 2
    ring = next(line for line in middle.lines if line.get_marker() == "o")
    assert np.abs(ring.get_ydata()) == pytest.approx(transient.swing_mm)
    assert any(f"({transient.swing_mm:.3g} mm)" in text for text in texts(analysis))


def test_without_calibration_displacement_is_in_swings_at_speed(
    analysis: TransientAnalysis,
) -> None:
    recording = replace(analysis.recording, unit="counts")
    found = texts(analyze_transients(recording, card=card_of(20.0)))
    assert "Displacement, times that at speed" in found
    assert not any("mm" in text for text in found)


def test_all_text_can_be_read(analysis: TransientAnalysis) -> None:
    figure = transient_figure(analysis)
    sizes = [float(text.get_fontsize()) for axis in figure.axes for text in axis.texts]
    assert min(sizes) >= MINIMUM_POINTS
    assert "matplotlib.pyplot" not in sys.modules


def test_the_image_repeats_and_tells_what_it_shows(analysis: TransientAnalysis) -> None:
    image = transient_image(analysis)
    assert image.png.startswith(PNG_SIGNATURE)
    assert image == transient_image(analysis)
    assert image.name == "transient-bearing--x--start"
    assert image.title == "Start, bearing <x>"
    assert "2 hits" in image.alt
    assert "largest swing" in image.alt


def test_nothing_to_draw_is_said() -> None:
    recording = make(START).recording
    steady = replace(recording, samples=recording.samples[-25_600:])
    analysis = analyze_transients(steady, card=card_of(20.0))
    assert any("neither a start nor a stop" in text for text in texts(analysis))
    assert transient_image(analysis).alt.startswith("Start or stop, channel 1: the recording shows")
