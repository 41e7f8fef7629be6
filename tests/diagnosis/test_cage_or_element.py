"""Cage or rolling element where twice the spin meets a multiple of the cage's line.

With elements of a quarter of the pitch circle, twice the spin is ``4 (1 - 1/16) = 3.75`` orders
and the cage turns at ``(1 - 1/4) / 2 = 0.375``: exactly ten to one under a load that stands, and
``3.75 / 0.625 = 6`` to one under a load that turns (kinematics: T. A. Harris, Rolling Bearing
Analysis, 4th ed. 2001, from memory; which lines each shows: W. A. Smith and R. B. Randall,
MSSP 64-65 (2015) 100-131, table 1).
"""

import pytest

from tests.benchmark.machines import analyzed, machine_card, running
from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.analysis import largest_present
from vibhealth.diagnosis.families import FamilyReport
from vibhealth.model import Element, FamilyFinding
from vibhealth.simulate import Defect, simulate

GEOMETRY = {
    "element_count": 11,
    "element_diameter_mm": 37.5,
    "pitch_diameter_mm": 150.0,
    "contact_angle_deg": 0.0,
}
# Some twice the smallest that would be found on such a machine.
IMPACT_M_S2 = {Element.ROLLING_ELEMENT: 1.4, Element.CAGE: 1.2}


def searched(load: str, element: Element) -> FamilyReport:
    card = machine_card(GEOMETRY, load)
    defect = Defect(element=element, impact_m_s2=IMPACT_M_S2[element])
    simulated = simulate(card, defects=(defect,), settings=running(41, cage_slip_percent=0.4))
    return analyzed(card, simulated.samples[0])


def named(report: FamilyReport) -> FamilyFinding:
    finding = largest_present(report.findings)
    assert finding is not None
    return finding


def test_the_two_meet_on_this_bearing() -> None:
    bearing = machine_card(GEOMETRY, "stationary").rolling_bearings()[0]
    orders = defect_orders(bearing)
    spin = orders.strike_order(Element.ROLLING_ELEMENT)
    assert spin == pytest.approx(10 * orders.cage)
    assert spin == pytest.approx(6 * (1 - orders.cage))


@pytest.mark.parametrize("element", [Element.ROLLING_ELEMENT, Element.CAGE])
def test_they_are_told_apart_at_ten_to_one(element: Element) -> None:
    report = searched("stationary", element)
    finding = named(report)
    assert finding.element is element
    assert finding.ambiguous_with == ()
    assert finding.result == "hold"
    others = [f for f in report.findings if f is not finding and f.result == "hold"]
    assert others == []


def test_at_six_to_one_a_cage_is_named_with_a_doubt_and_a_rolling_element_without() -> None:
    finding = named(searched("rotating", Element.CAGE))
    assert finding.element is Element.CAGE
    assert finding.ambiguous_with == ("rolling-element",)
    assert "not clearly apart" in finding.detail
    finding = named(searched("rotating", Element.ROLLING_ELEMENT))
    assert finding.element is Element.ROLLING_ELEMENT
    assert finding.ambiguous_with == ()
