"""One cage speed for all families of a bearing: readings, expectations, contradictions."""

from dataclasses import replace

import numpy as np
import pytest

from vibhealth.bearing import defect_orders, orders_at_cage
from vibhealth.diagnosis.cage_speed import (
    cage_reading,
    cage_speeds,
    expected_order,
    reject_contradictions,
)
from vibhealth.diagnosis.comb import Comb, bearing_combs
from vibhealth.diagnosis.decoys import DecoyLaw
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.model import (
    BearingGeometry,
    CriterionResult,
    Element,
    FamilyFinding,
    LoadCase,
    Ring,
    RollingBearing,
)

SPACING = 1 / 400
N_LINES = 12_000
RINGS = (Element.OUTER_RING, Element.INNER_RING)


def bearing(load_case: LoadCase = LoadCase.ROTATING, ring: Ring = Ring.INNER) -> RollingBearing:
    return RollingBearing(
        name="upper",
        geometry=BearingGeometry(
            element_count=11, element_diameter_mm=16.0, pitch_diameter_mm=100.0
        ),
        element_count=11,
        load_case=load_case,
        rotating_ring=ring,
    )


def comb_of(item: RollingBearing, element: Element) -> Comb:
    return next(comb for comb in bearing_combs([item]) if comb.element is element)


def found(item: RollingBearing, element: Element, order: float, width: int = 1) -> FoundFamily:
    envelope = EnvelopeOrders(
        band_hz=(1000.0, 2000.0),
        detector="squared",
        is_whitened=True,
        order_spacing=SPACING,
        depth_power=np.full(N_LINES, 1e-4),
        floor=np.full(N_LINES, 1e-4),
        mean_square=1.0,
        n_averages=1,
    )
    return FoundFamily(
        comb=comb_of(item, element),
        order=order,
        evidence=50.0,
        width_lines=width,
        envelope=envelope,
        band_evidence=((50.0, envelope),),
        log_probability=-30.0,
        log_probability_theory=-30.0,
        log_probability_decoys=-30.0,
        null=DecoyLaw(peaks=np.array([5.0]), threshold=4.0, n_decoys=1000),
        n_orders=100,
    )


def finding(family: FoundFamily, probability: float = 1e-9) -> FamilyFinding:
    return FamilyFinding(
        bearing=family.comb.bearing,
        element=family.comb.element,
        order=family.order,
        frequency_hz=16 * family.order,
        slip_percent=100 * family.slip,
        false_alarm_probability=probability,
        depth=0.5,
        depth_whitened=0.5,
        impact_m_s2=None,
        band_hz=(1000.0, 2000.0),
        result=CriterionResult.HOLD,
        present=True,
    )


@pytest.mark.parametrize("ring", list(Ring))
@pytest.mark.parametrize("load_case", [LoadCase.STATIONARY, LoadCase.ROTATING])
@pytest.mark.parametrize("slip", [-0.01, 0.0, 0.006])
def test_every_family_tells_the_cage_it_came_from(
    ring: Ring, load_case: LoadCase, slip: float
) -> None:
    """Inverse of `orders_at_cage` (BPFO = Z |fc - fo|, BPFI = Z |fi - fc|)."""
    item = bearing(load_case, ring)
    cage = defect_orders(item).cage * (1 + slip)
    orders = orders_at_cage(item, cage)
    for element in RINGS:
        order = orders.strike_order(element)
        assert order is not None
        reading = cage_reading(item, found(item, element, order))
        assert reading is not None
        assert reading.order == pytest.approx(cage, rel=1e-9)
    comb = comb_of(item, Element.CAGE)
    is_against = abs(comb.strike_order - abs(1 - defect_orders(item).cage)) < 1e-9
    shown = abs(1 - cage) if is_against else cage
    reading = cage_reading(item, found(item, Element.CAGE, shown))
    assert reading is not None
    assert reading.order == pytest.approx(cage, rel=1e-9)


def test_a_rolling_element_takes_no_part() -> None:
    item = bearing()
    assert cage_reading(item, found(item, Element.ROLLING_ELEMENT, 6.1)) is None
    outer = found(item, Element.OUTER_RING, 4.6)
    assert expected_order(item, comb_of(item, Element.ROLLING_ELEMENT), [outer]) is None


def test_the_other_ring_is_expected_at_what_is_left_of_the_count() -> None:
    """BPFO + BPFI = Z, whatever the cage slips."""
    item = bearing()
    for slip in (-0.012, 0.0, 0.009):
        outer = defect_orders(item).outer_ring * (1 + slip)
        expected = expected_order(
            item, comb_of(item, Element.INNER_RING), [found(item, Element.OUTER_RING, outer)]
        )
        assert expected is not None
        assert expected[0] == pytest.approx(11 - outer)
        assert 0.002 < expected[1] < 0.01
    assert expected_order(item, comb_of(item, Element.INNER_RING), []) is None


@pytest.mark.parametrize("load_case", [LoadCase.STATIONARY, LoadCase.ROTATING])
@pytest.mark.parametrize("ring", list(Ring))
def test_the_cage_is_expected_where_a_ring_puts_it(load_case: LoadCase, ring: Ring) -> None:
    """At the cage's order, or at one minus it where the load turns against the cage."""
    item = bearing(load_case, ring)
    cage = defect_orders(item).cage * 1.008
    comb = comb_of(item, Element.CAGE)
    outer = found(item, Element.OUTER_RING, orders_at_cage(item, cage).outer_ring)
    expected = expected_order(item, comb, [outer])
    assert expected is not None
    is_against = abs(comb.strike_order - abs(1 - defect_orders(item).cage)) < 1e-9
    assert expected[0] == pytest.approx(1 - cage if is_against else cage, rel=1e-9)


def test_the_sharpest_reading_counts_most() -> None:
    """A ring's line one line wide against a cage's 41 wide that is 0.5 % off."""
    item = bearing(LoadCase.STATIONARY)
    cage = defect_orders(item).cage
    sharp = found(item, Element.OUTER_RING, orders_at_cage(item, cage).outer_ring)
    broad = found(item, Element.CAGE, 1.005 * cage, width=41)
    for families in ([sharp, broad], [broad, sharp]):
        expected = expected_order(item, comb_of(item, Element.INNER_RING), families)
        assert expected is not None
        assert expected[0] == pytest.approx(orders_at_cage(item, cage).inner_ring, rel=1e-9)
        (speed,) = cage_speeds([item], families, [finding(family) for family in families])
        assert speed.order == pytest.approx(cage, rel=1e-5)


@pytest.mark.parametrize(("apart", "rejected"), [(0.001, False), (0.012, True)])
def test_of_two_that_need_different_cages_the_surer_stays(apart: float, rejected: bool) -> None:
    item = bearing()
    outer = found(item, Element.OUTER_RING, defect_orders(item).outer_ring)
    # The cage's share `apart` moves BPFI the other way.
    inner_order = orders_at_cage(item, defect_orders(item).cage * (1 + apart)).inner_ring
    inner = found(item, Element.INNER_RING, inner_order)
    findings = [finding(inner, 1e-5), finding(outer, 1e-12)]
    checked = reject_contradictions([item], [outer, inner], findings)
    assert checked[1] == findings[1]
    assert checked[0].present is not rejected
    if rejected:
        assert checked[0].result is CriterionResult.WATCH
        assert "one bearing has one cage" in checked[0].detail


def test_joint_speed_holds_the_truth_and_its_readings() -> None:
    item = bearing()
    cage = defect_orders(item).cage * 1.004
    orders = orders_at_cage(item, cage)
    families = [
        found(item, Element.OUTER_RING, orders.outer_ring),
        found(item, Element.INNER_RING, orders.inner_ring, width=9),
    ]
    (speed,) = cage_speeds([item], families, [finding(family) for family in families])
    assert speed.order == pytest.approx(cage, rel=1e-6)
    assert speed.low < cage < speed.high
    assert speed.slip_percent == pytest.approx(0.4, abs=1e-6)
    assert set(speed.elements) == set(RINGS)
    # Readings apart: the interval reaches from one to the other.
    apart = [families[0], found(item, Element.INNER_RING, orders.inner_ring + 0.05)]
    (wide,) = cage_speeds([item], apart, [finding(family) for family in apart])
    for family in apart:
        reading = cage_reading(item, family)
        assert reading is not None
        assert wide.low <= reading.order <= wide.high


def test_what_is_not_shown_tells_no_cage() -> None:
    item = bearing()
    outer = found(item, Element.OUTER_RING, 4.6)
    quiet = replace(finding(outer), present=False, result=CriterionResult.PASS)
    assert cage_speeds([item], [outer], [quiet]) == ()
    moved = replace(finding(outer), order=5.0)
    assert cage_speeds([item], [outer], [moved]) == ()
