"""Closed forms of a body on isolators, against textbook values and against its equation of motion.

J. P. Den Hartog, Mechanical Vibrations, 4th edition 1956, chapter 2 (rotating unbalance);
logarithmic decrement as ISO 2041 defines it. All from memory.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.diagnosis.transient_machines import Machine, make
from vibhealth.signal.free_decay import (
    fit_free_decay,
    logarithmic_decrement,
    unbalance_amplification,
)

# Largest displacement over that at speed, 20 Hz machine, isolators 2.5 to 3.5 Hz, damping 2 to
# 10 %: own calculation with one degree of freedom; the phase of the start moves them by the share.
SWINGS = [
    ("run-up", 0.5, 2.0, 2.8),
    ("run-up", 1.0, 2.5, 3.3),
    ("run-up", 3.0, 3.1, 5.2),
    ("run-up", 10.0, 3.9, 8.1),
    ("coast-down", 10.0, 3.0, 6.7),
    ("coast-down", 30.0, 3.9, 10.5),
]
PHASE_SHARE = 0.25


@pytest.mark.parametrize("zeta", [0.02, 0.05, 0.1])
def test_amplification_at_its_limits(zeta: float) -> None:
    assert unbalance_amplification(0.0, zeta) == 0.0
    assert unbalance_amplification(1.0, zeta) == pytest.approx(1 / (2 * zeta))
    assert unbalance_amplification(1e4, zeta) == pytest.approx(1.0, rel=1e-6)
    highest = 1 / (2 * zeta * np.sqrt(1 - zeta**2))
    ratio = 1 / np.sqrt(1 - 2 * zeta**2)
    assert unbalance_amplification(ratio, zeta) == pytest.approx(highest)
    near = unbalance_amplification(np.linspace(0.5, 2, 10_001), zeta)
    assert near.max() == pytest.approx(highest, rel=1e-5)


@pytest.mark.parametrize("ratio", [0.5, 1.0, 3.0, 6.0])
def test_amplification_is_the_steady_state_of_the_equation_of_motion(ratio: float) -> None:
    """Unit natural frequency and unbalance; 12 time constants leave exp(-12) of the start."""
    zeta = 0.08

    def motion(time: float, state: list[float]) -> list[float]:
        force = ratio**2 * np.cos(ratio * time)
        return [state[1], force - 2 * zeta * state[1] - state[0]]

    settled, turn = 12 / zeta, 2 * np.pi / ratio
    found = solve_ivp(
        motion,
        (0, settled + turn),
        [0.0, 0.0],
        t_eval=np.linspace(settled, settled + turn, 400),
        rtol=1e-8,
        atol=1e-10,
    )
    amplitude = np.abs(found.y[0]).max()
    assert amplitude == pytest.approx(float(unbalance_amplification(ratio, zeta)), rel=1e-3)


def test_decrement_of_textbook_damping() -> None:
    assert logarithmic_decrement(0.01) == pytest.approx(0.06283, rel=1e-3)
    assert logarithmic_decrement(0.1) == pytest.approx(0.63148, rel=1e-4)
    assert logarithmic_decrement(1 / np.sqrt(1 + 4 * np.pi**2)) == pytest.approx(1.0)


@pytest.mark.parametrize("zeta", [0.02, 0.1])
def test_one_swing_follows_the_other_by_the_decrement_and_the_fit_finds_it(zeta: float) -> None:
    omega = 2 * np.pi * 3.0
    time = np.arange(0, 4, 1e-3)
    found = solve_ivp(
        lambda _, y: [y[1], -2 * zeta * omega * y[1] - omega**2 * y[0]],
        (0, 4),
        [1.0, 0.0],
        t_eval=time,
        rtol=1e-9,
        atol=1e-12,
    ).y[0]
    inside = (found[1:-1] > found[:-2]) & (found[1:-1] > found[2:])
    peaks = np.concatenate([[found[0]], found[1:-1][inside]])[:3]
    assert np.log(peaks[:-1] / peaks[1:]) == pytest.approx(logarithmic_decrement(zeta), rel=1e-3)
    fit = fit_free_decay(found, 1000.0, range_hz=(1.0, 8.0))
    assert fit.damping_ratio == pytest.approx(zeta, rel=1e-4)
    assert fit.natural_frequency_hz == pytest.approx(3.0, rel=1e-5)


@pytest.mark.parametrize(("kind", "ramp_s", "least", "most"), SWINGS)
def test_swings_of_one_degree_of_freedom(
    kind: str, ramp_s: float, least: float, most: float
) -> None:
    """The machines of these tests swing as far as the calculated ranges say."""
    swings = [
        make(
            Machine(
                kind=kind,  # type: ignore[arg-type]
                ramp_s=ramp_s,
                isolator_hz=isolator_hz,
                damping=damping,
                shaft_hz=20.0,
                harmonics=0.0,
                lead_s=1.0,
                tail_s=1.0,
            )
        ).swing_ratio
        for isolator_hz in (2.5, 3.5)
        for damping in (0.02, 0.10)
    ]
    assert min(swings) == pytest.approx(least, rel=PHASE_SHARE)
    assert max(swings) == pytest.approx(most, rel=PHASE_SHARE)
