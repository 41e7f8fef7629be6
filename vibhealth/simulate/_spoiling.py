"""What the faults of recordings are made of: hum, ring-downs, a place of the turn."""

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfiltfilt

__all__ = ["answers", "hum", "once_per_turn"]

_MAINS_SHARES = {1: 1.0, 2: 0.2, 3: 0.4}
# The slowest turning that is looked for.
_LOWEST_TURN_HZ = 4.0


def once_per_turn(
    values: NDArray[np.float64], sampling_rate_hz: float, place: float
) -> NDArray[np.float64]:
    """Samples (with fractions) at one place of each turn of the strongest line of the velocity."""
    frequency_hz = np.fft.rfftfreq(values.size, 1 / sampling_rate_hz)
    lines = np.abs(np.fft.rfft(values - values.mean())) / np.maximum(frequency_hz, _LOWEST_TURN_HZ)
    turn_hz = float(frequency_hz[np.argmax(np.where(frequency_hz > _LOWEST_TURN_HZ, lines, 0))])
    band = (0.7 * turn_hz, min(1.4 * turn_hz, 0.45 * sampling_rate_hz))
    motion = sosfiltfilt(butter(2, band, "band", fs=sampling_rate_hz, output="sos"), values)
    rising = np.flatnonzero((motion[:-1] < 0) & (motion[1:] >= 0))
    return np.asarray(rising + place * sampling_rate_hz / turn_hz, dtype=np.float64)


def hum(
    shape: tuple[int, ...], sampling_rate_hz: float, mains_hz: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Mains and harmonics of amplitude 1 and less, below half the rate."""
    angle = 2 * np.pi * mains_hz * np.arange(shape[1]) / sampling_rate_hz
    hum = np.zeros(shape)
    for number, size in _MAINS_SHARES.items():
        phases = 2 * np.pi * rng.random((shape[0], 1))
        if number * mains_hz < sampling_rate_hz / 2:
            hum += size * np.cos(number * angle + phases)
    return hum


def answers(
    at: NDArray[np.int64],
    sizes: NDArray[np.float64],
    n_samples: int,
    sampling_rate_hz: float,
    resonance: tuple[float, float],
) -> NDArray[np.float64]:
    """Decaying sines of the stated first peaks, one from each sample of ``at`` on."""
    frequency_hz, damping = resonance
    omega = 2 * np.pi * min(frequency_hz, 0.4 * sampling_rate_hz)
    pole = complex(-damping, np.sqrt(1 - damping**2)) * omega
    pulses = np.bincount(at, sizes, n_samples).astype(np.complex128)
    decay = np.exp(pole / sampling_rate_hz)
    highest = np.exp(-damping * np.pi / 2)  # of the sine, at its first quarter
    return np.asarray(lfilter([1.0], [1.0, -decay], pulses).imag / highest, dtype=np.float64)
