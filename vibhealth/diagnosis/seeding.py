"""How hard a defect must strike to be found: strikes seeded into the real recording.

A train of decaying oscillations with the card's load case and a little random
slip is added to a stretch of the recording, the sum is whitened and read in the
bank's bands like the recording itself, and the amplitude is sought at which the
modulation depth reaches a target. What the noise, the whitening and the bands
make of a strike is thereby measured, not assumed.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.diagnosis.envelope_bank import envelope_orders
from vibhealth.diagnosis.sizes import modulation_depth
from vibhealth.signal import RecordSpectrum, record_spectrum, whiten

__all__ = ["SeedBed", "seed_bed", "strike_for_whitened_depth"]

# Depth does not depend on the record's length, so a stretch of this many samples is enough.
STRETCH_SAMPLES = 524_288

# Assumed resonance that a strike rings, in the middle of the bearing band (common practice, no
# source), and the random deviation of each strike from its time, as a share of the period.
DAMPING_RATIO = 0.04
JITTER = 0.005

# Squared strength over the load zone: cos(phi / 2)^16 has the side bands 0.89 and 0.62 of the centre
# line that a turning load makes on the outer ring of a generic bearing (closed form m / (m + 1)).
LOAD_POWER = 8

# Where the recording itself ticks at the strike order, strikes are seeded beside it: places tried,
# as shares of the order, until it reads less than this share of the target there by itself.
PLACES = (0.0, 0.03, -0.03, 0.06, -0.06)
QUIET_SHARE = 0.5

READ_WIDTH = 3
N_BISECTIONS = 6
LARGEST_DOUBLINGS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedBed:
    """A stretch of the recording and the bands in which seeds are read."""

    spectrum: RecordSpectrum
    bands: tuple[tuple[float, float], ...]
    ring_hz: float
    shaft_frequency_hz: float
    highest_order: float


def seed_bed(  # noqa: PLR0913 (facts of one search)
    samples: NDArray[np.float64],
    sampling_rate_hz: float,
    *,
    bands: Sequence[tuple[float, float]],
    band_hz: tuple[float, float],
    shaft_frequency_hz: float,
    highest_order: float,
) -> SeedBed:
    """Take a stretch from the middle of a recording and the bands around the resonance.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        At constant speed.
    sampling_rate_hz : float
        Above 0.
    bands : sequence of (low, high)
        Bank of the search, widest first.
    band_hz : tuple of float
        Bearing band; the seeded resonance lies at its geometric middle.
    shaft_frequency_hz, highest_order : float
        As in the search.

    Returns
    -------
    SeedBed
    """
    start = max(0, (samples.size - STRETCH_SAMPLES) // 2)
    ring_hz = math.sqrt(band_hz[0] * band_hz[1])
    around = [band for band in bands if band[0] < ring_hz < band[1]]
    return SeedBed(
        spectrum=record_spectrum(samples[start : start + STRETCH_SAMPLES], sampling_rate_hz),
        bands=tuple(around[1::2] or around),
        ring_hz=ring_hz,
        shaft_frequency_hz=shaft_frequency_hz,
        highest_order=highest_order,
    )


def _seed_lines(
    bed: SeedBed, strike_order: float, swing_order: float | None
) -> NDArray[np.complex128]:
    """Spectrum of a train of strikes whose strongest peaks at 1."""
    rng = np.random.default_rng(20240301)
    n_samples, rate_hz = bed.spectrum.n_samples, bed.spectrum.sampling_rate_hz
    period_s = 1.0 / (strike_order * bed.shaft_frequency_hz)
    number = np.arange(int(n_samples / rate_hz / period_s))
    time_s = period_s * (number + 0.5 + JITTER * rng.standard_normal(number.size))
    strength = np.ones(number.size)
    if swing_order is not None:
        turns = swing_order * bed.shaft_frequency_hz * time_s
        strength = np.abs(np.cos(np.pi * turns)) ** LOAD_POWER
    train = np.zeros(n_samples)
    index = np.clip(np.rint(time_s * rate_hz).astype(np.int64), 0, n_samples - 1)
    np.add.at(train, index, strength)
    t = np.arange(min(n_samples, int(0.2 * rate_hz))) / rate_hz
    ring = np.exp(-2 * np.pi * DAMPING_RATIO * bed.ring_hz * t) * np.sin(
        2 * np.pi * bed.ring_hz * t
    )
    lines: NDArray[np.complex128] = fft.rfft(train) * fft.rfft(
        ring / np.abs(ring).max(), n=n_samples
    )
    return lines


def strike_for_whitened_depth(
    bed: SeedBed, *, strike_order: float, swing_order: float | None, target_depth: float
) -> float:
    """Zero-to-peak amplitude of the strongest seeded strikes that reach a whitened depth.

    Parameters
    ----------
    bed : SeedBed
        Where to seed.
    strike_order : float
        Strikes per turn of the shaft, above 0.
    swing_order : float or None
        How often per turn the strikes go through the load zone; None for strikes of
        equal strength.
    target_depth : float
        Whitened modulation depth to reach, above 0.

    Returns
    -------
    float
        In the units of the samples; infinite where no amplitude tried reaches it, or
        where the recording itself ticks at the strike order and all places beside it.
    """

    def is_quiet(order: float) -> bool:
        return _seeded_depth(bed, bed.spectrum.lines, order) < QUIET_SHARE * target_depth

    noise = _around_resonance(bed, bed.spectrum.lines)
    if noise == 0:
        return math.inf
    places = (strike_order * (1 + place) for place in PLACES)
    order = next((at for at in places if is_quiet(at)), None)
    if order is None:
        return math.inf
    seed = _seed_lines(bed, order, swing_order)
    signal = _around_resonance(bed, seed)

    def is_reached(amplitude: float) -> bool:
        return _seeded_depth(bed, bed.spectrum.lines + amplitude * seed, order) >= target_depth

    return math.inf if signal == 0 else _smallest(is_reached, 0.5 * noise / signal)


def _around_resonance(bed: SeedBed, lines: NDArray[np.complex128]) -> float:
    """Root mean square of the lines around the resonance."""
    low, high = (
        round(edge / bed.spectrum.line_spacing_hz)
        for edge in (0.8 * bed.ring_hz, 1.25 * bed.ring_hz)
    )
    return float(np.sqrt(np.mean(np.abs(lines[low:high]) ** 2)))


def _smallest(is_reached: Callable[[float], bool], start: float) -> float:
    """The smallest amplitude that is enough; infinite where none tried is."""
    high = start
    for _ in range(LARGEST_DOUBLINGS):
        if is_reached(high):
            break
        high *= 1.6
    else:
        return math.inf
    low = high / 1.6
    while is_reached(low):
        low /= 1.6
    for _ in range(N_BISECTIONS):
        middle = math.sqrt(low * high)
        if is_reached(middle):
            high = middle
        else:
            low = middle
    return high


def _seeded_depth(bed: SeedBed, lines: NDArray[np.complex128], strike_order: float) -> float:
    """Whitened depth of a family in the band that shows it deepest."""
    whitened = whiten(
        RecordSpectrum(
            lines=lines,
            n_samples=bed.spectrum.n_samples,
            sampling_rate_hz=bed.spectrum.sampling_rate_hz,
        )
    )
    return max(_depth_in(bed, whitened, band, strike_order) for band in bed.bands)


def _depth_in(
    bed: SeedBed, whitened: RecordSpectrum, band: tuple[float, float], strike_order: float
) -> float:
    envelope = envelope_orders(
        [whitened],
        band,
        shaft_frequency_hz=bed.shaft_frequency_hz,
        highest_order=bed.highest_order,
    )
    return modulation_depth(envelope, strike_order, READ_WIDTH)
