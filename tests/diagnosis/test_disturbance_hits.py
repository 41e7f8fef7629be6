"""Hard hits: the level that noise reaches, the sweep that is no hit, rate and energy of hits."""

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis.disturbance_hits import (
    HardHits,
    even_band,
    hard_hits,
    hit_level,
)
from vibhealth.errors import InputError
from vibhealth.signal import record_spectrum
from vibhealth.signal.hit_limiting import LIMIT_OVER_MEDIAN_SQUARE

RATE_HZ = 8192.0
BAND_HZ = (1000.0, 3000.0)
DURATION_S = 8.0
SHAFT_HZ = 16.0


def time_s(duration_s: float = DURATION_S) -> NDArray[np.float64]:
    return np.arange(round(duration_s * RATE_HZ)) / RATE_HZ


def noise(seed: int, duration_s: float = DURATION_S) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(time_s(duration_s).size)


def strike(at_s: float, height: float, ring_hz: float = 1800.0) -> NDArray[np.float64]:
    since_s = time_s() - at_s
    decay = np.exp(-2 * np.pi * 0.04 * ring_hz * np.maximum(since_s, 0.0))
    return np.where(since_s >= 0, height * decay * np.sin(2 * np.pi * ring_hz * since_s), 0.0)


def heard(
    samples: NDArray[np.float64], *, turning: bool = False, probability: float = 0.01
) -> HardHits:
    envelope = even_band(record_spectrum(samples, RATE_HZ), BAND_HZ)
    duration_s = samples.size / RATE_HZ
    phase = SHAFT_HZ * duration_s * np.arange(envelope.size) / envelope.size
    return hard_hits(
        envelope,
        bandwidth_hz=BAND_HZ[1] - BAND_HZ[0],
        duration_s=duration_s,
        phase_turns=phase if turning else None,
        probability=probability,
    )


def test_the_level_solves_rices_rate() -> None:
    level = hit_level(2000.0, 10.0, probability=0.05)
    rate = 2 * math.sqrt(math.pi) * 2000.0 / math.sqrt(12) * math.sqrt(level) * math.exp(-level)
    assert 10.0 * rate == pytest.approx(-math.log(0.95))


@given(st.floats(100.0, 1e4), st.floats(1.0, 1e3), st.floats(1e-4, 0.5))
@settings(max_examples=40)
def test_only_the_number_of_values_counts(width: float, length: float, chance: float) -> None:
    level = hit_level(width, length, probability=chance)
    assert hit_level(2 * width, length / 2, probability=chance) == pytest.approx(level)
    assert hit_level(width, 2 * length, probability=chance) > level


def test_noise_alone_reaches_the_level_as_often_as_stated() -> None:
    # 200 records at 20 %: binomial standard deviation 2.8 %; three of them, and Rice's rate is
    # of a flat band, while evening and the quiet quantile scatter by some per cent.
    is_hit = [heard(noise(seed, 2.0), probability=0.2).times_s.size > 0 for seed in range(200)]
    assert 0.10 < float(np.mean(is_hit)) < 0.31


def test_hits_are_counted_once_with_time_height_and_energy() -> None:
    times = np.arange(0.5, 7.6, 0.37)
    samples = noise(1) + sum(strike(t, 30.0) for t in times)
    hits = heard(samples)
    assert hits.times_s.size == times.size
    # A band of 2 kHz rises within 0.5 ms.
    np.testing.assert_allclose(hits.times_s, times, atol=1e-3)
    assert np.all(hits.heights > 5)
    # Each strike has the same energy; the noise beside them moves a share by its own scatter.
    assert np.ptp(hits.energies) < 0.3 * hits.energies.mean()
    assert 0.05 < float(hits.energies.sum()) < 0.95
    assert hits.busy_s < 20 * times.size * hits.ring_s


def test_loud_hits_leave_the_level_of_the_noise_where_it_was() -> None:
    few = noise(2) + strike(2.0, 12.0) + strike(5.0, 12.0)
    many = few + sum(strike(t, 300.0) for t in np.arange(0.3, 7.9, 0.41))
    heights = [float(np.min(heard(samples).heights)) for samples in (few, many)]
    # 3 % of the time is hits: a mean in place of the quantile would fall to a tenth.
    assert heights[1] > 0.8 * heights[0]


@pytest.mark.parametrize("depth", [0.3, 0.6, 0.8])
def test_a_load_zone_that_sweeps_past_is_no_hit(depth: float) -> None:
    swing = 1 + depth * np.cos(2 * np.pi * SHAFT_HZ * time_s())
    swept = swing * noise(3)
    assert heard(swept, turning=True).times_s.size == 0
    if depth > 0.5:  # and would be one if the sweep were not followed
        assert heard(swept).times_s.size > 0


def test_a_hum_thirty_times_the_noise_hides_no_hit() -> None:
    hum = 30.0 * np.sin(2 * np.pi * 2000.0 * time_s())
    quiet, loud = (heard(noise(5) + strike(3.0, 15.0) + x) for x in (0.0 * hum, hum))
    assert quiet.times_s.size == loud.times_s.size == 1
    # The hum takes a few hundred of 2000 Hz with it.
    assert loud.heights[0] > 0.7 * quiet.heights[0]


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ((0.0, 1.0, 0.1), "bandwidth_hz must be a finite number above 0, got 0.0"),
        ((1.0, -1.0, 0.1), "duration_s must be a finite number above 0, got -1.0"),
        ((100.0, 1.0, 1.0), "probability must lie in (0, 1), got 1.0"),
        ((3.0, 2.0, 0.1), "bandwidth_hz times duration_s must be at least 10, got 6: record"),
    ],
)
def test_an_impossible_level_is_refused(values: tuple[float, float, float], message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        hit_level(values[0], values[1], probability=values[2])


def test_a_silent_band_is_refused() -> None:
    spectrum = record_spectrum(np.zeros(4096), RATE_HZ)
    message = "band_hz (1000.0, 3000.0) must hold some signal, got silence"
    with pytest.raises(InputError, match=re.escape(message)):
        even_band(spectrum, BAND_HZ)


@pytest.mark.parametrize("height", [20.0, 30.0])
def test_a_hit_that_beats_as_it_fades_is_one_hit(height: float) -> None:
    """Two resonances beat at 700 Hz: hard hits cross the level again and again as they fade."""
    times = np.arange(0.5, 7.6, 0.37)
    hits = heard(noise(6) + sum(strike(t, height) + strike(t, height, 2500.0) for t in times))
    assert hits.times_s.size == times.size
    np.testing.assert_allclose(hits.times_s, times, atol=2e-3)


def test_a_later_hit_is_none_of_the_first_though_it_is_smaller() -> None:
    """At 1800 Hz and a damping of 0.04, 15 ms leave exp(-2 * 0.04 * 1800 * 2 pi * 0.015) = 1e-6."""
    times = np.arange(0.5, 7.6, 0.37)
    samples = noise(7) + sum(strike(t, 100.0) + strike(t + 0.015, 30.0) for t in times)
    assert heard(samples).times_s.size == 2 * times.size


def test_the_background_rises_by_what_the_hits_leave_of_their_limit() -> None:
    """A tenth of all values huge: 0.9 of noise and 0.1 at twelve medians of the mixture.

    The median solves 0.9 (1 - exp(-m)) = 1/2, the quiet quantile 0.9 (1 - exp(-q)) = 1/4; the
    noise is read as q / ln(4/3) of its mean (closed form).
    """
    rng = np.random.default_rng(8)
    values = rng.exponential(1.0, 200_000)
    values[rng.random(values.size) < 0.1] = 1e6
    median, quiet = -math.log(1 - 0.5 / 0.9), -math.log(1 - 0.25 / 0.9)
    expected = (0.9 + 0.1 * LIMIT_OVER_MEDIAN_SQUARE * median) / (quiet / math.log(4 / 3))
    hits = hard_hits(values, bandwidth_hz=2000.0, duration_s=50.0, phase_turns=None)
    assert hits.background_rise == pytest.approx(expected, rel=0.02)
    assert heard(noise(9)).background_rise == pytest.approx(1.0, abs=0.05)
