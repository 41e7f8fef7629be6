"""Strike amplitudes: shapes against closed forms, readings against made trains."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis.strike_load import Swing, strongest_over_mean
from vibhealth.diagnosis.strike_shape import (
    DAMPING_RATIOS,
    FOLD_BINS,
    OFFSETS,
    SECTORS,
    SMEARS,
    first_peak,
    load_shapes,
    strike_shapes,
)
from vibhealth.diagnosis.strike_size import StrikeRates, StrikeSize, strike_size
from vibhealth.signal import record_spectrum

Array = NDArray[np.float64]
Train = Callable[..., Array]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
ORDER = 3.6
STRIKE_HZ = ORDER * SHAFT_HZ
BANDS_HZ = tuple((192.0 + 452 * i, 644.0 + 452 * i) for i in range(4))
DAMPING = 2 * np.pi * 0.04 * 1000.0
# A decaying sine of damping ratio 0.04 first peaks at exp(-0.04 pi / 2) of its amplitude, nearly.
FIRST_PEAK = 0.94
SHAFT_SWING = Swing(by_shaft=1.0, repeats=(1, 2))


def read(samples: Array, *swings: Swing) -> StrikeSize | None:
    return strike_size(
        record_spectrum(samples, RATE_HZ),
        BANDS_HZ[1],
        BANDS_HZ,
        StrikeRates(
            strike_hz=STRIKE_HZ, width_hz=0.5, shaft_frequency_hz=SHAFT_HZ, swings=tuple(swings)
        ),
    )


@pytest.mark.parametrize("amplitude", [2.0, 10.0, 50.0])
def test_amplitude_of_equal_strikes(spall_train: Train, amplitude: float) -> None:
    """In unit noise; the structure's scatter allows 15 %, and the grid of dampings 10 %."""
    found = read(spall_train(ORDER, amplitude=amplitude, seed=3))
    assert found is not None
    assert found.amplitude == pytest.approx(FIRST_PEAK * amplitude, rel=0.25)
    assert found.low < FIRST_PEAK * amplitude < found.high


@pytest.mark.parametrize("share", [0.3, 0.9])
def test_amplitude_of_the_strongest_strikes(spall_train: Train, share: float) -> None:
    found = read(spall_train(ORDER, amplitude=8.0, swings=((1.0, share),), seed=3), SHAFT_SWING)
    assert found is not None
    assert found.amplitude == pytest.approx(FIRST_PEAK * 8 * (1 + share), rel=0.25)


def test_a_swing_at_the_cage_rate_is_found_within_the_slip(spall_train: Train) -> None:
    """The cage turns 0.5 % faster than the strike order says."""
    swing = Swing(by_shaft=0.0, by_strike=0.4 / ORDER, slip=0.01)
    samples = spall_train(ORDER, amplitude=8.0, swings=((0.402, 0.9),), slip_walk=0.0, seed=3)
    found, mean = read(samples, swing), read(samples)
    assert found is not None
    assert mean is not None
    assert found.amplitude == pytest.approx(FIRST_PEAK * 8 * 1.9, rel=0.25)
    assert found.amplitude > 1.3 * mean.amplitude


@settings(max_examples=15, deadline=None)
@given(gain=st.floats(1e-3, 1e3))
def test_amplitude_scales_with_the_record(gain: float) -> None:
    """Amplitudes are linear: round-off alone."""
    rng = np.random.default_rng(2)
    samples = 0.3 * rng.standard_normal(2**15)
    samples[:: round(RATE_HZ / STRIKE_HZ)] += 20.0
    plain, louder = _impulses(samples), _impulses(gain * samples)
    assert louder.amplitude == pytest.approx(gain * plain.amplitude, rel=1e-6)
    assert louder.high == pytest.approx(gain * plain.high, rel=1e-6)


def _impulses(samples: Array) -> StrikeSize:
    found = strike_size(
        record_spectrum(samples, RATE_HZ),
        BANDS_HZ[1],
        BANDS_HZ,
        StrikeRates(
            strike_hz=RATE_HZ / round(RATE_HZ / STRIKE_HZ), width_hz=1.0, shaft_frequency_hz=16.0
        ),
    )
    assert found is not None
    return found


def test_stronger_strikes_read_stronger(spall_train: Train) -> None:
    sizes = [read(spall_train(ORDER, amplitude=a, seed=3)) for a in (2.0, 4.0, 8.0, 16.0)]
    amplitudes = [size.amplitude for size in sizes if size is not None]
    assert len(amplitudes) == 4
    assert np.all(np.diff(np.log(amplitudes)) > 0.5 * np.log(2))


def test_noise_has_hardly_ever_a_strike() -> None:
    """1 record in 100 by 200 simulated ones; more than three of 40 would be 7 per 10 000."""
    found = [
        read(np.random.default_rng([9, seed]).standard_normal(76_800), SHAFT_SWING)
        for seed in range(40)
    ]
    assert sum(size is not None for size in found) <= 3


def test_a_hum_is_no_strike() -> None:
    """Noise whose power swings as a sine at the strike rate: deep, but nothing strikes."""
    rng = np.random.default_rng(1)
    time_s = np.arange(76_800) / RATE_HZ
    hum = np.sqrt(1 + 0.8 * np.cos(2 * np.pi * STRIKE_HZ * time_s))
    assert read(hum * rng.standard_normal(76_800)) is None


def test_shape_of_a_wide_band_is_the_exponential() -> None:
    """exp(-2 b t) over a period, mean 1 / (2 b) less what outlasts it; sharp edges cut a few per cent."""
    shapes, decay, energy = strike_shapes(120.0, 60.0)
    first = np.arange(len(DAMPING_RATIOS)) * len(OFFSETS) * len(SMEARS)
    assert decay[first] == pytest.approx(2 * np.pi * np.array(DAMPING_RATIOS) * 60.0)
    assert shapes.shape == (len(DAMPING_RATIOS) * len(OFFSETS) * len(SMEARS), FOLD_BINS)
    assert np.mean(shapes, axis=-1) == pytest.approx(np.zeros(len(shapes)), abs=1e-12)
    assert energy[first[:4]] == pytest.approx(1 / (2 * decay[first[:4]]), rel=0.06)
    at = first[0]
    expected = np.exp(-2 * decay[at] * np.array([0.1, 0.2, 0.3]))
    whole = shapes[at] + energy[at]
    bins = [round(FOLD_BINS * phase) for phase in (0.1, 0.2, 0.3)]
    assert whole[bins] == pytest.approx(expected, abs=0.05)


def test_first_peak_of_one_and_of_many_sines() -> None:
    one = first_peak(np.array([[2.0]]), np.array([DAMPING]), np.array([1000.0]))
    # tan(w t) = w / b at the peak of exp(-b t) sin(w t); 40 points a period locate it to 0.3 %.
    omega = 2 * np.pi * 1000.0
    at = np.arctan(omega / DAMPING) / omega
    assert one[0] == pytest.approx(2 * np.exp(-DAMPING * at) * np.sin(omega * at), rel=5e-3)
    two = first_peak(np.array([1.0, 1.0]), np.array([1.0, 1.0]), np.array([1000.0, 3000.0]))
    # sin x + sin 3x = 4 sin x - 4 sin^3 x is largest at sin^2 x = 1/3: 8 / (3 sqrt 3).
    assert float(two) == pytest.approx(8 / (3 * np.sqrt(3)), rel=5e-3)


def test_load_shapes_hold_the_even_one_and_half_a_turn() -> None:
    shapes = load_shapes(1)
    assert shapes.shape[1] == SECTORS
    assert shapes.max() <= 1.0
    assert shapes.mean(axis=-1).max() == pytest.approx(1.0, abs=1e-5)
    twice = load_shapes(2)
    assert twice[:, : SECTORS // 2] == pytest.approx(twice[:, SECTORS // 2 :], abs=1e-12)


def test_strongest_over_mean_of_a_known_swing() -> None:
    """Squared strength (1 + cos) / 2 to the power 20/9: a load factor of 1; mean by quadrature."""
    rng = np.random.default_rng(6)
    turns = np.arange(3000) / ORDER
    strength = (0.5 * (1 + np.cos(2 * np.pi * turns))) ** (20 / 9)
    weights = np.ones((2, turns.size))
    ratio = strongest_over_mean(
        strength + 0.1 * rng.standard_normal(turns.size), turns, weights, (Swing(by_shaft=1.0),)
    )
    fine = (0.5 * (1 + np.cos(2 * np.pi * np.arange(1000) / 1000))) ** (20 / 9)
    assert ratio[0] == pytest.approx(1 / fine.mean(), rel=0.1)
    assert strongest_over_mean(strength, turns, weights, ())[0] == 1.0
