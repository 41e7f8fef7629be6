"""Hits at one place of the turn, at recurring distances, and at random are told apart."""

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.disturbance_timing import locked_to_shaft, random_hits

N_TURNS = 600.0


def at_random(seed: int, count: int) -> NDArray[np.float64]:
    return np.sort(np.random.default_rng(seed).uniform(0.0, N_TURNS, count))


def guard(seed: int, jitter: float = 0.01) -> NDArray[np.float64]:
    rng = np.random.default_rng(seed)
    turns = np.arange(1.0, N_TURNS - 1)
    return np.asarray(np.sort(turns + 0.98 + jitter * rng.standard_normal(turns.size)))


def spall(seed: int, order: float, *, zone: float = 1.0, heard: float = 1.0) -> NDArray[np.float64]:
    """Strikes at an order with a little jitter, within a share of the turn, each heard or not."""
    rng = np.random.default_rng(seed)
    turns = np.arange(1, int(N_TURNS * order)) / order
    turns += 0.005 / order * rng.standard_normal(turns.size)
    inside = (turns % 1.0 < zone) & (rng.random(turns.size) < heard)
    return np.asarray(turns[inside])


def left_at_random(positions: NDArray[np.float64]) -> float:
    return random_hits(positions, N_TURNS, shortest=0.02, longest=3.2)


def apart(positions: NDArray[np.float64]) -> NDArray[np.float64]:
    """Without those that a detector could not tell from the one before."""
    return np.asarray(positions[np.append(True, np.diff(positions) > 0.02)])


@pytest.mark.parametrize("count", [12, 200, 2000])
def test_hits_at_random_stay_at_random(count: int) -> None:
    counts = [left_at_random(apart(at_random(seed, count))) for seed in range(20)]
    sizes = [apart(at_random(seed, count)).size for seed in range(20)]
    assert np.array_equal(counts, sizes)


@pytest.mark.parametrize("order", [2.9, 5.3, 7.12, 9.88])
@pytest.mark.parametrize(("zone", "heard"), [(1.0, 1.0), (0.3, 1.0), (1.0, 0.3), (0.4, 0.3)])
def test_strikes_at_recurring_distances_are_not_at_random(
    order: float, zone: float, heard: float
) -> None:
    positions = spall(1, order, zone=zone, heard=heard)
    assert left_at_random(positions) < 0.2 * positions.size


def test_of_a_mixture_only_those_at_random_are_left() -> None:
    strikes, stones = spall(2, 5.3), at_random(3, 1500)
    positions = apart(np.sort(np.concatenate([strikes, stones])))
    # Stones within 0.02 of a strike are lost: 20 % at 5.3 per turn, half of them a strike's.
    assert 0.4 * stones.size < left_at_random(positions) < 1.1 * stones.size


def test_a_guard_hits_at_one_place_of_every_turn() -> None:
    found = locked_to_shaft(guard(1), N_TURNS)
    assert found is not None
    assert found.turn_share > 0.95
    # An arc of 0.05 turn holds 2.5 standard deviations to each side.
    assert found.is_locked.mean() > 0.97
    assert not np.any(found.is_locked & found.is_beside)
    assert found.free_share == pytest.approx(0.85, abs=0.005)


def test_a_guard_is_found_among_material_and_material_beside_a_guard() -> None:
    hits = np.sort(np.concatenate([guard(2), at_random(4, 2000)]))
    found = locked_to_shaft(hits, N_TURNS)
    assert found is not None
    others = ~(found.is_locked | found.is_beside)
    # 2000 over 0.85 of the turn, Poisson: 41.
    assert np.count_nonzero(others) == pytest.approx(1700, abs=130)


def test_a_guard_that_hits_twice_per_turn_is_locked_twice() -> None:
    found = locked_to_shaft(np.sort(np.concatenate([guard(3), guard(4) + 0.4])), N_TURNS)
    assert found is not None
    assert found.is_locked.mean() > 0.97
    assert found.free_share == pytest.approx(0.7, abs=0.01)


@pytest.mark.parametrize("order", [5.3, 7.12, 9.88, 13.1])
@pytest.mark.parametrize("zone", [0.2, 0.4, 1.0])
def test_a_spall_in_its_load_zone_is_not_locked(order: float, zone: float) -> None:
    assert locked_to_shaft(spall(5, order, zone=zone), N_TURNS) is None


def test_hits_at_random_are_not_locked() -> None:
    assert not any(locked_to_shaft(at_random(seed, 3000), N_TURNS) for seed in range(30))


def test_a_hit_in_every_fourth_turn_is_not_locked() -> None:
    assert locked_to_shaft(guard(6)[::4], N_TURNS) is None


def test_no_hits_are_nothing() -> None:
    assert locked_to_shaft(np.zeros(0), N_TURNS) is None
    assert left_at_random(np.zeros(0)) == 0
    assert left_at_random(np.array([3.0])) == 1
