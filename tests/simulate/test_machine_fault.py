"""Single effects of a mistake on a quiet machine, against what they are defined to be."""

import re
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.simulate import MachineFault, SimulatedRecording, SimulationSettings, simulate

RATE_HZ = 12_800.0
ENDS = 200  # samples


@pytest.fixture
def card(make_card: Any) -> MachineCard:
    point = {"sensor": "A1"}
    made: MachineCard = make_card(
        point=[
            {"name": "P1X", "direction": "x", "channel": 1, **point},
            {"name": "P1Y", "direction": "y", "channel": 2, **point},
            {"name": "P3Z", "direction": "z", "channel": 3, "mounted_on": "motor", **point},
            {"name": "P4", "direction": "z", "channel": 4, "mounted_on": "base", **point},
        ]
    )
    return made


def run(
    card: MachineCard, quiet: dict[str, Any], fault: MachineFault | None = None, **more: Any
) -> SimulatedRecording:
    values = {**quiet, "duration_s": 5.0, "speed_rpm": 1200.0, **more}
    settings = SimulationSettings(
        sampling_rate_hz=RATE_HZ,
        resonances=SimulationSettings().resonances[:2],
        fault=fault or MachineFault(),
        **values,
    )
    return simulate(card, settings=settings)


def phasor(made: SimulatedRecording, number: float = 1.0) -> NDArray[np.complex128]:
    """Amplitude per point at an order; 5 s hold 100 whole turns."""
    wave = np.exp(-2j * np.pi * number * made.truth.shaft_turns)
    return np.asarray(2 * np.mean(made.samples * wave, axis=1))


def test_an_orbit_is_turned_as_a_plane_is(card: MachineCard, quiet: dict[str, Any]) -> None:
    straight = phasor(run(card, quiet))
    turned = phasor(run(card, quiet, MachineFault(orbit_turn_deg=30.0)))
    cos, sin = np.cos(np.pi / 6), np.sin(np.pi / 6)
    assert turned[0] == pytest.approx(cos * straight[0] - sin * straight[1])
    assert turned[1] == pytest.approx(sin * straight[0] + cos * straight[1])


def test_reversal_mirrors_y_alone(card: MachineCard, quiet: dict[str, Any]) -> None:
    usual, other = (
        phasor(run(card, quiet)),
        phasor(run(card, quiet, MachineFault(is_reversed=True))),
    )
    np.testing.assert_allclose(other, usual * [1, -1, 1, 1], atol=1e-9)


def test_factors_are_factors(card: MachineCard, quiet: dict[str, Any]) -> None:
    fault = MachineFault(stroke_factor={"x": 0.5}, base_gain=6.0, motor_gain=3.0)
    ratio = phasor(run(card, quiet, fault)) / phasor(run(card, quiet))
    np.testing.assert_allclose(ratio, [0.5, 1.0, 3.0, 6.0], rtol=1e-9)


def test_base_and_motor_move_little(card: MachineCard, quiet: dict[str, Any]) -> None:
    share = np.abs(phasor(run(card, quiet)))
    share /= share[0]
    assert share[2] == pytest.approx(0.02)
    assert share[3] == pytest.approx(0.015)


def test_harmonics_grow_where_they_are_asked_to(card: MachineCard, quiet: dict[str, Any]) -> None:
    quiet["harmonic_ratios"] = (0.05, 0.02)
    fault = MachineFault(harmonic_gain=2.0, second_order_gain=3.0, axial_second_order_gain=4.0)
    made = run(card, quiet, fault)
    second = np.abs(phasor(made, 2) / phasor(made))
    third = np.abs(phasor(made, 3) / phasor(made))
    np.testing.assert_allclose(second, [0.3, 0.3, 0.4, 0.1], rtol=1e-6)
    np.testing.assert_allclose(third, [0.04, 0.04, 0.08, 0.04], rtol=1e-6)


def test_a_beat_swings_the_motion(card: MachineCard, quiet: dict[str, Any]) -> None:
    made = run(card, quiet, MachineFault(beat_depth=0.2, beat_hz=1.0))
    carrier = abs(phasor(made)[0])
    time_s = np.arange(made.samples.shape[1]) / RATE_HZ
    turns = made.truth.shaft_turns
    for sign in (1, -1):
        wave = np.exp(-2j * np.pi * (turns + sign * time_s))
        assert abs(2 * np.mean(made.samples[0] * wave)) == pytest.approx(0.1 * carrier, rel=1e-6)


def test_wobble_rocks_at_the_isolator_frequency(card: MachineCard, quiet: dict[str, Any]) -> None:
    fault = MachineFault(wobble=0.1, isolator_factor=0.8)
    made = run(card, quiet, fault, duration_s=60.0, isolator_frequency_hz=3.0)
    rest = made.samples[0] - run(card, quiet, duration_s=60.0).samples[0]
    lines = np.abs(np.fft.rfft(rest)) ** 2
    frequency_hz = np.fft.rfftfreq(rest.size, 1 / RATE_HZ)
    centre_hz = np.sum(lines * frequency_hz) / np.sum(lines)
    assert centre_hz == pytest.approx(2.4, rel=0.08)  # the half-power width is 10 %
    rms_mm = 1e3 * np.std(rest) / (2 * np.pi * 2.4) ** 2
    assert rms_mm == pytest.approx(0.1 * 2.5, rel=0.1)


def test_hits_come_as_often_as_asked(card: MachineCard, quiet: dict[str, Any]) -> None:
    clean = run(card, quiet).samples[0]
    for per_turn in (1, 2):
        made = run(card, quiet, MachineFault(hits_per_turn=per_turn, hit_m_s2=30.0))
        rest = np.abs(made.samples[0] - clean)
        loud = rest > 5.0
        starts = np.flatnonzero(loud[1:] & ~loud[:-1])
        apart = np.sum(np.diff(starts) > 0.2 * RATE_HZ / 20) + 1
        assert abs(apart - 100 * per_turn) <= 1


def test_grit_comes_at_its_rate_and_never_regularly(
    card: MachineCard, quiet: dict[str, Any]
) -> None:
    fault = MachineFault(grit_per_second=8.0, grit_m_s2=5.0)
    rest = run(card, quiet, fault, duration_s=20.0).samples
    rest = np.abs(rest - run(card, quiet, duration_s=20.0).samples)
    loud = rest[0] > 0.7
    starts = np.flatnonzero(loud[1:] & ~loud[:-1])
    strikes = starts[np.diff(starts, prepend=-RATE_HZ) > 0.01 * RATE_HZ]
    assert 160 - 4 * np.sqrt(160) < strikes.size < 160 + 4 * np.sqrt(160)
    gaps = np.diff(strikes)
    assert 0.7 < np.std(gaps) / np.mean(gaps) < 1.3  # 1 for a Poisson process
    assert np.max(rest[3]) < 0.1 * np.max(rest[0])  # the base hears little


def test_a_rub_scrapes_for_its_part_of_the_turn(card: MachineCard, quiet: dict[str, Any]) -> None:
    fault = MachineFault(rub_m_s2_rms=2.0, rub_share_of_turn=0.25)
    made = run(card, quiet, fault)
    rest = made.samples[0] - run(card, quiet).samples[0]
    assert np.mean(rest != 0) == pytest.approx(0.25, abs=0.01)
    assert np.max(np.abs(rest)) > 4.0
    # edges fade over 0.15 at either end: mean square of the window 1 - 4/3 * 0.15
    assert np.std(rest[rest != 0]) == pytest.approx(2.0 * np.sqrt(0.8), rel=0.05)


def test_a_stop_cuts_x_and_spares_y(card: MachineCard, quiet: dict[str, Any]) -> None:
    fault = MachineFault(stop_gap=0.5, stop_softness=0.2, stop_m_s2=0.0)
    usual, made = phasor(run(card, quiet)), run(card, quiet, fault)
    cut = phasor(made)
    assert abs(cut[0]) < 0.9 * abs(usual[0])
    assert abs(phasor(made, 2)[0]) > 0.2 * abs(usual[0])
    assert cut[1] == pytest.approx(usual[1])
    knocking = run(card, quiet, MachineFault(stop_gap=0.5, stop_softness=0.2, stop_m_s2=30.0))
    knocks = np.max(np.abs(knocking.samples - made.samples), axis=1)
    assert 10.0 < knocks[0] < 40.0
    assert knocks[3] < 0.1 * knocks[0]


def test_a_distorted_ring_shows_in_the_envelope(
    card: MachineCard, quiet: dict[str, Any], envelope_depth: Any
) -> None:
    more = {"oil_noise_g_rms": 0.05, "passage_modulation": 0.0, "duration_s": 20.0}
    made = run(card, quiet, MachineFault(ring_distortion=0.3), **more)
    depth = envelope_depth(made.samples[0], RATE_HZ, (2000.0, 5500.0))
    passing = made.truth.bearings[0].orders.outer_ring

    def line(order: float) -> float:
        at = round(order * 20.0 * 20.0)
        return float(np.max(depth[at - 1 : at + 2]))

    # noise of modulation m (1 + cos 2x) / 2 cos z: squared, m at z and m / 2 at z +- 2
    assert line(passing) == pytest.approx(0.3, rel=0.25)
    assert line(passing + 2) == pytest.approx(0.15, rel=0.35)
    assert line(passing + 1) < 0.3 * line(passing)


@pytest.mark.parametrize(
    ("strokes", "tilt"), [((5.0, 4.0), 20.0), ((4.0, 5.0), 60.0), ((5.0, 4.0), -10.0)]
)
@pytest.mark.parametrize("sense", ["clockwise", "counter-clockwise"])
def test_the_orbit_of_a_card_is_tilted(
    make_card: Any,
    quiet: dict[str, Any],
    strokes: tuple[float, float],
    tilt: float,
    sense: str,
) -> None:
    exciter = {
        "stroke_mm": dict(zip("xy", strokes, strict=True)),
        "orbit_direction": sense,
        "orbit_tilt_deg": tilt,
    }
    along_x, along_y = phasor(run(make_card(exciter=exciter), quiet))
    assert abs(along_y / along_x) == pytest.approx(strokes[1] / strokes[0])
    forward, backward = along_x + 1j * along_y, np.conj(along_x) + 1j * np.conj(along_y)
    assert np.rad2deg(np.angle(forward * backward)) / 2 == pytest.approx(
        tilt if abs(tilt) < 90 else tilt - 180, abs=1e-6
    )
    assert bool(abs(forward) > abs(backward)) is (sense == "counter-clockwise")


def test_an_impossible_tilt_is_refused(make_card: Any, quiet: dict[str, Any]) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 5.0, "y": 2.0}, "orbit_tilt_deg": 40.0})
    message = "exciter.orbit_tilt_deg must fit stroke_mm x = 5, y = 2, got 40"
    with pytest.raises(SettingsError, match=re.escape(message)):
        run(card, quiet)


def test_recordings_of_one_machine_share_their_harmonics(
    card: MachineCard, quiet: dict[str, Any]
) -> None:
    quiet["harmonic_ratios"] = (0.1,)
    first, second = (run(card, quiet, machine_seed=4, seed=seed) for seed in (1, 2))
    shape = [phasor(made, 2)[0] / phasor(made)[0] ** 2 for made in (first, second)]
    assert shape[0] == pytest.approx(shape[1], rel=1e-6)
    assert first.truth.shaft_turns[0] != second.truth.shaft_turns[0]


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"base_gain": -1.0}, "base_gain must lie in [0, 100], got -1.0"),
        ({"stroke_factor": {"x": -0.1}}, "stroke_factor['x'] must lie in [0, 100], got -0.1"),
        ({"guard_clearance_mm": 0.0}, "guard_clearance_mm must lie in (0, 1000], got 0.0"),
        ({"stop_softness": 1.5}, "stop_softness must lie in [0, 1], got 1.5"),
        ({"isolator_factor": 0.0}, "isolator_factor must lie in [0.1, 10], got 0.0"),
    ],
)
def test_effects_out_of_range_are_refused(values: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        MachineFault(**values)


def test_a_machine_seed_is_not_negative() -> None:
    with pytest.raises(SettingsError, match="machine_seed must be at least 0, got -1"):
        SimulationSettings(machine_seed=-1)


def test_no_effect_leaves_the_stroke_of_the_card(card: MachineCard, quiet: dict[str, Any]) -> None:
    made = run(card, quiet)
    expected_m_s2 = 0.0025 * (2 * np.pi * 20.0) ** 2
    assert abs(phasor(made)[0]) == pytest.approx(expected_m_s2, rel=1e-9)
