"""The shaft angle of a machine without a big 1x motion, from the phase of its harmonics."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from vibhealth.diagnosis.speed_comb import CombSpeed
from vibhealth.diagnosis.speed_field import N_HARMONICS, SlowSignals
from vibhealth.errors import VibhealthError
from vibhealth.signal.shaft_phase import add_correction, demodulate_orders

__all__ = ["follow_comb"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pass:
    """Highest harmonic read, and by how much its mean speed may differ from the angle known.

    ``is_alone`` says that only the harmonic that stands out most is used.
    """

    highest: int
    largest_drift: float
    is_alone: bool


# The comb of a wandering speed may lie off its mean by half a per cent, and a high harmonic would
# leave the window's band; then a harmonic that drifts by 0.1 % is another body's line close by (a
# bearing's, with its slip).
FIRST = _Pass(highest=3, largest_drift=0.005, is_alone=True)
SECOND = _Pass(highest=N_HARMONICS, largest_drift=0.001, is_alone=False)
WINDOW_TURNS = 8.0
# A harmonic is followed where its power stands this far above that of the orders beside it
# (20 dB: its phase is then known to 0.07 rad), and where it never fades below this share of its
# usual amplitude (as the working motion of an exciter).
LEAST_POWER_RATIO = 100.0
LARGEST_POWER_RATIO = 1e4  # beyond, a harmonic's phase follows its resonance, not its noise
LEAST_AMPLITUDE = 0.1
BESIDE_ORDERS = (-0.37, 0.37)
# Followed so far that a segment's own speed is contradicted: the phase has slipped (half of the
# lines of the shortest segment, 24 turns).
LARGEST_CONTRADICTION = 0.02


def follow_comb(slow: SlowSignals, found: CombSpeed) -> NDArray[np.float64] | None:
    """Shaft angle of each slow sample, about the comb's course of speed.

    First the one of the three lowest harmonics, of the record or of the envelope, that
    stands out most is demodulated about the course; then all that stand out and keep
    to the angle found are. Their phases, each over its order, are averaged with the
    inverse of their variance (order squared times power over noise) as the weight.

    Parameters
    ----------
    slow : SlowSignals
        From `slow_signals`.
    found : CombSpeed
        From `comb_speeds`, without doubt.

    Returns
    -------
    ndarray of float64, shape (n_samples,), or None
        None where no harmonic stands out far enough to be followed, or the phase
        contradicts the course.
    """
    time_s = np.arange(slow.samples.shape[-1]) / slow.rate_hz
    course_hz = _course(found, time_s)
    phase = np.cumsum(course_hz) / slow.rate_hz
    first_drift = FIRST.largest_drift + 0.01 * found.uncertainty_percent
    try:
        for way in (replace(FIRST, largest_drift=first_drift), SECOND):
            error = _error(slow.samples, phase, way)
            if error is None:
                return None
            phase = add_correction(phase, *error)
    except VibhealthError:
        return None
    return phase if _agrees(phase, course_hz, slow.rate_hz, found) else None


def _course(found: CombSpeed, time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    if found.course_hz.size < 2:
        return np.full(time_s.size, found.shaft_frequency_hz)
    inside = np.clip(time_s, found.centre_s[0], found.centre_s[-1])
    return np.asarray(PchipInterpolator(found.centre_s, found.course_hz)(inside))


def _error(
    samples: NDArray[np.float64], phase: NDArray[np.float64], way: _Pass
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Centres of the windows and the error of the phase there in turns."""
    highest = way.highest
    order = np.arange(1.0, highest + 1)
    asked = np.concatenate([order, *(order + beside for beside in BESIDE_ORDERS)])
    centre, amplitude = demodulate_orders(
        samples, phase_turns=phase, orders=asked, turns_per_window=WINDOW_TURNS
    )
    own = amplitude[:, :highest]
    beside = np.abs(amplitude[:, highest:]).reshape(len(samples), len(BESIDE_ORDERS), highest, -1)
    floor = np.median(beside**2, axis=-1).mean(axis=1)
    size = np.abs(own)
    ratio = np.median(size**2, axis=-1) / np.maximum(floor, np.finfo(float).tiny)
    turned = np.unwrap(np.angle(own), axis=-1) / (2 * np.pi * order[:, np.newaxis])
    drift = (turned[..., -1] - turned[..., 0]) / (centre[-1] - centre[0])
    followed = (
        (ratio >= LEAST_POWER_RATIO)
        & (size.min(axis=-1) > LEAST_AMPLITUDE * np.median(size, axis=-1))
        & (np.abs(drift) <= way.largest_drift)
    )
    if way.is_alone:
        followed &= ratio == np.max(ratio, initial=0.0, where=followed)
    weight = np.where(followed, order**2 * np.minimum(ratio, LARGEST_POWER_RATIO), 0.0)
    if not followed.any():
        return None
    turned -= turned.mean(axis=-1, keepdims=True)
    return centre, np.tensordot(weight, turned, axes=2) / weight.sum()


def _agrees(
    phase: NDArray[np.float64], course_hz: NDArray[np.float64], rate_hz: float, found: CombSpeed
) -> bool:
    """Whether the speed followed keeps to the course within what its lines can resolve."""
    turns = max(8, round(24 * rate_hz / found.shaft_frequency_hz))
    marks = np.arange(0, phase.size, turns // 2)
    if marks.size < 3:
        return True
    followed = np.diff(phase[marks]) * rate_hz / np.diff(marks)
    expected = np.array([course_hz[a:b].mean() for a, b in pairwise(marks)])
    away = np.abs(followed / expected - 1)
    return bool(away.max() < LARGEST_CONTRADICTION + 0.01 * found.uncertainty_percent)
