"""Scaling of spectra against closed forms, Parseval, and scipy as an outside reference."""

import re
from typing import Any, get_args

import numpy as np
import pytest
import scipy.signal
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal import (
    amplitude_spectrum,
    effective_averages,
    line_peak,
    power_spectral_density,
    psd_interval,
    to_orders,
    window_samples,
)
from vibhealth.signal.spectrum import Averaging
from vibhealth.signal.windows import WindowName

RATE_HZ, N_SAMPLES = 1000.0, 2000  # line spacing 0.5 Hz
# Round-off of an FFT grows like eps log2(n); 100 times that, for values of order one.
ATOL_FFT = 100 * np.finfo(np.float64).eps * np.log2(N_SAMPLES)
# Grandke's formula neglects the mirror line at negative frequency, which reaches over
# d = 200 lines or more as 1 / (pi d^3 / 2) = 8e-8 of the amplitude, and finite n as 1/n^2.
ATOL_INTERPOLATION = 1e-6


def tone(amplitude: float, frequency_hz: float, phase: float = 0.3) -> NDArray[np.float64]:
    t = np.arange(N_SAMPLES) / RATE_HZ
    return np.asarray(amplitude * np.cos(2 * np.pi * frequency_hz * t + phase))


def noise(n_samples: int = 20_000, seed: int = 3) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(n_samples)


@pytest.mark.parametrize("window", get_args(WindowName))
def test_a_sine_on_a_line_reads_its_amplitude(window: WindowName) -> None:
    """All lines are compared: window side lines are a_j / (2 a0) of the peak, else nothing."""
    spectrum = amplitude_spectrum(tone(5.0, 100.0), RATE_HZ, window=window)
    weights = window_samples(window, N_SAMPLES)
    side = np.abs(np.fft.fft(weights))[:5] / weights.sum()
    expected = np.zeros(N_SAMPLES // 2 + 1)
    for distance in range(-4, 5):
        expected[200 + distance] = 5.0 * side[abs(distance)]
    np.testing.assert_allclose(spectrum.values, expected, rtol=0, atol=10 * ATOL_FFT)
    assert spectrum.frequency_hz[200] == pytest.approx(100.0)
    assert spectrum.line_spacing_hz == pytest.approx(0.5)


def test_line_0_and_the_nyquist_line_are_not_doubled() -> None:
    x = 2.0 + 3.0 * (-1.0) ** np.arange(N_SAMPLES)
    spectrum = amplitude_spectrum(x, RATE_HZ, window="rectangular")
    expected = np.zeros(N_SAMPLES // 2 + 1)
    expected[0], expected[-1] = 2.0, 3.0
    np.testing.assert_allclose(spectrum.values, expected, rtol=0, atol=ATOL_FFT)


@pytest.mark.parametrize("n_samples", [1999, 2000])
@pytest.mark.parametrize("window", get_args(WindowName))
def test_parseval(window: WindowName, n_samples: int) -> None:
    """The integral of the density is the mean square under the squared window, exactly."""
    x, weights = 1.5 + noise(n_samples), window_samples(window, n_samples)
    psd = power_spectral_density(x, RATE_HZ, window=window)
    expected = np.sum((weights * x) ** 2) / np.sum(weights**2)
    assert np.sum(psd.values) * psd.line_spacing_hz == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("overlap", "seconds"), [(0.0, 0.5), (0.5, 0.5), (0.75, 1.001)])
@pytest.mark.parametrize(("window", "other"), [("hann", "hann"), ("flat-top", "flattop")])
def test_agrees_with_scipy(window: WindowName, other: str, overlap: float, seconds: float) -> None:
    x, n = noise(), round(seconds * RATE_HZ)
    step = max(1, round(n * (1 - overlap)))
    ours = power_spectral_density(
        x, RATE_HZ, window=window, segment_seconds=seconds, overlap=overlap
    )
    frequency, theirs = scipy.signal.welch(
        x, RATE_HZ, window=other, nperseg=n, noverlap=n - step, detrend=False
    )
    np.testing.assert_allclose(ours.values, theirs, rtol=1e-10)
    np.testing.assert_allclose(ours.frequency_hz, frequency, rtol=1e-12)
    _, power = scipy.signal.welch(
        x, RATE_HZ, window=other, nperseg=n, noverlap=n - step, detrend=False, scaling="spectrum"
    )
    amplitude = amplitude_spectrum(
        x, RATE_HZ, window=window, segment_seconds=seconds, overlap=overlap
    )
    inner = slice(1, -1)  # scipy's mean square: amplitude squared over 2
    np.testing.assert_allclose(amplitude.values[inner] ** 2 / 2, power[inner], rtol=1e-10)


def test_white_noise_has_a_flat_density() -> None:
    """2 sigma^2 / rate per line; the mean over 600 lines x 66 averages errs by 0.5 %, five: 2.5 %."""
    psd = power_spectral_density(3.0 * noise(), RATE_HZ, segment_seconds=0.6)
    assert psd.values[5:-5].mean() == pytest.approx(2 * 9.0 / RATE_HZ, rel=0.025)
    assert psd.noise_bandwidth_hz == pytest.approx(1.5 * psd.line_spacing_hz, rel=1e-9)


def test_peak_hold_keeps_what_power_averaging_dilutes() -> None:
    x = np.concatenate([np.zeros(N_SAMPLES), tone(4.0, 100.0), np.zeros(2 * N_SAMPLES)])
    settings: dict[str, Any] = {"line_spacing_hz": 0.5, "overlap": 0.0}
    held = amplitude_spectrum(x, RATE_HZ, averaging="peak-hold", **settings)
    mean = amplitude_spectrum(x, RATE_HZ, **settings)
    assert held.values[200] == pytest.approx(4.0, abs=ATOL_FFT)
    assert mean.values[200] == pytest.approx(4.0 / 2.0, abs=ATOL_FFT)  # root of 1/4
    assert (held.n_averages, held.effective_averages) == (4, 1.0)
    assert mean.effective_averages == pytest.approx(4.0)


def test_channels_are_leading_axes() -> None:
    x = np.stack([tone(1.0, 50.0), tone(2.0, 80.0)])
    both = amplitude_spectrum(x, RATE_HZ, segment_seconds=1.0)
    for channel in (0, 1):
        single = amplitude_spectrum(x[channel], RATE_HZ, segment_seconds=1.0)
        np.testing.assert_array_equal(both.values[channel], single.values)


@given(gain=st.floats(1e-3, 1e3), frequency_hz=st.floats(100.0, 400.0), phase=st.floats(0.0, 6.28))
def test_line_peak_is_exact_between_the_lines(
    gain: float, frequency_hz: float, phase: float
) -> None:
    spectrum = amplitude_spectrum(tone(gain, frequency_hz, phase), RATE_HZ)
    peak = line_peak(spectrum, frequency_hz, 2.0)
    assert peak.is_interpolated
    assert peak.is_local_maximum
    assert peak.amplitude / gain == pytest.approx(1.0, abs=ATOL_INTERPOLATION)
    assert peak.frequency_hz == pytest.approx(frequency_hz, abs=ATOL_INTERPOLATION)
    assert abs(peak.line_frequency_hz - frequency_hz) <= 0.25 + 1e-9


def test_line_peak_without_interpolation_says_so() -> None:
    spectrum = amplitude_spectrum(tone(3.0, 100.2), RATE_HZ, window="flat-top")
    peak = line_peak(spectrum, 100.0, 2.0)
    assert not peak.is_interpolated
    assert peak.frequency_hz == peak.line_frequency_hz == pytest.approx(100.0)
    assert 20 * np.log10(peak.amplitude / 3.0) == pytest.approx(0.0, abs=0.0098 + 1e-4)


def test_a_slope_is_no_peak() -> None:
    """The line stands at 100 Hz; the range ends at 99.5 Hz, where the skirt still rises."""
    peak = line_peak(amplitude_spectrum(tone(3.0, 100.0), RATE_HZ), 98.0, 1.5)
    assert not peak.is_local_maximum
    assert not peak.is_interpolated
    assert peak.frequency_hz == pytest.approx(99.5)


def test_effective_averages_without_overlap_are_the_segments() -> None:
    assert effective_averages(window_samples("hann", 64), 64, 7) == 7.0
    assert effective_averages(window_samples("hann", 64), 32, 1) == 1.0


def test_wide_overlap_cannot_make_averages_out_of_nothing() -> None:
    """The more overlap, the more segments, but the worth levels off below 2 per length."""
    window = window_samples("hann", 256)
    worth = [effective_averages(window, step, 10 * 256 // step) for step in (256, 128, 64, 16, 2)]
    assert worth == sorted(worth)
    assert worth[-1] < 2.2 * 10


@given(averages=st.floats(0.6, 500.0), probability=st.floats(0.5, 0.999))
def test_interval_holds_its_estimate_and_its_inverse(averages: float, probability: float) -> None:
    low, high = psd_interval(averages, probability)
    assert 0 < low < 1 < high
    wider = psd_interval(averages, 0.5 * (1 + probability))
    assert wider[0] < low
    assert wider[1] > high


def test_orders() -> None:
    np.testing.assert_allclose(to_orders([0.0, 16.3, 163.0], 16.3), [0.0, 1.0, 10.0], rtol=1e-15)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (
            {"segment_seconds": 1.0, "line_spacing_hz": 1.0},
            "give either segment_seconds or line_spacing_hz, not both",
        ),
        (
            {"segment_seconds": 3.0},
            "a segment of 3 s is longer than the record of 2 s; record longer or accept wider",
        ),
        ({"segment_seconds": 0.0}, "segment_seconds must be a finite number above 0, got 0.0"),
        ({"line_spacing_hz": -1.0}, "line_spacing_hz must be a finite number above 0, got -1.0"),
        ({"overlap": 1.0}, "overlap must lie in [0, 1), got 1.0"),
        ({"overlap": -0.1}, "overlap must lie in [0, 1), got -0.1"),
        ({"segment_seconds": 0.002}, "a window needs at least 4 samples, got 2"),
    ],
)
def test_settings_are_refused(settings: dict[str, Any], message: str) -> None:
    for transform in (amplitude_spectrum, power_spectral_density):
        with pytest.raises(InputError, match=re.escape(message)):
            transform(tone(1.0, 50.0), RATE_HZ, **settings)


def test_bad_input_is_refused() -> None:
    x = tone(1.0, 50.0)
    x[7] = np.nan
    with pytest.raises(InputError, match=re.escape("acceleration must be finite, got nan at flat")):
        amplitude_spectrum(x, RATE_HZ)
    with pytest.raises(InputError, match=re.escape("sampling_rate_hz must be a finite number")):
        power_spectral_density(tone(1.0, 50.0), 0.0)
    known = ", ".join(get_args(Averaging))
    with pytest.raises(InputError, match=re.escape(f"averaging must be one of {known}, got 'log'")):
        amplitude_spectrum(tone(1.0, 50.0), RATE_HZ, averaging="log")  # type: ignore[arg-type]
    with pytest.raises(InputError, match=re.escape("probability must lie above 0 and below 1")):
        psd_interval(8, 1.0)
    with pytest.raises(InputError, match=re.escape("step and n_averages must be 1 or more, got 0")):
        effective_averages(window_samples("hann", 8), 0, 3)
    with pytest.raises(InputError, match=re.escape("shaft_frequency_hz must be a finite number")):
        to_orders([1.0], 0.0)


def test_line_peak_refusals() -> None:
    x = tone(1.0, 50.0)
    with pytest.raises(InputError, match=re.escape("one channel, got psd of shape (1001,)")):
        line_peak(power_spectral_density(x, RATE_HZ), 50.0, 1.0)
    with pytest.raises(
        InputError,
        match=re.escape("no spectral line within 0.1 Hz of 50.25 Hz at a line spacing of 0.5 Hz"),
    ):
        line_peak(amplitude_spectrum(x, RATE_HZ), 50.25, 0.1)
