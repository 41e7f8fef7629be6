"""The comb of shaft harmonics: its noise score, its precision, and what cannot decide alone."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.speed import SMALLEST_COMB_LEAD, SMALLEST_COMB_SCORE
from vibhealth.diagnosis.speed_comb import LARGEST_LOG_POWER, N_HARMONICS, CombSpeed, comb_speed

RATE_HZ = 2048.0
NOMINAL_HZ = 16.0


def noise(seed: int, seconds: float = 20.0) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))


def with_lines(
    speed_hz: float, orders: range, *, amplitude: float = 0.1, seed: int = 1
) -> NDArray[np.float64]:
    samples = noise(seed)
    t = np.arange(samples.size) / RATE_HZ
    for k in orders:
        samples += amplitude * np.cos(2 * np.pi * k * speed_hz * t + k)
    return samples


def comb(samples: NDArray[np.float64], tolerance_percent: float = 3.0) -> CombSpeed:
    found = comb_speed(samples, RATE_HZ, nominal_hz=NOMINAL_HZ, tolerance_percent=tolerance_percent)
    assert found is not None
    return found


def largest_of_three(fade: tuple[float, ...], n_draws: int = 200_000) -> NDArray[np.float64]:
    """Largest ln(1 + p) of three neighbouring lines of noise under a window's transform."""
    rng = np.random.default_rng(0)
    drawn = rng.standard_normal((n_draws, 2, 3 + len(fade) - 1))
    line = sum(weight * drawn[..., i : i + 3] for i, weight in enumerate(fade))
    power = np.sum(np.square(line), axis=1) / (2 * np.sum(np.square(fade)))
    return np.asarray(np.log1p(power).max(axis=1))


def test_score_of_one_speed_under_noise() -> None:
    """12 lines of the record under a Hann fade (weights 1/4, 1/2, 1/4 with alternating signs make
    neighbours alike), 12 of the envelope without one."""
    apart, alike = largest_of_three((1.0,)), largest_of_three((-0.25, 0.5, -0.25))
    assert apart.mean() == pytest.approx(0.967, abs=0.004)
    assert apart.std() == pytest.approx(0.382, abs=0.005)
    expected = 12 * (apart.mean() + alike.mean())
    deviation = math.sqrt(12 * (apart.var() + alike.var()))
    # A tolerance of one grid step: hardly a choice between speeds.
    scores = [comb(noise(seed), 0.001).score for seed in range(150)]
    # Four standard errors; the floor is a median of a few hundred lines and scatters by 2 %.
    assert np.mean(scores) == pytest.approx(expected, abs=4 * deviation / math.sqrt(150) + 0.3)
    assert np.std(scores) == pytest.approx(deviation, rel=4 / math.sqrt(300))
    assert expected == pytest.approx(23, abs=1.5)
    assert deviation == pytest.approx(2, abs=0.3)


def test_noise_confirms_no_speed() -> None:
    """The best of all speeds within 3 %, in 60 records."""
    found = [comb(noise(seed)) for seed in range(60)]
    assert max(f.score for f in found) < SMALLEST_COMB_SCORE
    assert max(f.lead for f in found) < SMALLEST_COMB_LEAD


@pytest.mark.parametrize("share", [0.975, 0.99, 1.0, 1.013, 1.028])
def test_speed_within_a_quarter_line_of_the_last_harmonic(share: float) -> None:
    found = comb(with_lines(share * NOMINAL_HZ, range(1, 13)))
    assert found.shaft_frequency_hz == pytest.approx(share * NOMINAL_HZ, rel=4e-4)
    assert found.score > SMALLEST_COMB_SCORE
    assert found.lead > SMALLEST_COMB_LEAD
    # A quarter of a line: 0.05 Hz / 4 over 16 Hz.
    assert found.uncertainty_percent == pytest.approx(100 * 0.05 / 4 / 16, rel=0.05)


def test_even_harmonics_alone_show_the_speed_not_its_double() -> None:
    """Half and double lie far outside any tolerance, so they can never be chosen."""
    found = comb(with_lines(16.1, range(2, 13, 2), amplitude=0.2))
    assert found.shaft_frequency_hz == pytest.approx(16.1, rel=4e-4)


def test_one_strong_line_counts_no_more_than_its_limit() -> None:
    alone = comb(with_lines(16.1, range(6, 7), amplitude=100.0))
    assert pytest.approx(math.log(1000)) == LARGEST_LOG_POWER
    assert alone.score < SMALLEST_COMB_SCORE
    # Noise on the best of many speeds (28 at most, see above) and one limited line.
    assert alone.score < 30 + LARGEST_LOG_POWER


def test_modulated_noise_shows_the_speed_in_the_envelope_alone() -> None:
    samples = noise(3)
    t = np.arange(samples.size) / RATE_HZ
    swing = sum(np.cos(2 * np.pi * k * 16.2 * t) for k in range(1, 5))
    found = comb(samples * np.sqrt(np.maximum(0.0, 1 + 0.5 * swing)))
    assert found.shaft_frequency_hz == pytest.approx(16.2, rel=6e-4)
    assert found.score > 30


def test_gain_changes_nothing() -> None:
    samples = with_lines(16.1, range(1, 13))
    assert comb(1e-3 * samples).score == pytest.approx(comb(samples).score, rel=1e-9)


def test_only_the_middle_of_a_long_recording_is_looked_at() -> None:
    """1200 turns of 16 Hz are 75 s."""
    middle = noise(4, seconds=75.0)
    quiet = np.zeros(round(20 * RATE_HZ))
    longer = np.concatenate([quiet, middle, quiet])
    assert comb(longer).score == pytest.approx(comb(middle).score, rel=1e-9)


@pytest.mark.parametrize(
    ("seconds", "rate_hz"),
    [(1.8, RATE_HZ), (60.0, 4 * (N_HARMONICS + 1.5) * NOMINAL_HZ)],
    ids=["29 turns", "too slow a rate"],
)
def test_too_short_or_too_slow_is_none(seconds: float, rate_hz: float) -> None:
    samples = np.random.default_rng(0).standard_normal(round(seconds * rate_hz))
    found = comb_speed(samples, rate_hz, nominal_hz=NOMINAL_HZ, tolerance_percent=3.0)
    assert found is None
