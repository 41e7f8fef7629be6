"""Noise of rolling, oil, sensor, and mains: coloured by the structure, moved by the load."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.simulate.settings import Resonance, SimulationSettings
from vibhealth.units import g_to_m_s2

__all__ = ["mains_pick_up", "rolling_noise", "sensor_noise"]

# Shape of the noise (common practice, no source): little below 500 Hz, a floor between
# the resonances, resonances three times wider than a strike's, dry noise above 3 kHz,
# and the recorder's anti-alias filter below half the sampling rate.
_LOW_CORNER_HZ = 500.0
_FLOOR = 0.3
_WIDENING = 3.0
_DRY_CORNER_HZ = 3000.0
_DRY_GAIN = 10.0
_ANTI_ALIAS_CORNER = 0.42  # times the sampling rate
_ANTI_ALIAS_POWER = 40


def rolling_noise(
    n_samples: int, settings: SimulationSettings, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Coloured noise in m/s^2 of the stated rms before starvation raises it."""
    padded = fft.next_fast_len(n_samples, real=True)
    frequency_hz = fft.rfftfreq(padded, 1 / settings.sampling_rate_hz)
    shape = _rolling_shape(frequency_hz, settings.resonances) * _anti_alias(
        frequency_hz, settings.sampling_rate_hz
    )
    rms = np.sqrt(2 * np.sum(shape[1:] ** 2) / padded)  # of white noise of unit rms, shaped
    ratio = (frequency_hz / _DRY_CORNER_HZ) ** 4
    shape *= 1 + (_DRY_GAIN - 1) * settings.starvation * ratio / (1 + ratio)
    noise = _shaped(padded, shape, rng)[:n_samples]
    noise *= g_to_m_s2(settings.oil_noise_g_rms) / rms
    return noise


def sensor_noise(
    n_samples: int, settings: SimulationSettings, rng: np.random.Generator
) -> NDArray[np.float64]:
    """White noise in m/s^2 up to the anti-alias filter."""
    padded = fft.next_fast_len(n_samples, real=True)
    frequency_hz = fft.rfftfreq(padded, 1 / settings.sampling_rate_hz)
    noise = _shaped(padded, _anti_alias(frequency_hz, settings.sampling_rate_hz), rng)
    noise *= g_to_m_s2(settings.sensor_noise_g_rms)
    return noise[:n_samples]


def mains_pick_up(
    time_s: NDArray[np.float64], settings: SimulationSettings, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Mains frequency with its second and third harmonic, fixed in Hz."""
    if settings.mains_hz is None:
        return np.zeros_like(time_s)
    phases = 2 * np.pi * rng.random(3)
    angle = 2 * np.pi * settings.mains_hz * time_s
    shape = sum(
        share * np.cos(number * angle + phase)
        for number, share, phase in zip((1, 2, 3), (1.0, 0.3, 0.2), phases, strict=True)
    )
    return np.asarray(g_to_m_s2(settings.mains_g) * shape, dtype=np.float64)


def _rolling_shape(
    frequency_hz: NDArray[np.float64], resonances: Sequence[Resonance]
) -> NDArray[np.float64]:
    shape = np.full(frequency_hz.size, _FLOOR)
    for item in resonances:
        damping = min(_WIDENING * item.damping_ratio, 0.7)
        ratio = (frequency_hz / item.frequency_hz) ** 2
        height = 2 * damping * np.sqrt(1 - damping**2)  # 1 over the response at its peak
        shape += item.gain * height / np.sqrt((1 - ratio) ** 2 + 4 * damping**2 * ratio)
    low = (frequency_hz / _LOW_CORNER_HZ) ** 2
    return np.asarray(shape * low / (1 + low), dtype=np.float64)


def _anti_alias(frequency_hz: NDArray[np.float64], sampling_rate_hz: float) -> NDArray[np.float64]:
    ratio = frequency_hz / (_ANTI_ALIAS_CORNER * sampling_rate_hz)
    return np.asarray(1 / np.sqrt(1 + ratio**_ANTI_ALIAS_POWER), dtype=np.float64)


def _shaped(
    n_samples: int, shape: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    lines = fft.rfft(rng.standard_normal(n_samples))
    lines *= shape
    return np.asarray(fft.irfft(lines, n_samples), dtype=np.float64)
