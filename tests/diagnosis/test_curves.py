"""Curves for figures: exact lines, declared units, single samples where samples are shown."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.curves import (
    LARGEST_EXCERPT,
    envelope_curves,
    spectrum_curves,
    waveform_excerpt,
)
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.model import (
    BearingGeometry,
    LoadCase,
    Recording,
    RollingBearing,
    SpectrumCurve,
)

Array = NDArray[np.float64]

RATE_HZ = 2048.0
SHAFT_HZ = 16.0
AMPLITUDE = 5.0

# The line lies on the grid of 64 turns: what is left is the leak of the other line's window.
LINE_TOLERANCE = 1e-4


def recording(samples: Array, **changes: Any) -> Recording:
    known: dict[str, Any] = {
        "samples": samples,
        "sampling_rate_hz": RATE_HZ,
        "unit": "m/s2",
        "path": "P1X.wav",
        "sha256": "",
    }
    return Recording(**known | changes)


def tone(seconds: float = 16.0) -> Array:
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(AMPLITUDE * np.cos(2 * np.pi * SHAFT_HZ * t) + 3.0)


def by_kind(item: Recording, shaft_hz: float | None) -> dict[str, SpectrumCurve]:
    return {curve.kind: curve for curve in spectrum_curves(item, shaft_hz)}


def test_a_tone_has_its_amplitude_in_every_unit() -> None:
    curves = by_kind(recording(tone()), SHAFT_HZ)
    omega = 2 * np.pi * SHAFT_HZ
    for kind, unit, value in (
        ("acceleration", "m/s2", AMPLITUDE),
        ("velocity", "m/s", AMPLITUDE / omega),
        ("displacement", "m", AMPLITUDE / omega**2),
    ):
        curve = curves[kind]
        assert curve.unit == unit
        assert curve.order is not None
        at = int(np.argmax(curve.values))
        assert curve.order[at] == pytest.approx(1.0)
        assert curve.frequency_hz[at] == pytest.approx(SHAFT_HZ)
        assert curve.values[at] == pytest.approx(value, rel=LINE_TOLERANCE)
        assert curve.line_spacing_hz == pytest.approx(SHAFT_HZ / 64)
        assert curve.n_averages >= 7


def test_density_integrates_to_the_mean_square() -> None:
    psd = by_kind(recording(tone()), SHAFT_HZ)["psd"]
    assert psd.unit == "(m/s2)^2/Hz"
    assert np.sum(psd.values) * psd.line_spacing_hz == pytest.approx(AMPLITUDE**2 / 2, rel=1e-3)


def test_without_calibration_nothing_is_integrated() -> None:
    curves = by_kind(recording(tone(), unit="counts"), SHAFT_HZ)
    assert set(curves) == {"acceleration", "psd"}
    assert curves["acceleration"].unit == "counts"
    assert curves["psd"].unit == "(counts)^2/Hz"


def test_without_a_speed_there_are_no_orders() -> None:
    curves = by_kind(recording(tone()), None)
    assert all(curve.order is None for curve in curves.values())
    assert curves["psd"].line_spacing_hz == pytest.approx(1 / 4.0)


def test_a_recording_shorter_than_a_segment_is_one_segment() -> None:
    curve = by_kind(recording(tone(1.0)), SHAFT_HZ)["acceleration"]
    assert curve.line_spacing_hz == pytest.approx(1.0)
    assert curve.n_averages == 1


def test_excerpt_is_ten_turns_of_the_middle_as_recorded() -> None:
    samples = np.arange(16_384.0)
    time_s, values = waveform_excerpt(recording(samples), SHAFT_HZ)
    assert values.size == 10 * 128
    assert np.array_equal(values, time_s * RATE_HZ)
    assert values[0] == (16_384 - 1280) // 2


def test_excerpt_without_a_speed_is_half_a_second() -> None:
    _, values = waveform_excerpt(recording(np.arange(16_384.0)), None)
    assert values.size == 1024


def test_excerpt_is_never_longer_than_a_picture_or_the_recording() -> None:
    _, slow = waveform_excerpt(recording(np.zeros(50_000)), 1.0)
    assert slow.size == LARGEST_EXCERPT
    _, short = waveform_excerpt(recording(np.zeros(100)), 1.0)
    assert short.size == 100


@pytest.fixture(scope="module")
def report() -> FamilyReport:
    """Outer-ring search in noise whose power swings at 3.585 orders."""
    turns = np.arange(128 * 300) / 128
    swing = 1 + 0.5 * np.cos(2 * np.pi * 3.585 * turns) + 0.4 * np.cos(4 * np.pi * 3.585 * turns)
    noise = np.random.default_rng(1).standard_normal(turns.size)
    bearing = RollingBearing(
        name="upper",
        geometry=BearingGeometry(
            element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04
        ),
        element_count=9,
        load_case=LoadCase.STATIONARY,
    )
    return find_families(
        noise * np.sqrt(np.maximum(swing, 0)),
        RATE_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[bearing],
        slip_percent=1.5,
        limits=FamilyLimits(
            depth_watch=0.15, depth_present=0.28, depth_hold=0.3, false_alarm_probability=0.001
        ),
        is_calibrated=True,
    )


def test_envelope_curves_show_the_strongest_family_and_the_cards_band(
    report: FamilyReport,
) -> None:
    found, card = envelope_curves(report, (300.0, 800.0), RATE_HZ, SHAFT_HZ)
    assert (found.band.role, card.band.role) == ("found", "card")
    assert found.band.whitened
    assert not card.band.whitened
    assert (card.band.low_hz, card.band.high_hz) == (300.0, 800.0)
    # 0.5 of the mean power; the line falls between two, so up to a third is lost (sinc 1/2).
    near = np.abs(card.order - 3.585) < 0.01
    assert 0.3 < card.depth[near].max() < 0.55
    strongest = max(report.found, key=lambda family: family.evidence)
    assert np.array_equal(found.depth, np.sqrt(strongest.envelope.depth_power))
    assert np.median(card.depth**2 / card.floor**2) == pytest.approx(np.log(2), rel=0.1)


def test_the_cards_band_ends_below_nyquist_or_is_left_out(report: FamilyReport) -> None:
    curves = envelope_curves(report, (300.0, 9000.0), RATE_HZ, SHAFT_HZ)
    assert curves[1].band.high_hz == pytest.approx(0.49 * RATE_HZ)
    assert len(envelope_curves(report, (1010.0, 9000.0), RATE_HZ, SHAFT_HZ)) == 1


def test_nothing_searched_is_nothing_drawn(report: FamilyReport) -> None:
    empty = FamilyReport(
        findings=(),
        found=(),
        recorded=report.recorded,
        whitened=(),
        envelopes=(),
        highest_order=0.0,
        not_judged="no card",
    )
    assert envelope_curves(empty, (300.0, 800.0), RATE_HZ, SHAFT_HZ) == ()
