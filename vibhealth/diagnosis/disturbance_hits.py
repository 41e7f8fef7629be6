"""Hard hits in the bearing band: what stands above anything that noise alone would do.

The squared envelope of stationary Gaussian noise is exponential, and how often it
rises through a level is known (S. O. Rice, "Statistical properties of a sine wave
plus random noise", Bell System Technical Journal 27 (1948) 109-157, from memory):
for a band of width B, in units of its mean, ``2 sqrt(pi) B / sqrt(12) sqrt(u) exp(-u)``
times per second. The level that a whole recording of noise reaches with a stated
probability follows, and what exceeds it is a hit. The noise's own mean is taken from
a low quantile, which hits do not move, and follows slow drift and the load zone that
sweeps past the sensor.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, optimize

from vibhealth._check import check_band, check_positive
from vibhealth.diagnosis.disturbance_sweep import QUIET_QUANTILE, load_sweep
from vibhealth.errors import InputError
from vibhealth.signal import RecordSpectrum, analytic_band
from vibhealth.signal.hit_limiting import LIMIT_OVER_MEDIAN_SQUARE

__all__ = ["HardHits", "even_band", "hard_hits", "hit_level"]

# The probability that noise alone shows a hit anywhere in the recording.
FALSE_ALARM_PROBABILITY = 0.01

# The spectrum is evened by the quiet quantile over pieces of this length, which hits do not shape,
# and the noise's drift followed in steps of this many seconds.
PIECE_S = 0.01
SHORTEST_PIECE = 64
DRIFT_STEP_S = 1.0

# A hit is over when its envelope has stayed below the level for as long as the largest hits need
# to fall to a tenth; limits of that time (common practice, no source).
FALL = 0.1
SHORTEST_RING_S = 0.001
LONGEST_RING_S = 0.02
LARGEST_HITS = 50
# What follows a hit and stays below this many times what nine of ten of the largest leave after the
# same time is its echo, or beats with it: resonances of a structure fade together, not evenly.
ECHO_MARGIN = 3.0
ECHO_QUANTILE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class HardHits:
    """Hits of one recording, in the order of time.

    Attributes
    ----------
    times_s : ndarray, shape (n_hits,)
        When each one began.
    heights : ndarray, shape (n_hits,)
        Largest envelope over the root mean square of the band's noise, averaged over the turn.
    energies : ndarray, shape (n_hits,)
        Share of the band's energy that each one carries beyond the noise.
    busy_s : float
        Time during which a further hit would not have been told apart.
    ring_s : float
        Least time between two hits.
    duration_s : float
    background_rise : float
        Mean squared envelope, limited at twelve medians as the search does, over the noise's
        mean without the hits; 1 for noise alone.
    """

    times_s: NDArray[np.float64]
    heights: NDArray[np.float64]
    energies: NDArray[np.float64]
    busy_s: float
    ring_s: float
    duration_s: float
    background_rise: float = 1.0


def hit_level(
    bandwidth_hz: float, duration_s: float, *, probability: float = FALSE_ALARM_PROBABILITY
) -> float:
    """Squared envelope over its mean that noise exceeds in a recording with a probability.

    Solves ``duration * 2 sqrt(pi) * bandwidth / sqrt(12) * sqrt(u) * exp(-u) = -ln(1 - p)``
    (Rice's rate for a flat band, upcrossings taken as a Poisson process).

    Parameters
    ----------
    bandwidth_hz, duration_s : float
        Above 0, their product at least 10.
    probability : float
        Above 0, below 1.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If a value is outside its range.

    Examples
    --------
    >>> round(hit_level(9000.0, 60.0), 1)
    19.3
    """
    width_hz = check_positive(bandwidth_hz, name="bandwidth_hz")
    length_s = check_positive(duration_s, name="duration_s")
    if not 0 < probability < 1:
        msg = f"probability must lie in (0, 1), got {probability}"
        raise InputError(msg)
    if width_hz * length_s < 10:
        msg = (
            f"bandwidth_hz times duration_s must be at least 10, got {width_hz * length_s:.3g}: "
            "record longer"
        )
        raise InputError(msg)
    scale = length_s * 2 * math.sqrt(math.pi / 12) * width_hz
    target = math.log(-math.log1p(-probability))

    def above(u: float) -> float:
        return math.log(scale) + 0.5 * math.log(u) - u - target

    return float(optimize.brentq(above, 0.5, 200.0))


def even_band(spectrum: RecordSpectrum, band_hz: tuple[float, float]) -> NDArray[np.float64]:
    """Squared envelope of a band whose noise is made flat in frequency.

    A hit is wide in frequency; where the noise between the hits is evened, it stands out
    over the whole band and not only over the strongest resonance. A narrow line is evened
    down with its surroundings and hides no hit.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As recorded.
    band_hz : tuple of float
        Within the spectrum, at least 8 lines wide.

    Returns
    -------
    ndarray
        Values at equal times over the recording, about twice as many as the band has lines.

    Raises
    ------
    InputError
        If the band is outside the spectrum, too narrow, or silent.
    """
    low, high = check_band(band_hz, nyquist_hz=spectrum.nyquist_hz)
    first, last = (round(edge / spectrum.line_spacing_hz) for edge in (low, high))
    lines = np.zeros_like(spectrum.lines)
    if not spectrum.lines[first:last].any():
        msg = f"band_hz {band_hz} must hold some signal, got silence"
        raise InputError(msg)
    lines[first:last] = spectrum.lines[first:last] / _quiet_curve(spectrum, first, last)
    even = RecordSpectrum(
        lines=lines, n_samples=spectrum.n_samples, sampling_rate_hz=spectrum.sampling_rate_hz
    )
    signal = analytic_band(even, band_hz)
    return np.asarray(signal.real**2 + signal.imag**2, dtype=np.float64)


def _quiet_curve(spectrum: RecordSpectrum, first: int, last: int) -> NDArray[np.float64]:
    """Magnitude of the noise between the hits at the given lines."""
    samples = fft.irfft(spectrum.lines, n=spectrum.n_samples)
    size = min(max(SHORTEST_PIECE, round(PIECE_S * spectrum.sampling_rate_hz)), samples.size)
    pieces = samples[: samples.size // size * size].reshape(-1, size) * np.hanning(size)
    power = np.quantile(np.abs(fft.rfft(pieces)) ** 2, QUIET_QUANTILE, axis=0)
    at_hz = np.arange(power.size) * spectrum.sampling_rate_hz / size
    wanted_hz = np.arange(first, last) * spectrum.line_spacing_hz
    curve = np.sqrt(np.interp(wanted_hz, at_hz, power))
    floor: NDArray[np.float64] = np.maximum(curve, 1e-9 * curve.max())
    return floor


def hard_hits(
    envelope: NDArray[np.float64],
    *,
    bandwidth_hz: float,
    duration_s: float,
    phase_turns: NDArray[np.float64] | None,
    probability: float = FALSE_ALARM_PROBABILITY,
) -> HardHits:
    """Find what stands above all that the band's noise would do.

    Parameters
    ----------
    envelope : ndarray, shape (n_values,)
        Squared envelope at equal times, as from `even_band`.
    bandwidth_hz, duration_s : float
        Above 0.
    phase_turns : ndarray, shape (n_values,), or None
        Shaft angle of each value; None takes the noise as equally loud over the turn.
    probability : float
        That noise alone shows a hit.

    Returns
    -------
    HardHits

    Raises
    ------
    InputError
        If the record is too short for its bandwidth.
    """
    level = hit_level(bandwidth_hz, duration_s, probability=probability)
    step_s = duration_s / envelope.size
    n_steps = max(1, round(duration_s / DRIFT_STEP_S))
    average = _drift(envelope, n_steps)
    sweep = np.ones_like(envelope)
    if phase_turns is not None:
        sweep = load_sweep(envelope / average, phase_turns)
        average = _drift(envelope / sweep, n_steps)
    noise = sweep * average
    over = envelope / noise
    exceeding = np.flatnonzero(over > level)
    if exceeding.size == 0:
        return HardHits(
            times_s=np.zeros(0),
            heights=np.zeros(0),
            energies=np.zeros(0),
            busy_s=0.0,
            ring_s=SHORTEST_RING_S,
            duration_s=duration_s,
        )
    curves = _fading(over, exceeding, math.ceil(LONGEST_RING_S / step_s))
    ring = round(_ring_s(curves, step_s) / step_s)
    starts = exceeding[np.append(True, np.diff(exceeding) > ring)]
    ends = exceeding[np.append(np.diff(exceeding) > ring, True)] + ring
    is_own = _own_hits(over, starts, ends, curves)
    starts, ends = starts[is_own], ends[np.append(is_own[1:], True)]
    ends = np.minimum(ends, np.append(starts[1:], envelope.size))
    sums = np.concatenate([[0.0], np.cumsum(envelope - noise)])
    return HardHits(
        times_s=starts * step_s,
        heights=np.sqrt(
            [(envelope[a:b] / average[a:b]).max() for a, b in zip(starts, ends, strict=True)]
        ),
        energies=np.maximum(0.0, sums[ends] - sums[starts]) / float(envelope.sum()),
        busy_s=float(np.sum(ends - starts)) * step_s,
        ring_s=ring * step_s,
        duration_s=duration_s,
        background_rise=max(
            1.0, float(np.minimum(over, LIMIT_OVER_MEDIAN_SQUARE * np.median(over)).mean())
        ),
    )


def _drift(envelope: NDArray[np.float64], n_steps: int) -> NDArray[np.float64]:
    """Mean of the noise, from the quiet quantile of each step, joined by straight lines."""
    n_steps = min(n_steps, envelope.size)
    pieces = np.array_split(envelope, n_steps)
    quiet = np.array([np.quantile(piece, QUIET_QUANTILE) for piece in pieces])
    quiet = np.maximum(quiet, np.finfo(np.float64).tiny)
    centre = (np.arange(n_steps) + 0.5) * envelope.size / n_steps
    # An exponential variable of mean 1 stays below -ln(1 - q) with probability q.
    mean = np.interp(np.arange(envelope.size), centre, quiet) / -math.log(1 - QUIET_QUANTILE)
    return np.asarray(mean, dtype=np.float64)


def _fading(
    over: NDArray[np.float64], exceeding: NDArray[np.int64], longest: int
) -> NDArray[np.float64]:
    """How the largest hits fade over ``longest`` values, each from 1, one row per hit."""
    left = over[exceeding].copy()
    curves = []
    for _ in range(LARGEST_HITS):
        at = int(np.argmax(left))
        if left[at] <= 0:
            break
        peak = int(exceeding[at])
        curve = over[peak : peak + longest]
        if curve.size == longest:
            curves.append(curve / curve[0])
        left[np.abs(exceeding - peak) < longest] = 0.0
    return np.array(curves).reshape(-1, longest)


def _ring_s(curves: NDArray[np.float64], step_s: float) -> float:
    """Time in which the largest hits fall to a tenth of their peak."""
    if not curves.size:
        return SHORTEST_RING_S
    fallen = np.flatnonzero(np.median(curves, axis=0) < FALL)
    ring_s = fallen[0] * step_s if fallen.size else LONGEST_RING_S
    return float(np.clip(ring_s, SHORTEST_RING_S, LONGEST_RING_S))


def _own_hits(
    over: NDArray[np.float64],
    starts: NDArray[np.int64],
    ends: NDArray[np.int64],
    curves: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Which of the hits are no echo of a larger one before."""
    is_own = np.ones(starts.shape, dtype=np.bool_)
    if not curves.size:
        return is_own
    usual = np.median(curves, axis=0)
    # What stays at the end of the curves is noise and other hits.
    stays = float(np.median(usual[-(usual.size // 4) :]))
    faded = np.flatnonzero(usual <= 2 * stays)
    left = np.quantile(curves, ECHO_QUANTILE, axis=0)[: faded[0]] if faded.size else usual[:0]
    left = ECHO_MARGIN * np.maximum.accumulate(left[::-1])[::-1]
    tops = np.array([a + int(np.argmax(over[a:b])) for a, b in zip(starts, ends, strict=True)])
    for number in range(1, starts.size):
        before = number - 1
        while before >= 0 and tops[number] - tops[before] < left.size:
            echo = over[tops[before]] * left[tops[number] - tops[before]]
            if over[tops[number]] <= echo:
                is_own[number] = False
                break
            before -= 1
    return is_own
