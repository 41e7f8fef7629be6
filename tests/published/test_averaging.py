"""How well an averaged spectrum is known.

Confidence: J. S. Bendat and A. G. Piersol, Random Data, ch. 8 (nu P / chi2), from memory; the
multipliers below follow from any chi-square table. Overlap: P. D. Welch, IEEE Trans. Audio
Electroacoustics 15 (1967) 70-73, K / (1 + (2/36)(1 - 1/K)) for Hann at half overlap, from memory.
"""

import numpy as np
import pytest

from vibhealth.signal import (
    effective_averages,
    power_spectral_density,
    psd_interval,
    window_samples,
)

PRINTED_LOW = 0.5e-4  # four decimals
PRINTED_HIGH = 0.5e-4


@pytest.mark.parametrize(
    ("averages", "low", "high"),
    [
        (4, 0.4562, 3.6702),
        (8, 0.5547, 2.3163),
        (10, 0.5853, 2.0853),
        (16, 0.6467, 1.7495),
        (32, 0.7272, 1.4620),
        (64, 0.7940, 1.2985),
        (100, 0.8297, 1.2290),
    ],
)
def test_chi_square_multipliers(averages: int, low: float, high: float) -> None:
    found = psd_interval(averages)
    assert found[0] == pytest.approx(low, abs=PRINTED_LOW)
    assert found[1] == pytest.approx(high, abs=PRINTED_HIGH)


def test_one_average_is_the_exponential_distribution() -> None:
    """Two degrees of freedom: 1 / -ln of the tails, in closed form (0.2711 and 39.498)."""
    low, high = psd_interval(1)
    assert low == pytest.approx(-1.0 / np.log(0.025), rel=1e-12)
    assert high == pytest.approx(-1.0 / np.log(0.975), rel=1e-12)
    assert (low, high) == pytest.approx((0.2711, 39.498), abs=5e-4)


def test_welch_overlap_formula() -> None:
    """31 Hann segments at half overlap are worth 29.42."""
    found = effective_averages(window_samples("hann", 4096), 2048, 31)
    assert found == pytest.approx(31 / (1 + (2 / 36) * (1 - 1 / 31)), rel=1e-12)
    assert found == pytest.approx(29.42, abs=0.005)


def test_scatter_of_noise_shows_the_effective_averages() -> None:
    """Mean over standard deviation squared of the lines of white noise is the number sought.

    2000 records x 15 well separated lines give 30 000 values; the relative standard error
    of a variance is sqrt(2 / 30 000) = 0.8 %, so 4 % is five of them.
    """
    rng = np.random.default_rng(20)
    psd = power_spectral_density(
        rng.standard_normal((2000, 64 * 16)), 1.0, segment_seconds=64, overlap=0.5
    )
    assert psd.n_averages == 31
    lines = psd.values[:, 2:-1:2]
    scatter = (lines.mean() / lines.std()) ** 2
    assert scatter == pytest.approx(psd.effective_averages, rel=0.04)
    assert psd.effective_averages == pytest.approx(29.42, abs=0.005)


def test_interval_covers_the_true_density() -> None:
    """A 95 % interval holds the true value in 95 % of the lines.

    20 000 lines: standard error sqrt(0.95 0.05 / 20 000) = 0.15 %; four of them.
    """
    rng = np.random.default_rng(21)
    psd = power_spectral_density(
        rng.standard_normal((1000, 64 * 8)),
        1.0,
        window="rectangular",
        segment_seconds=64,
        overlap=0.0,
    )
    low, high = psd_interval(psd.effective_averages)
    lines, true = psd.values[:, 5:25], 2.0  # one-sided density of unit noise at rate 1
    covered = (lines * low <= true) & (true <= lines * high)
    assert covered.mean() == pytest.approx(0.95, abs=0.0062)
