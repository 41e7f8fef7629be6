"""Strike amplitude at the sensor, zero to peak, of a family's strongest strikes.

The squared envelopes of narrow bands that tile the range are folded over the strike
period, whose phase follows the wandering cage. In each band the height of a
decaying strike is fitted to the fold by least squares: noise, which is the same at
all phases, drops out. The same linear reading of every single strike, sorted by the
load's turn against the defect, leads from the mean strike to the strongest. The
bands' energies are gathered into resonances, and the resonances put together as
decaying sines that start at the same instant.

The interval comes from blocks of strikes drawn with replacement (H. R. Kuensch, Ann.
Statist. 17 (1989) 1217-1241, from memory; blocks side by side).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.diagnosis.strike_load import Swing, strongest_over_mean
from vibhealth.diagnosis.strike_shape import FOLD_BINS, first_peak, strike_shapes
from vibhealth.signal import RecordSpectrum, squared_envelope

__all__ = ["StrikeRates", "StrikeSize", "strike_size"]

# A band's strikes are seen from so many standard deviations of its fold on: the best of all places
# and shapes of noise alone reaches 6.1 in 1 of 100 records (simulation in the tests).
SEEN = 6.2
# Other bands, where the place is known, count from here on: 0.6 % of one-sided noise.
ALSO_SEEN = 2.5

# The strikes' phase is followed within the width of the found line times these, as far as it
# makes the fold clearer, and never beyond this share of the strike rate. Only strikes that
# stand this clearly in the first fold are followed wider: noise, followed closely, folds up too.
FOLLOWED_WIDTHS = (1, 2, 4, 8)
WIDEST_FOLLOWED = 0.06
CLEAR = 8.0

# Bins by which a band's strikes may begin beside the common place: its resonance lies off its middle.
ONSET_REACH = 4

BLOCK_STRIKES = 20
N_DRAWS = 200

# Relative standard deviation of what the fold cannot see: how the resonances lie within the
# bands, with which sign they add, how strikes scatter (simulated machine: rms log of read over true).
STRUCTURE_SCATTER = 0.18
QUANTILE = 1.6449


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeRates:
    """How often strikes come, how far that wanders, and how the load turns against the defect."""

    strike_hz: float
    width_hz: float
    shaft_frequency_hz: float
    swings: tuple[Swing, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeSize:
    """Zero-to-peak amplitude of the strongest strikes with its 90 % interval."""

    amplitude: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fold:
    """Squared envelope of one band with the strike number of every value."""

    centre_hz: float
    envelope: NDArray[np.float64]
    strike: NDArray[np.float64]
    profile: NDArray[np.float64]  # mean over the strike period, mean taken out
    gain: NDArray[np.float64]  # of every shape at every onset, in half variances
    variance: float  # of a bin of the profile
    shapes: NDArray[np.float64]
    decay: NDArray[np.float64]
    energy: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """Energy of every strike in one band, the decay, and how sure the shape is."""

    centre_hz: float
    energy: NDArray[np.float64]  # per strike, in squared sample units times seconds
    decay: float  # in 1/s
    spread: float  # relative standard deviation of the squared amplitude over the shapes


def strike_size(
    spectrum: RecordSpectrum,
    leading_band_hz: tuple[float, float],
    bands_hz: Sequence[tuple[float, float]],
    rates: StrikeRates,
) -> StrikeSize | None:
    """Amplitude of the strongest strikes of a found family.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As recorded, not whitened.
    leading_band_hz : tuple of float
        Band in which the strikes' phase is followed: where the comb stands out most.
    bands_hz : sequence of (low, high)
        Bands that tile the range without overlap, ascending, at least one.
    rates : StrikeRates
        Found strike rate, width of its line, and the load's swings.

    Returns
    -------
    StrikeSize or None
        In the units of the record; None where no fold shows a strike.
    """
    strikes = _followed_strikes(spectrum, leading_band_hz, rates)
    folds = [
        _fold(squared_envelope(spectrum, band), band, strikes, rates.strike_hz) for band in bands_hz
    ]
    clear = [fold for fold in folds if fold.gain.max() >= 0.5 * SEEN**2]
    if not clear:
        return None
    # Bands that hold most of the strikes' power say when they begin, not those with least noise.
    powers = np.sum([fold.gain.max(axis=0) * fold.variance for fold in clear], axis=0)
    onset = int(np.argmax(powers))
    readings = [reading for fold in folds if (reading := _read(fold, onset))]
    if not readings:
        return None
    weights = _weights(readings[0].energy.size)
    peaks = _mean_peaks(readings, weights, 1.5 * (bands_hz[0][1] - bands_hz[0][0]))
    if peaks[0] <= 0:
        return None
    total = np.sum([reading.energy * _trust(reading) for reading in readings], axis=0)
    shaft = _strike_times_s(spectrum, strikes, total.size) * rates.shaft_frequency_hz
    peaks = peaks * np.sqrt(strongest_over_mean(total, shaft, weights, rates.swings))
    return _with_interval(peaks, readings)


def _with_interval(peaks: NDArray[np.float64], readings: Sequence[_Reading]) -> StrikeSize:
    means = np.array([max(0.0, float(reading.energy.mean())) for reading in readings])
    spread = 0.5 * float(np.sum(means * [r.spread for r in readings]) / means.sum())
    drawn = float(np.std(np.log(np.maximum(peaks[1:], 1e-3 * peaks[0]))))
    factor = float(np.exp(QUANTILE * np.sqrt(drawn**2 + spread**2 + STRUCTURE_SCATTER**2)))
    amplitude = float(peaks[0])
    return StrikeSize(amplitude=amplitude, low=amplitude / factor, high=amplitude * factor)


def _trust(reading: _Reading) -> float:
    """Weight of a band's strikes beside other bands': their mean over their variance."""
    variance = float(np.var(reading.energy))
    return max(0.0, float(reading.energy.mean())) / max(variance, np.finfo(np.float64).tiny)


def _weights(n_strikes: int) -> NDArray[np.float64]:
    """Weight of every strike: all alike in the first row, drawn in blocks in the others."""
    n_blocks = max(2, n_strikes // BLOCK_STRIKES)
    block = np.minimum(np.arange(n_strikes) * n_blocks // n_strikes, n_blocks - 1)
    draws = np.random.default_rng(20250111).multinomial(
        n_blocks, np.full(n_blocks, 1 / n_blocks), size=N_DRAWS
    )
    return np.vstack((np.ones(n_strikes), draws[:, block].astype(np.float64)))


def _mean_peaks(
    readings: Sequence[_Reading], weights: NDArray[np.float64], neighbour_hz: float
) -> NDArray[np.float64]:
    """Peak of the mean strike for every weighting: bands gathered into resonances."""
    energies = np.array([reading.energy for reading in readings])
    means = np.maximum(weights @ energies.T / weights.sum(axis=1)[:, None], 0.0)
    group = _resonances(readings, means[0], neighbour_hz)
    amplitudes, decays, frequencies = [], [], []
    for peak in np.unique(group):
        inside = means[:, group == peak]
        centres = np.array([r.centre_hz for r, g in zip(readings, group, strict=True) if g == peak])
        decay = readings[peak].decay
        amplitudes.append(np.sqrt(2 * decay * inside.sum(axis=1)))
        decays.append(decay)
        total = inside[0].sum()
        frequencies.append(inside[0] @ centres / total if total > 0 else readings[peak].centre_hz)
    return first_peak(np.array(amplitudes).T, np.array(decays), np.array(frequencies))


def _resonances(
    readings: Sequence[_Reading], energy: NDArray[np.float64], neighbour_hz: float
) -> NDArray[np.int64]:
    """For every band the band uphill of it in which its resonance peaks."""
    group = np.arange(len(readings))
    for at in np.argsort(energy)[::-1]:
        beside = [
            i
            for i in (at - 1, at + 1)
            if 0 <= i < len(readings)
            and abs(readings[i].centre_hz - readings[at].centre_hz) < neighbour_hz
            and energy[i] > energy[at]
        ]
        if beside:
            group[at] = group[max(beside, key=lambda i: energy[i])]
    return group


def _followed_strikes(
    spectrum: RecordSpectrum, band_hz: tuple[float, float], rates: StrikeRates
) -> NDArray[np.float64]:
    """Strikes since the start at even times of the record, followed by the first centre line."""
    envelope = squared_envelope(spectrum, band_hz)
    lines = fft.rfft(envelope)
    spacing = spectrum.line_spacing_hz
    clearest, best = 0.0, np.empty(0)
    for factor in FOLLOWED_WIDTHS:
        half = max(1, round(0.5 * factor * rates.width_hz / spacing))
        is_wide = half * spacing > WIDEST_FOLLOWED * rates.strike_hz
        if best.size and (is_wide or clearest < 0.5 * CLEAR**2):
            break
        strikes = _phase(lines, round(rates.strike_hz / spacing), half)
        gain = float(_fold(envelope, band_hz, strikes, rates.strike_hz).gain.max())
        if not best.size or gain > clearest:
            clearest, best = gain, strikes
    return best


def _phase(lines: NDArray[np.complex128], middle: int, half: int) -> NDArray[np.float64]:
    """Phase in turns, at even times, of the lines within ``half`` of a line."""
    n_values = 8 * (half + 1)
    narrow = np.zeros(n_values, dtype=np.complex128)
    offsets = np.arange(-half, half + 1)
    narrow[offsets] = lines[middle + offsets]
    slow = np.unwrap(np.angle(fft.ifft(narrow))) / (2 * np.pi)
    turns: NDArray[np.float64] = slow + middle * np.arange(n_values) / n_values
    return np.append(turns, turns[-1] + middle / n_values)


def _strike_times_s(
    spectrum: RecordSpectrum, strikes: NDArray[np.float64], n_strikes: int
) -> NDArray[np.float64]:
    """Time in seconds of every strike."""
    first = np.floor(strikes.min())
    share = np.interp(
        first + np.arange(n_strikes) + 0.5,
        np.maximum.accumulate(strikes),
        np.linspace(0.0, 1.0, strikes.size),
    )
    return np.asarray(share * spectrum.n_samples / spectrum.sampling_rate_hz)


def _fold(
    envelope: NDArray[np.float64],
    band_hz: tuple[float, float],
    strikes: NDArray[np.float64],
    strike_hz: float,
) -> _Fold:
    share = np.arange(envelope.size) / envelope.size
    strike = np.interp(share, np.linspace(0.0, 1.0, strikes.size), strikes)
    place = np.floor(strike * FOLD_BINS).astype(np.int64) % FOLD_BINS
    count = np.maximum(np.bincount(place, minlength=FOLD_BINS), 1)
    profile = np.bincount(place, weights=envelope, minlength=FOLD_BINS) / count
    profile -= profile.mean()
    width, centre = band_hz[1] - band_hz[0], 0.5 * (band_hz[0] + band_hz[1])
    shapes, decay, energy = strike_shapes(round(width / strike_hz, 2), round(centre / strike_hz, 2))
    matched = fft.irfft(fft.rfft(profile) * np.conj(fft.rfft(shapes, axis=-1)), n=FOLD_BINS)
    gain = np.maximum(matched, 0.0) ** 2 / np.sum(shapes**2, axis=-1)[:, None]
    power = float(np.sum(profile**2))
    if gain.max() <= 2 * np.abs(fft.rfft(profile)[1]) ** 2 / FOLD_BINS:
        gain = np.zeros_like(gain)  # a sine explains as much: a hum, no strike
    variance = max(power - float(gain.max()), 1e-9 * power, 1e-300) / (FOLD_BINS - 5)
    return _Fold(
        centre_hz=centre,
        envelope=envelope,
        strike=strike,
        profile=profile,
        gain=0.5 * gain / variance,
        variance=variance,
        shapes=shapes,
        decay=decay * strike_hz,
        energy=energy / strike_hz,
    )


def _read(fold: _Fold, onset: int) -> _Reading | None:
    """Energy of every strike, averaged over the shapes as far as the fold bears them out."""
    onsets = [(onset + shift) % FOLD_BINS for shift in range(-ONSET_REACH, ONSET_REACH + 1)]
    gain = fold.gain[:, onsets].T.ravel()
    if gain.max() < 0.5 * ALSO_SEEN**2:
        return None
    chance = np.exp(gain - gain.max())
    chance /= chance.sum()
    decay, unit = np.tile(fold.decay, len(onsets)), np.tile(fold.energy, len(onsets))
    heights = fold.shapes / np.sum(fold.shapes**2, axis=-1)[:, None]
    reading = np.vstack([np.roll(heights, at, axis=-1) for at in onsets])
    squares = reading @ fold.profile * 2 * decay * unit
    square = float(chance @ squares)
    weight = (chance * unit) @ reading
    # Values per bin of one strike differ from strike to strike: the mean goes first.
    number = np.floor(fold.strike)
    number = (number - number.min()).astype(np.int64)
    place = np.floor(fold.strike * FOLD_BINS).astype(np.int64) % FOLD_BINS
    level = fold.envelope - fold.envelope.mean()
    n_strikes = int(number.max()) + 1
    per_strike = fold.envelope.size / (fold.strike[-1] - fold.strike[0])
    energy = np.bincount(number, weights=level * weight[place], minlength=n_strikes)
    return _Reading(
        centre_hz=fold.centre_hz,
        energy=energy * FOLD_BINS / per_strike,
        decay=float(chance @ decay),
        spread=float(np.sqrt(max(0.0, chance @ squares**2 - square**2))) / square,
    )
