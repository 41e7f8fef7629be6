"""How far the body swings while starting or stopping, and how it swings freely after it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft, fftfreq, ifft, next_fast_len

from vibhealth.diagnosis.transient_motion import SlowMotion
from vibhealth.signal.free_decay import FreeDecay, fit_free_decay
from vibhealth.signal.integration import integrate_samples
from vibhealth.signal.sine_fit import fit_sine

__all__ = ["FreeSwing", "displacement_of", "free_swing", "swing_frequency_hz"]

# Lower cut of the integration: motion from here on is kept whole. Isolators swing at 2 to 5 Hz.
LOWER_CUT_HZ = 0.7
CUT_SHARE = 0.35  # of the card's isolator frequency, where that is lower
FADE_S = 0.5
LAST_TURNS = 5.0

# Sanity of a fitted free swing (starting limits of this project, no published source).
LARGEST_RESIDUAL_SHARE = 0.06
LEAST_CYCLES = 2.0
# A fit that begins half a swing later must find the same.
MOST_FITS = 16
DECAY_TIMES = 3.0  # how long a fit is, in time constants of the swing found before
AGREES_HZ, AGREES_DAMPING = 0.015, 0.2
LEAST_STEADY_SHARE = 0.05  # of the steady amplitude, at the start of the fit
DAMPING_RANGE = (0.002, 0.3)
LEAST_FIT_S, LONGEST_FIT_S = 0.8, 8.0
FREQUENCY_SHARES = (0.04, 0.55)  # of the steady shaft frequency: where isolators are looked for
# Where the working motion at speed is filtered out before the fit, as shares of its frequency.
PASSED_SHARES = (0.6, 0.9)

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSwing:
    """Isolator frequency and damping where they show, and in words how or why not."""

    frequency_hz: float | None
    damping_ratio: float | None
    detail: str


def displacement_of(
    motion: SlowMotion,
    *,
    isolator_hz: float | None,
    steady_hz: float,
    is_steady: tuple[bool, bool],
) -> tuple[Values, float]:
    """Displacement over a slow record and the lower cut it was integrated with.

    The record is set between zeros, so that neither end reaches the other. An end in steady
    running goes on as its 1x motion while it fades out; any other is faded itself.

    Parameters
    ----------
    motion : SlowMotion
        Of a whole recording.
    isolator_hz : float or None
        From the card.
    steady_hz : float
        Shaft frequency at speed.
    is_steady : tuple of bool
        Whether the machine runs steadily at the beginning and at the end.

    Returns
    -------
    displacement : ndarray
        In m where the samples are m/s^2.
    lower_cut_hz : float
    """
    cut = LOWER_CUT_HZ if isolator_hz is None else min(LOWER_CUT_HZ, CUT_SHARE * isolator_hz)
    rate = motion.rate_hz
    fade = min(motion.samples.size // 4, round(FADE_S * rate))
    ramp = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    samples = motion.samples.copy()
    pad = round(4 / cut * rate)
    outside = []
    for goes_on, end in zip(is_steady, (samples[::-1], samples), strict=True):
        beyond = np.zeros(pad)
        if goes_on:
            beyond[:fade] = ramp * _going_on(end, rate, steady_hz, fade)
        else:
            end[-fade:] *= ramp
        outside.append(beyond)
    padded = np.concatenate([outside[0][::-1], samples, outside[1]])
    moved = integrate_samples(padded, rate, times=2, lower_cut_hz=cut)
    return moved[pad:-pad], cut


def _going_on(samples: Values, rate: float, steady_hz: float, count: int) -> Values:
    """The 1x motion of the last turns, beyond the end of the samples."""
    last = samples[-round(LAST_TURNS / steady_hz * rate) :]
    fit = fit_sine(last, rate, frequency_hz=steady_hz)
    time = (last.size + np.arange(count)) / rate
    return np.asarray(fit.amplitude * np.cos(2 * np.pi * steady_hz * time + fit.phase_rad))


def swing_frequency_hz(displacement: Values, at: int, rate: float) -> float | None:
    """Frequency of the half swing about a sample, from the zero crossings on its two sides."""
    crossings = np.flatnonzero(np.diff(np.signbit(displacement)))
    place = int(np.searchsorted(crossings, at))
    if not 0 < place < crossings.size:
        return None
    return float(0.5 * rate / (crossings[place] - crossings[place - 1]))


def free_swing(  # noqa: PLR0913 (a record, its angle, and what it is measured by)
    displacement: Values,
    rate: float,
    *,
    forced: NDArray[np.complex128] | None,
    span: tuple[int, int],
    steady_amplitude: float,
    steady_hz: float,
) -> FreeSwing:
    """Fit the free swing in a stretch after the resonance was passed.

    Parameters
    ----------
    displacement : ndarray
        Of the slow record.
    rate : float
        Of the slow record, Hz.
    forced : ndarray of complex or None
        Forced motion at each of its samples; None where there is none or it is not known.
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
    # In velocity neither the noise (in displacement) nor the forced part (in acceleration) rules.
    edges = (PASSED_SHARES[0] * steady_hz, PASSED_SHARES[1] * steady_hz)
    slow = _below(np.gradient(displacement), rate, *edges)
    if forced is not None:
        forced = _below(np.gradient(forced), rate, *edges)
    limits = (FREQUENCY_SHARES[0] * steady_hz, FREQUENCY_SHARES[1] * steady_hz)
    limits = (max(limits[0], 0.8), limits[1])
    why = "the recording ends before a free swing shows"
    earlier: tuple[float, FreeDecay] | None = None
    start, length = span[0], LONGEST_FIT_S
    for _ in range(MOST_FITS):
        stop = min(span[1], start + round(length * rate))
        if stop - start < LEAST_FIT_S * rate:
            break
        found = fit_free_decay(
            slow[start:stop],
            rate,
            range_hz=limits,
            forced=None if forced is None else forced[start:stop],
        )
        hz, zeta = found.natural_frequency_hz, found.damping_ratio
        why = _doubt(found, (stop - start) / rate, limits)
        swing = found.amplitude * rate / (2 * np.pi * hz)
        if not why and swing < LEAST_STEADY_SHARE * steady_amplitude:
            why = "the free swing is too small beside the working motion"
            break
        if why:
            earlier = None
        elif earlier is not None and _agree(earlier[1], found):
            return _swing(*earlier)
        else:
            why = "what is fitted changes with the moment at which the fit begins"
            earlier = (start / rate, found)
        start += round(0.5 / hz * rate)
        length = float(np.clip(DECAY_TIMES / (2 * np.pi * hz * zeta), 4 / hz, LONGEST_FIT_S))
    return FreeSwing(frequency_hz=None, damping_ratio=None, detail=f"not judged: {why}")


def _below(values: NDArray[Any], rate: float, low_hz: float, high_hz: float) -> NDArray[Any]:
    """What is slower than an edge, rounded off from the one to the other frequency."""
    length = next_fast_len(values.size + round(2 * rate))
    frequency = np.abs(fftfreq(length, 1 / rate))
    position = np.clip((frequency - low_hz) / (high_hz - low_hz), 0, 1)
    passed = ifft(fft(values, length) * (0.5 + 0.5 * np.cos(np.pi * position)))[: values.size]
    return np.asarray(passed if np.iscomplexobj(values) else passed.real)


def _agree(one: FreeDecay, other: FreeDecay) -> bool:
    hz = other.natural_frequency_hz / one.natural_frequency_hz
    damping = other.damping_ratio / one.damping_ratio
    return abs(hz - 1) < AGREES_HZ and abs(damping - 1) < AGREES_DAMPING


def _swing(start_s: float, found: FreeDecay) -> FreeSwing:
    return FreeSwing(
        frequency_hz=found.natural_frequency_hz,
        damping_ratio=found.damping_ratio,
        detail=f"least-squares fit of the free swing from {start_s:.1f} s on, "
        f"{100 * found.residual_share:.1f} % of its power left unexplained",
    )


def _doubt(found: FreeDecay, seconds: float, limits: tuple[float, float]) -> str:
    """Why a fit is not believed; empty where it is."""
    hz, zeta = found.natural_frequency_hz, found.damping_ratio
    if not 1.02 * limits[0] < hz < 0.98 * limits[1]:
        return "no free swing within the range of isolator frequencies"
    if not DAMPING_RANGE[0] < zeta < DAMPING_RANGE[1]:
        return f"the fitted damping ratio of {zeta:.3f} is no isolator's"
    if seconds * hz < LEAST_CYCLES:
        return "the free swing is too short"
    if found.residual_share > LARGEST_RESIDUAL_SHARE:
        return (
            f"the motion after the resonance is not one free swing "
            f"({100 * found.residual_share:.0f} % unexplained)"
        )
    return ""
