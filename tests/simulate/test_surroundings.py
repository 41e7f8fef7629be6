"""Noise, mains, material, guard, and the faults of a recorder."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import kurtosis

from vibhealth.card import MachineCard
from vibhealth.model import Element
from vibhealth.simulate import Defect, SimulatedRecording, SimulationSettings, simulate
from vibhealth.units import STANDARD_GRAVITY_M_S2

STILL = {"first_order_g": {"x": 0.0, "y": 0.0}}
Run = Callable[..., SimulatedRecording]


@pytest.fixture
def run(make_card: Callable[..., MachineCard], quiet: dict[str, Any]) -> Run:
    """A machine that stands still and makes only the sounds asked for."""

    def make(
        load_case: str = "rotating", defects: tuple[Defect, ...] = (), **changes: Any
    ) -> SimulatedRecording:
        settings = SimulationSettings(**{**quiet, **STILL, "duration_s": 10.0, **changes})
        return simulate(make_card(load_case), defects=defects, settings=settings)

    return make


def band_rms(simulated: SimulatedRecording, low_hz: float, high_hz: float) -> float:
    x = simulated.samples[0]
    power = np.abs(np.fft.rfft(x)) ** 2
    frequency_hz = np.fft.rfftfreq(x.size, 1 / simulated.sampling_rate_hz)
    is_inside = (frequency_hz >= low_hz) & (frequency_hz < high_hz)
    return float(np.sqrt(2 * np.sum(power[is_inside])) / x.size)


def test_the_oil_noise_has_its_level_and_lies_high(run: Run) -> None:
    simulated = run(oil_noise_g_rms=0.02, noise_modulation=0.0, passage_modulation=0.0)
    # Coloured noise of some kHz width over 10 s: about 60 000 independent values, 0.3 %.
    level_g = band_rms(simulated, 0.0, 13_000.0) / STANDARD_GRAVITY_M_S2
    assert level_g == pytest.approx(0.02, rel=0.015)
    assert band_rms(simulated, 0.0, 500.0) < 0.1 * band_rms(simulated, 500.0, 13_000.0)
    # An anti-alias filter: the last tenth below half the sampling rate is far down.
    assert band_rms(simulated, 11_520.0, 12_800.0) < 0.5 * band_rms(simulated, 8960.0, 10_240.0)


def test_a_dry_bearing_is_louder_above_3_khz_only(run: Run) -> None:
    wet = run(oil_noise_g_rms=0.02)
    dry = run(oil_noise_g_rms=0.02, starvation=1.0)
    assert band_rms(dry, 8000.0, 10_000.0) > 8 * band_rms(wet, 8000.0, 10_000.0)
    assert band_rms(dry, 500.0, 1000.0) < 1.2 * band_rms(wet, 500.0, 1000.0)


@pytest.mark.parametrize("load_case", ["rotating", "stationary"])
def test_a_turning_load_zone_modulates_the_noise(
    run: Run, envelope_depth: Callable[..., NDArray[np.float64]], load_case: str
) -> None:
    simulated = run(load_case, oil_noise_g_rms=0.02, noise_modulation=0.3, passage_modulation=0.0)
    depth = envelope_depth(simulated.samples[0], simulated.sampling_rate_hz)
    line = depth[round(simulated.truth.mean_shaft_frequency_hz * 10.0)]
    # (1 + m c)^2 = (1 + m^2 / 2) + 2 m c + ...; the floor of such noise over 10 s is 0.005.
    expected = 2 * 0.3 / (1 + 0.3**2 / 2) if load_case == "rotating" else 0.0
    assert line == pytest.approx(expected, abs=0.02)


def test_mains_pick_up_stays_at_its_frequency_in_hz(run: Run) -> None:
    simulated = run(mains_hz=50.0, mains_g=0.05)
    lines = 2 * np.abs(np.fft.rfft(simulated.samples[0])) / simulated.samples.shape[1]
    assert lines[500] == pytest.approx(0.05 * STANDARD_GRAVITY_M_S2)
    assert lines[1000] == pytest.approx(0.3 * 0.05 * STANDARD_GRAVITY_M_S2)


def test_material_makes_kurtosis_meaningless(run: Run) -> None:
    healthy = run(oil_noise_g_rms=0.02)
    struck = run(oil_noise_g_rms=0.02, material_strikes_per_second=10.0)
    assert abs(kurtosis(healthy.samples[0])) < 1.0
    assert kurtosis(struck.samples[0]) > 100.0


def test_a_guard_strikes_once_per_turn_at_its_peak(
    run: Run, envelope_depth: Callable[..., NDArray[np.float64]]
) -> None:
    simulated = run(rattle_m_s2=5.0)
    depth = envelope_depth(simulated.samples[0], simulated.sampling_rate_hz)
    lines = [round(k * simulated.truth.mean_shaft_frequency_hz * 10.0) for k in (1, 2, 3)]
    assert np.all(depth[lines] > 1.0)
    # 199 strikes of 50 to 100 %: the strongest within a per cent of all of it, sampled
    # within a few per cent of its peak.
    assert np.max(np.abs(simulated.samples)) == pytest.approx(5.0, rel=0.05)


def test_a_converter_clips_at_its_limit(make_card: Callable[..., MachineCard]) -> None:
    settings = SimulationSettings(duration_s=2.0, clip_g=3.0)
    free = simulate(make_card(), settings=replace(settings, clip_g=None)).samples
    clipped = simulate(make_card(), settings=settings).samples
    limit = 3.0 * STANDARD_GRAVITY_M_S2
    np.testing.assert_array_equal(clipped, np.clip(free, -limit, limit))
    assert np.count_nonzero(clipped == limit) > 100


def test_lost_samples_leave_a_step_in_the_phase_and_the_truth_follows(run: Run) -> None:
    defect = Defect(element=Element.OUTER_RING)
    simulated = run(defects=(defect,), dropped_samples=300)
    truth = simulated.truth
    assert simulated.samples.shape == (2, 256_000)
    steps = np.diff(truth.shaft_turns)
    assert np.count_nonzero(steps > 2 * np.median(steps)) == 1
    assert np.max(steps) / np.median(steps) == pytest.approx(301, rel=1e-6)
    # Where the truth says a strike is, the recording rises from quiet within 0.5 ms.
    time_s = np.arange(256_000) / simulated.sampling_rate_hz
    for strike_s in truth.defects[0].strike_times_s[::50]:
        is_after = (time_s >= strike_s) & (time_s < strike_s + 5e-4)
        is_before = (time_s < strike_s) & (time_s > strike_s - 5e-4)
        after, before = (np.max(np.abs(simulated.samples[0, k])) for k in (is_after, is_before))
        strength = float(
            truth.defects[0].strengths[0][truth.defects[0].strike_times_s == strike_s][0]
        )
        if strength > 0.2:
            assert after > 10 * before
