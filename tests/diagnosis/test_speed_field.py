"""What the comb is read from: a line's height over noise, segments, and lines taken out."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_field import (
    LARGEST_LOG_POWER,
    N_HARMONICS,
    CombField,
    SlowSignals,
    comb_field,
    slow_signals,
)
from vibhealth.errors import InputError

RATE_HZ = 2048.0
NOMINAL_HZ = 16.0


def noise(seed: int, seconds: float = 20.0) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))


def slow_of(samples: NDArray[np.float64]) -> SlowSignals:
    slow = slow_signals(samples, RATE_HZ, highest_shaft_hz=1.1 * NOMINAL_HZ)
    assert slow is not None
    return slow


def field_of(samples: NDArray[np.float64], segment_turns: float | None = None) -> CombField:
    return comb_field(slow_of(samples), nominal_hz=NOMINAL_HZ, segment_turns=segment_turns)


def test_the_slow_record_is_the_record_below_its_last_harmonic() -> None:
    t = np.arange(round(20 * RATE_HZ)) / RATE_HZ
    below, above = 3 * np.cos(2 * np.pi * 40 * t + 0.3), 5 * np.cos(2 * np.pi * 600 * t)
    slow = slow_of(below + above)
    s = np.arange(slow.samples.shape[1]) / slow.rate_hz
    inner = slice(200, -200)  # the record's ends are faded over half a per cent each
    expected = 3 * np.cos(2 * np.pi * 40 * s + 0.3)
    np.testing.assert_allclose(slow.samples[0][inner], expected[inner], atol=1e-3)
    assert slow.rate_hz < RATE_HZ / 3


def test_the_slow_envelope_swings_as_the_noise_is_modulated() -> None:
    t = np.arange(round(60 * RATE_HZ)) / RATE_HZ
    swing = 0.5 * np.cos(2 * np.pi * NOMINAL_HZ * t)
    slow = slow_of(noise(3, 60.0) * np.sqrt(1 + swing))
    s = np.arange(slow.samples.shape[1]) / slow.rate_hz
    seen = 2 * np.mean(slow.samples[1] * np.exp(-2j * np.pi * NOMINAL_HZ * s))
    # Whitening takes some of it (measured: a quarter), never all of it and adds none.
    assert 0.3 < abs(seen) < 0.5


def test_noise_has_the_mean_of_the_largest_of_three_exponentials() -> None:
    """By simulation: 0.97 nepers for lines apart; Hann neighbours are alike, so a little less."""
    apart = np.log1p(np.random.default_rng(0).exponential(size=(200_000, 3))).max(axis=1).mean()
    assert apart == pytest.approx(0.967, abs=0.004)
    lines = field_of(noise(1, 60.0)).lines[:, 0, 10:]
    assert 0.85 * apart < lines.mean() < 1.0 * apart


def test_a_line_stands_as_high_as_its_power_over_the_floor() -> None:
    """Amplitude A in noise of variance 1: power over floor A^2 N / 6 for N Hann samples."""
    t = np.arange(round(20 * RATE_HZ)) / RATE_HZ
    found = field_of(noise(2) + 0.2 * np.cos(2 * np.pi * NOMINAL_HZ * t))
    expected = np.log1p(0.2**2 * t.size / 6)
    top = found.comb(np.array([NOMINAL_HZ]), largest=np.inf)[0, 0, 0]
    # Envelope's noise on top (1 on average); floor 10 %, line 2 / sqrt(power) = 12 %.
    assert top == pytest.approx(expected + 1.0, abs=1.6)
    assert found.comb(np.array([NOMINAL_HZ]), largest=1.0)[0, 0, 0] <= 2.0


def test_no_line_counts_more_than_its_limit() -> None:
    t = np.arange(round(20 * RATE_HZ)) / RATE_HZ
    found = field_of(noise(2) + 100 * np.cos(2 * np.pi * 2 * NOMINAL_HZ * t))
    assert pytest.approx(np.log(1000)) == LARGEST_LOG_POWER
    assert found.comb(np.array([NOMINAL_HZ])).max() <= 2 * LARGEST_LOG_POWER


def test_harmonics_are_read_where_they_are_moved_to() -> None:
    found = field_of(noise(5))
    speeds = np.array([15.5, 16.0])
    moved = found.comb(speeds, np.full(N_HARMONICS, 1.0))
    plain = found.comb(speeds)
    np.testing.assert_array_equal(moved[:, :-1], plain[:, 1:])


def test_segments_overlap_by_half_and_cover_the_record() -> None:
    found = field_of(noise(6), segment_turns=32)
    assert found.lines.shape[:2] == (2, found.centre_s.size)
    assert np.diff(found.centre_s) == pytest.approx(1.0, abs=0.06)  # 16 turns at 16 Hz
    assert found.centre_s[0] == pytest.approx(1.0, abs=0.01)
    assert found.centre_s[-1] == pytest.approx(19.0, abs=0.01)
    assert found.line_spacing_hz == pytest.approx(0.5, rel=1e-3)


def test_gain_changes_nothing() -> None:
    lines = field_of(noise(7)).lines
    np.testing.assert_allclose(field_of(1e-3 * noise(7)).lines, lines, rtol=1e-6, atol=1e-9)


def test_a_course_taken_out_leaves_what_stands_beside_it() -> None:
    t = np.arange(round(20 * RATE_HZ)) / RATE_HZ
    comb = sum(np.cos(2 * np.pi * k * NOMINAL_HZ * t) for k in range(1, 13))
    found = field_of(noise(8) + comb)
    left = found.without(np.array([NOMINAL_HZ]))
    speed = np.array([NOMINAL_HZ])
    assert found.comb(speed)[0].sum() > 12 * 6.0
    # 24 lines of noise: mean 23, deviation 2 (by simulation above and in the comb's tests).
    assert left.comb(speed)[0].sum() == pytest.approx(23, abs=8)
    even = found.without(speed, np.arange(1, 12, 2)).comb(speed)[0, :, 0]
    assert even[::2].min() > 5.0
    assert even[1::2].max() < 5.0


def test_refusals() -> None:
    slow = slow_of(noise(9))
    message = re.escape("a segment must hold 16 turns and fit into the record, got ")
    for turns in (10, 400):
        with pytest.raises(InputError, match=message):
            comb_field(slow, nominal_hz=NOMINAL_HZ, segment_turns=turns)
    with pytest.raises(InputError, match=re.escape("highest_shaft_hz must be")):
        slow_signals(noise(9), RATE_HZ, highest_shaft_hz=0.0)
    assert slow_signals(noise(9), RATE_HZ, highest_shaft_hz=RATE_HZ / 4 / 13.4) is None
    assert slow_signals(noise(9)[:400], RATE_HZ, highest_shaft_hz=16.0) is None
