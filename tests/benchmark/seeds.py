"""Strikes seeded into a real recording, independent of the package's own seeding.

A train of decaying oscillations: the strikes wander with the cage, scatter about it, and
swing with the load zone. ``amplitude_of_depth`` finds how strong they must be for a wanted
whitened depth to be read on average over several trains, so that no single train's luck
with the noise counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.envelope_bank import bank_bands, block_spectra, envelope_orders
from vibhealth.model import Element, LoadCase, RollingBearing

__all__ = ["Bed", "Train", "amplitude_of_depth", "squared_depths", "strike_train", "swing_order"]

DAMPING_RATIO = 0.035
RING_REACH = 2.2  # times and by its frequency, a strike rings no farther
JITTER = 0.005  # of each strike, as a share of the spacing
WALK = 0.002  # from one strike to the next, as a share of the spacing

# Load zone of Harris, Rolling Bearing Analysis (from memory): half width about 78 degrees.
LOAD_FACTOR = 0.4
LOAD_EXPONENT = 1.1

HARMONICS = (1, 2, 3)
READ_HALF_WIDTH_LINES = 2
N_TRAINS = 20
SCATTER_OF_ORDER = 0.01
N_BISECTIONS = 7
LOWEST_HZ = 50.0  # nothing below it is whitened
LARGEST_OVER_RMS = 1e3


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """A healthy recording at constant speed, and where a defect rings in it."""

    samples: NDArray[np.float64]
    rate_hz: float
    shaft_hz: float
    ring_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """Rates of a defect: strikes per turn, and how often per turn they pass the load."""

    order: float
    swing: float | None


def swing_order(bearing: RollingBearing, element: Element) -> float | None:
    """How often per turn a defect's place passes the load zone; None where it never leaves it.

    For a turning inner ring. The cage's own strikes are passes through the load zone already.
    """
    place = {
        Element.OUTER_RING: 0.0,
        Element.INNER_RING: 1.0,
        Element.ROLLING_ELEMENT: defect_orders(bearing).cage,
    }
    if element is Element.CAGE:
        return None
    load = 0.0 if bearing.load_case is LoadCase.STATIONARY else 1.0
    swing = abs(place[element] - load)
    return swing if swing > 0 else None


def strike_train(bed: Bed, train: Train, rng: np.random.Generator) -> NDArray[np.float64]:
    """Samples of a train whose strongest strike peaks at 1."""
    spacing_s = 1.0 / (train.order * bed.shaft_hz)
    count = int(bed.samples.size / bed.rate_hz / spacing_s) + 2
    walk = np.cumsum(WALK * rng.standard_normal(count))
    place = np.arange(count) + rng.random() + walk + JITTER * rng.standard_normal(count)
    time_s = spacing_s * place
    strength = np.ones(count)
    if train.swing is not None:
        angle = 2 * np.pi * (train.swing * bed.shaft_hz * time_s + rng.random())
        load = np.maximum(0.0, 1 - (1 - np.cos(angle)) / (2 * LOAD_FACTOR))
        strength = load**LOAD_EXPONENT
    index = np.rint(time_s * bed.rate_hz).astype(np.int64)
    inside = (index >= 0) & (index < bed.samples.size)
    impulses = np.zeros(fft.next_fast_len(bed.samples.size, real=True))
    np.add.at(impulses, index[inside], strength[inside])
    rings = fft.irfft(fft.rfft(impulses) * _ring_lines(bed, impulses.size), impulses.size)
    return np.asarray(rings[: bed.samples.size], dtype=np.float64)


def _ring_lines(bed: Bed, n_samples: int) -> NDArray[np.complex128]:
    """Spectrum of one decaying oscillation of peak 1, exactly nothing far from its frequency.

    An abrupt start would reach up to half the sampling rate, where a recorder's filter has
    left next to no noise and any trace stands out.
    """
    decay = 2 * np.pi * DAMPING_RATIO * bed.ring_hz
    since_s = np.arange(n_samples) / bed.rate_hz
    ring = np.exp(-decay * since_s) * np.sin(2 * np.pi * bed.ring_hz * since_s)
    frequency_hz = np.maximum(fft.rfftfreq(n_samples, 1 / bed.rate_hz), 1e-9)
    away = np.minimum(1.0, np.abs(np.log(frequency_hz / bed.ring_hz)) / np.log(RING_REACH))
    lines = fft.rfft(ring) * np.cos(0.5 * np.pi * away) ** 2
    peak = np.max(np.abs(fft.irfft(lines, n_samples)))
    return np.asarray(lines / peak, dtype=np.complex128)


Trains = Sequence[tuple[float, NDArray[np.float64]]]
Bands = Sequence[tuple[float, float]]


def squared_depths(bed: Bed, trains: Trains, bands: Bands, amplitude: float) -> NDArray[np.float64]:
    """Squared whitened depth in each band, averaged over seeded trains (order, samples).

    It is the power above the floor, which may be negative in one train: noise adds nothing.
    """
    powers = np.zeros((len(trains), len(bands)))
    for row, (order, train) in enumerate(trains):
        samples = bed.samples + amplitude * train
        whitened = block_spectra(
            samples, bed.rate_hz, shaft_frequency_hz=bed.shaft_hz, lowest_hz=LOWEST_HZ
        )[1]
        for column, band in enumerate(bands):
            envelope = envelope_orders(
                whitened,
                band,
                shaft_frequency_hz=bed.shaft_hz,
                highest_order=HARMONICS[-1] * order + 1,
            )
            excess = envelope.depth_power - envelope.floor
            for harmonic in HARMONICS:
                at = round(harmonic * order / envelope.order_spacing)
                near = excess[at - READ_HALF_WIDTH_LINES : at + READ_HALF_WIDTH_LINES + 1]
                powers[row, column] += float(near.sum())
    return np.asarray(powers.mean(axis=0), dtype=np.float64)


def amplitude_of_depth(
    bed: Bed, train: Train, depth: float, rng: np.random.Generator
) -> float | None:
    """Amplitude of the strongest strikes that reads ``depth`` on average; None if none does.

    Several trains, each a little off the order; what the recording itself reads at their
    orders is subtracted. The band is the one that reads the strikes deepest.
    """
    trains = []
    for _ in range(N_TRAINS):
        order = train.order * (1 + SCATTER_OF_ORDER * rng.uniform(-1, 1))
        trains.append((order, strike_train(bed, replace(train, order=order), rng)))
    bands: Bands = [
        band
        for band in bank_bands(bed.rate_hz, bed.shaft_hz, fastest_strike_order=train.order)
        if band[0] < bed.ring_hz < band[1]
    ]
    silence = squared_depths(bed, trains, bands, 0.0)
    high = 0.1 * float(np.std(bed.samples))
    while True:
        above = squared_depths(bed, trains, bands, high) - silence
        if above.max() >= depth**2:
            break
        high *= 2
        if high > LARGEST_OVER_RMS * float(np.std(bed.samples)):
            return None
    deepest = int(np.argmax(above))
    bands, level = [bands[deepest]], float(silence[deepest])
    low = 0.0
    for _ in range(N_BISECTIONS):
        middle = 0.5 * (low + high)
        is_below = float(squared_depths(bed, trains, bands, middle)[0]) - level < depth**2
        low, high = (middle, high) if is_below else (low, middle)
    return 0.5 * (low + high)
