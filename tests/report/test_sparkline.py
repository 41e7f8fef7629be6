"""A course in one line of text."""

import pytest

from vibhealth.report.sparkline import BLOCKS, sparkline


def test_height_is_the_logarithm() -> None:
    """Equal factors are equal steps: eight octaves fill the eight heights."""
    assert sparkline([2.0**k for k in range(8)]) == BLOCKS
    assert sparkline([3.0 * 10.0**-k for k in range(8)]) == BLOCKS[::-1]


def test_a_common_factor_changes_nothing() -> None:
    values = [0.3, 1.0, 0.9, 4.0, 2.5]
    assert sparkline(values) == sparkline([1e-6 * value for value in values])


def test_what_was_left_out_is_a_dot_in_its_place() -> None:
    assert sparkline([None, 1.0, None, 8.0]) == "·▁·█"
    assert sparkline([0.0, -1.0, 1.0, 8.0]) == "··▁█"


def test_the_last_ones_are_shown() -> None:
    values = [float(k) for k in range(1, 101)]
    assert len(sparkline(values)) == 40
    assert sparkline(values, width=3) == sparkline(values[-3:])


@pytest.mark.parametrize(("values", "line"), [([], ""), ([None] * 3, "···"), ([5.0] * 4, "▄▄▄▄")])
def test_nothing_to_tell(values: list[float | None], line: str) -> None:
    assert sparkline(values) == line
