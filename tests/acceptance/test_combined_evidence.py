"""Several recordings and axes together: chances by closed form and by simulation, one cage speed."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.acceptance import judge
from vibhealth.acceptance.combined_evidence import (
    CAGE_TOLERANCE,
    chance_of_agreement,
    chance_together,
    common_cage,
    needed_to_agree,
    over_points,
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

OUTER, INNER = "family-DE-outer-ring", "family-DE-inner-ring"
N_SETS = 4000
probabilities = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6)


@pytest.mark.parametrize("p", [1e-9, 0.001, 0.3])
def test_agreement_by_closed_form(p: float) -> None:
    """At least k of n independent looks at p: sums of binomial terms."""
    assert chance_of_agreement([p], 1) == p
    any_of_three = -math.expm1(3 * math.log1p(-p))
    assert chance_of_agreement([1.0, p, 1.0], 1) == pytest.approx(any_of_three)
    two_of_three = 3 * p**2 - 2 * p**3
    assert chance_of_agreement([p, 0.0, 1.0], 2) == pytest.approx(two_of_three)
    assert chance_of_agreement([p, p, p], 3) == pytest.approx(p**3)


@pytest.mark.parametrize("p", [0.01, 0.2])
def test_together_by_closed_form(p: float) -> None:
    """Product of two uniform numbers: P(U1 U2 <= x) = x (1 - ln x)."""
    assert chance_together([p]) == pytest.approx(p)
    product = p * 0.5
    assert chance_together([p, 0.5]) == pytest.approx(product * (1 - math.log(product)))
    assert 0 <= chance_together([0.0, 0.0]) < 1e-200


@given(probabilities, st.data())
def test_combined_chances_are_chances_and_grow_with_every_one(
    values: list[float], data: st.DataObject
) -> None:
    k = data.draw(st.integers(1, len(values)))
    place = data.draw(st.integers(0, len(values) - 1))
    larger = [*values[:place], data.draw(st.floats(values[place], 1.0)), *values[place + 1 :]]
    for chance in (lambda v: chance_of_agreement(v, k), chance_together, over_points):
        assert 0 <= chance(values) <= chance(larger) + 1e-12 <= 1 + 1e-12


@pytest.mark.parametrize("limit", [0.01, 0.05])
def test_under_noise_the_combined_chance_is_met_no_more_often_than_it_says(limit: float) -> None:
    """Uniform probabilities, the axes of a recording the same number twice: the worst sharing."""
    rng = np.random.default_rng(7)
    alike = np.sort(rng.random((N_SETS, 3)), axis=1)
    # Four standard deviations of the share of so many sets.
    allowed = limit + 4 * math.sqrt(limit / N_SETS)
    for k in (1, 2, 3):
        chances = np.array([chance_of_agreement(list(row), k) for row in alike])
        assert np.mean(chances <= limit) <= allowed
        assert np.mean(chances <= limit) >= 2 * limit - allowed  # exact, not only safe
        assert np.mean([over_points([c, c]) <= limit for c in chances]) <= 0.5 * limit + allowed
    together = np.array([chance_together(list(row)) for row in alike])
    assert abs(np.mean(together <= limit) - limit) <= allowed - limit


@given(st.integers(1, 60))
def test_of_three_and_more_two_thirds_must_agree(n: int) -> None:
    assert 1 <= needed_to_agree(n) <= n
    assert 3 * needed_to_agree(n) >= 2 * n or n < 3
    assert 3 * (needed_to_agree(n) - 1) < 2 * n


def weak(family: Family, probability: float, depth: float = 0.4, **changes: Any) -> FamilyFinding:
    """Deep, and not significant by itself."""
    return family(
        depth=depth,
        false_alarm_probability=probability,
        result=CriterionResult.PASS,
        present=False,
        **changes,
    )


def test_what_no_recording_alone_says_all_together_may(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    faint = {"families": [weak(make_family, 0.01)]}
    found = criterion(judged(faint, faint, faint), OUTER)
    assert found.result is CriterionResult.WATCH
    assert "all of them together are" in found.advice
    assert criterion(judged(faint, faint), OUTER).result is CriterionResult.PASS  # third: clean
    apart = [{"families": [weak(make_family, 0.01, order=order)]} for order in (3.5, 3.55, 3.6)]
    assert criterion(judged(*apart), OUTER).result is CriterionResult.PASS
    shallow = {"families": [weak(make_family, 0.01, depth=0.1)]}
    assert criterion(judged(*[shallow] * 3), OUTER).result is CriterionResult.PASS


def test_two_axes_of_one_recording_are_no_two_looks(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    """p = 0.01 in each of two axes of three files: 4e-4 per axis by three, twice that together."""
    faint = [weak(make_family, 0.01)]
    both = [{"families": faint, "point": p, "sha256": str(n)} for n in range(3) for p in "AB"]
    assert criterion(judged(*both), OUTER).result is CriterionResult.WATCH
    one_file = [{"families": faint, "point": p, "sha256": "0"} for p in "ABC"]
    assert criterion(judged(*one_file), OUTER).result is CriterionResult.PASS


@pytest.mark.parametrize(
    ("probability", "points", "hold"),
    [
        (0.0009, "A", Hold.FIX),  # one look: as it stands
        (0.0009, "AA", Hold.MEASURE_AGAIN),  # one of two recordings: 0.0018
        (0.0009, "AB", Hold.MEASURE_AGAIN),  # one of two axes: 0.0018
        (0.0004, "AA", Hold.FIX),
        (0.0004, "ABC", Hold.MEASURE_AGAIN),
        (1e-9, "AABBCC", Hold.FIX),
    ],
)
def test_one_of_few_looks_still_holds_and_says_how_sure(
    *,
    make_analysis: Make,
    make_family: Family,
    make_card: Callable[..., MachineCard],
    criterion: Pick,
    probability: float,
    points: str,
    hold: Hold,
) -> None:
    spall = make_family(depth=0.5, false_alarm_probability=probability)
    after = [
        make_analysis(n, point=point, families=[spall] if n == 0 else ())
        for n, point in enumerate(points)
    ]
    assessment = judge([], after, card=make_card())
    found = criterion(assessment, OUTER)
    assert (found.result, found.hold, assessment.hold) == (CriterionResult.HOLD, hold, hold)
    assert ("by chance" in found.reason) is (hold is Hold.MEASURE_AGAIN)
    assert ("three times" in found.advice) is (hold is Hold.MEASURE_AGAIN)


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


def test_the_detail_says_where_how_sure_and_how_large(
    judged: Judged, criterion: Pick, make_family: Family, make_card: Callable[..., MachineCard]
) -> None:
    kinematic = defect_orders(make_card().rolling_bearings()[0]).cage
    spall = make_family(
        depth=0.62,
        order=bearing_at(1.006 * kinematic, make_card)[Element.OUTER_RING],
        depth_interval=(0.551, 0.704),
        impact_m_s2=0.52,
        impact_interval_m_s2=(0.41, 0.72),
        pattern="single-mark",
    )
    facts = [
        {"families": [spall] if n else [], "point": p, "sha256": str(n), "direction": p[-1].lower(),
         "cage_speeds": [cage(0.6, make_card)], "detectable_impact": 0.06}
        for n in range(3) for p in ("P1X", "P1Y")
    ]  # fmt: skip
    found = criterion(judged(*facts), OUTER)
    for words in (
        "in 2 of 3 recordings, both axes (P1X and P1Y)",
        "combined false-alarm probability below 1e-6",
        "cage slip +0.6 % in all",
        "a single mark",
    ):
        assert words in found.detail
    assert found.reason == (
        "Regular ticking that fits the outer ring of bearing DE, in 2 of 3 recordings, striking "
        "with about 0.52 m/s² (0.41 to 0.72); modulation depth 0.62 (0.55 to 0.70), limit 0.3."
    )


def test_a_family_that_is_watched_tells_its_sizes_in_the_detail(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    small = make_family(
        depth=0.2, depth_interval=(0.16, 0.25), impact_m_s2=0.9, impact_interval_m_s2=(0.71, 1.2)
    )
    found = criterion(judged({"families": [small]}), OUTER)
    assert found.result is CriterionResult.WATCH
    assert found.detail.startswith(
        "Order 3.585 (58.43 Hz, +0.0 % from the computed one); in 1 of 3"
    )
    assert "modulation depth 0.20 (0.16 to 0.25); strikes of about 0.9 m/s² (0.71 to 1.2)" in (
        found.detail
    )


@pytest.mark.parametrize(
    ("shown", "words"),
    [
        ("A", ""),
        ("AA", "in 2 of 2 recordings at A"),
        ("Aa", "in 1 of 2 recordings at A"),
        ("AB", "at A and B"),
        ("Ab", "at A, not at B"),
        ("AaBb", "in 1 of 2 recordings each at A and B"),
        ("AABb", "in 2 of 2 at A and 1 of 2 at B"),
    ],
)
def test_where_it_shows_is_said(
    *,
    make_analysis: Make,
    make_family: Family,
    make_card: Callable[..., MachineCard],
    criterion: Pick,
    shown: str,
    words: str,
) -> None:
    """Capital letters: recordings of that point that show the family."""
    after = [
        make_analysis(n, point=p.upper(), families=[make_family(depth=0.5)] if p.isupper() else ())
        for n, p in enumerate(shown)
    ]
    parts = criterion(judge([], after, card=make_card()), OUTER).detail.split("; ")
    assert [part for part in parts if " at " in f" {part}"] == ([words] if words else [])


def test_marks_at_every_element_are_no_spall_and_send_to_storage(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    marks = {"families": [make_family(depth=0.5, pattern="marks-at-every-element")]}
    found = criterion(judged(marks, marks, marks), OUTER)
    for text in (found.reason, found.detail):
        assert (
            "marks at every element spacing (standing or knocked while still: brinelling), not a "
            "single spall"
        ) in text
    assert "stored and transported" in found.advice
    assert "hammered" in found.advice


def test_cage_or_rolling_element_gives_one_reason(
    judged: Judged, criterion: Pick, make_family: Family
) -> None:
    for depth, result in ((0.5, CriterionResult.HOLD), (0.2, CriterionResult.WATCH)):
        joint = {
            "families": [
                make_family(Element.CAGE, depth=depth, ambiguous_with=("rolling-element",)),
                make_family(Element.ROLLING_ELEMENT, depth=depth, ambiguous_with=("cage",)),
            ]
        }
        assessment = judged(joint, joint, joint)
        lines = [criterion(assessment, f"family-DE-{e}") for e in ("cage", "rolling-element")]
        assert [line.result for line in lines] == [result, result]
        told = [reason for reason in assessment.reasons if "rolling element or cage" in reason]
        assert len(told) == len(assessment.reasons) == 1
        assert assessment.next_step.action != "Lock out and put this right."
        alone = {"families": [make_family(Element.CAGE, depth=depth)]}
        both = {"families": [*joint["families"][1:], *alone["families"]]}
        assert len(judged(both, both, both).reasons) == 2
