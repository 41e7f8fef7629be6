"""The comb of shaft harmonics: never invented, never half or double, precise, off its card."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_comb import (
    FALSE_SPEED_PROBABILITY,
    FALSE_SPEED_PROBABILITY_OUTSIDE,
    CombSpeed,
    comb_speeds,
)
from vibhealth.diagnosis.speed_field import slow_signals

Array = NDArray[np.float64]

RATE_HZ = 2048.0
NOMINAL_HZ = 16.0
SECONDS = 30.0
T = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ


def noise(seed: int) -> Array:
    return np.random.default_rng(seed).standard_normal(T.size)


def lines(speed_hz: float, orders: list[float], *, amplitude: float = 0.1) -> Array:
    return np.asarray(amplitude * sum(np.cos(2 * np.pi * k * speed_hz * T + 7 * k) for k in orders))


def comb(samples: Array, tolerance_percent: float = 3.0) -> CombSpeed:
    slow = slow_signals(samples, RATE_HZ, highest_shaft_hz=1.1 * NOMINAL_HZ)
    assert slow is not None
    return next(comb_speeds(slow, nominal_hz=NOMINAL_HZ, tolerance_percent=tolerance_percent))


ALL = [float(k) for k in range(1, 13)]


@pytest.mark.parametrize("off_percent", [-8.0, -2.5, 0.0, 1.3, 2.9, 5.0, 8.0])
def test_speed_up_to_eight_per_cent_off_the_card(off_percent: float) -> None:
    speed_hz = NOMINAL_HZ * (1 + off_percent / 100)
    found = comb(noise(1) + lines(speed_hz, ALL))
    assert found.doubt == ""
    demand = FALSE_SPEED_PROBABILITY
    if abs(off_percent) > 3:
        demand = FALSE_SPEED_PROBABILITY_OUTSIDE
    assert found.false_speed_probability <= demand
    # Half a line of the highest harmonic: 1 / (30 s * 2 * 12) Hz; three times that.
    assert found.shaft_frequency_hz == pytest.approx(speed_hz, abs=3 / (SECONDS * 24))
    assert 0 < found.uncertainty_percent < 0.2


def test_noise_confirms_no_speed() -> None:
    """8 records; the probability stays fair: of 8 at 0.05 more than 2 has probability 6e-3."""
    found = [comb(noise(100 + seed)) for seed in range(8)]
    assert all("no comb of shaft harmonics stands out" in f.doubt for f in found)
    assert sum(f.false_speed_probability < 0.05 for f in found) <= 2


@pytest.mark.parametrize("seed", range(6))
def test_single_lines_of_other_bodies_confirm_no_speed(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    others = sum(
        10 ** rng.uniform(-2, 0.5) * np.cos(2 * np.pi * rng.uniform(5, 250) * T) for _ in range(25)
    )
    assert comb(noise(seed) + others).doubt != ""


def test_one_strong_line_is_no_comb() -> None:
    assert comb(noise(2) + lines(16.1, [6.0], amplitude=100.0)).doubt != ""


@pytest.mark.parametrize(
    ("orders", "words"),
    [
        (
            2 * np.arange(1.0, 7.0),
            r"only even multiples of 96\d\.\d r/min stand out: it may turn at",
        ),
        (3 * np.arange(1.0, 5.0), r"only every third multiple of 96\d\.\d r/min stands out"),
    ],
    ids=["double", "third"],
)
def test_the_comb_of_a_multiple_is_not_the_shafts(orders: Array, words: str) -> None:
    """Twice the speed, mains, or a bearing whose elements pass three times per turn."""
    found = comb(noise(3) + lines(16.1, list(orders), amplitude=0.3))
    assert re.match(words, found.doubt)


def test_lines_halfway_as_strong_may_be_half_the_speed() -> None:
    halves = [k - 0.5 for k in ALL]
    found = comb(noise(4) + lines(16.1, ALL + halves, amplitude=0.3))
    assert re.fullmatch(
        r"the lines halfway between those of 966\.\d r/min are as strong: it may turn at half of that",
        found.doubt,
    )


def test_a_few_half_orders_of_looseness_do_no_harm() -> None:
    found = comb(noise(4) + lines(16.1, [*ALL, 0.5, 1.5, 2.5], amplitude=0.3))
    assert found.doubt == ""
    assert found.shaft_frequency_hz == pytest.approx(16.1, rel=1e-3)


def test_even_harmonics_that_stand_out_more_do_no_harm() -> None:
    """A misaligned coupling: 2x and 4x ten times as big."""
    samples = noise(5) + lines(16.1, ALL) + lines(16.1, [2.0, 4.0], amplitude=1.0)
    found = comb(samples)
    assert found.doubt == ""
    assert found.shaft_frequency_hz == pytest.approx(16.1, rel=1e-3)


def test_two_machines_are_not_told_apart() -> None:
    found = comb(noise(6) + lines(15.7, ALL, amplitude=0.3) + lines(16.3, ALL, amplitude=0.3))
    assert found.doubt.startswith("another comb stands out ")


def test_side_bands_about_a_bearings_line_are_no_multiples() -> None:
    """Lines 16.1 Hz apart about 4.73 orders: k = 5 of a speed 5 % lower fits only one of them."""
    bands = [4.73 + k for k in range(-4, 8)]
    found = comb(noise(7) + lines(16.1, bands, amplitude=0.5))
    assert found.doubt != ""


@pytest.mark.parametrize("swing_percent", [1.0, 3.0])
def test_a_varying_speed_is_followed_by_segments(swing_percent: float) -> None:
    """Swings slowly, peak to peak twice this; one course at least keeps to it within 0.4 %."""
    rate = 2 * np.pi / 30.0
    speed_hz = 16.3 * (1 + 0.01 * swing_percent * np.cos(rate * T))
    turns = np.cumsum(speed_hz) / RATE_HZ
    samples = noise(8) + 0.5 * sum(np.cos(2 * np.pi * k * turns + k) for k in ALL)
    slow = slow_signals(samples, RATE_HZ, highest_shaft_hz=1.1 * NOMINAL_HZ)
    assert slow is not None
    found = list(comb_speeds(slow, nominal_hz=NOMINAL_HZ, tolerance_percent=3.0))
    assert all(f.doubt == "" for f in found)
    error = [
        np.abs(f.course_hz / np.interp(f.centre_s, T, speed_hz) - 1).max()
        for f in found
        if f.course_hz.size > 1
    ]
    assert min(error) < 0.004


def test_gain_changes_nothing() -> None:
    samples = noise(9) + lines(16.1, ALL)
    one, other = comb(samples), comb(1e-3 * samples)
    assert other.shaft_frequency_hz == pytest.approx(one.shaft_frequency_hz, rel=1e-9)
    assert other.rival == pytest.approx(one.rival, abs=1e-6)


def test_under_thirty_turns_there_is_none() -> None:
    slow = slow_signals(noise(1)[: round(1.8 * RATE_HZ)], RATE_HZ, highest_shaft_hz=17.6)
    assert slow is not None
    assert list(comb_speeds(slow, nominal_hz=NOMINAL_HZ, tolerance_percent=3.0)) == []
