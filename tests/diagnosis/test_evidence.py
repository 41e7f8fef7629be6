"""Evidence of lines: exact values, and a tail bound that simulation never exceeds."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from vibhealth.diagnosis.evidence import TILTS, line_evidence, log_tail_bound

# Sums of a few values of order one.
ROUND_OFF = 1e-12
# Relative accuracy asked of the quadrature.
QUADRATURE = 1e-8


def test_single_lines() -> None:
    """p - 1 - ln p above the floor, nothing below it."""
    power = np.array([1.0, math.e, 10.0, 0.5, 0.0])
    expected = [0.0, math.e - 2, 9 - math.log(10), 0.0, 0.0]
    assert line_evidence(power, width_lines=1) == pytest.approx(expected, abs=ROUND_OFF)


def test_mean_of_three_lines_counts_three_times() -> None:
    power = np.array([1.0, 1.0, 7.0, 1.0, 1.0])
    expected = 3 * (3 - 1 - math.log(3))  # mean (1 + 7 + 1) / 3
    found = line_evidence(power, width_lines=3)
    assert found == pytest.approx([0, expected, expected, expected, 0], abs=ROUND_OFF)
    twice = line_evidence(power, width_lines=3, n_averages=2)
    assert twice == pytest.approx(2 * found, abs=ROUND_OFF)


def test_the_mean_is_taken_over_what_exists_at_the_ends() -> None:
    found = line_evidence(np.array([4.0, 2.0, 1.0]), width_lines=3)
    at_end = 3 * (3 - 1 - math.log(3))  # (4 + 2) / 2
    assert found[0] == pytest.approx(at_end, abs=ROUND_OFF)
    assert found[2] == pytest.approx(3 * (1.5 - 1 - math.log(1.5)), abs=ROUND_OFF)


@given(
    power=st.lists(st.floats(0, 1e4), min_size=12, max_size=12),
    at=st.integers(0, 11),
    more=st.floats(0, 1e4),
    width=st.sampled_from([1, 3, 9]),
)
def test_more_power_never_lowers_evidence(
    power: list[float], at: int, more: float, width: int
) -> None:
    before = line_evidence(np.array(power), width_lines=width)
    power[at] += more
    after = line_evidence(np.array(power), width_lines=width)
    # Cumulative sums of values up to 1e4 round at 1e-11; the mean counts up to 9 times.
    assert np.all(after >= before - 1e-8)
    assert np.all(after >= 0)


@pytest.mark.parametrize("width", [1, 3, 9])
def test_bound_is_above_the_simulated_tail(width: int) -> None:
    """200 000 draws for one to nine lines: a share may exceed a true bound by its binomial
    error only; of 108 comparisons none may by four standard errors."""
    n_draws = 200_000
    rng = np.random.default_rng(100 + width)
    mean = np.maximum(rng.gamma(width, 1 / width, (9, n_draws)), 1.0)
    evidence = np.cumsum(width * (mean - 1 - np.log(mean)), axis=0)
    for n_lines in range(1, 10):
        drawn = evidence[n_lines - 1]
        for share in (0.1, 0.01, 1e-3, 1e-4):
            level = float(np.quantile(drawn, 1 - share))
            bound = math.exp(log_tail_bound(level, [width] * n_lines))
            assert share <= bound + 4 * math.sqrt(bound / n_draws)
            # And it is of use: the measured looseness is a factor of 4 to 39.
            assert bound <= 60 * share or share == 0.1


@pytest.mark.parametrize("count", [1, 3, 9, 27])
def test_bound_is_chernoffs_with_exact_moments(count: int) -> None:
    """E exp(t g) by quadrature over the gamma law of a mean of ``count`` lines."""
    law = stats.gamma(count, scale=1 / count)

    def moment(t: float) -> float:
        def above(p: float) -> float:
            exponent = t * count * (p - 1 - math.log(p)) + float(law.logpdf(p))
            return math.exp(exponent)

        # The integrand falls as exp(-count (1 - t) p); 60 of these lengths are all of it.
        top = 1 + 60 / (count * (1 - t))
        value, _ = integrate.quad(above, 1.0, top, epsrel=QUADRATURE, limit=500)
        return float(law.cdf(1.0)) + float(value)

    for evidence in (5.0, 20.0):
        exponents = [2 * math.log(moment(float(t))) - t * evidence for t in TILTS[::8]]
        best = log_tail_bound(evidence, [count, count])
        assert best <= min(exponents) + 1e-6
        # On the full grid the minimum lies at most one coarse step away.
        assert best == pytest.approx(min(exponents), abs=0.2)


@given(evidence=st.floats(0, 200), more=st.floats(0, 50), counts=st.lists(st.integers(1, 40)))
def test_bound_falls_with_evidence_and_rises_with_lines(
    evidence: float, more: float, counts: list[int]
) -> None:
    bound = log_tail_bound(evidence, counts)
    assert log_tail_bound(evidence + more, counts) <= bound <= 0
    assert log_tail_bound(evidence, [*counts, 3]) >= bound - ROUND_OFF
    assert log_tail_bound(evidence, counts[::-1]) == pytest.approx(bound, abs=1e-9)


def test_no_evidence_is_no_surprise_and_much_counts_nearly_in_full() -> None:
    assert log_tail_bound(0.0, [1, 3, 9]) == 0.0
    levels = [log_tail_bound(t, [1, 1, 1]) for t in (100.0, 200.0, 300.0)]
    for one, two in pairwise(levels):
        assert two - one == pytest.approx(-TILTS[-1] * 100, abs=2.0)
