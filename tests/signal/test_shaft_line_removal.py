"""Shaft-locked lines go with all they leak; everything else stays."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft
from scipy.signal import windows

from vibhealth.errors import InputError
from vibhealth.signal.envelope import band_envelope_spectrum, local_floor
from vibhealth.signal.shaft_line_removal import remove_shaft_lines, tapered_line
from vibhealth.signal.whitening import record_spectrum, whiten

RATE_HZ = 3000.0
SHAFT_HZ = 10.0173  # 400.692 turns: no tone falls on a line
N_SAMPLES = 120_000
TIME_S = np.arange(N_SAMPLES) / RATE_HZ


def tones(orders: NDArray[np.int64], size: float) -> NDArray[np.float64]:
    phase = np.random.default_rng(5).uniform(0, 2 * np.pi, orders.size)
    total = np.zeros(N_SAMPLES)
    for order, start in zip(orders, phase, strict=True):
        total += size * np.cos(2 * np.pi * order * SHAFT_HZ * TIME_S + start)
    return total


def noise(seed: int = 2) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(N_SAMPLES)


@pytest.mark.parametrize("taper", [0.01, 0.1, 0.5])
@pytest.mark.parametrize("place", [0.0, 0.25, 0.5])
def test_the_shape_of_a_line_is_that_of_the_faded_tone(taper: float, place: float) -> None:
    """Against numpy's transform of a tone under scipy's Tukey window (F. J. Harris 1978)."""
    n = 16_384
    tone = np.exp(2j * np.pi * (500 + place) * np.arange(n) / n)
    lines = fft.fft(tone * windows.tukey(n, taper, sym=False))[480:521] / n
    shape = tapered_line(np.arange(480.0, 521.0) - 500 - place, taper)
    # One sample of the window's edge among n.
    np.testing.assert_allclose(shape, lines, atol=3 / n)
    middle = tapered_line(np.zeros(1), taper)[0]
    assert middle == pytest.approx(1 - taper / 2)


def test_tones_of_the_shaft_go_and_noise_stays() -> None:
    bare = record_spectrum(noise(), RATE_HZ)
    orders = np.arange(20, 150)  # up to the last whole order below the Nyquist frequency
    full = record_spectrum(noise() + tones(orders, 5.0), RATE_HZ)
    left = remove_shaft_lines(full, shaft_frequency_hz=SHAFT_HZ, lowest_hz=150.0)
    before = np.sum(np.abs(full.lines - bare.lines) ** 2)
    after = np.sum(np.abs(left.lines - bare.lines) ** 2)
    assert 10 * np.log10(before / after) > 40


def test_noise_without_tones_and_tones_of_others_stay_as_they_are() -> None:
    bare = record_spectrum(noise(), RATE_HZ)
    kept = remove_shaft_lines(bare, shaft_frequency_hz=SHAFT_HZ, lowest_hz=0.0)
    # Noise stands out at a whole order once in 2e5 lines, and 149 orders are looked at.
    np.testing.assert_array_equal(kept.lines, bare.lines)
    other = record_spectrum(noise() + 5 * np.cos(2 * np.pi * 50.37 * SHAFT_HZ * TIME_S), RATE_HZ)
    kept = remove_shaft_lines(other, shaft_frequency_hz=SHAFT_HZ, lowest_hz=0.0)
    np.testing.assert_array_equal(kept.lines, other.lines)


def test_lines_below_the_lowest_frequency_stay() -> None:
    full = record_spectrum(noise() + tones(np.array([1, 2, 60]), 50.0), RATE_HZ)
    left = remove_shaft_lines(full, shaft_frequency_hz=SHAFT_HZ, lowest_hz=300.0)
    low = round(250.0 / full.line_spacing_hz)
    np.testing.assert_array_equal(left.lines[:low], full.lines[:low])
    edge = record_spectrum(noise() + tones(np.array([30]), 50.0), RATE_HZ)  # 300.5 Hz
    cut = remove_shaft_lines(edge, shaft_frequency_hz=SHAFT_HZ, lowest_hz=300.0)
    first = round(300.0 / edge.line_spacing_hz)
    np.testing.assert_array_equal(cut.lines[:first], edge.lines[:first])
    assert np.any(cut.lines[first:] != edge.lines[first:])
    at = round(60 * SHAFT_HZ / full.line_spacing_hz)
    assert np.abs(left.lines[at]) < 0.01 * np.abs(full.lines[at])


def test_gain_scales_the_result() -> None:
    samples = noise() + tones(np.arange(30, 60), 3.0)
    plain, loud = (
        remove_shaft_lines(
            record_spectrum(gain * samples, RATE_HZ), shaft_frequency_hz=SHAFT_HZ, lowest_hz=100.0
        )
        for gain in (1.0, 29.0)
    )
    np.testing.assert_allclose(loud.lines, 29 * plain.lines, rtol=1e-6, atol=1e-6)


def test_beside_whole_orders_the_envelope_is_no_longer_raised() -> None:
    """Tones between two lines leak into their neighbours, which whitening lifts to full size."""
    record = record_spectrum(noise() + tones(np.arange(15, 145), 1.0), RATE_HZ)

    def beside(removed: bool) -> float:
        used = record
        if removed:
            used = remove_shaft_lines(record, shaft_frequency_hz=SHAFT_HZ, lowest_hz=130.0)
        found = band_envelope_spectrum(whiten(used), (200.0, 1400.0), highest_hz=160.0)
        power = found.depth**2 / local_floor(found.depth**2, 401)
        whole = np.rint(np.arange(1, 15) * SHAFT_HZ / found.line_spacing_hz).astype(int)
        near = np.concatenate([whole + offset for offset in (-4, -3, -2, 2, 3, 4)])
        return float(power[near].mean())

    # The mean of 84 exponential lines has a standard deviation of 0.11.
    assert beside(removed=False) > 1.6
    assert beside(removed=True) < 1.35


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            {"shaft_frequency_hz": 0.0, "lowest_hz": 0.0},
            "shaft_frequency_hz must be a finite number above 0, got 0.0",
        ),
        ({"shaft_frequency_hz": 10.0, "lowest_hz": -1.0}, "lowest_hz must be 0 or more, got -1"),
        (
            {"shaft_frequency_hz": 10.0, "lowest_hz": float("nan")},
            "lowest_hz must be 0 or more, got nan",
        ),
        (
            {"shaft_frequency_hz": 10.0, "lowest_hz": 0.0, "taper": 2.0},
            "taper must lie in [0, 1], got 2.0",
        ),
    ],
)
def test_refusals(options: dict[str, float], message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        remove_shaft_lines(record_spectrum(noise(), RATE_HZ), **options)
