"""Viscosity at temperature: the two given values come back, and it falls between and beyond."""

import itertools
import math

import pytest

from vibhealth.errors import InputError
from vibhealth.outlook.oil_viscosity import usual_viscosity_at_100c_mm2_s, viscosity_mm2_s


@pytest.mark.parametrize(("temperature", "expected"), [(40.0, 220.0), (100.0, 19.0)])
def test_both_given_values_come_back(temperature: float, expected: float) -> None:
    found = viscosity_mm2_s(temperature, at_40c_mm2_s=220.0, at_100c_mm2_s=19.0)
    assert found == pytest.approx(expected)


def test_oil_thins_steadily() -> None:
    values = [viscosity_mm2_s(float(t), at_40c_mm2_s=150.0) for t in range(0, 160, 10)]
    assert all(later < earlier for earlier, later in itertools.pairwise(values))


def test_chaining_through_another_temperature_gives_the_same_line() -> None:
    # On Walther's line the loglog values are linear in log T; 0 to 200 °C must stay on it.
    def height(t: float) -> float:
        nu = viscosity_mm2_s(t, at_40c_mm2_s=220.0, at_100c_mm2_s=19.0)
        return math.log10(math.log10(nu + 0.7))

    temperatures = [10.0, 60.0, 130.0]
    (x1, x2, x3) = (math.log10(t + 273.15) for t in temperatures)
    (y1, y2, y3) = (height(t) for t in temperatures)
    assert (y2 - y1) / (x2 - x1) == pytest.approx((y3 - y2) / (x3 - x2), rel=1e-9)


def test_without_the_hot_value_index_95_is_assumed() -> None:
    hot = usual_viscosity_at_100c_mm2_s(220.0)
    assumed = viscosity_mm2_s(70.0, at_40c_mm2_s=220.0)
    assert assumed == viscosity_mm2_s(70.0, at_40c_mm2_s=220.0, at_100c_mm2_s=hot)
    # An oil of a higher index is thicker when hot.
    better = viscosity_mm2_s(90.0, at_40c_mm2_s=220.0, at_100c_mm2_s=26.0)
    assert better > 1.15 * viscosity_mm2_s(90.0, at_40c_mm2_s=220.0)


@pytest.mark.parametrize("cold", [5.0, 6.4999, 1700.5])
def test_the_assumption_has_a_range(cold: float) -> None:
    with pytest.raises(InputError, match=r"at_40c_mm2_s must lie between 6\.5 and 1700"):
        usual_viscosity_at_100c_mm2_s(cold)


def test_refusals() -> None:
    with pytest.raises(InputError, match="temperature_c must lie between 0 and 200"):
        viscosity_mm2_s(210.0, at_40c_mm2_s=220.0)
    with pytest.raises(InputError, match="at_100c_mm2_s must lie from 2 to below"):
        viscosity_mm2_s(70.0, at_40c_mm2_s=220.0, at_100c_mm2_s=220.0)
    with pytest.raises(InputError, match="must be at least 2 mm2/s"):
        viscosity_mm2_s(200.0, at_40c_mm2_s=32.0)
