"""A family on a whole order stands out only where the other whole orders do not."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.shaft_locked import shaft_locked_family

FLOOR = 0.01
N_TURNS = 100


def spectrum(
    lines: dict[int, float], *, detector: str = "squared", highest: int = 20
) -> EnvelopeOrders:
    """Line powers over the floor at whole orders; everything else is at the floor."""
    values: NDArray[np.float64] = np.full(highest * N_TURNS + 1, FLOOR)
    for order, power in lines.items():
        values[order * N_TURNS] = FLOOR + power
    return EnvelopeOrders(
        band_hz=(100.0, 200.0),
        detector=detector,  # type: ignore[arg-type]
        is_whitened=True,
        order_spacing=1 / N_TURNS,
        depth_power=values,
        floor=np.full(values.shape, FLOOR),
        mean_square=1.0,
        n_averages=1,
    )


def test_multiples_of_the_strike_over_the_others() -> None:
    """Powers 0.5, 0.3, 0.2 at 5x, 10x, 15x; the 12 others at the floor: F tail of 1 / 3 / 0.01."""
    envelope = spectrum({5: 0.5, 10: 0.3, 15: 0.2})
    found = shaft_locked_family([envelope], 5)
    assert found.probability == pytest.approx(float(stats.f.sf(100.0 / 3, 6, 24)), rel=1e-9)
    assert found.depth == pytest.approx(1.0, rel=1e-9)
    assert found.envelope is envelope


def test_equal_shaft_harmonics_are_no_family() -> None:
    """All whole orders alike: three powers over their mean are 3 x 0.5 / 0.51."""
    found = shaft_locked_family([spectrum(dict.fromkeys(range(1, 20), 0.5))], 5)
    expected = float(stats.f.sf(0.5 / 0.51, 6, 24))
    assert found.probability == pytest.approx(expected, rel=1e-9)
    assert found.probability > 0.4


@pytest.mark.parametrize("whole_order", [2, 5])
@pytest.mark.parametrize("probability", [0.05, 0.005])
def test_exponential_shaft_harmonics_are_taken_for_a_family_as_often_as_stated(
    whole_order: int, probability: float
) -> None:
    """Three at multiples of 2 and three between them, or 12 between those of 5: the mean of so
    few scatters, and the law must know it. The floor that is added to the others only lowers
    the share, by the factor (1 + 0.01)^3 at most."""
    rng = np.random.default_rng(8)
    trials = 1500
    powers = rng.exponential(1.0, (trials, 19))
    found = [
        shaft_locked_family(
            [spectrum({k: float(row[k - 1]) for k in range(1, 20)})], whole_order
        ).probability
        for row in powers
    ]
    scatter = 4 * math.sqrt(probability * (1 - probability) / trials)
    share = float(np.mean(np.array(found) <= probability))
    assert share == pytest.approx(probability, abs=scatter + 0.03 * probability)


def test_every_squared_spectrum_counts_as_a_trial() -> None:
    weak, strong = spectrum({}), spectrum({5: 0.05, 10: 0.03, 15: 0.02})
    one = shaft_locked_family([strong], 5)
    three = shaft_locked_family([weak, strong, weak], 5)
    assert three.probability == pytest.approx(3 * one.probability, rel=1e-9)
    assert three.envelope is strong
    limited = spectrum({5: 9.0, 10: 9.0, 15: 9.0}, detector="limited")
    assert shaft_locked_family([strong, limited], 5).probability == one.probability


def test_at_once_per_turn_there_is_nothing_to_compare_with() -> None:
    found = shaft_locked_family([spectrum({1: 0.5, 2: 0.5, 3: 0.5})], 1)
    assert found.probability == 1.0
    assert found.depth == 0.0
