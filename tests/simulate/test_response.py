"""Strikes between samples against the closed form, and the meaning of the impact."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.card import MachineCard
from vibhealth.model import Element
from vibhealth.simulate import Defect, Resonance, SimulationSettings, simulate
from vibhealth.simulate._response import add_strikes, response_peak
from vibhealth.simulate._strikes import StrikeTrain

SAMPLING_RATE_HZ = 25_600.0
N_SAMPLES = 2048
# A recursion of N steps collects about N roundings of eps each.
ATOL_RECURSION = N_SAMPLES * np.finfo(np.float64).eps


@given(
    start_s=st.floats(0.0, 0.04),
    strength=st.floats(0.01, 1.0),
    frequency_hz=st.floats(500.0, 12_000.0),
    damping_ratio=st.floats(0.005, 0.5),
)
def test_a_strike_is_the_analytic_decaying_sine_at_its_exact_time(
    start_s: float, strength: float, frequency_hz: float, damping_ratio: float
) -> None:
    resonance = Resonance(frequency_hz=frequency_hz, damping_ratio=damping_ratio)
    samples = np.zeros((1, N_SAMPLES))
    train = StrikeTrain(times_s=np.array([start_s]), strengths=np.array([[strength]]))
    add_strikes(samples, SAMPLING_RATE_HZ, train, [resonance], 1.0)

    omega = 2 * np.pi * frequency_hz
    since_s = np.maximum(np.arange(N_SAMPLES) / SAMPLING_RATE_HZ - start_s, 0.0)
    damped = omega * np.sqrt(1 - damping_ratio**2)
    expected = np.exp(-damping_ratio * omega * since_s) * np.sin(damped * since_s)
    expected *= strength / response_peak([resonance])
    # omega * t reaches 3000 rad: the phase itself is known to 3000 eps only.
    np.testing.assert_allclose(samples[0], expected, rtol=0, atol=ATOL_RECURSION + 1e-11)


def test_the_peak_of_one_decaying_sine_has_its_closed_form() -> None:
    """Maximum where tan(omega_d t) = sqrt(1 - zeta^2) / zeta."""
    damping = 0.04
    angle = np.arctan2(np.sqrt(1 - damping**2), damping)
    expected = np.exp(-damping / np.sqrt(1 - damping**2) * angle) * np.sin(angle)
    found = response_peak([Resonance(frequency_hz=3000.0, damping_ratio=damping)])
    assert found == pytest.approx(expected, rel=1.3e-4)  # 1 - cos(pi / 200), the scan's step


@pytest.mark.parametrize("impact_m_s2", [0.1, 0.5, 8.0])
def test_the_strongest_strike_peaks_at_the_impact(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any], impact_m_s2: float
) -> None:
    quiet["first_order_g"] = {"x": 0.0, "y": 0.0}
    settings = SimulationSettings(
        duration_s=5.0, resonances=(Resonance(frequency_hz=3000.0, damping_ratio=0.05),), **quiet
    )
    defect = Defect(element=Element.OUTER_RING, impact_m_s2=impact_m_s2)
    simulated = simulate(make_card(), defects=[defect], settings=settings)
    # 8.5 samples per period: among 500 strikes one is sampled within 1 % of its peak; the
    # ring-down of the strike before (8.6 periods of e-fold 3.2 apart) adds below 1 %.
    assert np.max(np.abs(simulated.samples[0])) == pytest.approx(impact_m_s2, rel=0.02)


def test_twice_the_impact_is_twice_the_acceleration(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet["first_order_g"] = {"x": 0.0, "y": 0.0}
    settings = SimulationSettings(duration_s=1.0, **quiet)
    one, two = (
        simulate(
            make_card(),
            defects=[Defect(element=Element.INNER_RING, impact_m_s2=impact)],
            settings=settings,
        ).samples
        for impact in (0.4, 0.8)
    )
    assert np.max(np.abs(one)) > 0.3
    np.testing.assert_allclose(two, 2 * one, rtol=0, atol=ATOL_RECURSION)


def test_marks_all_round_peak_together_at_the_impact(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet["first_order_g"] = {"x": 0.0, "y": 0.0}
    settings = SimulationSettings(
        duration_s=5.0, resonances=(Resonance(frequency_hz=3000.0, damping_ratio=0.05),), **quiet
    )
    defect = Defect(element=Element.OUTER_RING, marks_at_every_element=True)
    simulated = simulate(make_card(), defects=[defect], settings=settings)
    assert np.max(np.abs(simulated.samples)) == pytest.approx(0.5, rel=0.02)


def test_a_mark_opposite_the_load_on_the_turning_ring_stays_silent(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    settings = SimulationSettings(duration_s=1.0, **quiet)
    silent = Defect(element=Element.INNER_RING, place_deg=180.0)
    clean = simulate(make_card(), settings=settings).samples
    np.testing.assert_array_equal(
        simulate(make_card(), defects=[silent], settings=settings).samples, clean
    )
