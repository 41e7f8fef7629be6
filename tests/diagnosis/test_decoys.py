"""The decoys' law: closed form, inverse, coverage, clusters, refusal to speak of too few."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from vibhealth.diagnosis import decoys
from vibhealth.diagnosis.decoys import DecoyLaw

N_ORDERS = 40


def law_of(values: NDArray[np.float64], run_length: int = 1) -> DecoyLaw:
    return DecoyLaw.measured(values, np.ones(values.size, dtype=np.bool_), run_length=run_length)


def exponential(seed: int, size: int = 20_000, scale: float = 1.4) -> NDArray[np.float64]:
    return np.random.default_rng(seed).exponential(scale, size)


def test_tail_is_the_law_of_a_ratio_of_gamma_variables(monkeypatch: pytest.MonkeyPatch) -> None:
    """A new excess over the mean of n others follows F(2, 2n) (closed form)."""
    monkeypatch.setattr(decoys, "PRIOR_CLUSTERS", 0)
    law = DecoyLaw(peaks=np.array([10.5, 11.0, 12.5]), threshold=10.0, n_decoys=3000)
    mean_excess = (0.5 + 1.0 + 2.5) / 3
    for evidence in (10.0, 12.0, 20.0):
        tail = stats.f.sf((evidence - 10.0) / mean_excess, 2, 6)
        expected = -math.expm1(-N_ORDERS * 3 / 3000 * tail)
        assert law.log_probability(evidence, N_ORDERS) == pytest.approx(math.log(expected))


def test_what_is_known_beforehand_counts_as_further_clusters() -> None:
    law = DecoyLaw(peaks=np.array([10.5, 11.0]), threshold=10.0, n_decoys=1000)
    weight = 2 + decoys.PRIOR_CLUSTERS
    excess = 1.5 + decoys.PRIOR_CLUSTERS * decoys.PRIOR_MEAN_EXCESS
    expected = math.log(N_ORDERS * 2 / 1000) - weight * math.log1p(90.0 / excess)
    assert law.log_probability(100.0, N_ORDERS) == pytest.approx(expected)


@settings(max_examples=50, deadline=None)
@given(log_probability=st.floats(-60.0, -3.5), seed=st.integers(0, 20))
def test_evidence_at_is_the_inverse(log_probability: float, seed: int) -> None:
    law = law_of(exponential(seed, size=3000))
    evidence = law.evidence_at(log_probability, N_ORDERS)
    assert law.log_probability(evidence, N_ORDERS) == pytest.approx(log_probability, rel=1e-6)


def test_below_the_threshold_nothing_is_said_and_above_it_falls() -> None:
    law = law_of(exponential(1))
    assert law.log_probability(law.threshold - 1e-9, N_ORDERS) == 0.0
    assert law.log_probability(0.0, N_ORDERS) == 0.0
    rising = [law.log_probability(law.threshold + y, N_ORDERS) for y in (0.0, 1.0, 5.0, 50.0)]
    assert rising == sorted(rising, reverse=True)
    wide = law.log_probability(law.threshold + 5, 10 * N_ORDERS)
    assert wide > law.log_probability(law.threshold + 5, N_ORDERS)


@pytest.mark.parametrize("probability", [0.2, 0.05])
def test_fresh_windows_reach_it_as_often_as_stated(probability: float) -> None:
    """Independent exponential decoys, one law and one fresh window for each of 600 records."""
    n_records, reached = 600, 0
    for seed in range(n_records):
        values = exponential(seed, size=4000)
        level = law_of(values).evidence_at(math.log(probability), N_ORDERS)
        reached += bool(exponential(100_000 + seed, size=N_ORDERS).max() >= level)
    low, high = stats.binom.interval(0.999, n_records, probability)
    assert low <= reached <= high


def test_neighbours_that_share_lines_are_one_cluster() -> None:
    """Every value repeated eight times: as many clusters as without, not eight times as many."""
    single = np.zeros(5000)
    places = np.random.default_rng(3).choice(np.arange(50, 4950, 25), 40, replace=False)
    single[places] = 10.0 + np.random.default_rng(4).exponential(1.0, 40)
    repeated = np.repeat(single, 8)
    one, eight = law_of(single, run_length=4), law_of(repeated, run_length=32)
    np.testing.assert_allclose(eight.peaks, one.peaks)
    # Per step an eighth as many, in eight times as many steps.
    assert eight.log_probability(14.0, 8 * N_ORDERS) == pytest.approx(
        one.log_probability(14.0, N_ORDERS), rel=0.02
    )


def test_tail_holds_the_clusters_wanted_or_the_largest_share() -> None:
    """Enough decoys: some sixty clusters; few: three of a hundred, to one value."""
    many = law_of(exponential(7))
    assert decoys.WANTED_CLUSTERS <= many.peaks.size <= 1.3 * decoys.WANTED_CLUSTERS + 1
    few = law_of(exponential(7, size=400))
    assert few.peaks.size == pytest.approx(0.03 * 400, abs=1)


def test_only_decoys_count() -> None:
    values = exponential(5)
    spoiled = values.copy()
    spoiled[7000:9000] += 500.0
    is_decoy = np.ones(values.size, dtype=np.bool_)
    is_decoy[7000:9000] = False
    law = DecoyLaw.measured(spoiled, is_decoy, run_length=1)
    assert law.n_decoys == values.size - 2000
    assert law.peaks.max() < 100.0


def test_too_few_decoys_make_no_law() -> None:
    for law in (law_of(exponential(6, size=decoys.FEWEST_DECOYS - 1)), law_of(np.empty(0))):
        assert not law.is_usable
        assert law.log_probability(1e6, N_ORDERS) == 0.0
        assert law.evidence_at(-3.0, N_ORDERS) == math.inf
    assert law_of(exponential(6, size=decoys.FEWEST_DECOYS)).is_usable


@pytest.mark.parametrize("n_clusters", [3, 8, 40])
def test_a_law_of_few_clusters_may_move_much_when_measured_anew(n_clusters: int) -> None:
    """Upper limit of the mean of n exponential excesses: chi-squared with 2 n degrees, over 2 n."""
    peaks = 10.0 + np.sort(np.random.default_rng(4).exponential(5.0, n_clusters))
    law = DecoyLaw(peaks=peaks, threshold=10.0, n_decoys=3000)
    usual, sure = (law.evidence_at(-9.0, N_ORDERS, confidence=share) for share in (None, 0.95))
    own, prior = float(np.sum(peaks - 10.0)), decoys.PRIOR_CLUSTERS * decoys.PRIOR_MEAN_EXCESS
    factor = stats.chi2.ppf(0.95, 2 * n_clusters) / (2 * n_clusters)
    assert (sure - 10.0) / (usual - 10.0) == pytest.approx((own * factor + prior) / (own + prior))
    # At even chances the median of the law: a little below its mean.
    assert law.evidence_at(-9.0, N_ORDERS, confidence=0.5) < usual
    assert law.mean_excess == pytest.approx(own / n_clusters)


def test_laws_measured_anew_stay_below_as_often_as_stated() -> None:
    """2000 fresh laws of five clusters about the same mean: 5 of 100 reach farther."""
    rng = np.random.default_rng(5)
    law = DecoyLaw(peaks=10.0 + 200.0 * np.arange(1.0, 6.0) / 3, threshold=10.0, n_decoys=3000)
    sure = law.evidence_at(-9.0, N_ORDERS, confidence=0.95)
    fresh = [
        DecoyLaw(peaks=np.sort(peaks), threshold=10.0, n_decoys=3000).evidence_at(-9.0, N_ORDERS)
        for peaks in 10.0 + rng.exponential(law.mean_excess, (2000, 5))
    ]
    low, high = stats.binom.interval(0.999, 2000, 0.05)
    assert low <= np.count_nonzero(np.array(fresh) > sure) <= high
