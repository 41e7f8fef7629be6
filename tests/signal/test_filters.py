"""Zero-phase filters: gain in closed form, no delay, refusals."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal import band_pass, high_pass, low_pass

RATE_HZ, N_SAMPLES = 2000.0, 8000
T = np.arange(N_SAMPLES) / RATE_HZ
INNER = slice(2000, 6000)  # one second from both ends: many periods of every edge used here
# The bilinear transform is exact at the edge; what is left is the transient of the ends, which a
# fourth-order filter of 20 Hz lets fall below exp(-0.38 * 2 pi 20) within a second.
ATOL = 1e-9


def tone(frequency_hz: float, phase: float = 0.4) -> NDArray[np.float64]:
    return np.asarray(np.cos(2 * np.pi * frequency_hz * T + phase))


def analogue(frequency_hz: float) -> float:
    """Frequency warped by the bilinear transform."""
    return float(np.tan(np.pi * frequency_hz / RATE_HZ))


@pytest.mark.parametrize("frequency_hz", [30.0, 100.0, 200.0, 450.0, 900.0])
def test_gain_of_high_and_low_pass(frequency_hz: float) -> None:
    """Fourth-order Butterworth twice: gain 1 / (1 + (f/edge)^(+-8)), and no phase at all."""
    ratio = (analogue(frequency_hz) / analogue(200.0)) ** 8
    x = tone(frequency_hz)
    low = low_pass(x, RATE_HZ, edge_hz=200.0)
    high = high_pass(x, RATE_HZ, edge_hz=200.0)
    np.testing.assert_allclose(low[INNER], x[INNER] / (1 + ratio), rtol=0, atol=ATOL)
    np.testing.assert_allclose(high[INNER], x[INNER] / (1 + 1 / ratio), rtol=0, atol=ATOL)


@pytest.mark.parametrize("frequency_hz", [25.0, 50.0, 100.0, 200.0, 300.0, 600.0])
def test_gain_of_a_band(frequency_hz: float) -> None:
    """1 / (1 + ((w^2 - w1 w2) / (w (w2 - w1)))^8); one half at both edges."""
    low, high, here = analogue(50.0), analogue(300.0), analogue(frequency_hz)
    gain = 1 / (1 + ((here**2 - low * high) / (here * (high - low))) ** 8)
    x = tone(frequency_hz)
    passed = band_pass(x, RATE_HZ, band_hz=(50.0, 300.0))
    np.testing.assert_allclose(passed[INNER], gain * x[INNER], rtol=0, atol=ATOL)


def test_a_low_band_of_a_fast_recording_stays_exact() -> None:
    """8 to 170 Hz at 51.2 kHz: sections, not a polynomial, or this fails by round-off."""
    rate = 51_200.0
    t = np.arange(2 * 51_200) / rate
    x = 30.0 * np.cos(2 * np.pi * 37.0 * t) + 500.0
    passed = band_pass(x, rate, band_hz=(8.0, 170.0))
    inner = slice(40_000, 60_000)
    np.testing.assert_allclose(passed[inner], x[inner] - 500.0, rtol=0, atol=1e-3)


def test_working_motion_does_not_leak_into_the_bearing_band() -> None:
    """30 m/s^2 at 16.3 Hz against 1 kHz: (16.3/1000)^8 is -286 dB; the ends stay below -60 dB."""
    rate = 25_600.0
    t = np.arange(2 * 25_600) / rate
    passed = band_pass(30.0 * np.cos(2 * np.pi * 16.3 * t), rate, band_hz=(1000.0, 10_000.0))
    assert np.abs(passed[1280:-1280]).max() < 1e-9
    assert np.abs(passed).max() < 30.0e-3


def test_a_band_up_to_nyquist_is_a_high_pass() -> None:
    x = np.random.default_rng(1).standard_normal(N_SAMPLES)
    np.testing.assert_array_equal(
        band_pass(x, RATE_HZ, band_hz=(200.0, 1000.0)), high_pass(x, RATE_HZ, edge_hz=200.0)
    )


@settings(max_examples=20)
@given(gain=st.floats(-100.0, 100.0), offset=st.floats(-100.0, 100.0))
def test_linear_in_time_reversible_and_blind_to_an_offset(gain: float, offset: float) -> None:
    x = np.random.default_rng(2).standard_normal((2, N_SAMPLES))
    band = (50.0, 300.0)
    plain = band_pass(x, RATE_HZ, band_hz=band)
    atol = 1e-8 * (1 + abs(gain) + abs(offset))
    np.testing.assert_allclose(
        band_pass(gain * x + offset, RATE_HZ, band_hz=band)[..., INNER],
        gain * plain[..., INNER],
        rtol=0,
        atol=atol,
    )
    reversed_twice = band_pass(x[..., ::-1], RATE_HZ, band_hz=band)[..., ::-1]
    np.testing.assert_allclose(reversed_twice[..., INNER], plain[..., INNER], rtol=0, atol=1e-8)


@pytest.mark.parametrize(
    "band_hz", [(0.0, 500.0), (500.0, 300.0), (300.0, 1000.1), (-5.0, 100.0), (300.0, 300.0)]
)
def test_a_band_outside_the_spectrum_is_refused(band_hz: tuple[float, float]) -> None:
    message = f"band_hz must satisfy 0 < low < high <= 1000, got {band_hz}"
    with pytest.raises(InputError, match=re.escape(message)):
        band_pass(tone(50.0), RATE_HZ, band_hz=band_hz)


@pytest.mark.parametrize("edge_hz", [0.0, -1.0, 1000.0, 1500.0, float("nan")])
def test_an_edge_outside_the_spectrum_is_refused(edge_hz: float) -> None:
    message = re.escape(f"edge_hz must satisfy 0 < edge < 1000, got {edge_hz}")
    for function in (high_pass, low_pass):
        with pytest.raises(InputError, match=message):
            function(tone(50.0), RATE_HZ, edge_hz=edge_hz)


def test_bad_samples_are_refused() -> None:
    with pytest.raises(InputError, match=re.escape("acceleration must hold at least 16 values")):
        high_pass(np.ones(15), RATE_HZ, edge_hz=100.0)
    with pytest.raises(InputError, match=re.escape("acceleration must be finite, got nan")):
        high_pass(np.full(100, np.nan), RATE_HZ, edge_hz=100.0)
