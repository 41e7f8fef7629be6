"""Tolerance factors: limits, monotony, and the share that they cover in simulated sets."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy import integrate, stats

from vibhealth.baseline import one_sided_factor, two_sided_factor, upper_limit_db
from vibhealth.errors import InputError

Factor = Callable[..., float]
FACTORS = pytest.mark.parametrize("factor", [one_sided_factor, two_sided_factor])
# Quantile of a noncentral t distribution and root of an integral: a relative 1e-6 is far more
# than any limit needs and far less than what a wrong term changes.
RTOL = 1e-6
# 4,000 sets: a share of 0.95 has the standard error sqrt(0.95 * 0.05 / 4000) = 0.34 %; 1.2 % is
# three and a half of them.
N_SETS, COVERAGE_ATOL = 4000, 0.012


def test_two_values_have_a_closed_form() -> None:
    """Two values about a median (share to 0.5): k is the 0.95 quantile of t(1) over root 2."""
    found = one_sided_factor(2, share=0.5 + 1e-12, confidence=0.95)
    assert found == pytest.approx(np.tan(np.pi * 0.45) / np.sqrt(2), rel=RTOL)


@pytest.mark.parametrize("share", [0.9, 0.99])
@pytest.mark.parametrize("n", [3, 12])
def test_one_sided_factor_by_integration(n: int, share: float) -> None:
    """P(m + k s > z) with the normal law of m and the chi-square law of s, without noncentral t."""
    factor, z = one_sided_factor(n, share=share, confidence=0.95), stats.norm.ppf(share)

    def density(s: float) -> float:
        reached = stats.norm.sf(np.sqrt(n) * (z - factor * s))
        return float(reached * stats.chi2.pdf((n - 1) * s**2, n - 1) * 2 * (n - 1) * s)

    covered, _ = integrate.quad(density, 0.0, 8.0, limit=200)
    assert covered == pytest.approx(0.95, abs=RTOL)


@pytest.mark.parametrize("n", [2, 5, 30])
def test_two_sided_factor_by_integration(n: int) -> None:
    """The half width about a mean that is off by m is the root of a noncentral chi-square."""
    factor = two_sided_factor(n, share=0.95, confidence=0.9)

    def density(m: float) -> float:
        width = np.sqrt(stats.ncx2.ppf(0.95, 1, m**2))
        reached = stats.chi2.sf((n - 1) * (width / factor) ** 2, n - 1)
        return float(reached * stats.norm.pdf(m, scale=1 / np.sqrt(n)))

    covered = 2 * integrate.quad(density, 0.0, 9 / np.sqrt(n), limit=200)[0]
    assert covered == pytest.approx(0.9, abs=RTOL)


@pytest.mark.parametrize("share", [0.9, 0.999])
def test_many_values_give_the_normal_quantile(share: float) -> None:
    """At confidence 0.5 the error is of first order in 1/n; at 10^6 values below a thousandth."""
    one = one_sided_factor(1_000_000, share=share, confidence=0.5)
    two = two_sided_factor(1_000_000, share=share, confidence=0.5)
    assert one == pytest.approx(stats.norm.ppf(share), rel=1e-5)
    assert two == pytest.approx(stats.norm.ppf(0.5 + share / 2), rel=1e-5)


def test_the_approach_to_the_quantile_goes_with_the_root_of_n() -> None:
    """k - z falls as z' sqrt((1 + z^2 / 2) / n) (delta method): a hundred times n, a tenth."""
    z, z_confidence = stats.norm.ppf(0.95), stats.norm.ppf(0.95)
    n = 100_000
    above = one_sided_factor(n, share=0.95, confidence=0.95) - z
    assert above == pytest.approx(z_confidence * np.sqrt((1 + z**2 / 2) / n), rel=0.02)


@FACTORS
def test_monotone_in_number_share_and_confidence(factor: Factor) -> None:
    by_n = [factor(n, share=0.95, confidence=0.95) for n in (2, 3, 5, 10, 20, 50)]
    by_share = [factor(10, share=share, confidence=0.95) for share in (0.6, 0.9, 0.99, 0.999)]
    by_confidence = [factor(10, share=0.95, confidence=c) for c in (0.1, 0.5, 0.9, 0.99)]
    assert (np.diff(by_n) < 0).all()
    assert (np.diff(by_share) > 0).all()
    assert (np.diff(by_confidence) > 0).all()


def test_two_sides_need_a_wider_band_than_one() -> None:
    for n in (3, 10, 40):
        one = one_sided_factor(n, share=0.95, confidence=0.95)
        assert two_sided_factor(n, share=0.95, confidence=0.95) > one


def test_log_normal_levels_are_covered_as_often_as_stated() -> None:
    """Sets of ten amplitudes with a spread of 2 dB; the limit is set in dB."""
    rng = np.random.default_rng(5)
    amplitudes = np.exp(rng.normal(0.3, 0.23, (N_SETS, 10)))
    level = 20 * np.log10(amplitudes)
    mean, spread = level.mean(axis=1), level.std(axis=1, ddof=1)
    unit = upper_limit_db(0.0, 1.0, 10, share=0.99, confidence=0.95)
    limit = 10 ** ((mean + unit * spread) / 20)
    covered = stats.lognorm.cdf(limit, 0.23, scale=np.exp(0.3))
    assert np.mean(covered >= 0.99) == pytest.approx(0.95, abs=COVERAGE_ATOL)


def test_two_sided_interval_covers_as_often_as_stated() -> None:
    values = np.random.default_rng(6).normal(-3.0, 2.0, (N_SETS, 10))
    factor = two_sided_factor(10, share=0.9, confidence=0.95)
    mean, half = values.mean(axis=1), factor * values.std(axis=1, ddof=1)
    covered = stats.norm.cdf(mean + half, -3, 2) - stats.norm.cdf(mean - half, -3, 2)
    assert np.mean(covered >= 0.9) == pytest.approx(0.95, abs=COVERAGE_ATOL)


def test_upper_limit_is_linear_in_mean_and_spread() -> None:
    factor = one_sided_factor(12, share=0.99, confidence=0.95)
    found = upper_limit_db(-31.5, 1.7, 12, share=0.99, confidence=0.95)
    assert found == pytest.approx(-31.5 + 1.7 * factor, rel=1e-12)


@FACTORS
@pytest.mark.parametrize(
    ("n", "share", "confidence", "message"),
    [
        (1, 0.95, 0.95, "n must be at least 2 values, got 1"),
        (10, 0.5, 0.95, "share must lie above 0.5 and below 1, got 0.5"),
        (10, 1.0, 0.95, "share must lie above 0.5 and below 1, got 1.0"),
        (10, float("nan"), 0.95, "share must lie above 0.5 and below 1, got nan"),
        (10, 0.95, 0.0, "confidence must lie above 0 and below 1, got 0.0"),
        (10, 0.95, 1.0, "confidence must lie above 0 and below 1, got 1.0"),
    ],
)
def test_what_lies_outside_is_refused(
    factor: Factor,
    n: int,
    share: float,
    confidence: float,
    message: str,
) -> None:
    with pytest.raises(InputError) as caught:
        factor(n, share=share, confidence=confidence)
    assert str(caught.value) == message
