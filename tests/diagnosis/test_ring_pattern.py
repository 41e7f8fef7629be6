"""Side bands of a ring's family: quadrature of a load zone, both sides, nearby lines, both rings."""

import pytest

from tests.diagnosis.test_cage_speed import bearing, found
from tests.diagnosis.test_pulse_shape import ORDER, SPACING, envelope, load_over_zone
from vibhealth.diagnosis.ring_pattern import ring_pattern, side_to_centre
from vibhealth.model import Element, LoadCase

DEPTH = 0.4
# Noise of power 1e-4 in single lines, beside side bands of 0.16 each.
NOISE = 0.02


def lines(order: float, *, above: float, below: float, off_lines: int = 0) -> dict[float, float]:
    """Three centre lines, and side bands one order away with these shares of their depth."""
    shown = {n * order: DEPTH for n in (1, 2, 3)}
    for n in (1, 2, 3):
        shown[n * order + 1 + off_lines * SPACING] = DEPTH * above
        shown[n * order - 1 - off_lines * SPACING] = DEPTH * below
    return shown


def test_first_side_band_of_a_load_zone_lies_between_half_and_nine_tenths() -> None:
    """Strikes in proportion to the load, squared envelope; narrower zones have stronger ones."""
    powers = [load_over_zone(degrees) for degrees in (60.0, 75.0, 90.0, 120.0, 150.0, 180.0)]
    ratios = [power[1] / power[0] for power in powers]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] < 0.9
    assert ratios[-1] > 0.5


@pytest.mark.parametrize(("above", "below"), [(0.9, 0.0), (0.0, 0.9)])
def test_both_side_bands_count(above: float, below: float) -> None:
    family = found(bearing(LoadCase.ROTATING), Element.OUTER_RING, ORDER)
    shown = envelope(lines(ORDER, above=above, below=below))
    assert side_to_centre(family, shown) == pytest.approx(0.5 * 0.9**2, abs=NOISE)


def test_a_side_band_is_found_a_few_lines_off_and_no_farther() -> None:
    family = found(bearing(LoadCase.ROTATING), Element.OUTER_RING, ORDER)
    near = envelope(lines(ORDER, above=0.9, below=0.9, off_lines=2))
    assert ring_pattern(family, near, 0.69) == "single-mark"
    far = envelope(lines(ORDER, above=0.9, below=0.9, off_lines=8))
    assert ring_pattern(family, far, 0.69) == "marks-at-every-element"


def test_an_inner_ring_has_a_pattern_under_a_standing_load() -> None:
    """At an order whose three harmonics lie within the drawn spectrum."""
    family = found(bearing(LoadCase.STATIONARY), Element.INNER_RING, ORDER)
    single = envelope(lines(ORDER, above=0.9, below=0.9))
    assert ring_pattern(family, single, 0.69) == "single-mark"
    marks = envelope(lines(ORDER, above=0.2, below=0.2))
    assert ring_pattern(family, marks, 0.69) == "marks-at-every-element"
