"""One bearing, its true orders, and a search with the usual settings, for the family tests."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.model import BearingGeometry, Element, FamilyFinding, LoadCase, RollingBearing

Array = NDArray[np.float64]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
SLIP_PERCENT = 1.5
TRUE_SLIP = -0.007

LIMITS = FamilyLimits(
    depth_watch=0.15, depth_present=0.28, depth_hold=0.3, false_alarm_probability=0.001
)
GEOMETRY = BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04)


def bearing(load_case: LoadCase, name: str = "upper") -> RollingBearing:
    return RollingBearing(name=name, geometry=GEOMETRY, element_count=9, load_case=load_case)


def find(
    samples: Array, *bearings: RollingBearing, rate_hz: float = RATE_HZ, **changes: Any
) -> FamilyReport:
    options: dict[str, Any] = {
        "shaft_frequency_hz": SHAFT_HZ,
        "bearings": bearings,
        "slip_percent": SLIP_PERCENT,
        "limits": LIMITS,
        "is_calibrated": True,
    }
    return find_families(samples, rate_hz, **options | changes)


def of(report: FamilyReport, element: Element) -> FamilyFinding:
    return next(finding for finding in report.findings if finding.element is element)


def present(report: FamilyReport) -> list[Element]:
    return [finding.element for finding in report.findings if finding.present]


ORDERS = defect_orders(bearing(LoadCase.ROTATING))
FTF = ORDERS.cage * (1 + TRUE_SLIP)
OUTER = ORDERS.outer_ring * (1 + TRUE_SLIP)
