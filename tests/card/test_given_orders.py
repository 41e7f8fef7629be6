"""Orders in place of geometry: what they imply, and those that no bearing has."""

import pytest

from tests.card.refusals import Make, refused

GEOMETRY = "element_count = 17\nelement_diameter_mm = 26.0\npitch_diameter_mm = 160.0\n"


def test_given_orders_may_leave_out_cage_and_element(card: Make) -> None:
    (bearing,) = card(
        (GEOMETRY, "orders = { outer_ring = 3.0, inner_ring = 4.92 }\n")
    ).rolling_bearings()
    assert bearing.element_count == 8
    assert bearing.geometry is None
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == pytest.approx(0.375)
    assert bearing.given_orders.rolling_element is None


def test_a_derived_cage_follows_the_turning_ring(card: Make) -> None:
    orders = 'orders = { outer_ring = 3.0, inner_ring = 5.0 }\nrotating_ring = "outer"\n'
    (bearing,) = card((GEOMETRY, orders)).rolling_bearings()
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == pytest.approx(0.625)


def test_a_stated_element_count_stands_beside_orders(card: Make) -> None:
    orders = "element_count = 17\norders = { outer_ring = 7.0, inner_ring = 9.6 }\n"
    (bearing,) = card((GEOMETRY, orders)).rolling_bearings()
    assert bearing.element_count == 17
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == pytest.approx(7 / 17)


ORDER_FAULTS = [
    (
        "orders = { outer_ring = 3.0, inner_ring = 5.5 }",
        (
            'bearing[1].orders ("upper"): outer_ring + inner_ring must be within 3 % of a whole number '
            'from 3 up, since BPFO + BPFI = Z whatever the cage slips, found "3 + 5.5 = 8.5"'
        ),
    ),
    (
        "element_count = 9\norders = { outer_ring = 3.0, inner_ring = 5.0 }",
        (
            'bearing[1].orders ("upper"): outer_ring + inner_ring must be within 3 % of '
            'element_count = 9, since BPFO + BPFI = Z whatever the cage slips, found "3 + 5 = 8"'
        ),
    ),
    (
        "orders = { outer_ring = 0.9, inner_ring = 1.1 }",
        (
            'bearing[1].orders ("upper"): outer_ring + inner_ring must be within 3 % of a whole number '
            'from 3 up, since BPFO + BPFI = Z whatever the cage slips, found "0.9 + 1.1 = 2"'
        ),
    ),
    (
        "orders = { outer_ring = 3.0, inner_ring = 5.0, cage = 0.39 }",
        (
            'bearing[1].orders.cage ("upper"): must be within 3 % of outer_ring / Z = 0.375 for a '
            "turning inner ring, since each element passes once per cage turn, found 0.39"
        ),
    ),
    (
        'rotating_ring = "outer"\norders = { outer_ring = 3.0, inner_ring = 5.0, cage = 0.375 }',
        (
            'bearing[1].orders.cage ("upper"): must be within 3 % of 1 - outer_ring / Z = 0.625 for a '
            "turning outer ring, since each element passes once per cage turn, found 0.375"
        ),
    ),
    (
        "orders = { outer_ring = 5.0, inner_ring = 3.0 }",
        (
            'bearing[1].orders.inner_ring ("upper"): must be above orders.outer_ring (5), since more '
            "elements pass the inner ring per turn; are the two swapped?, found 3.0"
        ),
    ),
    (
        "orders = { outer_ring = 3.0, inner_ring = 5.0, rolling_element = 3.75 }",
        (
            'bearing[1].orders.rolling_element ("upper"): must be the spin order, at most about 1.88 '
            "with these ring orders; is it the strike order, twice the spin?, found 3.75"
        ),
    ),
    (
        "pitch_diameter_mm = 40.0\norders = { outer_ring = 3.0, inner_ring = 5.0 }",
        'bearing[1].pitch_diameter_mm ("upper"): must be left out where orders are given, found 40.0',
    ),
    (
        "",
        (
            'bearing[1] ("upper"): needs either element_count, element_diameter_mm, pitch_diameter_mm '
            "or orders; leave the whole [[bearing]] out if neither is known, found nothing"
        ),
    ),
]


@pytest.mark.parametrize(("orders", "refusal"), ORDER_FAULTS)
def test_orders_that_no_bearing_has_are_refused(card: Make, orders: str, refusal: str) -> None:
    assert refused(card, (GEOMETRY, orders + "\n")) == [refusal]


def test_orders_within_three_per_cent_are_accepted(card: Make) -> None:
    """Published: outer 3.0 and inner 4.92, a sum 1 % off eight; cage 2.9 % off outer / Z."""
    orders = (
        "orders = { outer_ring = 3.0, inner_ring = 4.92, cage = 0.3855, rolling_element = 1.9 }\n"
    )
    (bearing,) = card((GEOMETRY, orders)).rolling_bearings()
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == 0.3855


@pytest.mark.parametrize(("inner", "accepted"), [(9.50, True), (9.48, False)])
def test_the_sum_may_be_three_per_cent_off(card: Make, inner: float, accepted: bool) -> None:
    """17 less three per cent is 16.49: 7 + 9.50 lies above it, 7 + 9.48 below."""
    orders = f"element_count = 17\norders = {{ outer_ring = 7.0, inner_ring = {inner} }}\n"
    if accepted:
        assert card((GEOMETRY, orders)).rolling_bearings()[0].element_count == 17
    else:
        assert "must be within 3 % of element_count = 17" in refused(card, (GEOMETRY, orders))[0]
