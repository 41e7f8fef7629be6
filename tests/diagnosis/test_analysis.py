"""The chain for one recording: a fault in an exciter, a wandering speed, and what has no answer."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.analysis import analyze_recording, bearings_heard, largest_present
from vibhealth.model import (
    Calibration,
    CriterionResult,
    Element,
    Recording,
    RecordingAnalysis,
    SpectrumCurve,
)

Array = NDArray[np.float64]
Train = Callable[..., Array]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
N_TURNS = 300


def card(**changes: Any) -> MachineCard:
    """The invented deck feeder F3, with the bearing of the spall trains."""
    table: dict[str, Any] = {
        "schema_version": 1,
        "machine": {"id": "F3", "nominal_speed_rpm": 970.0},
        "exciter": {"stroke_mm": {"x": 6.0}},
        "bearing": [
            {
                "name": "upper",
                "element_count": 9,
                "element_diameter_mm": 7.94,
                "pitch_diameter_mm": 39.04,
                "load_case": "rotating",
            }
        ],
        "analysis": {"bearing_band_hz": [500.0, 1500.0]},
    }
    return MachineCard.model_validate(table | changes)


OUTER = defect_orders(card().rolling_bearings()[0]).outer_ring * 0.994


def recording(samples: Array, **changes: Any) -> Recording:
    known: dict[str, Any] = {
        "samples": samples,
        "sampling_rate_hz": RATE_HZ,
        "unit": "m/s2",
        "path": "as-left/P1X.wav",
        "sha256": "",
        "calibration": Calibration(scale_m_s2=1.0, source="file in m/s2"),
    }
    return Recording(**known | changes)


@pytest.fixture(scope="module")
def faulty(spall_train: Train) -> Array:
    """Strikes of 8 m/s^2 on the outer ring of an exciter that moves with 30 m/s^2."""
    return spall_train(OUTER, amplitude=8.0, swings=((1.0, 0.9),), motion=30.0)


@pytest.fixture(scope="module")
def analysis(faulty: Array) -> RecordingAnalysis:
    return analyze_recording(recording(faulty), card=card())


def test_the_spall_is_the_answer(analysis: RecordingAnalysis) -> None:
    found = largest_present(analysis.families)
    assert found is not None
    assert found.element is Element.OUTER_RING
    assert found.order == pytest.approx(OUTER, rel=1e-3)
    assert found.impact_m_s2 is not None
    assert analysis.families_not_judged == ""


def test_speed_and_motion_are_those_of_the_exciter(analysis: RecordingAnalysis) -> None:
    assert analysis.speed.source == "recording"
    assert analysis.speed.shaft_frequency_hz == pytest.approx(SHAFT_HZ, rel=2e-4)
    assert analysis.motion is not None
    assert analysis.motion.amplitude_1x == pytest.approx(30.0, rel=0.01)
    assert analysis.motion.unit == "m/s2"


def test_every_part_is_there(analysis: RecordingAnalysis) -> None:
    kinds = [curve.kind for curve in analysis.spectra]
    assert kinds == ["acceleration", "psd", "velocity", "displacement"]
    assert [curve.band.role for curve in analysis.envelopes] == ["found", "card"]
    assert {finding.element for finding in analysis.sensitivity} == set(Element)
    assert len(analysis.descriptors) > 3
    assert analysis.waveform.size in {2559, 2560}  # ten turns at the speed as found
    assert [f.id for f in analysis.quality].count("speed-found") == 1
    note = analysis.quality[-1]
    assert note.id == "speed-found"
    assert note.result is CriterionResult.PASS
    assert note.detail.startswith("Speed from the working motion (1x)")


def test_steps_are_told(faulty: Array) -> None:
    said: list[str] = []
    analyze_recording(recording(faulty[:40_000]), card=card(), progress=said.append)
    assert said == [
        "speed",
        "recording faults",
        "levels and motion",
        "bearing families",
        "disturbances",
        "spectra",
    ]


def at_wandering_speed(samples: Array, wander: float) -> Array:
    """The same shaft angles at a speed that swings once in 10 s: the strikes stay put in angle."""
    rate = 2 * np.pi / 10
    t = np.arange(samples.size - 2000) / RATE_HZ
    warped = t + wander / rate * (1 - np.cos(rate * t))
    return np.asarray(np.interp(warped * RATE_HZ, np.arange(samples.size), samples))


def test_a_wandering_speed_is_followed_before_lines_are_read(faulty: Array) -> None:
    """1 % up and down smears the third strike line of order 11 over 0.2 orders, 60 lines."""
    found = analyze_recording(recording(at_wandering_speed(faulty, 0.01)), card=card())
    assert found.speed.variation_percent == pytest.approx(2.0, abs=0.2)
    largest = largest_present(found.families)
    assert largest is not None
    assert largest.element is Element.OUTER_RING
    assert largest.order == pytest.approx(OUTER, rel=1e-3)


def test_a_speed_that_changes_too_much_is_not_read(faulty: Array) -> None:
    rate = 2 * np.pi / 10
    t = np.arange(faulty.size) / RATE_HZ
    turns = SHAFT_HZ * (t + 0.15 / rate * np.sin(rate * t))
    tachometer = 5.0 * (turns % 1 < 0.2)
    found = analyze_recording(recording(faulty, tachometer=tachometer), card=card())
    assert found.families == ()
    assert found.families_not_judged.startswith("the speed changes by 2")
    assert found.sensitivity == ()


def test_a_motion_that_cannot_be_followed_leaves_the_speed_unconfirmed(faulty: Array) -> None:
    found = analyze_recording(recording(at_wandering_speed(faulty, 0.2)), card=card())
    assert found.speed.source == "card"
    assert found.quality[-1].result is CriterionResult.NOT_JUDGED
    # Lines of an exciter whose speed nobody knows belong to nothing.
    assert found.families == ()
    assert found.sensitivity == ()
    assert found.families_not_judged.startswith(
        "the working motion shows no steady speed: the card"
    )


def test_an_ordinary_machine_is_read_at_the_cards_speed(spall_train: Train) -> None:
    """Without a working motion an unconfirmed speed is said to be one, and the search goes on."""
    slow = card(machine={"id": "P7", "nominal_speed_rpm": 960.0}, exciter=None)
    found = analyze_recording(recording(spall_train(OUTER, amplitude=8.0)), card=slow)
    assert found.speed.source == "card"
    assert found.quality[-1].result is CriterionResult.NOT_JUDGED
    largest = largest_present(found.families)
    assert largest is not None
    assert largest.element is Element.OUTER_RING


def test_a_given_speed_is_used(faulty: Array) -> None:
    short = faulty[:8192]
    found = analyze_recording(recording(short), card=card(), given_speed_rpm=960.0)
    assert found.speed.source == "given"
    own = analyze_recording(recording(short, shaft_speed_rpm=960.0), card=card())
    assert own.speed.source == "given"


def test_without_a_card_there_is_no_family(faulty: Array) -> None:
    found = analyze_recording(recording(faulty))
    assert found.families == ()
    assert found.families_not_judged == "no machine card: no bearing and no nominal speed"
    assert found.speed.source == "none"
    assert found.motion is None
    assert found.descriptors
    assert found.envelopes == ()
    note = found.quality[-1]
    assert note.result is CriterionResult.NOT_JUDGED
    assert "--speed-rpm" in note.advice


def test_without_calibration_nothing_absolute_is_said(faulty: Array) -> None:
    found = analyze_recording(recording(faulty, unit="counts", calibration=None), card=card())
    assert {finding.impact_m_s2 for finding in found.families} == {None}
    assert {finding.detectable_impact_m_s2 for finding in found.sensitivity} == {None}
    assert {curve.kind for curve in found.spectra} == {"acceleration", "psd"}
    assert largest_present(found.families) is not None


def test_a_constant_recording_is_silent() -> None:
    found = analyze_recording(recording(np.full(40_000, 0.5)), card=card())
    assert found.families_not_judged == "the recording is constant"
    assert found.speed.detail == "not found: the recording is constant"
    assert found.motion is None
    assert found.descriptors == ()
    assert found.spectra == ()
    constant = next(finding for finding in found.quality if finding.id == "constant")
    assert constant.result is not CriterionResult.PASS


def test_a_bearing_band_outside_the_recording_has_no_sensitivity(faulty: Array) -> None:
    high = card(analysis={"bearing_band_hz": [3000.0, 9000.0]})
    found = analyze_recording(recording(faulty), card=high)
    assert found.sensitivity == ()
    assert largest_present(found.families) is not None


def test_limits_decide_what_is_held(faulty: Array, analysis: RecordingAnalysis) -> None:
    deepest = largest_present(analysis.families)
    assert deepest is not None
    assert deepest.result is CriterionResult.HOLD
    looser = card(limits={"depth_hold": 5.0, "depth_present": 4.0})
    found = analyze_recording(recording(faulty), card=looser)
    outer = next(f for f in found.families if f.element is Element.OUTER_RING)
    assert outer.result is CriterionResult.WATCH
    assert largest_present(found.families) is None
    given = analyze_recording(recording(faulty), card=looser, limits=Limits.default())
    assert largest_present(given.families) is not None


def test_a_point_is_searched_for_the_bearings_it_hears(faulty: Array) -> None:
    shared = {"element_diameter_mm": 7.94, "pitch_diameter_mm": 39.04, "load_case": "rotating"}
    two = card(
        bearing=[
            {"name": "upper", "element_count": 9, **shared},
            {"name": "lower", "element_count": 11, **shared},
        ],
        sensor=[{"name": "A1", "sensitivity_mv_per_g": 10.0, "full_scale_v": 5.0}],
        point=[{"name": "P1X", "direction": "x", "sensor": "A1", "bearings": ["lower"]}],
    )

    def names(point: str | None) -> list[str]:
        found = recording(faulty[:8192], point=point)
        return [bearing.name for bearing in bearings_heard(two, found)]

    assert names("P1X") == ["lower"]
    assert names("P2X") == names(None) == ["upper", "lower"]
    found = analyze_recording(recording(faulty[:40_000], point="P1X"), card=two)
    assert {finding.bearing for finding in found.families} == {"lower"}
    assert {finding.bearing for finding in found.sensitivity} == {"lower"}


def test_recordings_are_repeatable(analysis: RecordingAnalysis, faulty: Array) -> None:
    again = analyze_recording(recording(faulty), card=card())
    assert again.families == analysis.families
    assert again.sensitivity == analysis.sensitivity
    curves: tuple[SpectrumCurve, ...] = again.spectra
    assert np.array_equal(curves[0].values, analysis.spectra[0].values)


def test_the_largest_present_is_the_deepest(analysis: RecordingAnalysis) -> None:
    first, second, *_ = analysis.families
    deep = replace(second, present=True, depth_whitened=9.0)
    assert largest_present((first, deep)) is deep
    assert largest_present((first, replace(deep, present=False))) is first
    assert largest_present(()) is None
