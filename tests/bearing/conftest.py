"""Bearings with orders that can be checked by hand, and random ones for hypothesis."""

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import strategies as st

from vibhealth.model import BearingGeometry, DefectOrders, LoadCase, RollingBearing


@st.composite
def geometries(draw: st.DrawFn) -> BearingGeometry:
    """Any geometry that can be built: the elements have room on the pitch circle."""
    count = draw(st.integers(3, 40))
    pitch_mm = draw(st.floats(20.0, 500.0))
    room = draw(st.floats(0.1, 0.95))
    return BearingGeometry(
        element_count=count,
        element_diameter_mm=room * pitch_mm * math.sin(math.pi / count),
        pitch_diameter_mm=pitch_mm,
        contact_angle_deg=draw(st.floats(0.0, 60.0)),
    )


st.register_type_strategy(BearingGeometry, geometries())


@pytest.fixture(scope="session")
def quarter() -> BearingGeometry:
    """Ratio 1/4, eight elements: orders 0.375, 3, 5 and spin 1.875."""
    return BearingGeometry(element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0)


@pytest.fixture(scope="session")
def bearing(quarter: BearingGeometry) -> Callable[..., RollingBearing]:
    """Make a bearing of a geometry (the quarter one), under a turning load unless said."""

    def make(geometry: BearingGeometry = quarter, **facts: Any) -> RollingBearing:
        facts = {"name": "upper", "load_case": LoadCase.ROTATING, **facts}
        return RollingBearing(geometry=geometry, element_count=geometry.element_count, **facts)

    return make


@pytest.fixture(scope="session")
def given_bearing() -> Callable[..., RollingBearing]:
    """Make a bearing of which only the orders are known."""

    def make(outer: float, inner: float, spin: float | None = None) -> RollingBearing:
        count = round(outer + inner)
        orders = DefectOrders(
            cage=outer / count, outer_ring=outer, inner_ring=inner, rolling_element=spin
        )
        return RollingBearing(name="given", given_orders=orders, element_count=count)

    return make
