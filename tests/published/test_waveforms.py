"""Statistics of textbook waveforms: closed forms found in any handbook of random vibration.

Crest factors of Gaussian noise: exact extreme-value quantiles of N independent samples,
P(max |x| / sigma < c) = (2 Phi(c) - 1)^N.
"""

import numpy as np
import pytest
from scipy.stats import norm

from vibhealth.signal import crest_factor, kurtosis, rms, skewness

N_SAMPLES = 100_000
PHASE = (np.arange(N_SAMPLES) + 0.5) / N_SAMPLES  # one period, sampled at mid-points
# A waveform sampled at mid-points misses its peak by less than half a step (1e-5 of a ramp), and
# the mid-point rule errs in the moments by O(1/n^2).
SAMPLED = 2e-5


@pytest.mark.parametrize(
    ("waveform", "expected_kurtosis", "expected_crest_factor"),
    [
        (np.sin(2 * np.pi * PHASE), 1.5, np.sqrt(2.0)),
        (np.sign(PHASE - 0.5), 1.0, 1.0),
        (1.0 - 4.0 * np.abs(PHASE - 0.5), 1.8, np.sqrt(3.0)),
        (2.0 * PHASE - 1.0, 1.8, np.sqrt(3.0)),
    ],
    ids=["sine", "square", "triangle", "sawtooth"],
)
def test_periodic_waveforms(
    waveform: np.ndarray[tuple[int], np.dtype[np.float64]],
    expected_kurtosis: float,
    expected_crest_factor: float,
) -> None:
    assert kurtosis(waveform) == pytest.approx(expected_kurtosis, rel=SAMPLED)
    assert crest_factor(waveform) == pytest.approx(expected_crest_factor, rel=2 * SAMPLED)
    assert skewness(waveform) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("every", "expected_kurtosis", "expected_crest_factor"),
    [(10, 8.1111, 3.0), (100, 98.0101, 9.9499), (1000, 998.001, 31.607)],
)
def test_impulse_train(every: int, expected_kurtosis: float, expected_crest_factor: float) -> None:
    """Every M-th sample 1, mean removed: p = 1/M, kurtosis (1 - 3p + 3p^2) / (p (1 - p))."""
    train = np.zeros(100 * every)
    train[::every] = 1.0
    train -= train.mean()
    assert kurtosis(train) == pytest.approx(expected_kurtosis, abs=0.5e-3)
    assert crest_factor(train) == pytest.approx(expected_crest_factor, abs=0.5e-3)


@pytest.mark.parametrize(
    ("n_samples", "low", "high"),
    [(1000, 2.969, 4.050), (4096, 3.378, 4.368), (16_384, 3.742, 4.662), (65_536, 4.077, 4.940)],
)
def test_gaussian_crest_factor_interval(n_samples: int, low: float, high: float) -> None:
    """5 % and 95 % of the extreme-value distribution hold 5 % of the records each.

    400 records: standard error sqrt(0.05 0.95 / 400) = 1.1 %; four of them. The interval
    itself must match the closed form to its printed digits (half a unit, plus that the
    sample rms scatters by 1 / sqrt(2 N) about sigma, at most 0.02 here in crest factor).
    """
    tails = np.array([0.05, 0.95])
    exact = norm.ppf(0.5 * (1.0 + tails ** (1.0 / n_samples)))
    np.testing.assert_allclose([low, high], exact, atol=0.02)
    rng = np.random.default_rng(n_samples)
    found = np.array([crest_factor(rng.standard_normal(n_samples)) for _ in range(400)])
    assert np.mean(found < low) == pytest.approx(0.05, abs=0.044)
    assert np.mean(found > high) == pytest.approx(0.05, abs=0.044)


@pytest.mark.parametrize(
    ("draw", "expected"),
    [("laplace", 6.0), ("rayleigh", 3.2451), ("exponential", 9.0), ("normal", 3.0)],
)
def test_kurtosis_of_distributions(draw: str, expected: float) -> None:
    """Stratified samples of the distribution (quantiles at mid-points), so nothing is random.

    The outermost of n mid-points cuts the tails: for the exponential the missing part of the
    fourth moment is of order ln(n)^4 / n = 0.013 of 9 at n = 2e6; 0.5 % covers it.
    """
    n = 2_000_000
    p = (np.arange(n) + 0.5) / n
    quantile = {
        "laplace": np.where(p < 0.5, np.log(2 * p), -np.log(2 * (1 - p))),
        "rayleigh": np.sqrt(-2.0 * np.log1p(-p)),
        "exponential": -np.log1p(-p),
        "normal": norm.ppf(p),
    }[draw]
    assert kurtosis(quantile) == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize(("n_samples", "corrected"), [(100, 0.4783), (1000, 0.15453)])
def test_scatter_of_sample_kurtosis(n_samples: int, corrected: float) -> None:
    """Standard deviation for Gaussian samples (R. A. Fisher 1930, from memory).

    The figures 0.4783 and 0.15453 in print belong to the bias-corrected kurtosis, which is
    (n^2 - 1)/((n - 2)(n - 3)) times as wide as that of population moments. 4000 records of a
    heavy-tailed statistic: 8 % is four standard errors.
    """
    n = float(n_samples)
    variance = 24 * n * (n - 2) * (n - 3) / ((n + 1) ** 2 * (n + 3) * (n + 5))
    widening = (n**2 - 1) / ((n - 2) * (n - 3))
    assert np.sqrt(variance) * widening == pytest.approx(corrected, abs=5e-5)
    found = kurtosis(np.random.default_rng(5).standard_normal((4000, n_samples)))
    assert found.std() == pytest.approx(np.sqrt(variance), rel=0.08)
    assert found.mean() == pytest.approx(3 * (n - 1) / (n + 1), abs=4 * np.sqrt(variance / 4000))


def test_rms_of_a_sine_is_its_amplitude_over_root_two() -> None:
    assert rms(3.0 * np.sin(2 * np.pi * PHASE)) == pytest.approx(3.0 / np.sqrt(2.0), rel=1e-12)
