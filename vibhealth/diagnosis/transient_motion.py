"""The working motion of a recording in small steps of time: how strong, how fast."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft, ifft, next_fast_len, rfft, rfftfreq
from scipy.ndimage import median_filter, uniform_filter1d
from scipy.signal import resample_poly

from vibhealth.model import Recording

__all__ = [
    "SlowMotion",
    "WorkingLine",
    "analytic_motion",
    "followed_turns",
    "slow_motion",
    "working_line",
]

# The slow record keeps this many samples per nominal turn: up to about eight orders are left.
SAMPLES_PER_TURN = 24.0

# Working speeds that are looked for, as multiples of the nominal one (as for a steady exciter).
SEARCH = (0.3, 3.0)
WINDOW_TURNS = 16.0
# A line is the working motion where it holds this share of the velocity power in its window,
# and windows count whose line reaches this share of the strongest (common practice, no source).
LEAST_SHARE = 0.6
LEAST_STRENGTH = 0.7
LEAST_WINDOWS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowMotion:
    """A recording at a low rate, without its mean."""

    samples: NDArray[np.float64]
    rate_hz: float

    @property
    def time_s(self) -> NDArray[np.float64]:
        """Time of each sample from the start of the recording."""
        return np.arange(self.samples.size) / self.rate_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingLine:
    """Frequency of the working motion and amplitude of its acceleration at full speed."""

    frequency_hz: float
    amplitude: float


def slow_motion(recording: Recording, nominal_hz: float) -> SlowMotion:
    """Recording at about 24 samples per nominal turn.

    Parameters
    ----------
    recording : Recording
        Sampled faster than 24 times per turn, else it is left at its rate.
    nominal_hz : float
        Nominal shaft frequency, above 0.

    Returns
    -------
    SlowMotion
    """
    factor = max(1, int(recording.sampling_rate_hz / (SAMPLES_PER_TURN * nominal_hz)))
    samples = recording.samples - recording.samples.mean()
    if factor > 1:
        samples = resample_poly(samples, 1, factor)
    return SlowMotion(samples=samples, rate_hz=recording.sampling_rate_hz / factor)


def working_line(motion: SlowMotion, nominal_hz: float) -> WorkingLine | None:
    """The line that dominates the velocity wherever the machine moves most.

    Parameters
    ----------
    motion : SlowMotion
        Of a whole recording, standstill and all.
    nominal_hz : float
        Nominal shaft frequency, above 0.

    Returns
    -------
    WorkingLine or None
        None where no line does: a machine that does not shake on purpose, or one that
        never runs at a steady speed for two windows of 16 nominal turns.
    """
    window = round(WINDOW_TURNS / nominal_hz * motion.rate_hz)
    if motion.samples.size < 2 * window:
        return None
    starts = np.arange(0, motion.samples.size - window + 1, max(1, window // 4))
    frames = np.lib.stride_tricks.sliding_window_view(motion.samples, window)[starts]
    weights = np.hanning(window + 1)[:window]
    lines = np.abs(rfft(frames * weights, axis=-1)) * (2 / weights.sum())
    frequency = rfftfreq(window, 1 / motion.rate_hz)
    # From half of the slowest line that is looked for: free swings count against a line.
    kept = (frequency >= 0.5 * SEARCH[0] * nominal_hz) & (frequency <= SEARCH[1] * nominal_hz)
    frequency, lines = frequency[kept], lines[:, kept]
    power = (lines / frequency) ** 2
    at = np.argmax(power, axis=1)
    near = np.abs(np.arange(frequency.size) - at[:, np.newaxis]) <= 2
    total = power.sum(axis=1)
    share = np.where(near, power, 0).sum(axis=1) / np.maximum(total, np.finfo(float).tiny)
    # A Hann window spreads a line over 1.5 lines of power.
    strength = np.sqrt(np.where(near, lines**2, 0).sum(axis=1) / 1.5)
    centre = (np.where(near, power, 0) @ frequency) / np.maximum(share * total, 1e-300)
    dominated = (share >= LEAST_SHARE) & (centre >= SEARCH[0] * nominal_hz)
    if not dominated.any():
        return None
    strong = strength >= LEAST_STRENGTH * strength[dominated].max()
    if (strong & dominated).sum() < max(LEAST_WINDOWS, 0.6 * strong.sum()):
        return None
    chosen = strong & dominated
    return WorkingLine(
        frequency_hz=float(np.median(centre[chosen])),
        amplitude=float(np.median(strength[chosen])),
    )


def analytic_motion(
    motion: SlowMotion, *, band_hz: tuple[float, float], smooth_s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Amplitude and instantaneous frequency of what moves in a band.

    The analytic signal of the band (edges rounded off over a third of their frequency); its
    frequency is averaged with the power as weight (J. Ville 1948, D. Gabor 1946, from memory).

    Parameters
    ----------
    motion : SlowMotion
        Any length.
    band_hz : tuple of float
        Lower and upper edge.
    smooth_s : float
        Length of the sliding average, s.

    Returns
    -------
    amplitude, frequency_hz : ndarray, one value per sample
        Root of the mean square amplitude; power-weighted mean frequency.
    """
    count = motion.samples.size
    length = next_fast_len(count + round(motion.rate_hz))
    frequency = np.fft.fftfreq(length, 1 / motion.rate_hz)
    low, high = band_hz
    rise = np.clip((frequency - low) / (low / 3) + 0.5, 0, 1)
    fall = np.clip((high - frequency) / (high / 6) + 0.5, 0, 1)
    weights = (0.5 - 0.5 * np.cos(np.pi * rise)) * (0.5 - 0.5 * np.cos(np.pi * fall))
    lines = fft(motion.samples, length) * np.where(frequency > 0, 2 * weights, 0)
    wave = ifft(lines)[:count]
    power = np.abs(wave) ** 2
    turn = np.angle(wave[1:] * np.conj(wave[:-1])) * motion.rate_hz / (2 * np.pi)
    turn = np.append(turn, turn[-1])
    span = max(1, round(smooth_s * motion.rate_hz))
    mean_power = uniform_filter1d(power, span, mode="nearest")
    mean_turn = uniform_filter1d(power * turn, span, mode="nearest")
    frequency_hz = mean_turn / np.maximum(mean_power, np.finfo(float).tiny)
    frequency_hz = median_filter(frequency_hz, size=max(1, span // 2), mode="nearest")
    return np.sqrt(np.maximum(mean_power, 0)), frequency_hz


def followed_turns(
    motion: SlowMotion, frequency_hz: NDArray[np.float64], *, passes: int = 3
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Angle of the 1x motion, from a rough course of its frequency.

    The record is turned back by the rough angle and averaged over two turns about each sample
    (a triangle over angle: its first zeros lie one order to either side, so that harmonics and
    the mean vanish and a slow free swing is weakened); the argument left is the error.

    Parameters
    ----------
    motion : SlowMotion
        Its 1x stands out wherever the angle is asked for; elsewhere the angle means nothing.
    frequency_hz : ndarray, shape (n_samples,)
        Rough shaft frequency, 0 where it stands still.
    passes : int
        How often the error is looked for, 1 or more.

    Returns
    -------
    turns : ndarray of float64, shape (n_samples,)
        The 1x acceleration is ``A cos(2 pi turns)``.
    amplitude : ndarray of float64, shape (n_samples,)
        A, in the unit of the samples.
    """
    turns = np.cumsum(np.maximum(frequency_hz, 0.01)) / motion.rate_hz
    error, wave = np.zeros_like(turns), np.zeros(turns.size, dtype=np.complex128)
    for _ in range(passes):
        angle = turns + error
        wave = motion.samples * np.exp(-2j * np.pi * angle)
        for _ in range(2):
            wave = _averaged_over_a_turn(wave, turns)
        error = error + np.unwrap(np.angle(wave)) / (2 * np.pi)
    return np.asarray(turns + error, dtype=np.float64), 2 * np.abs(wave)


def _averaged_over_a_turn(
    wave: NDArray[np.complex128], turns: NDArray[np.float64]
) -> NDArray[np.complex128]:
    steps = np.gradient(turns)
    total = np.cumsum(wave * steps)
    high = np.minimum(turns + 0.5, turns[-1])
    low = np.maximum(turns - 0.5, turns[0])
    ends = np.interp(high, turns, total) - np.interp(low, turns, total)
    return np.asarray(ends / np.maximum(high - low, 1e-9))
