"""Squared envelopes: closed forms of modulated tones, the floor of exponential noise."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal.envelope import (
    LIMIT_OVER_MEDIAN,
    analytic_band,
    band_envelope_spectrum,
    local_floor,
    squared_envelope,
)
from vibhealth.signal.whitening import RecordSpectrum, record_spectrum

RATE_HZ = 8192.0
N_SAMPLES = 8192
BAND_HZ = (1000.0, 3000.0)

# Whole periods and no fade: what is left is the round-off of two transforms.
ROUND_OFF = 1e-10


def spectrum_of(samples: NDArray[np.float64]) -> RecordSpectrum:
    return record_spectrum(samples, RATE_HZ, taper=0.0)


def time_s() -> NDArray[np.float64]:
    return np.arange(N_SAMPLES) / RATE_HZ


def modulated(m: float, *, amplitude: float = 1.0) -> NDArray[np.float64]:
    t = time_s()
    swing = 1.0 + m * np.cos(2 * np.pi * 50 * t)
    return np.asarray(amplitude * swing * np.cos(2 * np.pi * 2000 * t))


@settings(max_examples=25, deadline=None)
@given(m=st.floats(0.01, 1.0))
def test_lines_of_a_modulated_tone(m: float) -> None:
    """(1 + m cos)^2 = (1 + m^2/2) + 2 m cos + (m^2/2) cos(2 .)."""
    found = band_envelope_spectrum(spectrum_of(modulated(m)), BAND_HZ, highest_hz=400.0)
    mean = 1 + m**2 / 2
    assert found.mean_square == pytest.approx(mean, rel=ROUND_OFF)
    assert found.depth[50] == pytest.approx(2 * m / mean, abs=ROUND_OFF)
    assert found.depth[100] == pytest.approx(m**2 / 2 / mean, abs=ROUND_OFF)
    others = np.delete(found.depth, [50, 100])
    assert others == pytest.approx(0.0, abs=ROUND_OFF)


@settings(max_examples=25, deadline=None)
@given(amplitude=st.floats(1e-3, 1e3))
def test_gain_scales_the_mean_square_and_leaves_the_depth(amplitude: float) -> None:
    found = band_envelope_spectrum(
        spectrum_of(modulated(0.5, amplitude=amplitude)), BAND_HZ, highest_hz=400.0
    )
    assert found.mean_square == pytest.approx(amplitude**2 * 1.125, rel=1e-9)
    assert found.depth[50] == pytest.approx(1 / 1.125, rel=1e-9)


def test_a_sine_has_a_constant_envelope() -> None:
    tone = 3.0 * np.sin(2 * np.pi * 2000 * time_s())
    signal = analytic_band(spectrum_of(tone), BAND_HZ)
    assert np.abs(signal) == pytest.approx(3.0, rel=ROUND_OFF)
    assert squared_envelope(spectrum_of(tone), BAND_HZ) == pytest.approx(9.0, rel=ROUND_OFF)


def test_mean_square_is_twice_the_mean_square_of_the_band() -> None:
    """Parseval: noise of unit variance has 2000 of 4096 Hz in the band."""
    rng = np.random.default_rng(3)
    found = band_envelope_spectrum(
        spectrum_of(rng.standard_normal(N_SAMPLES)), BAND_HZ, highest_hz=400.0
    )
    # 2000 lines, each exponential: relative standard error 1 / sqrt(2000) = 2.2 %, times four.
    assert found.mean_square == pytest.approx(2 * 2000 / 4096, rel=0.09)


def test_squaring_does_not_fold() -> None:
    """Two tones a band's width apart beat at that rate; with too few values it would fold."""
    t = time_s()
    pair = np.cos(2 * np.pi * 1010 * t) + np.cos(2 * np.pi * 2990 * t)
    found = band_envelope_spectrum(spectrum_of(pair), BAND_HZ, highest_hz=4000.0)
    assert found.lines.shape == (2001,)  # no modulation is faster than the band is wide
    assert found.depth[1980] == pytest.approx(1.0, abs=ROUND_OFF)
    assert np.delete(found.depth, 1980) == pytest.approx(0.0, abs=ROUND_OFF)


def test_what_is_outside_the_band_does_not_count() -> None:
    outside = 100.0 * np.cos(2 * np.pi * 900 * time_s())
    found = band_envelope_spectrum(spectrum_of(modulated(0.5) + outside), BAND_HZ, highest_hz=400.0)
    assert found.mean_square == pytest.approx(1.125, rel=1e-9)


def test_the_limited_envelope_is_cut_at_three_times_its_median() -> None:
    rng = np.random.default_rng(4)
    samples = rng.standard_normal(N_SAMPLES)
    samples[4000] += 200.0
    plain = squared_envelope(spectrum_of(samples), BAND_HZ)
    limited = squared_envelope(spectrum_of(samples), BAND_HZ, detector="limited")
    assert LIMIT_OVER_MEDIAN == 3.0
    assert limited.max() == pytest.approx(3 * np.median(plain), rel=1e-12)
    assert plain.max() > 100 * limited.max()
    below = plain < limited.max()
    assert np.array_equal(limited[below], plain[below])
    # P(exponential > 3 ln 2) = 1/8; 4000 values, of which half are independent: 4 x 0.75 %.
    assert np.mean(~below) == pytest.approx(1 / 8, abs=0.03)


def test_floor_of_exponential_noise_is_its_mean() -> None:
    """The median of w lines scatters by 1 / sqrt(w) about ln 2 (density 1/2 at the median), and
    is biased by 1 / (2 w); 40 windows of 1001 lines side by side: 1 / sqrt(40 000) = 0.5 %."""
    power = np.random.default_rng(5).exponential(2.0, 40_000)
    floor = local_floor(power, 1001)
    assert floor.mean() == pytest.approx(2.0, rel=4 * 0.005)
    assert np.abs(floor / 2.0 - 1).max() < 5 / np.sqrt(1001) / np.log(2)


def test_strong_lines_do_not_move_the_floor() -> None:
    """5 of 101 lines made huge move the median from the 50th to the 53rd percentile at most:
    ln(1 / (1 - 0.5263)) / ln 2 = 1.078."""
    power = np.random.default_rng(6).exponential(1.0, 5000)
    loud = power.copy()
    loud[10::20] = 1e6
    ratio = local_floor(loud, 101) / local_floor(power, 101)
    assert np.all(ratio >= 1.0)
    assert ratio.mean() == pytest.approx(1.078, abs=0.02)


@settings(max_examples=20, deadline=None)
@given(gain=st.floats(1e-6, 1e6), width=st.integers(8, 200))
def test_the_floor_follows_gain(gain: float, width: int) -> None:
    power = np.random.default_rng(7).exponential(1.0, 400)
    scaled = local_floor(gain * power, width)
    assert scaled == pytest.approx(gain * local_floor(power, width), rel=1e-12)


def test_the_floor_follows_a_slope_and_leaves_out_the_first_line() -> None:
    slope = np.linspace(2.0, 1.0, 1000)
    slope[0] = 1e9
    inner = slice(100, 900)
    found = local_floor(slope, 101)
    assert found[inner] == pytest.approx(slope[inner] / np.log(2), rel=1e-3)
    assert found[0] == pytest.approx(found[1])
    assert found[0] < 4.0


def test_medians_are_taken_without_the_first_line() -> None:
    """Width 8, four lines to each side, mirrored at line 1: 3 2 4 1 (5) 1 4 2 3, and so on."""
    power = np.array([1e9, 5.0, 1.0, 4.0, 2.0, 3.0, 9.0, 7.0, 8.0, 6.0])
    floor = local_floor(power, 8) * np.log(2)
    assert floor[:4] == pytest.approx([3.0, 3.0, 3.0, 4.0], rel=ROUND_OFF)


def test_the_floor_of_nothing_is_above_zero() -> None:
    assert np.all(local_floor(np.zeros(100), 16) > 0)


@pytest.mark.parametrize(
    ("band_hz", "message"),
    [
        ((0.0, 100.0), "band_hz must satisfy 0 < low < high <= 4096, got (0.0, 100.0)"),
        ((2000.0, 1000.0), "band_hz must satisfy 0 < low < high <= 4096"),
        ((2000.0, 5000.0), "band_hz must satisfy 0 < low < high <= 4096"),
        ((100.0, 107.0), "must hold at least 8 lines, got 7: record longer"),
    ],
)
def test_bands_that_are_refused(band_hz: tuple[float, float], message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        analytic_band(spectrum_of(modulated(0.5)), band_hz)


def test_other_refusals() -> None:
    with pytest.raises(InputError, match=re.escape("highest_hz must be a finite number above 0")):
        band_envelope_spectrum(spectrum_of(modulated(0.5)), BAND_HZ, highest_hz=0.0)
    with pytest.raises(InputError, match=re.escape("must hold some signal, got silence")):
        band_envelope_spectrum(spectrum_of(np.zeros(N_SAMPLES)), BAND_HZ, highest_hz=400.0)
    with pytest.raises(InputError, match=re.escape("width_lines must be at least 8, got 7")):
        local_floor(np.ones(100), 7)
