"""Whitening: unit magnitude, nothing changed twice, and no leak of a big working motion."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal.whitening import record_spectrum, whiten

# Round-off of one division per line; lines are of order one.
ROUND_OFF = 1e-12


def noise(n_samples: int, seed: int = 0) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(n_samples)


def test_every_line_has_unit_magnitude_and_keeps_its_phase() -> None:
    spectrum = record_spectrum(noise(4096), 1000.0)
    white = whiten(spectrum)
    assert np.abs(white.lines[1:-1]) == pytest.approx(1.0, abs=ROUND_OFF)
    assert np.angle(white.lines) == pytest.approx(np.angle(spectrum.lines), abs=ROUND_OFF)
    assert white.is_whitened
    assert not spectrum.is_whitened


def test_whitening_twice_changes_nothing() -> None:
    once = whiten(record_spectrum(noise(1000), 1000.0))
    assert whiten(once).lines == pytest.approx(once.lines, abs=ROUND_OFF)


@settings(max_examples=25, deadline=None)
@given(gain=st.floats(1e-6, 1e6))
def test_gain_changes_the_spectrum_in_proportion_and_the_whitened_one_not(gain: float) -> None:
    plain, louder = (record_spectrum(noise(512) * scale, 100.0) for scale in (1.0, gain))
    # Subtracting the mean costs a few units of round-off of the largest line.
    least = 1e-9 * np.abs(plain.lines).max()
    kept = np.abs(plain.lines) > least
    assert louder.lines[kept] == pytest.approx(gain * plain.lines[kept], rel=1e-6)
    assert whiten(louder).lines[kept] == pytest.approx(whiten(plain).lines[kept], abs=1e-5)


def test_a_line_of_nothing_stays_nothing() -> None:
    white = whiten(record_spectrum(np.zeros(64), 100.0))
    assert np.array_equal(white.lines, np.zeros(33))


def test_lines_locked_to_the_shaft_lose_their_power() -> None:
    """A tone 1000 times the noise holds nearly all power before and one line's share after."""
    n_samples = 4096
    tone = 1000.0 * np.cos(2 * np.pi * 256 * np.arange(n_samples) / n_samples)
    spectrum = record_spectrum(noise(n_samples) + tone, 1.0, taper=0.0)
    white = whiten(spectrum)

    def share(lines: NDArray[np.complex128]) -> float:
        power = np.abs(lines) ** 2
        return float(power[256] / power.sum())

    assert share(spectrum.lines) > 0.999
    assert share(white.lines) == pytest.approx(1 / (n_samples / 2), rel=0.01)


def test_the_fade_makes_the_leak_of_a_big_line_fall_with_the_third_power() -> None:
    """Between two lines the leak of a rectangle falls with the distance, of a cosine fade with
    its third power beyond a few widths of the fade's own transform (2 / taper lines)."""
    n_samples, taper = 2**16, 0.1
    tone = np.cos(2 * np.pi * 100.5 * np.arange(n_samples) / n_samples)
    hard = np.abs(record_spectrum(tone, 1.0, taper=0.0).lines)
    soft = np.abs(record_spectrum(tone, 1.0, taper=taper).lines)

    def slope(magnitude: NDArray[np.float64]) -> float:
        near, far = (magnitude[100 + d : 100 + d + d // 4].max() for d in (800, 6400))
        return float(np.log2(far / near) / 3)  # three octaves of distance

    # Ripple and the mirrored line of a real tone move the slope by a few per cent.
    assert slope(hard) == pytest.approx(-1.0, abs=0.15)
    assert slope(soft) == pytest.approx(-3.0, abs=0.25)
    # Closed form of the rectangle's leak, with that of the mirrored line at -100.5.
    closed = n_samples / (2 * np.pi) * (1 / 799.5 + 1 / 1000.5)
    assert hard[900] == pytest.approx(closed, rel=0.002)


def test_half_of_the_fade_lies_at_each_end() -> None:
    """A cosine fade over taper / 2 of the record: half height in the middle of it, then 1."""
    n_samples, taper = 4096, 0.2
    zigzag = np.tile([1.0, -1.0], n_samples // 2)
    faded = np.fft.irfft(record_spectrum(zigzag, 1.0, taper=taper).lines, n_samples) / zigzag
    ramp = round(n_samples * taper / 2)
    middle = slice(ramp + 1, n_samples - ramp - 1)
    assert faded[middle] == pytest.approx(1.0, abs=ROUND_OFF)
    # One sample of the ramp is pi / 2 / 410 high.
    assert faded[ramp // 2] == pytest.approx(0.5, abs=0.005)
    assert faded[ramp - 40] < 1.0 - 1e-3
    assert faded[::-1] == pytest.approx(faded, abs=ROUND_OFF)


def test_the_mean_is_removed_and_the_length_is_one_the_transform_likes() -> None:
    spectrum = record_spectrum(noise(10_007) + 1e3, 200.0, taper=0.0)
    assert abs(spectrum.lines[0]) < 1e-6 * 10_007
    assert 0.99 * 10_007 <= spectrum.n_samples <= 10_007
    assert spectrum.lines.shape == (spectrum.n_samples // 2 + 1,)
    assert spectrum.line_spacing_hz == pytest.approx(200.0 / spectrum.n_samples)
    assert spectrum.nyquist_hz == 100.0


@pytest.mark.parametrize(
    ("samples", "rate", "taper", "message"),
    [
        (np.ones(15), 1.0, 0.01, "acceleration must hold at least 16 values on the last axis"),
        (np.full(20, np.nan), 1.0, 0.01, "acceleration must be finite, got nan at flat index 0"),
        (np.ones(20), 0.0, 0.01, "sampling_rate_hz must be a finite number above 0, got 0.0"),
        (np.ones(20), 1.0, 1.5, "taper must lie in [0, 1], got 1.5"),
        (np.ones(20), 1.0, -0.1, "taper must lie in [0, 1], got -0.1"),
    ],
)
def test_refusals(samples: NDArray[np.float64], rate: float, taper: float, message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        record_spectrum(samples, rate, taper=taper)
