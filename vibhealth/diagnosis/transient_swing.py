"""How far the body swings while starting or stopping, and how it swings freely after it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.transient_motion import SlowMotion
from vibhealth.signal.free_decay import FreeDecay, fit_free_decay
from vibhealth.signal.integration import integrate_samples

__all__ = ["FreeSwing", "displacement_of", "free_swing"]

# Lower cut of the integration: motion from here on is kept whole. Isolators swing at 2 to 5 Hz.
LOWER_CUT_HZ = 0.7
CUT_SHARE = 0.35  # of the card's isolator frequency, where that is lower
FADE_S = 0.5

# Sanity of a fitted free swing (starting limits of this project, no published source).
LARGEST_RESIDUAL_SHARE = 0.15
LEAST_CYCLES = 2.0
LEAST_STEADY_SHARE = 0.05  # of the steady amplitude, at the start of the fit
DAMPING_RANGE = (0.002, 0.3)
LONGEST_FIT_S = 8.0
FREQUENCY_SHARES = (0.04, 0.62)  # of the steady shaft frequency: where isolators are looked for

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSwing:
    """Isolator frequency and damping where they show, and in words how or why not.

    ``acceleration`` is the fitted free part from ``start_s`` on, at the slow record's rate.
    """

    frequency_hz: float | None
    damping_ratio: float | None
    detail: str
    start_s: float = 0.0
    acceleration: Values | None = None


def displacement_of(motion: SlowMotion, *, isolator_hz: float | None) -> tuple[Values, float]:
    """Displacement over a slow record and the lower cut it was integrated with.

    Ends that move are faded over half a second; the record is set between zeros, so that
    neither end reaches the other.

    Parameters
    ----------
    motion : SlowMotion
        Of a whole recording.
    isolator_hz : float or None
        From the card.

    Returns
    -------
    displacement : ndarray
        In m where the samples are m/s^2.
    lower_cut_hz : float
    """
    cut = LOWER_CUT_HZ if isolator_hz is None else min(LOWER_CUT_HZ, CUT_SHARE * isolator_hz)
    fade = min(motion.samples.size // 4, round(FADE_S * motion.rate_hz))
    weights = np.ones(motion.samples.size)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    weights[:fade], weights[-fade:] = ramp, ramp[::-1]
    pad = round(4 / cut * motion.rate_hz)
    padded = np.pad(motion.samples * weights, pad)
    moved = integrate_samples(padded, motion.rate_hz, times=2, lower_cut_hz=cut)
    return moved[pad:-pad], cut


def free_swing(
    displacement: Values,
    motion: SlowMotion,
    *,
    shaft_hz: Values,
    span: tuple[int, int],
    steady_amplitude: float,
    steady_hz: float,
) -> FreeSwing:
    """Fit the free swing in a stretch after the resonance was passed.

    Parameters
    ----------
    displacement : ndarray
        Of the slow record.
    motion : SlowMotion
        The slow record.
    shaft_hz : ndarray
        Shaft frequency at each of its samples.
    span : tuple of int
        First and last sample in which the swing is looked for: from the largest swing on.
    steady_amplitude : float
        Displacement amplitude at speed, above 0.
    steady_hz : float
        Shaft frequency at speed.

    Returns
    -------
    FreeSwing
    """
    rate = motion.rate_hz
    limits = (FREQUENCY_SHARES[0] * steady_hz, FREQUENCY_SHARES[1] * steady_hz)
    limits = (max(limits[0], 0.8), limits[1])
    turns = np.cumsum(shaft_hz) / rate
    best: tuple[float, int, FreeDecay] | None = None
    why = "the recording ends before a free swing shows"
    first, last = span
    step = max(1, round(0.5 / steady_hz * rate))
    for start in range(first, max(first + 1, last - round(1.0 * rate)), step * 4):
        stop = min(last, start + round(LONGEST_FIT_S * rate))
        if stop - start < round(0.8 * rate):
            break
        found = fit_free_decay(
            displacement[start:stop], rate, range_hz=limits, forced_turns=turns[start:stop]
        )
        why = _doubt(found, (stop - start) / rate, steady_amplitude, limits)
        if not why:
            best = (found.residual_share, start, found)
            break
    if best is None:
        return FreeSwing(frequency_hz=None, damping_ratio=None, detail=why)
    _, start, found = best
    return FreeSwing(
        frequency_hz=found.natural_frequency_hz,
        damping_ratio=found.damping_ratio,
        detail=f"least-squares fit of the free swing from {start / rate:.1f} s on, "
        f"{100 * found.residual_share:.1f} % of its power left unexplained",
        start_s=start / rate,
    )


def _doubt(
    found: FreeDecay, seconds: float, steady_amplitude: float, limits: tuple[float, float]
) -> str:
    """Why a fit is not believed; empty where it is."""
    hz, zeta = found.natural_frequency_hz, found.damping_ratio
    if not 1.02 * limits[0] < hz < 0.98 * limits[1]:
        return "no free swing within the range of isolator frequencies"
    if not DAMPING_RANGE[0] < zeta < DAMPING_RANGE[1]:
        return f"the fitted damping ratio of {zeta:.3f} is no isolator's"
    if found.amplitude < LEAST_STEADY_SHARE * steady_amplitude:
        return "the free swing is too small beside the working motion"
    if seconds * hz < LEAST_CYCLES:
        return "the free swing is too short"
    if found.residual_share > LARGEST_RESIDUAL_SHARE:
        return (
            f"the motion after the resonance is not one free swing "
            f"({100 * found.residual_share:.0f} % unexplained)"
        )
    return ""
