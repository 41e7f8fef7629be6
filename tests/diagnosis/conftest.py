"""Spall trains of known size and place, made here and not by the package under test."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

Array = NDArray[np.float64]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0  # 256 samples per turn
N_TURNS = 300
RESONANCE_HZ = 1000.0
DAMPING_RATIO = 0.04


def _strike_turns(
    order: float, *, jitter: float, slip_walk: float, rng: np.random.Generator
) -> Array:
    """Shaft angles of the strikes: a wandering cage, and a scatter about it."""
    count = int(order * N_TURNS * 1.1) + 2
    steps = (1 + slip_walk * rng.standard_normal(count)) / order
    turns = np.cumsum(steps) + jitter / order * rng.standard_normal(count)
    return np.asarray(turns[(turns > 0) & (turns < N_TURNS)])


def _ringing(turns: Array, heights: Array) -> Array:
    """Decaying oscillations that start exactly at the given angles, between samples too."""
    decay = 2 * np.pi * DAMPING_RATIO * RESONANCE_HZ
    length = int(10 / decay * RATE_HZ)
    start_s = turns / SHAFT_HZ
    first = np.ceil(start_s * RATE_HZ).astype(np.int64)
    index = first[:, None] + np.arange(length)
    since_s = index / RATE_HZ - start_s[:, None]
    pulse = np.exp(-decay * since_s) * np.sin(2 * np.pi * RESONANCE_HZ * since_s)
    n_samples = round(N_TURNS / SHAFT_HZ * RATE_HZ)
    out = np.zeros(n_samples)
    inside = index < n_samples
    np.add.at(out, index[inside], (heights[:, None] * pulse)[inside])
    return out


@pytest.fixture(scope="session")
def spall_train() -> Callable[..., Array]:
    """Noise of unit variance with strikes of a family; 300 turns at 16 turns per second.

    ``swings`` are (order, share) pairs: each multiplies the strikes by
    ``1 + share cos(order angle)``.
    """

    def make(
        order: float,
        *,
        amplitude: float = 10.0,
        swings: tuple[tuple[float, float], ...] = (),
        jitter: float = 0.005,
        slip_walk: float = 0.001,
        noise: float = 1.0,
        motion: float = 0.0,
        seed: int = 0,
    ) -> Array:
        rng = np.random.default_rng(seed)
        turns = _strike_turns(order, jitter=jitter, slip_walk=slip_walk, rng=rng)
        heights = np.full(turns.shape, float(amplitude))
        for swing_order, share in swings:
            heights *= 1 + share * np.cos(2 * np.pi * swing_order * turns)
        out = _ringing(turns, heights)
        angle = 2 * np.pi * SHAFT_HZ * np.arange(out.size) / RATE_HZ
        out += noise * rng.standard_normal(out.size)
        return np.asarray(out + motion * np.cos(angle))

    return make
