"""The working motion: 1x on an orbit, harmonics, half orders, element passage."""

import numpy as np
from numpy.typing import NDArray

from vibhealth.simulate.settings import SimulationSettings

__all__ = ["half_orders_and_harmonics", "working_motion"]

# Loose bolts (common practice, no source): harmonics up to six times, 0.5x up to 10 % of 1x.
_LOOSE_HARMONIC_GAIN = 5.0
_LOOSE_HALF_ORDER = 0.1
_HALF_ORDER_SHARES = (1.0, 0.6, 0.4)  # of 0.5x, 1.5x, 2.5x


def half_orders_and_harmonics(settings: SimulationSettings) -> dict[int, float]:
    """Amplitudes over 1x by number of *half* orders: 1 is 0.5x, 2 is 1x, 3 is 1.5x."""
    half = settings.half_order_ratio + _LOOSE_HALF_ORDER * settings.looseness
    shares = {2: 1.0}
    for index, share in enumerate(_HALF_ORDER_SHARES):
        shares[2 * index + 1] = half * share
    for index, ratio in enumerate(settings.harmonic_ratios):
        shares[2 * (index + 2)] = ratio * (1 + _LOOSE_HARMONIC_GAIN * settings.looseness)
    return dict(sorted(shares.items()))


def working_motion(  # noqa: PLR0913 (what one motion is made of)
    shaft_turns: NDArray[np.float64],
    amplitude_m_s2: NDArray[np.float64],
    first_order_phase_turns: float,
    settings: SimulationSettings,
    rng: np.random.Generator,
    *,
    with_first_order: bool = True,
) -> NDArray[np.float64]:
    """Acceleration of one direction in m/s^2 whose 1x has the given amplitude at each sample.

    1x has the stated phase, or is left out; the phases of the others are drawn from ``rng``.
    """
    half_turn = np.exp(1j * np.pi * shaft_turns)
    power = np.ones_like(half_turn)
    motion = np.zeros(shaft_turns.size)
    shares = half_orders_and_harmonics(settings)
    phases = dict(zip(shares, 2 * np.pi * rng.random(len(shares)), strict=True))
    phases[2] = 2 * np.pi * first_order_phase_turns
    if not with_first_order:
        shares[2] = 0.0
    for number in range(1, max(shares) + 1):
        power *= half_turn
        share = shares.get(number, 0.0)
        if share > 0:
            motion += share * (np.exp(1j * phases[number]) * power).real
    return amplitude_m_s2 * motion
