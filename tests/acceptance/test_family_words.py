"""What is said of a family of all recordings: where, how sure, how large, what it may be."""

from collections.abc import Callable

import pytest

from tests.acceptance.test_common_cage import bearing_at, cage
from vibhealth.acceptance import judge
from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Element,
    FamilyFinding,
    RecordingAnalysis,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Family = Callable[..., FamilyFinding]
Make = Callable[..., RecordingAnalysis]

OUTER = "family-DE-outer-ring"


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
