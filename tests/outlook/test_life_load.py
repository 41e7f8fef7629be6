"""Centrifugal load: closed form, equivalence of stroke and unbalance, the swinging load."""

import math

import numpy as np
import pytest

from vibhealth.errors import InputError
from vibhealth.outlook.centrifugal_load import (
    body_force_kn,
    equivalent_load_kn,
    swinging_force_kn,
    unbalance_force_kn,
)
from vibhealth.units import g_to_m_s2, throw_factor


def test_one_kilogram_metre_at_one_radian_per_second() -> None:
    assert unbalance_force_kn(1.0, 30.0 / math.pi) == pytest.approx(0.001)


def test_force_goes_with_the_square_of_the_speed() -> None:
    assert unbalance_force_kn(2.0, 1800.0) == pytest.approx(4 * unbalance_force_kn(2.0, 900.0))


def test_body_on_its_stroke_weighs_its_throw_factor() -> None:
    weight_kn = 820.0 * g_to_m_s2(1.0) / 1000
    assert body_force_kn(820.0, 3.0, 978.0) == pytest.approx(weight_kn * throw_factor(6.0, 978.0))


def test_shared_equally_and_raised() -> None:
    assert equivalent_load_kn(100.0, bearings=4) == pytest.approx(1.2 * 25.0)
    assert equivalent_load_kn(100.0, bearings=4, machine_factor=1.0) == 25.0


def test_a_load_that_does_not_swing() -> None:
    assert swinging_force_kn(10.0, 10.0) == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("ratio", "exact"), [(0.0, 0.695), (0.2, 0.725), (0.4, 0.768), (0.6, 0.828), (0.8, 0.906)]
)
def test_the_rule_stays_within_its_stated_error_of_the_mean(ratio: float, exact: float) -> None:
    phase = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    force = (1 + ratio) / 2 + (1 - ratio) / 2 * np.cos(phase)
    mean = float(np.mean(force ** (10 / 3)) ** 0.3)
    assert mean == pytest.approx(exact, abs=6e-4)
    error = swinging_force_kn(1.0, max(ratio, 1e-9)) / mean - 1
    assert -0.025 < error < 0.06
    assert (error < 0) == (ratio == 0.0)


def test_refusals() -> None:
    with pytest.raises(InputError, match="unbalance_kg_m must be"):
        unbalance_force_kn(0.0, 900.0)
    with pytest.raises(InputError, match="stroke_radius_mm must be"):
        body_force_kn(820.0, -3.0, 978.0)
    with pytest.raises(InputError, match="speed_rpm must be"):
        body_force_kn(820.0, 3.0, math.nan)
    with pytest.raises(InputError, match="bearings must be 1 or more, got 0"):
        equivalent_load_kn(1.0, bearings=0)
    with pytest.raises(InputError, match=r"machine_factor must be 1 or more, got 0\.9"):
        equivalent_load_kn(1.0, bearings=1, machine_factor=0.9)
    with pytest.raises(InputError, match="swapped"):
        swinging_force_kn(1.0, 2.0)
