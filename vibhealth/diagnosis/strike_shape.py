"""What a strike looks like in a fold: decaying resonance through a sharp band, load zone.

A strike rings a resonance: ``A exp(-b t)`` from its onset on. A band of width ``B``
lets ``A int exp(2 pi j f t) / (b + 2 pi j (f - d)) df`` over ``|f| < B / 2`` of it
through, with ``d`` the distance of the resonance from the band's middle,
whose squared magnitude, repeated every strike period, is the shape of the folded
squared envelope. Both ``b`` and how far strikes scatter about their places are
unknown; the shapes of a plausible range of both are tried.
"""

from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

__all__ = ["FOLD_BINS", "SECTORS", "first_peak", "load_shapes", "strike_shapes"]

# Places over a strike period, and sectors over a turn of the load against the defect.
FOLD_BINS = 96
SECTORS = 16

# Damping ratios of machine structures' resonances (common practice, no source).
DAMPING_RATIOS = (0.015, 0.02, 0.03, 0.04, 0.055, 0.075, 0.1)
# Distance of the resonance from the middle of the band, as shares of the band's width; the
# squared magnitude is the same on both sides.
OFFSETS = (0.0, 0.12, 0.2, 0.3, 0.4, 0.5)
# Standard deviation of the strikes' places as shares of the strike period.
SMEARS = (0.004, 0.012, 0.025, 0.045)

# Load zone's extent, Harris, Rolling Bearing Analysis (from memory): 0.5 loads half the ring;
# the largest ones stand for a strength that hardly swings.
LOAD_FACTORS = (0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7, 1.0, 1.5, 3.0, 10.0, 1e6)
# Squared load to the power 10/9 of line contact, same source.
LOAD_POWER = 20.0 / 9.0

_OVERSAMPLING = 4  # moments per bin
_PERIODS = 16  # a strike's tail is followed so long


@lru_cache(maxsize=64)
def strike_shapes(
    band_over_strike: float, centre_over_strike: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Folded squared envelopes of strikes of amplitude 1, and their decay rates.

    Parameters
    ----------
    band_over_strike, centre_over_strike : float
        Width and middle of the band over the strike rate, above 0. Of a band wider than
        384 strike rates, finer than the fold's bins, only so much is taken.

    Returns
    -------
    shapes : ndarray, shape (n_shapes, FOLD_BINS)
        Onset at phase 0, mean taken out.
    decay : ndarray, shape (n_shapes,)
        ``b`` over the strike rate.
    energy : ndarray, shape (n_shapes,)
        Integral of the squared envelope over one strike, in strike periods.
    """
    size = _PERIODS * FOLD_BINS * _OVERSAMPLING
    half = min(max(1, round(0.5 * band_over_strike * _PERIODS)), size // 2 - 1)
    lines = np.arange(-half, half + 1)
    harmonics = np.fft.rfftfreq(FOLD_BINS, 1 / FOLD_BINS)
    shapes, decays, energies = [], [], []
    for ratio, offset, smear in product(DAMPING_RATIOS, OFFSETS, SMEARS):
        decay = 2 * np.pi * ratio * centre_over_strike
        from_resonance = lines / _PERIODS - offset * band_over_strike
        spectrum = np.zeros(size, dtype=np.complex128)
        spectrum[lines] = 1.0 / (decay + 2j * np.pi * from_resonance)
        strike = np.fft.ifft(spectrum) * size / _PERIODS
        folded = (np.abs(strike) ** 2).reshape(_PERIODS, FOLD_BINS, _OVERSAMPLING)
        blur = np.exp(-2 * (np.pi * smear * harmonics) ** 2)
        profile = np.fft.rfft(folded.mean(axis=-1).sum(axis=0)) * blur
        shape = np.fft.irfft(profile, n=FOLD_BINS)
        shapes.append(shape - shape.mean())
        decays.append(decay)
        energies.append(shape.mean())
    return np.array(shapes), np.array(decays), np.array(energies)


@lru_cache(maxsize=2)
def load_shapes(repeats: int) -> NDArray[np.float64]:
    """Squared strength over the sectors of the load's turn, for every load zone and direction.

    Parameters
    ----------
    repeats : int
        1, or 2 for a load zone that is met twice per turn.

    Returns
    -------
    ndarray, shape (n_shapes, SECTORS)
        Largest strength 1, averaged within each sector.
    """
    fine = 20
    turns = (np.arange(SECTORS * fine) + 0.5) / (SECTORS * fine)
    shapes = []
    for factor in LOAD_FACTORS:
        for shift in range(2 * SECTORS):
            cosine = np.cos(2 * np.pi * repeats * (turns - shift / (2 * SECTORS)))
            load = np.maximum(1 - (1 - cosine) / (2 * factor), 0.0) ** LOAD_POWER
            shapes.append(load.reshape(SECTORS, fine).mean(axis=-1))
    return np.array(shapes)


def first_peak(
    amplitudes: NDArray[np.float64],
    decay: NDArray[np.float64],
    frequency_hz: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Largest magnitude of decaying sines that start together.

    A strike is short: all resonances begin as sines, and their first peaks do not
    fall together, so that the sum peaks below the sum of the amplitudes.

    Parameters
    ----------
    amplitudes : ndarray, shape (..., n_resonances)
        Initial amplitudes, 0 or more.
    decay, frequency_hz : ndarray, shape (n_resonances,)
        Decay rates in 1/s, and frequencies.

    Returns
    -------
    ndarray, shape (...)
    """
    fastest, slowest = float(frequency_hz.max()), float(frequency_hz.min())
    n_moments = min(4000, int(40 * fastest / slowest) + 2)
    time_s = np.linspace(0.0, 1.0 / slowest, n_moments)
    sines = np.exp(-np.outer(decay, time_s)) * np.sin(2 * np.pi * np.outer(frequency_hz, time_s))
    peak: NDArray[np.float64] = np.max(np.abs(amplitudes @ sines), axis=-1)
    return peak
