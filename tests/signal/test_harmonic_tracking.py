"""Shaft-locked orders taken out along the angle."""

import re
from typing import Any

import numpy as np
import pytest

from vibhealth.errors import InputError
from vibhealth.signal import harmonic_tracking, subtract_tracked_harmonics

RATE_HZ = 2000.0
T = np.arange(20_000) / RATE_HZ
TURNS = 16.3 * T + 0.25 * np.sin(2 * np.pi * 0.1 * T)  # 1 % wander
ORDERS = [0.5, 1.0, 2.0, 3.0]
# Condition of a block below 10, angles of 20 turns (126 rad), values up to 40: eps * 126 * 40 * 10.
ATOL = 1e-10


def test_nothing_is_left_of_a_family_that_follows_the_angle() -> None:
    x = 7.0 + 30.0 * np.cos(2 * np.pi * TURNS + 0.3) + 2.0 * np.sin(6 * np.pi * TURNS)
    left = subtract_tracked_harmonics(x, shaft_phase_turns=TURNS, orders=ORDERS)
    np.testing.assert_allclose(left, 0.0, atol=ATOL)


def test_a_slow_swing_of_amplitude_is_taken_out_too() -> None:
    """2 % swing in 10 s: a block of 20 turns (1.23 s) leaves its bend, (w L)^2 / 24 of 2 %.

    w L = 2 pi 1.23 / 10 = 0.77: 0.0005 of 30; one constant amplitude would leave 0.02 of 30.
    """
    x = 30.0 * (1 + 0.02 * np.sin(2 * np.pi * 0.1 * T)) * np.cos(2 * np.pi * TURNS)
    left = subtract_tracked_harmonics(x, shaft_phase_turns=TURNS, orders=ORDERS)
    turn = int(RATE_HZ / 16.3 * 10)
    assert np.abs(left[turn:-turn]).max() < 30 * 0.02 * 0.77**2 / 12
    assert np.abs(left).max() < 30 * 0.02 * 0.77  # first and last half block: one-sided


def test_what_is_not_of_the_family_stays() -> None:
    """Noise loses nine of the 2450 degrees of freedom in each block of 20 turns."""
    noise = np.random.default_rng(5).standard_normal(T.size)
    x = noise + 30.0 * np.cos(2 * np.pi * TURNS)
    left = subtract_tracked_harmonics(x, shaft_phase_turns=TURNS, orders=ORDERS)
    assert np.std(left - noise) < 2 * np.sqrt(9 / 2450)
    other = np.cos(2 * np.pi * 7.31 * TURNS)
    kept = subtract_tracked_harmonics(other, shaft_phase_turns=TURNS, orders=ORDERS)
    assert np.std(kept) == pytest.approx(np.std(other), rel=1e-3)


def test_powers_of_the_lowest_order_are_the_orders_themselves() -> None:
    """Orders that are multiples of the lowest take a short cut; others do not."""
    x = np.random.default_rng(6).standard_normal(T.size)
    short = harmonic_tracking._columns(TURNS, np.array([0.5, 1.0, 3.0]))
    angle = 2 * np.pi * np.outer([0.5, 1.0, 3.0], TURNS - TURNS[0])
    expected = np.concatenate([np.ones((1, T.size)), np.cos(angle), np.sin(angle)])
    np.testing.assert_allclose(short, expected, rtol=0, atol=ATOL)
    whole = subtract_tracked_harmonics(x, shaft_phase_turns=TURNS, orders=[1.0, 2.4])
    again = subtract_tracked_harmonics(x, shaft_phase_turns=TURNS, orders=[2.4, 1.0])
    np.testing.assert_array_equal(whole, again)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"orders": [1.0, 1.05]}, "orders must stand at least 0.1 apart, above 0 and below 60.7"),
        ({"orders": [70.0]}, "orders must stand at least 0.1 apart, above 0 and below 60.7"),
        ({"orders": [0.05]}, "orders must stand at least 0.1 apart"),
        ({"orders": []}, "orders must stand at least 0.1 apart"),
        ({"turns_per_block": 1.0}, "turns_per_block must be 2 or more and fit into the record of"),
        ({"turns_per_block": 200.0}, "fit into the record of 163 turns, got 200"),
        ({"shaft_phase_turns": -TURNS}, "shaft_phase_turns must rise from sample to sample"),
        ({"shaft_phase_turns": TURNS[1:]}, "one length, got (20000,) and (19999,)"),
    ],
)
def test_refusals(change: dict[str, Any], message: str) -> None:
    settings: dict[str, Any] = {"shaft_phase_turns": TURNS, "orders": ORDERS} | change
    with pytest.raises(InputError, match=re.escape(message)):
        subtract_tracked_harmonics(np.ones(T.size), **settings)
