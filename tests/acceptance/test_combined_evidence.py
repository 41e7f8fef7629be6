"""Several recordings and axes together: chances by closed form and by simulation."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.acceptance import judge
from vibhealth.acceptance.combined_evidence import (
    chance_of_agreement,
    chance_together,
    needed_to_agree,
    over_points,
)
from vibhealth.card import MachineCard
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    FamilyFinding,
    Hold,
    RecordingAnalysis,
)

Judged = Callable[..., Assessment]
Pick = Callable[[Assessment, str], Criterion]
Family = Callable[..., FamilyFinding]
Make = Callable[..., RecordingAnalysis]

OUTER = "family-DE-outer-ring"
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
