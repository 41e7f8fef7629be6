"""Load zone and path against their closed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.model import LoadCase
from vibhealth.simulate._loading import load_direction_turns, load_weight, path_weight

TURNS = st.floats(-3.0, 3.0)


@given(turns=TURNS)
def test_the_load_is_largest_below_the_load_vector(turns: float) -> None:
    shaft = np.array([turns])
    for case in (LoadCase.ROTATING, LoadCase.STATIONARY):
        place = load_direction_turns(case, shaft)
        assert load_weight(case, place, shaft, 0.4)[0] == pytest.approx(1.0)
        assert load_weight(case, place + 0.5, shaft, 0.4)[0] == 0.0


@pytest.mark.parametrize("load_factor", [0.2, 0.5, 0.8])
def test_the_load_zone_ends_where_the_clearance_takes_up_the_deflection(
    load_factor: float,
) -> None:
    """Half width: arccos(1 - 2 load_factor), 90 degrees at 0.5."""
    half_turns = np.arccos(1 - 2 * load_factor) / (2 * np.pi)
    shaft, place = np.zeros(2), half_turns + np.array([-1e-3, 1e-3])
    inside, outside = load_weight(LoadCase.STATIONARY, place, shaft, load_factor)
    assert inside > 0
    assert outside == 0


def test_a_preloaded_bearing_is_loaded_all_round() -> None:
    """At load factor 1 the opposite point is just unloaded, at 2 half the deflection is left."""
    opposite, zero = np.array([0.5]), np.zeros(1)
    assert load_weight(LoadCase.STATIONARY, opposite, zero, 1.0)[0] == 0.0
    half = load_weight(LoadCase.STATIONARY, opposite, zero, 2.0)[0]
    assert half == pytest.approx(0.5 ** (10 / 9))


def test_twin_shafts_swing_the_load_round_an_ellipse_in_the_turning_sense() -> None:
    """At an eighth of a turn the vector (cos, sin / 2) points 26.57 degrees ahead of x."""
    shaft = np.full(720, 0.125)
    place = np.arange(720) / 720
    weights = load_weight(LoadCase.TWICE_PER_TURN, place, shaft, 0.4)
    assert 360 * place[np.argmax(weights)] == pytest.approx(np.degrees(np.arctan(0.5)), abs=0.25)
    # Magnitude sqrt(cos^2 + sin^2 / 4) = sqrt(5 / 8); at a quarter turn it is the half.
    assert np.max(weights) == pytest.approx(np.sqrt(5 / 8), rel=1e-4)
    quarter = np.array([0.25])
    assert load_weight(LoadCase.TWICE_PER_TURN, quarter, quarter, 0.4)[0] == pytest.approx(0.5)


@given(turns=TURNS, modulation=st.floats(0.0, 1.0))
def test_the_path_weakens_a_strike_on_the_far_side_only(turns: float, modulation: float) -> None:
    place = np.array([turns, turns + 0.5, turns + 0.25])
    near, far, side = path_weight(place, np.array([turns]), modulation)
    assert near == pytest.approx(1.0)
    assert far == pytest.approx(1 - modulation)
    assert side == pytest.approx(1 - modulation / 2)
