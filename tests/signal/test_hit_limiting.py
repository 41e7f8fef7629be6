"""Hits are limited, noise is left alone, and weak strikes under hard hits come back."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft, stats
from scipy.signal import hilbert

from vibhealth.errors import InputError
from vibhealth.signal.envelope import band_envelope_spectrum, local_floor
from vibhealth.signal.hit_limiting import LIMIT_OVER_MEDIAN_SQUARE, limit_hits
from vibhealth.signal.whitening import RecordSpectrum, record_spectrum, whiten

RATE_HZ = 4000.0
N_SAMPLES = 160_000
STRIKE_HZ = 31.0
NOISE_REACHES = 12.0


def spectrum(samples: NDArray[np.float64]) -> RecordSpectrum:
    return record_spectrum(samples, RATE_HZ)


def noise(seed: int = 1) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(N_SAMPLES)


def ringing(at_s: NDArray[np.float64], size: NDArray[np.float64]) -> NDArray[np.float64]:
    train = np.zeros(N_SAMPLES)
    np.add.at(train, (at_s * RATE_HZ).astype(int), size)
    t = np.arange(400) / RATE_HZ
    ring = np.exp(-300 * t) * np.sin(2 * np.pi * 1100 * t)
    return np.asarray(np.convolve(train, ring)[:N_SAMPLES])


def test_noise_is_limited_as_seldom_as_the_law_says() -> None:
    """An exponential squared envelope exceeds m medians for 2 ** -m of the time: the energy above
    the limit is 2 ** -m of the mean (closed form: the mean excess of an exponential is its mean)."""
    record = spectrum(noise())
    free = limit_hits(record, lowest_hz=0.0, limit_over_median=1e9)
    limited = limit_hits(record, lowest_hz=0.0)
    lost = 1 - np.sum(np.abs(limited.lines) ** 2) / np.sum(np.abs(free.lines) ** 2)
    # Values of the analytic signal at half the rate are independent.
    expected = 2.0**-LIMIT_OVER_MEDIAN_SQUARE
    low, high = stats.binom.interval(0.9999, N_SAMPLES // 2, expected)
    assert low / N_SAMPLES < lost < 4 * high / N_SAMPLES


def test_share_of_limited_samples_follows_the_law() -> None:
    record = spectrum(noise())
    free, limited = (
        fft.irfft(limit_hits(record, lowest_hz=0.0, limit_over_median=m).lines, n=record.n_samples)
        for m in (1e9, LIMIT_OVER_MEDIAN_SQUARE)
    )
    # The mean, set to zero again, moves every sample by far less than this.
    touched = np.abs(free - limited) > 1e-3 * free.std()
    low, high = stats.binom.interval(0.9999, N_SAMPLES // 2, 2.0**-LIMIT_OVER_MEDIAN_SQUARE)
    assert 2 * low < np.count_nonzero(touched) < 2 * high


def test_gain_changes_nothing_and_the_range_below_is_empty() -> None:
    plain, loud = (limit_hits(spectrum(gain * noise()), lowest_hz=300.0) for gain in (1.0, 41.0))
    np.testing.assert_allclose(loud.lines, plain.lines, rtol=1e-9, atol=1e-9)
    first = round(300.0 / plain.line_spacing_hz)
    assert not plain.lines[:first].any()
    assert plain.lines[first:].all()


def test_weak_strikes_are_found_again_under_hard_hits() -> None:
    rng = np.random.default_rng(3)
    duration_s = N_SAMPLES / RATE_HZ
    strikes = np.arange(0.5, duration_s - 1, 1 / STRIKE_HZ)
    # Without a little randomness a train is a set of steady lines, which whitening flattens.
    strikes += 0.01 / STRIKE_HZ * rng.standard_normal(strikes.size)
    hits = rng.uniform(0.5, duration_s - 1, 60)
    record = spectrum(
        noise()
        + ringing(strikes, np.full(strikes.size, 5.0))
        + ringing(hits, 60 * (1 + rng.pareto(1.1, hits.size)))
    )

    def over_floor(whitened: RecordSpectrum) -> float:
        found = band_envelope_spectrum(whitened, (600.0, 1600.0), highest_hz=200.0)
        power = found.depth**2
        at = round(STRIKE_HZ / found.line_spacing_hz)
        return float((power / local_floor(power, 201))[at - 1 : at + 2].max())

    before = over_floor(whiten(record))
    after = over_floor(whiten(limit_hits(record, lowest_hz=100.0)))
    # Noise lines reach 12 times their floor once in 1.6e5 (exponential law).
    assert before < NOISE_REACHES
    assert after > 2.5 * NOISE_REACHES


def test_a_limited_record_holds_no_envelope_above_the_limit_by_much() -> None:
    hits = np.array([5.0, 11.0, 23.0])
    record = spectrum(noise() + ringing(hits, np.array([500.0, 900.0, 2000.0])))
    limited = fft.irfft(limit_hits(record, lowest_hz=0.0).lines, n=record.n_samples)
    # Gaussian noise of this length alone reaches 5 standard deviations.
    assert np.abs(limited).max() < 6 * 1.4826 * np.median(np.abs(limited))


@pytest.mark.parametrize("size", [30.0, 300.0, 3000.0])
def test_a_hit_is_scaled_down_to_the_limit_however_hard_it_was(size: float) -> None:
    """The squared envelope of a hit ends at 12 medians: its amplitude at the root of that."""
    record = spectrum(noise() + ringing(np.array([20.0]), np.array([size])))
    limited = fft.irfft(limit_hits(record, lowest_hz=0.0).lines, n=record.n_samples)
    envelope = np.abs(hilbert(limited))
    at = int(20.0 * RATE_HZ)
    limit = np.sqrt(LIMIT_OVER_MEDIAN_SQUARE * np.median(envelope**2))
    # A gain that changes from sample to sample moves the envelope of the product by a quarter.
    assert 0.8 * limit < envelope[at : at + 20].max() < 1.35 * limit


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"lowest_hz": -1.0}, "lowest_hz must lie in [0, 2000), got -1"),
        ({"lowest_hz": 2000.0}, "lowest_hz must lie in [0, 2000), got 2000"),
        (
            {"lowest_hz": 0.0, "limit_over_median": 1.0},
            "limit_over_median must be above 1, got 1",
        ),
    ],
)
def test_refusals(options: dict[str, float], message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        limit_hits(spectrum(noise()), **options)
