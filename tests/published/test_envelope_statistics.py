"""What the squared envelope spectrum of stationary Gaussian noise looks like.

J. Antoni, "Cyclic spectral analysis of rolling-element bearing signals: facts and fictions",
Journal of Sound and Vibration 304 (2007) 497-529, and "Cyclostationarity by examples",
Mechanical Systems and Signal Processing 23 (2009) 987-1036 (both from memory): lines over
their local mean are exponential, and the mean falls as 1 - alpha / B. The percentage points
are those of the gamma distribution, taken from scipy.stats as an outside reference.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from vibhealth.diagnosis.evidence import log_tail_bound
from vibhealth.signal.envelope import MEDIAN_OVER_MEAN, band_envelope_spectrum
from vibhealth.signal.whitening import record_spectrum

RATE_HZ = 20_000.0
BAND_HZ = (4000.0, 6000.0)
WIDTH_HZ = 2000.0
N_RECORDS = 200
N_SAMPLES = 20_000  # one line per hertz

# Percentage points are printed to three decimals.
PRINTED = 5e-4


@pytest.fixture(scope="module")
def powers() -> NDArray[np.float64]:
    """Squared depths of 200 records of noise, 1 to 1999 Hz, shape (200, 1999)."""
    rng = np.random.default_rng(41)
    rows = []
    for _ in range(N_RECORDS):
        spectrum = record_spectrum(rng.standard_normal(N_SAMPLES), RATE_HZ, taper=0.0)
        found = band_envelope_spectrum(spectrum, BAND_HZ, highest_hz=WIDTH_HZ - 1)
        rows.append(found.depth[1:] ** 2)
    return np.array(rows)


@pytest.fixture(scope="module")
def lines(powers: NDArray[np.float64]) -> NDArray[np.float64]:
    """Powers of the first 1000 lines over the closed-form mean, flattened."""
    alpha = np.arange(1, 1001)
    # Mean of a squared depth: 4 (1 - alpha / B) / (number of lines in the band).
    return np.asarray((powers[:, :1000] / (4 * (1 - alpha / WIDTH_HZ) / WIDTH_HZ)).ravel())


def test_mean_falls_in_a_straight_line(powers: NDArray[np.float64]) -> None:
    """1 - alpha / B; 100 lines x 200 records are averaged: 1 / sqrt(20 000) = 0.7 %, times 4."""
    for share in (0.05, 0.25, 0.5, 0.75, 0.95):
        at = round(share * WIDTH_HZ)
        found = powers[:, at - 50 : at + 50].mean() * WIDTH_HZ / 4
        # The middle of the 100 lines is half a line off, 0.5 % of 0.05.
        assert found == pytest.approx(1 - share, rel=0.04 if share > 0.9 else 0.03)


def test_nothing_stands_above_the_width_of_the_band() -> None:
    """Two lines of a band are never further apart than the band is wide: above B the mean is 0."""
    noise = np.random.default_rng(43).standard_normal(N_SAMPLES)
    spectrum = record_spectrum(noise, RATE_HZ, taper=0.0)
    found = band_envelope_spectrum(spectrum, BAND_HZ, highest_hz=1.25 * WIDTH_HZ)
    assert found.depth.size == WIDTH_HZ + 1  # one line per hertz, and the spectrum ends at B
    within, at_the_end = found.depth[1:-1], found.depth[-1]
    assert within.min() > 0.0
    assert at_the_end < 1e-6 * within.max()


def test_lines_are_exponential_about_it(lines: NDArray[np.float64]) -> None:
    """200 000 lines. Variance of an exponential variable is 1, its fourth central moment 9:
    standard error sqrt(8 / 200 000) = 0.6 %, times 4. Shares: binomial, times 4; lines of one
    record share its mean (1 / 2000), which moves the mean by far less."""
    assert lines.mean() == pytest.approx(1.0, abs=0.01)
    assert lines.var() == pytest.approx(1.0, abs=0.03)
    for level, share in ((1.0, 0.3679), (3.0, 0.0498), (4.605, 0.01), (6.908, 0.001)):
        assert math.exp(-level) == pytest.approx(share, rel=2e-3)
        allowed = 4 * math.sqrt(share / lines.size) + 0.02 * share
        assert np.mean(lines > level) == pytest.approx(share, abs=allowed)


def test_median_over_mean_is_ln_2(lines: NDArray[np.float64]) -> None:
    assert pytest.approx(0.6931, abs=5e-5) == MEDIAN_OVER_MEAN
    assert stats.expon.median() == pytest.approx(MEDIAN_OVER_MEAN, rel=1e-12)
    # The same threshold is 1 / ln 2 times smaller in means; the 1 % point in medians.
    assert pytest.approx(1.4427, abs=5e-5) == 1 / MEDIAN_OVER_MEAN
    assert math.log(100) / MEDIAN_OVER_MEAN == pytest.approx(6.644, abs=PRINTED)
    beyond = 4 * math.sqrt(0.01 * 0.99 / lines.size) + 0.02 * 0.01
    assert np.mean(lines > 6.644 * np.median(lines)) == pytest.approx(0.01, abs=beyond)
    # Standard error of the median: 1 / sqrt(200 000) = 0.22 %.
    assert np.median(lines) == pytest.approx(MEDIAN_OVER_MEAN, abs=0.01)


@pytest.mark.parametrize(("m", "level"), [(10, 5.275), (100, 7.576), (1000, 9.878)])
def test_largest_of_m_lines(m: int, level: float, lines: NDArray[np.float64]) -> None:
    """-ln(1 - 0.95^(1/M)), about ln(M / 0.05)."""
    assert -math.log(1 - 0.95 ** (1 / m)) == pytest.approx(level, abs=PRINTED)
    assert math.log(m / 0.05) == pytest.approx(level, rel=0.005)
    largest = lines.reshape(-1, m).max(axis=1)
    allowed = 4 * math.sqrt(0.05 * 0.95 / largest.size)
    assert np.mean(largest > level) == pytest.approx(0.05, abs=allowed)


@pytest.mark.parametrize(("k", "level"), [(1, 4.605), (3, 8.406), (5, 11.605)])
def test_sum_of_k_harmonics(k: int, level: float, powers: NDArray[np.float64]) -> None:
    """99 % point of a gamma sum; harmonics of orders 101 to 199 in each of 200 records."""
    assert stats.gamma.ppf(0.99, k) == pytest.approx(level, abs=PRINTED)
    alpha = np.arange(1, powers.shape[1] + 1)
    over = powers / (4 * (1 - alpha / WIDTH_HZ) / WIDTH_HZ)
    first = np.arange(101, 200)
    total = np.sum([over[:, n * first - 1] for n in range(1, k + 1)], axis=0)
    # 19 800 sums, some of which share lines: five binomial standard errors.
    allowed = 5 * math.sqrt(0.01 * 0.99 / total.size)
    assert np.mean(total > level) == pytest.approx(0.01, abs=allowed)


@pytest.mark.parametrize("k", [1, 3, 5, 9])
def test_chernoff_bound_is_above_the_gamma_tail(k: int) -> None:
    """A mean of k lines alone: its evidence T = k (p - 1 - ln p) is exceeded exactly where the
    sum exceeds k p, so the gamma law gives the true tail."""
    for p in (2.0, 4.0, 8.0):
        evidence = k * (p - 1 - math.log(p))
        exact = stats.gamma.logsf(k * p, k)
        bound = log_tail_bound(evidence, [k])
        assert bound >= exact
        # How loose the bound is has no closed form: 4.7 nepers were measured at most.
        assert bound - exact < 6.0
