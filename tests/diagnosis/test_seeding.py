"""Strikes made apart from the package are found at the stated amplitude, and not at half of it."""

import math
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.envelope_bank import bank_bands, envelope_orders
from vibhealth.diagnosis.seeding import PLACES, SeedBed, seed_bed, strike_for_whitened_depth
from vibhealth.diagnosis.sizes import modulation_depth
from vibhealth.model import BearingGeometry, LoadCase, RollingBearing
from vibhealth.signal import record_spectrum, whiten

Array = NDArray[np.float64]
Train = Callable[..., Array]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
HIGHEST_ORDER = 20.0
TARGET = 0.3
N_SEEDS = 12
BANDS = bank_bands(RATE_HZ, SHAFT_HZ, fastest_strike_order=6.0)
BAND_HZ = (500.0, 1500.0)
ORDER = defect_orders(
    RollingBearing(
        name="upper",
        geometry=BearingGeometry(
            element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04
        ),
        element_count=9,
        load_case=LoadCase.STATIONARY,
    )
).outer_ring


def bed_of(samples: Array) -> SeedBed:
    return seed_bed(
        samples,
        RATE_HZ,
        bands=BANDS,
        band_hz=BAND_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        highest_order=HIGHEST_ORDER,
    )


def strike(samples: Array, *, target: float = TARGET, swing: float | None = None) -> float:
    return strike_for_whitened_depth(
        bed_of(samples), strike_order=ORDER, swing_order=swing, target_depth=target
    )


def whitened_depth(samples: Array) -> float:
    """Deepest reading of the family in the whole bank of the whitened record."""
    whitened = whiten(record_spectrum(samples, RATE_HZ))
    return max(
        modulation_depth(
            envelope_orders(
                [whitened], band, shaft_frequency_hz=SHAFT_HZ, highest_order=HIGHEST_ORDER
            ),
            ORDER,
            3,
        )
        for band in BANDS
    )


@pytest.fixture(scope="module")
def noise(spall_train: Train) -> Array:
    return spall_train(ORDER, amplitude=0.0)


@pytest.fixture(scope="module")
def needed(noise: Array) -> float:
    return strike(noise)


def test_trains_of_the_stated_amplitude_read_the_depth_and_half_of_it_does_not(
    spall_train: Train, needed: float
) -> None:
    """Another generator, another resonance (1000 against 866 Hz), noise of the same law.

    Found at the full amplitude: 0.28 to 0.35, median 0.315; at half of it at most 0.13.
    """
    full, half = (
        np.array(
            [
                whitened_depth(spall_train(ORDER, amplitude=share * needed, slip_walk=0, seed=seed))
                for seed in range(N_SEEDS)
            ]
        )
        for share in (1.0, 0.5)
    )
    assert np.mean(full >= TARGET) > 0.5
    assert full.min() > 0.8 * TARGET
    assert np.median(full) < 1.25 * TARGET
    assert half.max() < 0.6 * TARGET


@pytest.mark.parametrize("gain", [1e-3, 3.7, 1e4])
def test_gain_of_the_record_scales_the_strike(noise: Array, needed: float, gain: float) -> None:
    """Whitening makes the depth a ratio: round-off alone, never a step of the bisection."""
    assert strike(gain * noise) == pytest.approx(gain * needed, rel=1e-9)


def test_a_deeper_target_needs_a_harder_strike(noise: Array, needed: float) -> None:
    assert strike(noise, target=0.2) < needed < strike(noise, target=0.6)


def test_strikes_that_swing_with_the_load_peak_higher(noise: Array, needed: float) -> None:
    """The mean of cos(phi / 2)^16 is C(16, 8) / 2^16 = 0.196: as much power needs 2.26 times the
    peak. Six bisections of a step of 1.6 are 0.7 %, the rest is noise in other side lines."""
    mean_square = math.comb(16, 8) / 2**16
    assert strike(noise, swing=1.0) == pytest.approx(needed / math.sqrt(mean_square), rel=0.1)


def test_it_is_the_same_every_time(noise: Array, needed: float) -> None:
    assert strike(noise) == needed


def test_nothing_can_be_seeded_into_silence() -> None:
    assert strike(np.zeros(76_800)) == math.inf


def test_no_amplitude_reaches_a_depth_that_no_train_has(noise: Array) -> None:
    """Three lines of a periodic train of the shortest strikes: 2 sqrt(3) = 3.46."""
    assert strike(noise, target=3.5) == math.inf


def test_a_record_that_ticks_there_by_itself_is_seeded_beside_it(
    spall_train: Train, needed: float
) -> None:
    """The family's own lines must not stand for the seed: then no strike at all would do."""
    ticking = spall_train(ORDER, amplitude=10.0, slip_walk=0.0)
    assert whitened_depth(ticking) > TARGET
    assert needed < strike(ticking) < 4 * needed


def test_a_record_that_ticks_at_all_places_shows_no_smallest_strike(spall_train: Train) -> None:
    one = partial(spall_train, amplitude=10.0, slip_walk=0.0)
    trains = [one(ORDER * (1 + place), seed=number) for number, place in enumerate(PLACES)]
    assert strike(np.asarray(np.sum(trains, axis=0))) == math.inf


def test_a_long_record_is_seeded_in_its_middle() -> None:
    """Loud ends outside of the stretch of 524 288 samples change nothing."""
    samples = np.random.default_rng(4).standard_normal(700_000)
    louder = samples.copy()
    louder[:80_000] *= 50.0
    louder[-80_000:] *= 50.0
    assert np.array_equal(bed_of(samples).spectrum.lines, bed_of(louder).spectrum.lines)
    assert bed_of(samples).spectrum.n_samples == 524_288


def test_seeds_ring_in_the_middle_of_the_bearing_band(noise: Array) -> None:
    bed = bed_of(noise)
    assert bed.ring_hz == pytest.approx(math.sqrt(500.0 * 1500.0))
    assert bed.bands
    assert all(low < bed.ring_hz < high for low, high in bed.bands)
    assert set(bed.bands) <= set(BANDS)
