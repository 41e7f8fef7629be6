"""Starts and stops of machines that were solved independently."""

from dataclasses import replace

import numpy as np
import pytest

from tests.diagnosis.transient_machines import (
    RATE_HZ,
    Kind,
    Machine,
    card_of,
    make,
    random_machine,
    recording_of,
)
from vibhealth.diagnosis.transients import analyze_transients, run_segments, steady_part
from vibhealth.model import Transient, TransientAnalysis

# Bars set before measuring: swing 5 %, isolator 3 %, damping 25 %, time 0.2 s or 5 %.
SWING, ISOLATOR, DAMPING, TIME_S, TIME_SHARE = 0.05, 0.03, 0.25, 0.2, 0.05
SAME_STRIKE_S = 0.02

FAST = Machine(kind="run-up", ramp_s=1.2, isolator_hz=3.0, damping=0.05, shaft_hz=20.0)
SLOW = replace(FAST, ramp_s=6.0)
STOP = Machine(
    kind="coast-down",
    ramp_s=10.0,
    isolator_hz=3.0,
    damping=0.04,
    shaft_hz=20.0,
    lead_s=8.0,
    tail_s=10.0,
)


def analyzed(machine: Machine) -> TransientAnalysis:
    return analyze_transients(make(machine).recording, card=card_of(1.01 * machine.shaft_hz))


def only(analysis: TransientAnalysis) -> Transient:
    (transient,) = analysis.transients
    return transient


@pytest.mark.parametrize("machine", [FAST, SLOW, STOP])
def test_a_start_and_a_stop_are_read_within_the_bars(machine: Machine) -> None:
    made, found = make(machine), only(analyzed(machine))
    assert found.kind == machine.kind
    assert found.steady_frequency_hz == pytest.approx(machine.shaft_hz, rel=0.001)
    assert found.swing_ratio == pytest.approx(made.swing_ratio, rel=SWING)
    assert found.swing_mm == pytest.approx(1000 * np.abs(made.displacement).max(), rel=SWING)
    assert found.isolator_frequency_hz == pytest.approx(machine.isolator_hz, rel=ISOLATOR)
    assert found.damping_ratio == pytest.approx(machine.damping, rel=DAMPING)
    assert found.duration_s == pytest.approx(made.duration_s, rel=TIME_SHARE, abs=TIME_S)
    assert found.strikes == ()


@pytest.mark.parametrize("kind", ["run-up", "coast-down"])
def test_a_sample_of_machines(kind: Kind) -> None:
    """Most of a random dozen lie within the bars; a fit that fails says so and gives nothing.

    The first motion of a smooth start drowns in the noise of a poor sensor: times may lie 10 %
    off, and a quarter do lie outside their bar.
    """
    outside = dict.fromkeys(("swing", "isolator", "damping", "time"), 0)
    unread, missed, false = 0, 0, 0
    for seed in range(100, 112):
        machine = random_machine(seed, kind)
        made, found = make(machine), only(analyzed(machine))
        assert found.swing_ratio is not None
        assert found.duration_s is not None
        outside["swing"] += abs(found.swing_ratio / made.swing_ratio - 1) > SWING
        bar_s = max(TIME_S, TIME_SHARE * made.duration_s)
        outside["time"] += abs(found.duration_s - made.duration_s) > bar_s
        if found.isolator_frequency_hz is None or found.damping_ratio is None:
            assert found.fit_detail.startswith("not judged")
            unread += 1
        else:
            outside["isolator"] += (
                abs(found.isolator_frequency_hz / machine.isolator_hz - 1) > ISOLATOR
            )
            outside["damping"] += abs(found.damping_ratio / machine.damping - 1) > DAMPING
        times = np.array([strike.time_s for strike in found.strikes or ()])
        away = np.abs(times[:, np.newaxis] - np.array(machine.strikes_s))
        missed += len(machine.strikes_s) - int((away < SAME_STRIKE_S).any(axis=0).sum())
        false += int((away >= SAME_STRIKE_S).all(axis=1).sum())
    assert outside["time"] <= (5 if kind == "run-up" else 0)
    assert max(outside["swing"], outside["isolator"], outside["damping"]) <= 2
    assert unread <= 4
    assert missed <= 1
    assert false == 0


def test_the_course_follows_the_shaft() -> None:
    """Far above the resonance within 3 % of the speed; below it it is carried on to rest."""
    made, found = make(SLOW), only(analyzed(SLOW))
    true_hz = np.interp(found.course_time_s, made.time_s, made.shaft_hz)
    above = true_hz > 3 * SLOW.isolator_hz
    assert np.abs(found.course_shaft_frequency_hz / np.maximum(true_hz, 1) - 1)[above].max() < 0.03
    assert np.abs(found.course_shaft_frequency_hz - true_hz).max() < 0.1 * SLOW.shaft_hz
    assert np.diff(found.course_shaft_frequency_hz).min() >= 0


@pytest.mark.parametrize("machine", [SLOW, STOP])
def test_a_tachometer_gives_the_course_down_to_rest(machine: Machine) -> None:
    """Between two pulses the speed is known as their mean: half a turn late or early at rest."""
    made = make(machine)
    turns = np.cumsum(made.shaft_hz) / RATE_HZ
    recording = replace(
        made.recording,
        tachometer=4.0 * (2 * turns % 1.0 < 0.1) + 0.1 * made.recording.samples / 40,
        tachometer_pulses_per_turn=2.0,
    )
    found = only(analyze_transients(recording, card=card_of(machine.shaft_hz)))
    true_hz = np.interp(found.course_time_s, made.time_s, made.shaft_hz)
    assert np.abs(found.course_shaft_frequency_hz - true_hz).max() < 0.06 * machine.shaft_hz
    fast = true_hz > machine.isolator_hz
    assert np.abs(found.course_shaft_frequency_hz / np.maximum(true_hz, 1) - 1)[fast].max() < 0.02


def test_a_dead_tachometer_is_passed_over() -> None:
    recording = make(SLOW).recording
    dead = replace(recording, tachometer=np.zeros(recording.samples.size))
    one = only(analyze_transients(recording, card=card_of(SLOW.shaft_hz)))
    other = only(analyze_transients(dead, card=card_of(SLOW.shaft_hz)))
    assert np.array_equal(one.course_shaft_frequency_hz, other.course_shaft_frequency_hz)


def test_uncalibrated_gives_ratios_only() -> None:
    recording = replace(make(FAST).recording, unit="counts")
    found = only(analyze_transients(recording, card=card_of(1.01 * FAST.shaft_hz)))
    assert found.swing_mm is None
    assert found.swing_ratio == only(analyzed(FAST)).swing_ratio


@pytest.mark.parametrize("factor", [0.01, 7.0])
def test_ratios_do_not_depend_on_the_unit(factor: float) -> None:
    recording = make(SLOW).recording
    scaled = replace(recording, samples=factor * recording.samples)
    one = only(analyze_transients(recording, card=card_of(20.0)))
    other = only(analyze_transients(scaled, card=card_of(20.0)))
    assert other.swing_ratio == pytest.approx(one.swing_ratio, rel=1e-6)
    assert other.isolator_frequency_hz == pytest.approx(one.isolator_frequency_hz, rel=1e-4)
    assert other.duration_s == pytest.approx(one.duration_s, rel=1e-6)


def test_a_sensor_that_does_not_reach_down_is_not_judged() -> None:
    recording = replace(make(FAST).recording, sensor_usable_hz=(3.0, 10_000.0))
    found = only(analyze_transients(recording, card=card_of(FAST.shaft_hz)))
    assert found.swing_ratio is None
    assert found.isolator_frequency_hz is None
    assert "begins at 3 Hz, above 1 Hz" in found.detail
    assert found.duration_s is not None


def test_a_recording_that_begins_in_the_start_has_no_time_to_speed() -> None:
    made = make(SLOW)
    cut = replace(made.recording, samples=made.recording.samples[round(6.0 * RATE_HZ) :])
    found = only(analyze_transients(cut, card=card_of(SLOW.shaft_hz)))
    assert found.duration_s is None
    assert "begins when the machine is already starting" in found.detail


def test_a_recording_that_ends_in_the_stop_has_no_coasting_time() -> None:
    made = make(STOP)
    cut = replace(made.recording, samples=made.recording.samples[: round(14.0 * RATE_HZ)])
    found = only(analyze_transients(cut, card=card_of(STOP.shaft_hz)))
    assert found.duration_s is None
    assert "ends before the body stands still" in found.detail


def test_strikes_near_the_resonance_are_found_once_each() -> None:
    times = (5.0, 16.0, 16.33, 16.67)
    found = only(analyzed(replace(STOP, strikes_s=times)))
    assert [strike.time_s for strike in found.strikes or ()] == pytest.approx(times[1:], abs=0.01)
    speeds = [strike.shaft_frequency_hz for strike in found.strikes or ()]
    assert speeds == pytest.approx([4.0, 3.34, 2.66], abs=1.0)
    assert found.steady_strikes_per_turn == pytest.approx(1 / (8 * STOP.shaft_hz), rel=0.05)


def test_strikes_that_go_on_at_speed_are_no_strikes_of_the_start() -> None:
    """As hard and as often at speed: the rate is told, and nothing is blamed on the start."""
    times = tuple(3.5 + 0.15 * n for n in range(57))
    found = only(analyzed(replace(FAST, strikes_s=times, strike_m_s2=20.0)))
    assert found.strikes == ()
    assert found.steady_strikes_per_turn == pytest.approx(1 / (0.15 * FAST.shaft_hz), rel=0.1)


def test_a_low_sampling_rate_looks_for_no_strikes() -> None:
    recording = make(FAST).recording
    slow = recording_of(recording.samples[::5], RATE_HZ / 5)
    found = only(analyze_transients(slow, card=card_of(FAST.shaft_hz)))
    assert found.strikes is None
    assert "too low to look for strikes" in found.detail


def test_steady_running_has_no_transient() -> None:
    made = make(FAST)
    cut = replace(made.recording, samples=made.recording.samples[round(6.0 * RATE_HZ) :])
    found = analyze_transients(cut, card=card_of(FAST.shaft_hz))
    assert found.transients == ()
    assert found.map is None
    assert "neither a start nor a stop" in found.not_judged


def test_steady_part_leaves_the_free_swing_out() -> None:
    made = make(replace(SLOW, tail_s=20.0))
    segments = run_segments(made.recording, nominal_hz=20.0, tolerance_percent=3.0)
    assert [segment.kind for segment in segments] == ["standstill", "run-up", "steady"]
    part = steady_part(made.recording, segments)
    assert part is not None
    assert part.duration_s == pytest.approx(15.0, abs=0.3)
    assert part.sha256 == made.recording.sha256
    assert np.array_equal(part.samples, made.recording.samples[-part.samples.size :])
