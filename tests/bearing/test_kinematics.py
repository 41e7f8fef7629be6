import dataclasses
import math
import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.bearing import (
    check_slip_percent,
    defect_orders,
    kinematic_frequencies_hz,
    orders_at_cage,
    ring_orders,
    slip_range,
)
from vibhealth.errors import InputError
from vibhealth.model import BearingGeometry, DefectOrders, Element, Ring, RollingBearing

Make = Callable[..., RollingBearing]

# A handful of products and sums of numbers of order one to a hundred.
RTOL = 1e-12


def test_closed_form_at_sixty_degrees() -> None:
    """d/D = 1/2, cos 60 = 1/2, so g = 1/4, but D/(2d) stays 1: the angle enters once only."""
    geometry = BearingGeometry(
        element_count=5, element_diameter_mm=20.0, pitch_diameter_mm=40.0, contact_angle_deg=60.0
    )
    computed = kinematic_frequencies_hz(geometry, inner_hz=10.0, outer_hz=0.0)
    assert computed.cage_hz == pytest.approx(3.75, rel=RTOL)
    assert computed.outer_ring_hz == pytest.approx(18.75, rel=RTOL)
    assert computed.inner_ring_hz == pytest.approx(31.25, rel=RTOL)
    assert computed.rolling_element_hz == pytest.approx(9.375, rel=RTOL)


@given(st.from_type(BearingGeometry), st.floats(-100, 100), st.floats(-100, 100))
def test_elements_roll_without_sliding(
    geometry: BearingGeometry, inner_hz: float, outer_hz: float
) -> None:
    """Derived again from velocities: at either contact ring and element move alike.

    Surface speed of a ring at its contact is speed times contact radius; the
    element's is cage speed times pitch radius, plus or minus spin times its radius.
    """
    angle = math.radians(geometry.contact_angle_deg)
    pitch, element = geometry.pitch_diameter_mm, geometry.element_diameter_mm
    inner_radius = (pitch - element * math.cos(angle)) / 2
    outer_radius = (pitch + element * math.cos(angle)) / 2
    inner_speed, outer_speed = inner_hz * inner_radius, outer_hz * outer_radius
    cage_hz = (inner_speed + outer_speed) / pitch  # the middle moves at the mean speed
    spin_hz = abs(inner_speed - cage_hz * inner_radius) / (element / 2)

    computed = kinematic_frequencies_hz(geometry, inner_hz=inner_hz, outer_hz=outer_hz)
    # Subtracted speeds leave round-off of the larger one; never below that of 1 mHz.
    tolerance = 1e-9 * max(abs(inner_hz), abs(outer_hz), 1e-3) * pitch / element
    assert computed.cage_hz == pytest.approx(cage_hz, rel=0, abs=tolerance)
    assert computed.rolling_element_hz == pytest.approx(spin_hz, rel=0, abs=tolerance)


@given(
    st.from_type(BearingGeometry), st.floats(-100, 100), st.floats(-100, 100), st.floats(-100, 100)
)
def test_turning_the_whole_bearing_changes_the_cage_alone(
    geometry: BearingGeometry, inner_hz: float, outer_hz: float, turn_hz: float
) -> None:
    still = kinematic_frequencies_hz(geometry, inner_hz=inner_hz, outer_hz=outer_hz)
    turned = kinematic_frequencies_hz(
        geometry, inner_hz=inner_hz + turn_hz, outer_hz=outer_hz + turn_hz
    )
    # Round-off of speeds up to 200 Hz times the count (or D / d): eps times that, with room.
    tolerance = 1e-9 * geometry.element_count * 200
    assert turned.cage_hz == pytest.approx(still.cage_hz + turn_hz, abs=tolerance)
    assert turned.outer_ring_hz == pytest.approx(still.outer_ring_hz, abs=tolerance)
    assert turned.inner_ring_hz == pytest.approx(still.inner_ring_hz, abs=tolerance)
    assert turned.rolling_element_hz == pytest.approx(still.rolling_element_hz, abs=tolerance)


@pytest.mark.parametrize(("inner_hz", "outer_hz"), [(math.nan, 0.0), (1.0, math.inf)])
def test_a_ring_speed_that_is_no_number_is_refused(
    quarter: BearingGeometry, inner_hz: float, outer_hz: float
) -> None:
    with pytest.raises(InputError, match="_hz must be a finite number, got"):
        kinematic_frequencies_hz(quarter, inner_hz=inner_hz, outer_hz=outer_hz)


@given(st.from_type(BearingGeometry), st.sampled_from(Ring))
def test_orders_are_the_frequencies_at_one_turn_per_second(
    bearing: Make, geometry: BearingGeometry, ring: Ring
) -> None:
    unit = bearing(geometry, rotating_ring=ring)
    inner, outer = ring_orders(unit)
    orders = defect_orders(unit)
    at_seven = kinematic_frequencies_hz(geometry, inner_hz=7 * inner, outer_hz=7 * outer)
    assert 7 * orders.cage == pytest.approx(at_seven.cage_hz, rel=RTOL)
    assert 7 * orders.outer_ring == pytest.approx(at_seven.outer_ring_hz, rel=RTOL)
    assert 7 * orders.inner_ring == pytest.approx(at_seven.inner_ring_hz, rel=RTOL)
    assert orders.rolling_element is not None
    assert 7 * orders.rolling_element == pytest.approx(at_seven.rolling_element_hz, rel=RTOL)


def test_the_turning_ring_decides_the_cage_only(bearing: Make) -> None:
    inner, outer = bearing(), bearing(rotating_ring=Ring.OUTER)
    assert ring_orders(inner) == (1.0, 0.0)
    assert ring_orders(outer) == (0.0, 1.0)
    assert defect_orders(outer) == dataclasses.replace(defect_orders(inner), cage=0.625)


def test_given_orders_come_back_as_given(given_bearing: Make) -> None:
    unit = given_bearing(3.0, 4.92)
    assert defect_orders(unit) == DefectOrders(
        cage=0.375, outer_ring=3.0, inner_ring=4.92, rolling_element=None
    )


@given(st.from_type(BearingGeometry), st.sampled_from(Ring), st.floats(0.05, 0.95))
def test_ring_orders_sum_to_the_element_count_whatever_the_cage_does(
    bearing: Make, geometry: BearingGeometry, ring: Ring, cage_order: float
) -> None:
    slipped = orders_at_cage(bearing(geometry, rotating_ring=ring), cage_order)
    count = geometry.element_count
    against_outer = cage_order if ring is Ring.INNER else 1 - cage_order
    assert slipped.cage == cage_order
    assert slipped.outer_ring == pytest.approx(count * against_outer, rel=1e-9)
    assert slipped.outer_ring + slipped.inner_ring == pytest.approx(count, rel=1e-9)


def test_spin_at_a_cage_speed_is_that_of_the_slip_free_bearing(bearing: Make) -> None:
    """g' = 1 - 2c: at c = 0.4 it is 0.2, and BSF = (1 - 0.04) D / (2 d) = 0.96 x 2."""
    assert orders_at_cage(bearing(), 0.4).rolling_element == pytest.approx(1.92, rel=RTOL)
    turned = orders_at_cage(bearing(rotating_ring=Ring.OUTER), 0.6)
    assert turned.rolling_element == pytest.approx(1.92, rel=RTOL)


def test_given_orders_scale_from_what_the_card_states(given_bearing: Make) -> None:
    unit = given_bearing(3.0, 4.92, 1.9)
    assert orders_at_cage(unit, 0.375) == defect_orders(unit)
    slipped = orders_at_cage(unit, 0.36)
    assert slipped.outer_ring == pytest.approx(3.0 * 0.36 / 0.375, rel=RTOL)
    assert slipped.inner_ring == pytest.approx(4.92 * 0.64 / 0.625, rel=RTOL)
    spin = 1.9 * (1 - (1 - 2 * 0.36) ** 2) / (1 - (1 - 2 * 0.375) ** 2)
    assert slipped.rolling_element == pytest.approx(spin, rel=RTOL)


def test_a_spin_that_is_not_given_stays_unknown(given_bearing: Make) -> None:
    assert orders_at_cage(given_bearing(3.0, 4.92), 0.37).rolling_element is None
    assert slip_range(given_bearing(3.0, 4.92), Element.ROLLING_ELEMENT, 1.0) is None


@pytest.mark.parametrize("cage_order", [0.0, 1.0, -0.4, math.nan])
def test_a_cage_outside_its_rings_is_refused(bearing: Make, cage_order: float) -> None:
    message = f"cage_order must lie between 0 and 1 (not included), got {cage_order}"
    with pytest.raises(InputError, match=re.escape(message)):
        orders_at_cage(bearing(), cage_order)


def test_slip_ranges_of_both_rings_are_equally_wide(bearing: Make) -> None:
    """Two per cent of the cage's 0.375 moves eight elements by 0.06 at either ring."""
    assert slip_range(bearing(), Element.OUTER_RING, 2.0) == pytest.approx((2.94, 3.06))
    assert slip_range(bearing(), Element.INNER_RING, 2.0) == pytest.approx((4.94, 5.06))
    assert slip_range(bearing(), Element.CAGE, 2.0) == pytest.approx((0.3675, 0.3825))
    assert slip_range(bearing(), Element.ROLLING_ELEMENT, 2.0) == pytest.approx((3.675, 3.825))


@pytest.mark.parametrize("slip_percent", [-0.1, 5.1, math.nan])
def test_a_slip_outside_its_range_is_refused(slip_percent: float) -> None:
    message = f"slip_percent must lie between 0 and 5, got {slip_percent}"
    with pytest.raises(InputError, match=re.escape(message)):
        check_slip_percent(slip_percent)
