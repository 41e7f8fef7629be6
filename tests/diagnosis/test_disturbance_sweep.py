"""A load zone that sweeps past is followed; what hits at one place of the turn is left standing."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.disturbance_sweep import load_sweep

VALUES_PER_TURN = 400
PHASE = np.arange(200_000) / VALUES_PER_TURN
AT_TURNS = 0.2
Swing = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def noise(seed: int) -> NDArray[np.float64]:
    """Squared envelope of even Gaussian noise, 6250 values per place of the turn."""
    return np.random.default_rng(seed).exponential(size=PHASE.size)


def bump(height: float, fades_turns: float) -> NDArray[np.float64]:
    """Power that something leaves which hits at one place of the turn, over the noise."""
    since_turns = (PHASE - AT_TURNS) % 1.0
    return height * np.exp(-since_turns / fades_turns)


def against_mean_logarithm(curve: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(curve / np.exp(np.mean(np.log(curve))))


@pytest.mark.parametrize(
    "swing",
    [
        np.ones_like,
        lambda angle: (1 + 0.5 * np.cos(angle)) ** 2,
        lambda angle: (1 + 0.7 * np.cos(angle + 2.0)) ** 2,
        lambda angle: (1 + 0.6 * np.cos(2 * angle)) ** 2,
        lambda angle: np.exp(2.0 * np.cos(angle - 1.0)),
    ],
    ids=["even", "once", "once-deep", "twice", "exponential"],
)
def test_a_load_zone_is_followed(swing: Swing) -> None:
    truth = swing(2 * np.pi * PHASE)
    factor = load_sweep(truth * noise(4), PHASE)
    # Quantile known to 2.2 %, the fit averages places; four harmonics leave 2 r^3 / 3 = 2.5 % of a
    # zone twice per turn with m = 0.6 (r = 1/3), and a place of 1/32 turn blurs its steepest slope.
    np.testing.assert_allclose(factor, against_mean_logarithm(truth), rtol=0.13)


def test_a_place_beside_a_load_zone_is_not_followed() -> None:
    truth = (1 + 0.5 * np.cos(2 * np.pi * PHASE)) ** 2
    envelope = truth * noise(5)
    envelope[np.abs(PHASE % 1.0 - 0.25) < 0.01] *= 100.0
    factor = load_sweep(envelope, PHASE)
    np.testing.assert_allclose(factor, against_mean_logarithm(truth), rtol=0.08)


@pytest.mark.parametrize("fades_turns", [0.01, 0.025, 0.04])
@pytest.mark.parametrize("depth", [0.0, 0.5])
@pytest.mark.parametrize("height", [100.0, 1000.0])
def test_what_hits_and_rings_for_a_third_of_the_turn_is_not_followed(
    fades_turns: float, depth: float, height: float
) -> None:
    truth = (1 + depth * np.cos(2 * np.pi * PHASE)) ** 2
    envelope = (truth + bump(height, fades_turns)) * noise(6)
    factor = load_sweep(envelope, PHASE)
    at_hit = np.abs(PHASE % 1.0 - AT_TURNS) < 0.5 / VALUES_PER_TURN
    # All of the bump but the little that leans on it: a factor of 4 of 100 and more.
    assert np.median(envelope[at_hit] / factor[at_hit]) > height / 4 / truth.max()
    apart = (PHASE % 1.0 - AT_TURNS) % 1.0 > 0.6
    strayed = factor / against_mean_logarithm(truth)
    assert 0.3 < strayed[apart].min() <= strayed[apart].max() < 3.0


def test_it_follows_the_angle_and_not_the_time() -> None:
    truth = (1 + 0.6 * np.cos(2 * np.pi * PHASE)) ** 2
    factor = load_sweep(truth * noise(7), PHASE)
    shifted = load_sweep(truth * noise(7), PHASE + 0.25)
    np.testing.assert_allclose(shifted, factor, rtol=0.08)


def test_the_unit_does_not_matter() -> None:
    envelope = (1 + bump(300.0, 0.05)) * noise(8)
    np.testing.assert_allclose(
        load_sweep(1e-6 * envelope, PHASE), load_sweep(envelope, PHASE), rtol=1e-9
    )


def test_too_short_for_a_place_is_taken_as_even() -> None:
    assert load_sweep(noise(9)[:40], PHASE[:40]).tolist() == [1.0] * 40
