"""From a searched family to a finding: what is significant gets intervals, the rest none."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.comb import bearing_combs
from vibhealth.diagnosis.envelope_bank import bank_bands, block_spectra, envelope_bank
from vibhealth.diagnosis.family_search import FoundFamily, search_families
from vibhealth.diagnosis.family_sizing import (
    FamilyContext,
    FamilyLimits,
    deepest_reading,
    sized_finding,
)
from vibhealth.model import BearingGeometry, CriterionResult, Element, LoadCase, RollingBearing

Array = NDArray[np.float64]
Train = Callable[..., Array]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
BEARING = RollingBearing(
    name="upper",
    geometry=BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04),
    element_count=9,
    load_case=LoadCase.ROTATING,
)
OUTER = defect_orders(BEARING).outer_ring
HIGHEST_ORDER = 20.0


@pytest.fixture(scope="module")
def searched(spall_train: Train) -> tuple[FamilyContext, dict[Element, FoundFamily]]:
    """An outer ring struck at 6 in unit noise, 1.9 times as hard in the middle of the load zone."""
    samples = spall_train(OUTER, amplitude=6.0, swings=((1.0, 0.9),), seed=2)
    combs = bearing_combs([BEARING])
    bands = bank_bands(RATE_HZ, SHAFT_HZ, fastest_strike_order=6.0)
    recorded, whitened = block_spectra(
        samples, RATE_HZ, shaft_frequency_hz=SHAFT_HZ, lowest_hz=bands[0][0]
    )
    bank = list(
        envelope_bank(whitened, bands, shaft_frequency_hz=SHAFT_HZ, highest_order=HIGHEST_ORDER)
    )
    context = FamilyContext(
        bearings=(BEARING,),
        spots=(),
        recorded=recorded,
        shaft_frequency_hz=SHAFT_HZ,
        highest_order=HIGHEST_ORDER,
        slip=0.015,
        limits=FamilyLimits(
            depth_watch=0.15, depth_present=0.28, depth_hold=0.3, false_alarm_probability=0.001
        ),
        n_families=len(combs),
        is_calibrated=True,
        whitened=whitened,
    )
    found = search_families(bank, combs, slip=0.015, significance=0.001)
    return context, {family.comb.element: family for family in found}


def test_a_significant_family_gets_intervals_and_evidence(
    searched: tuple[FamilyContext, dict[Element, FoundFamily]],
) -> None:
    context, found = searched
    finding = sized_finding(context, found[Element.OUTER_RING])
    assert finding.result is CriterionResult.HOLD
    assert finding.evidence == found[Element.OUTER_RING].evidence > 0
    assert finding.depth_interval is not None
    low, high = finding.depth_interval
    assert low < finding.depth_whitened < high < 1.3 * low
    assert finding.depth_whitened == pytest.approx(
        deepest_reading(found[Element.OUTER_RING])[0], rel=0.1
    )
    assert finding.impact_interval_m_s2 is not None
    assert finding.impact_m_s2 == pytest.approx(6 * 1.9, rel=0.3)
    least, most = finding.impact_interval_m_s2
    assert least < 6 * 1.9 < most


def test_what_is_not_significant_has_no_size_to_tell(
    searched: tuple[FamilyContext, dict[Element, FoundFamily]],
) -> None:
    context, found = searched
    finding = sized_finding(context, replace(found[Element.OUTER_RING], log_probability=-1.0))
    assert finding.false_alarm_probability > context.limits.false_alarm_probability
    assert finding.result is CriterionResult.PASS
    assert finding.impact_m_s2 is None
    assert finding.impact_interval_m_s2 is None
    assert finding.depth_interval is None
    assert finding.depth_whitened == deepest_reading(found[Element.OUTER_RING])[0]


def test_without_calibration_there_is_a_depth_and_no_impact(
    searched: tuple[FamilyContext, dict[Element, FoundFamily]],
) -> None:
    context, found = searched
    finding = sized_finding(replace(context, is_calibrated=False), found[Element.OUTER_RING])
    assert finding.impact_m_s2 is None
    assert finding.impact_interval_m_s2 is None
    assert finding.depth_interval is not None


def test_without_whitened_spectra_no_depth_gets_an_interval(
    searched: tuple[FamilyContext, dict[Element, FoundFamily]],
) -> None:
    context, found = searched
    finding = sized_finding(replace(context, whitened=[]), found[Element.OUTER_RING])
    assert finding.depth_interval is None
    assert finding.depth_whitened == deepest_reading(found[Element.OUTER_RING])[0]
