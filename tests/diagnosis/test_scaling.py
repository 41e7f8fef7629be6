"""Ratios of units: both ways, both sides of the tolerance, and what could be real."""

import pytest

from vibhealth.diagnosis.scaling import SCALING_RATIOS, scaling_of
from vibhealth.errors import InputError


@pytest.mark.parametrize("factor", SCALING_RATIOS)
@pytest.mark.parametrize("off", [0.952, 1.0, 1.048])
def test_a_ratio_of_units_is_told_both_ways(factor: float, off: float) -> None:
    for ratio, is_too_big in ((factor * off, True), (1 / (factor * off), False)):
        found = scaling_of(ratio)
        assert found is not None
        # 9.81 and 10 lie within each other's tolerance: the nearer one is told.
        assert found.factor == pytest.approx(factor * off, rel=0.051)
        assert found.is_too_big is is_too_big
        assert found.could_be_real is (factor == 2.54)


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.54 * 1.06, 2.54 * 0.94, 9.80665 * 0.94, 26.8, 5.0])
def test_other_ratios_are_none(ratio: float) -> None:
    assert scaling_of(ratio) is None
    assert scaling_of(1 / ratio) is None


def test_a_ratio_that_is_no_ratio_is_refused() -> None:
    with pytest.raises(InputError, match="ratio"):
        scaling_of(0.0)
