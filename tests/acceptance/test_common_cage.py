"""One cage speed for all recordings: which agree on it, and what contradicts it."""

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from vibhealth.acceptance.combined_evidence import (
    CAGE_TOLERANCE,
    common_cage,
)
from vibhealth.bearing import defect_orders, orders_at_cage
from vibhealth.card import MachineCard
from vibhealth.model import (
    Assessment,
    CageSpeed,
    Criterion,
    CriterionResult,
    Element,
    FamilyFinding,
    Hold,
    RecordingAnalysis,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Family = Callable[..., FamilyFinding]
Make = Callable[..., RecordingAnalysis]

INNER = "family-DE-inner-ring"


def bearing_at(cage_order: float, make_card: Callable[..., MachineCard]) -> dict[Element, float]:
    orders = orders_at_cage(make_card().rolling_bearings()[0], cage_order)
    found = {element: orders.strike_order(element) for element in Element}
    return {element: order for element, order in found.items() if order is not None}


def cage(slip_percent: float, make_card: Callable[..., MachineCard], **changes: Any) -> CageSpeed:
    kinematic = defect_orders(make_card().rolling_bearings()[0]).cage
    order = kinematic * (1 + slip_percent / 100)
    facts: dict[str, Any] = {
        "bearing": "DE",
        "order": order,
        "low": order * 0.9995,
        "high": order * 1.0005,
        "slip_percent": slip_percent,
        "elements": (Element.OUTER_RING,),
    }
    return CageSpeed(**facts | changes)


@pytest.mark.parametrize(
    ("slips", "agreeing", "is_carried"),
    [
        ((0.6,), 1, False),
        ((0.6, 0.6), 2, True),
        ((0.6, 1.0), 2, True),  # 0.4 % apart
        ((0.6, 1.5), 1, False),  # 0.9 % apart: none is preferred
        ((0.6, 0.7, 1.9), 2, True),
        ((0.0, 0.45, 0.9, 2.5), 2, False),  # no half of them agrees
    ],
)
def test_the_cage_speed_most_recordings_agree_on(
    make_analysis: Make,
    make_card: Callable[..., MachineCard],
    slips: Sequence[float],
    agreeing: int,
    is_carried: bool,
) -> None:
    analyses = [make_analysis(n, cage_speeds=[cage(s, make_card)]) for n, s in enumerate(slips)]
    found = common_cage(analyses, "DE")
    assert found is not None
    assert (len(found.agreeing), found.is_carried) == (agreeing, is_carried)
    assert found.of == len(slips)
    assert found.low <= found.high
    assert common_cage(analyses, "NDE") is None


def test_axes_of_one_file_are_one_recording_of_the_cage(
    make_analysis: Make, make_card: Callable[..., MachineCard]
) -> None:
    both = [make_analysis(sha256="a", point=p, cage_speeds=[cage(0.6, make_card)]) for p in "AB"]
    found = common_cage(both, "DE")
    assert found is not None
    assert (len(found.agreeing), found.is_carried) == (1, False)


def test_the_tolerance_is_between_the_intervals(
    make_analysis: Make, make_card: Callable[..., MachineCard]
) -> None:
    for gap, agreeing in ((0.99, 2), (1.01, 1)):
        low = cage(0.0, make_card)
        # Ends of the intervals, each 0.05 % from its middle, just a tolerance apart.
        slip = 100 * ((1.0005 + gap * CAGE_TOLERANCE) / 0.9995 - 1)
        analyses = [
            make_analysis(n, cage_speeds=[c]) for n, c in enumerate((low, cage(slip, make_card)))
        ]
        found = common_cage(analyses, "DE")
        assert found is not None
        assert len(found.agreeing) == agreeing


def odd_set(
    make_family: Family, make_card: Callable[..., MachineCard], slip: float
) -> list[dict[str, Any]]:
    """Two recordings, each of its own point, agree on +0.6 %; one shows the inner ring deeply."""
    right = {"cage_speeds": [cage(0.6, make_card)]}
    order = bearing_at(
        defect_orders(make_card().rolling_bearings()[0]).cage * (1 + slip), make_card
    )
    inner = make_family(Element.INNER_RING, depth=0.5, order=order[Element.INNER_RING])
    return [right | {"point": "A", "families": [inner]}, right | {"point": "B"}, {"point": "C"}]


def test_a_single_reading_that_contradicts_the_cage_is_watched(
    judged: Judged, criterion: Pick, make_family: Family, make_card: Callable[..., MachineCard]
) -> None:
    fits = criterion(judged(*odd_set(make_family, make_card, 0.006)), INNER)
    assert (fits.result, fits.hold) == (CriterionResult.HOLD, Hold.FIX)
    assert "cage slip +0.6 % in all 2 that show one" in fits.detail
    assessment = judged(*odd_set(make_family, make_card, -0.012))
    odd = criterion(assessment, INNER)
    assert (odd.result, odd.hold) == (CriterionResult.WATCH, None)
    assert "fits no common cage speed" in odd.detail
    assert "fits no common cage speed" in odd.advice
    assert "too few recordings to hold" in assessment.headline


def test_contradiction_excuses_no_family_that_repeats_or_that_nothing_contradicts(
    judged: Judged, criterion: Pick, make_family: Family, make_card: Callable[..., MachineCard]
) -> None:
    twice = odd_set(make_family, make_card, -0.012)
    twice[1]["families"] = twice[0]["families"]
    found = criterion(judged(*twice), INNER)
    assert (found.result, found.hold) == (CriterionResult.HOLD, Hold.FIX)
    assert "fits no common cage speed" in found.reason
    alone = odd_set(make_family, make_card, -0.012)
    alone[1]["cage_speeds"] = []
    assert criterion(judged(*alone), INNER).result is CriterionResult.HOLD
    slides = odd_set(make_family, make_card, -0.012)
    slides[0]["families"] = [make_family(Element.ROLLING_ELEMENT, depth=0.5, order=4.0)]
    rolling = criterion(judged(*slides), "family-DE-rolling-element")
    assert rolling.result is CriterionResult.HOLD


@pytest.mark.parametrize("share", [False, True])
def test_a_cage_line_is_read_at_either_side_of_the_turning_load(
    judged: Judged,
    criterion: Pick,
    make_family: Family,
    make_card: Callable[..., MachineCard],
    share: bool,
) -> None:
    facts = odd_set(make_family, make_card, 0.006)
    order = defect_orders(make_card().rolling_bearings()[0]).cage * 1.006
    order = 1 - order if share else order
    facts[0]["families"] = [make_family(Element.CAGE, depth=0.5, order=order)]
    assert criterion(judged(*facts), "family-DE-cage").result is CriterionResult.HOLD
    facts[0]["families"] = [make_family(Element.CAGE, depth=0.5, order=order * 1.02)]
    assert criterion(judged(*facts), "family-DE-cage").result is CriterionResult.WATCH
