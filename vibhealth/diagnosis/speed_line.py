"""The line that dominates a machine's motion: 1x on an exciter, and on others where it is confirmed."""

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_follow import (
    BESIDE_ORDERS,
    LEAST_POWER_RATIO,
    SECOND,
    WINDOW_TURNS,
)
from vibhealth.errors import VibhealthError
from vibhealth.model import Recording
from vibhealth.signal import integrate_spectrum, power_spectral_density
from vibhealth.signal.shaft_phase import demodulate_orders

__all__ = ["dominant_line_hz", "has_harmonics"]

# Slowest and fastest 1x looked for on an exciter, as multiples of the nominal speed: a wrong
# machine, a wrong unit of the sampling rate or a wrong drive setting should be seen as such.
EXCITER_SEARCH = (0.3, 3.0)

# Share of the velocity power in the search range that one line must hold to be taken as the
# working motion (closed form for a lone 1x: 1; common practice, no source, for the limit).
DOMINANT_SHARE = 0.5

TURNS_PER_SEGMENT = 60

# 1x is confirmed where one of these harmonics would be followed by `follow_comb` too: it stands as
# far above the orders beside it, and keeps as closely to the angle that 1x gives.
HARMONICS = (2.0, 3.0)


def _velocity_power(
    recording: Recording, turn_hz: float, top_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Velocity power below ``top_hz``, lines a sixtieth of ``turn_hz`` apart at best."""
    seconds = min(TURNS_PER_SEGMENT / turn_hz, recording.duration_s)
    psd = power_spectral_density(
        recording.samples - recording.samples.mean(),
        recording.sampling_rate_hz,
        segment_seconds=seconds,
    )
    amplitude = integrate_spectrum(
        np.sqrt(psd.values), psd.frequency_hz, times=1, lower_cut_hz=0.25 * turn_hz
    )
    keep = psd.frequency_hz <= top_hz
    return psd.frequency_hz[keep], np.abs(amplitude[keep]) ** 2


def _line_share(power: NDArray[np.float64], at: int) -> float:
    """Share of all power held by a line and its two neighbours on each side."""
    total = float(power.sum())
    return float(power[max(0, at - 2) : at + 3].sum()) / total if total > 0 else 0.0


def dominant_line_hz(recording: Recording, nominal_hz: float) -> float | None:
    """Frequency of the line that holds most of the low-frequency velocity.

    Parameters
    ----------
    recording : Recording
        Not constant.
    nominal_hz : float
        Shaft frequency about which it is looked for, above 0.

    Returns
    -------
    float or None
        None where no line holds half of the power, or the recording is too short or too slow.
    """
    low, high = (multiple * nominal_hz for multiple in EXCITER_SEARCH)
    if high >= recording.sampling_rate_hz / 4 or recording.duration_s * nominal_hz < 10:
        return None
    frequency_hz, power = _velocity_power(recording, nominal_hz, high)
    power = np.where(frequency_hz >= low, power, 0.0)
    at = int(np.argmax(power))
    if _line_share(power, at) < DOMINANT_SHARE:
        return None
    near = slice(max(0, at - 2), at + 3)
    return float(np.sum(frequency_hz[near] * power[near]) / np.sum(power[near]))


def has_harmonics(samples: NDArray[np.float64], phase_turns: NDArray[np.float64]) -> bool:
    """Whether the second or third harmonic turns with a shaft angle that was read from one line.

    A line of another machine, or of the mains, has no harmonics of its own that keep to its
    phase and stand out of the noise in a machine's vibration.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        As recorded.
    phase_turns : ndarray, shape (n_samples,)
        Shaft angle, strictly rising.

    Returns
    -------
    bool
        False where the record is shorter than two windows of 8 turns.
    """
    asked = [order + beside for beside in (0.0, *BESIDE_ORDERS) for order in HARMONICS]
    try:
        centre, amplitude = demodulate_orders(
            samples, phase_turns=phase_turns, orders=asked, turns_per_window=WINDOW_TURNS
        )
    except VibhealthError:
        return False
    power = np.abs(amplitude.reshape(1 + len(BESIDE_ORDERS), len(HARMONICS), -1)) ** 2
    usual = np.median(power, axis=-1)
    ratio = usual[0] / np.maximum(usual[1:].mean(axis=0), np.finfo(float).tiny)
    turned = np.unwrap(np.angle(amplitude[: len(HARMONICS)]), axis=-1)
    turned = turned / (2 * np.pi * np.array(HARMONICS)[:, np.newaxis])
    drift = np.abs(turned[:, -1] - turned[:, 0]) / (centre[-1] - centre[0])
    return bool(np.any((ratio >= LEAST_POWER_RATIO) & (drift <= SECOND.largest_drift)))
