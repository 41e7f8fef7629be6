import dataclasses
import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.bearing import blind_spots, defect_orders, frequency_table, slip_range
from vibhealth.errors import InputError
from vibhealth.model import BearingGeometry, Element, RollingBearing

Make = Callable[..., RollingBearing]

FEEDER = BearingGeometry(element_count=17, element_diameter_mm=26.0, pitch_diameter_mm=160.0)


def kinds(unit: RollingBearing, slip_percent: float) -> list[tuple[str, Element | None]]:
    return [(spot.kind, spot.element) for spot in blind_spots(unit, slip_percent)]


def test_a_family_on_a_whole_order_is_blind_without_slip(bearing: Make) -> None:
    spots = blind_spots(bearing(), 0.0)
    assert [(spot.kind, spot.element, spot.at_order) for spot in spots] == [
        ("shaft-line", Element.OUTER_RING, 3.0),
        ("shaft-line", Element.INNER_RING, 5.0),
    ]
    assert spots[0].sentence == (
        "Blind spot: a fault of the outer ring of bearing 'upper' strikes at 3.000x and without "
        "any slip sits on the shaft's 3x; a fault there can hide."
    )


def test_slip_carries_a_family_onto_a_whole_order(bearing: Make) -> None:
    """7.11875 reaches 7 at -1.67 % of slip; the inner ring reaches 10 with it."""
    feeder = bearing(FEEDER)
    assert ("shaft-line", Element.OUTER_RING) not in kinds(feeder, 1.6)
    assert ("shaft-line", Element.OUTER_RING) in kinds(feeder, 1.7)
    assert ("shaft-line", Element.INNER_RING) in kinds(feeder, 1.7)
    sentence = blind_spots(feeder, 1.7)[0].sentence
    assert "at -1.7 % from the computed order sits on the shaft's 7x" in sentence


def test_published_slips_at_which_race_lines_meet_the_shaft(bearing: Make) -> None:
    """29.05 and 28.55 mm pitch, 6.75 mm, eight balls: 2.30 and 1.78 % of slip to order 3.

    From a review of a public bearing data set, second-hand.
    """
    for pitch_mm, slip_percent in ((29.05, 2.30), (28.55, 1.78)):
        unit = bearing(
            BearingGeometry(element_count=8, element_diameter_mm=6.75, pitch_diameter_mm=pitch_mm)
        )
        blind = ("shaft-line", Element.OUTER_RING)
        assert blind not in kinds(unit, slip_percent - 0.01)
        assert blind in kinds(unit, slip_percent + 0.01)


def test_half_orders_are_blind_too_and_say_why(given_bearing: Make) -> None:
    (outer, inner) = blind_spots(given_bearing(3.51, 5.49), 0.5)
    assert (outer.at_order, inner.at_order) == (3.5, 5.5)
    assert "half order 3.5x, where its side bands also fall on each other" in outer.sentence


def test_the_third_harmonic_is_a_mention_not_a_blind_spot(given_bearing: Make) -> None:
    """3 x 3.3333 = 10; the order itself is 0.17 away from 3.5."""
    spots = blind_spots(given_bearing(10 / 3, 17 / 3), 0.5)
    assert [(spot.kind, spot.at_order) for spot in spots] == [
        ("harmonic", 10.0),
        ("harmonic", 17.0),
    ]


def test_a_family_far_from_shaft_lines_is_no_blind_spot(given_bearing: Make) -> None:
    assert blind_spots(given_bearing(3.26, 4.74), 1.0) == ()


def test_outer_ring_and_rolling_element_that_coincide_are_both_named(bearing: Make) -> None:
    """Z = 13, g = 0.18: 5.33 and 5.376, 0.86 % apart."""
    unit = bearing(
        BearingGeometry(element_count=13, element_diameter_mm=18.0, pitch_diameter_mm=100.0)
    )
    assert not [spot for spot in blind_spots(unit, 0.8) if spot.kind == "coincidence"]
    (spot,) = [spot for spot in blind_spots(unit, 1.0) if spot.kind == "coincidence"]
    assert (spot.element, spot.other_element) == (Element.OUTER_RING, Element.ROLLING_ELEMENT)
    assert spot.order == pytest.approx(5.33)
    assert spot.at_order == pytest.approx(5.3756, abs=5e-5)
    assert spot.sentence.endswith("a line there means outer ring or rolling element.")


def test_rows_and_equal_bearings_cannot_be_told_apart(bearing: Make) -> None:
    upper, lower = bearing(FEEDER, rows=2), bearing(FEEDER, name="lower")
    other = bearing(name="motor side")
    found = blind_spots(upper, 1.0, others=(upper, lower, other))
    assert [spot.other_bearing for spot in found if spot.kind == "same-bearing"] == ["lower"]
    (rows,) = [spot for spot in found if spot.kind == "rows"]
    assert rows.sentence.startswith("The 2 rows of bearing 'upper' strike at the same orders")
    assert not [spot for spot in blind_spots(lower, 1.0) if spot.kind == "rows"]


@given(st.from_type(BearingGeometry), st.floats(0.1, 5.0))
def test_a_blind_ring_can_be_slipped_onto_its_shaft_line(
    bearing: Make, geometry: BearingGeometry, slip_percent: float
) -> None:
    """What is called blind lies within reach, and a clear ring has no half order in reach."""
    unit = bearing(geometry)
    blind = {spot.element for spot in blind_spots(unit, slip_percent) if spot.kind == "shaft-line"}
    for element in (Element.OUTER_RING, Element.INNER_RING):
        ends = slip_range(unit, element, slip_percent)
        order = defect_orders(unit).strike_order(element)
        assert ends is not None
        assert order is not None
        low, high = min(ends[0], order - 0.03), max(ends[1], order + 0.03)
        reached = [half / 2 for half in range(1, 200) if low <= half / 2 <= high]
        assert (element in blind) == bool(reached)


def test_rows_of_the_frequency_table_are_orders_times_speed(bearing: Make) -> None:
    rows = frequency_table(bearing(FEEDER), 16.3, 1.5)
    assert [row.label for row in rows] == ["FTF", "BPFO", "BPFI", "2BSF"]
    orders = defect_orders(bearing(FEEDER))
    for row in rows:
        assert row.order == orders.strike_order(row.element)
        assert row.frequency_hz == pytest.approx(16.3 * row.order)
        assert row.frequency_low_hz == pytest.approx(16.3 * row.order_low)
        assert row.frequency_high_hz == pytest.approx(16.3 * row.order_high)
        assert row.order_low < row.order < row.order_high
    assert dict(zip(Element, Element, strict=True)).keys() == {row.element for row in rows}


def test_the_frequency_table_leaves_out_what_is_not_given(given_bearing: Make) -> None:
    rows = frequency_table(given_bearing(3.0, 4.92), 20.0, 1.0)
    assert [row.label for row in rows] == ["FTF", "BPFO", "BPFI"]


def test_a_table_needs_a_speed(bearing: Make) -> None:
    message = "shaft_frequency_hz must be a finite number above 0, got 0.0"
    with pytest.raises(InputError, match=re.escape(message)):
        frequency_table(bearing(), 0.0, 1.0)


def test_blind_spots_are_plain_values(bearing: Make) -> None:
    spot = blind_spots(bearing(), 0.0)[0]
    assert dataclasses.asdict(spot)["bearing"] == "upper"
