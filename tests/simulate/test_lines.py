"""Inverter, gear and coupling: what hums in the bearing band and is no bearing."""

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.simulate import SimulatedRecording, SimulationSettings, simulate
from vibhealth.units import STANDARD_GRAVITY_M_S2

STILL = {"first_order_g": {"x": 0.0, "y": 0.0}}
Run = Callable[..., SimulatedRecording]


@pytest.fixture
def run(make_card: Callable[..., MachineCard], quiet: dict[str, Any]) -> Run:
    """Two seconds of a machine that turns 20 times a second and hums as asked."""

    def make(**changes: Any) -> SimulatedRecording:
        settings = SimulationSettings(
            **{**quiet, **STILL, "duration_s": 2.0, "speed_rpm": 1200.0, **changes}
        )
        return simulate(make_card(), settings=settings)

    return make


def amplitude_g(simulated: SimulatedRecording, frequency_hz: float) -> float:
    """Amplitude of the line of a whole number of periods in the recording."""
    x = simulated.samples[0]
    cycles = frequency_hz * x.size / simulated.sampling_rate_hz
    assert cycles == pytest.approx(round(cycles))
    line = 2 * np.abs(np.fft.rfft(x)[round(cycles)]) / x.size
    return float(line / STANDARD_GRAVITY_M_S2)


def test_an_inverter_has_a_carrier_and_side_bands_at_the_supply_frequency(run: Run) -> None:
    simulated = run(inverter_hz=4000.0, inverter_g=0.2, inverter_supply_hz=45.0)
    assert amplitude_g(simulated, 4000.0) == pytest.approx(0.2)
    for sign in (-1, 1):
        assert amplitude_g(simulated, 4000.0 + sign * 90.0) == pytest.approx(0.1)
        assert amplitude_g(simulated, 8000.0 + sign * 45.0) == pytest.approx(0.08)
    assert amplitude_g(simulated, 4010.0) < 1e-9


def test_an_inverter_line_stays_in_hz_when_the_speed_changes(run: Run) -> None:
    slow = run(inverter_hz=4000.0, speed_wander_percent=5.0)
    fast = run(inverter_hz=4000.0, speed_rpm=1500.0)
    np.testing.assert_array_equal(slow.samples, fast.samples)


def test_an_inverter_line_beyond_the_recorded_range_is_left_out(run: Run) -> None:
    simulated = run(inverter_hz=7000.0, inverter_supply_hz=50.0)
    # Its double would fold to 25600 - 14000 Hz.
    assert amplitude_g(simulated, 11_600.0) < 1e-9
    assert amplitude_g(simulated, 7000.0) == pytest.approx(0.05)


def test_a_gear_meshes_at_its_teeth_with_side_bands_one_turn_apart(run: Run) -> None:
    simulated = run(gear_teeth=100, gear_g=0.1)
    mesh = amplitude_g(simulated, 2000.0)
    sides = [amplitude_g(simulated, 2000.0 + sign * 20.0) for sign in (-1, 1)]
    # Bessel: J0(0.4) = 0.9604 of the carrier, plus at most 0.3 * J1(0.4) from the swing.
    assert mesh == pytest.approx(0.096, abs=0.006)
    # Both side bands together carry at least the swing's (0.15 J0) and at most both in step.
    assert 0.1 * 0.14 < float(np.sqrt(np.mean(np.square(sides)))) < 0.1 * (0.15 + 0.2)
    assert amplitude_g(simulated, 2010.0) < 1e-9


def test_a_gear_follows_the_shaft(run: Run) -> None:
    steady, wandering = run(gear_teeth=100), run(gear_teeth=100, speed_wander_percent=3.0)
    assert amplitude_g(wandering, 2000.0) < 0.5 * amplitude_g(steady, 2000.0)


def test_a_bent_coupling_modulates_the_noise_twice_and_three_times_per_turn(
    run: Run, envelope_depth: Callable[..., NDArray[np.float64]]
) -> None:
    silent = {"noise_modulation": 0.0, "passage_modulation": 0.0, "oil_noise_g_rms": 0.02}
    bent = run(coupling_modulation=0.3, duration_s=10.0, **silent)
    depth = envelope_depth(bent.samples[0], bent.sampling_rate_hz)
    # (1 + a + b)^2 with a = 0.3 cos 2x, b = 0.15 cos 3x: mean 1 + (0.09 + 0.0225) / 2 = 1.056;
    # 2x: 0.6 / 1.056, 3x: 0.3 / 1.056, 1x from 2ab: 0.045 / 1.056; the floor is 0.005.
    assert depth[400] == pytest.approx(0.568, abs=0.02)
    assert depth[600] == pytest.approx(0.284, abs=0.02)
    assert depth[200] == pytest.approx(0.043, abs=0.02)


def test_a_line_that_is_off_changes_no_byte(run: Run) -> None:
    plain = run(oil_noise_g_rms=0.02)
    off = run(oil_noise_g_rms=0.02, inverter_g=1.0, gear_g=1.0, inverter_supply_hz=60.0)
    assert plain.samples.tobytes() == off.samples.tobytes()


def test_a_line_is_added_to_an_unchanged_recording(run: Run) -> None:
    noise = run(oil_noise_g_rms=0.02)
    hum = run(inverter_hz=4000.0, gear_teeth=30)
    both = run(oil_noise_g_rms=0.02, inverter_hz=4000.0, gear_teeth=30)
    np.testing.assert_allclose(both.samples, noise.samples + hum.samples, rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"inverter_hz": 0.0}, "inverter_hz must lie in (0, 500000], got 0.0"),
        (
            {"inverter_hz": 12_800.0},
            "inverter_hz must lie below half the sampling rate (12800 Hz), got 12800: raise",
        ),
        ({"inverter_g": -0.1}, "inverter_g must lie in [0, 100], got -0.1"),
        ({"inverter_supply_hz": 0.0}, "inverter_supply_hz must lie in (0, 1000], got 0.0"),
        ({"gear_teeth": -1}, "gear_teeth must be at least 0, got -1"),
        ({"gear_g": float("nan")}, "gear_g must lie in [0, 100], got nan"),
        ({"coupling_modulation": 0.6}, "coupling_modulation must lie in [0, 0.5], got 0.6"),
        (
            {"gear_teeth": 640},
            (
                "gear_teeth must mesh below half the sampling rate (12800 Hz), got 640 teeth at "
                "12800 Hz: raise sampling_rate_hz"
            ),
        ),
    ],
)
def test_a_hum_that_cannot_be_is_refused(run: Run, changes: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        run(**changes)
