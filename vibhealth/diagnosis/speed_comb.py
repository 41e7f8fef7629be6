"""Speed of a machine without a big 1x motion, from the comb of its shaft harmonics.

Where no line stands out by itself, all multiples of the true shaft frequency
together do, in the spectrum of the record and in the envelope spectrum of its
whitened twin. Each speed in the tolerance is scored by the summed logarithms of
the line powers over their local floor, each line limited so that one strong line
(twice mains, a gear) cannot decide. Noise alone scores about 23 with a standard
deviation of 2 (24 lines, each the largest of three of ``ln(1 + p)`` with ``p``
exponential: mean 0.967, standard deviation 0.382, by simulation in the tests).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.signal.envelope import band_envelope_spectrum, local_floor
from vibhealth.signal.whitening import record_spectrum, whiten

__all__ = ["CombSpeed", "comb_speed"]

N_HARMONICS = 12
LARGEST_LOG_POWER = float(np.log(1e3))
SHORTEST_TURNS = 30
# Longest piece looked at, in turns: the comb must not smear if the speed wanders a little.
LONGEST_TURNS = 1200


@dataclass(frozen=True, slots=True, kw_only=True)
class CombSpeed:
    """Best speed, its score, and the score's lead over the best clearly different speed.

    Where the record is so short that no speed in the tolerance is clearly
    different, the lead is taken over the median of all scores.
    """

    shaft_frequency_hz: float
    score: float
    lead: float
    uncertainty_percent: float


def comb_speed(
    acceleration: NDArray[np.float64],
    sampling_rate_hz: float,
    *,
    nominal_hz: float,
    tolerance_percent: float,
) -> CombSpeed | None:
    """Shaft frequency whose harmonics stand out most within the tolerance.

    Parameters
    ----------
    acceleration : ndarray, shape (n_samples,)
        In any unit: only ratios of lines count.
    sampling_rate_hz : float
        Above 0.
    nominal_hz : float
        Shaft frequency about which is searched, above 0.
    tolerance_percent : float
        Half width of the search, above 0.

    Returns
    -------
    CombSpeed or None
        None where the record is too short (under 30 turns) or too slow for it.
    """
    longest = int(LONGEST_TURNS / nominal_hz * sampling_rate_hz)
    start = max(0, (acceleration.size - longest) // 2)
    samples = acceleration[start : start + longest]
    turns = samples.size / sampling_rate_hz * nominal_hz
    top_hz = (N_HARMONICS + 1.5) * nominal_hz * (1 + tolerance_percent / 100)
    if turns < SHORTEST_TURNS or top_hz >= sampling_rate_hz / 4:
        return None
    spectrum = record_spectrum(samples, sampling_rate_hz, taper=1.0)
    spacing_hz = spectrum.line_spacing_hz
    n_lines = int(top_hz / spacing_hz) + 2
    raw = np.abs(spectrum.lines[:n_lines]) ** 2
    envelope = band_envelope_spectrum(
        whiten(record_spectrum(samples, sampling_rate_hz)),
        (top_hz, 0.49 * sampling_rate_hz),
        highest_hz=top_hz,
    )
    frequency_hz, raw_score = _scores(raw, spacing_hz, nominal_hz, tolerance_percent)
    _, envelope_score = _scores(envelope.depth**2, spacing_hz, nominal_hz, tolerance_percent)
    return _best(frequency_hz, raw_score + envelope_score, spacing_hz, nominal_hz)


def _scores(
    power: NDArray[np.float64], spacing_hz: float, nominal_hz: float, tolerance_percent: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    floor = local_floor(power, max(33, round(0.8 * nominal_hz / spacing_hz)))
    score = np.minimum(np.log1p(power / floor), LARGEST_LOG_POWER)
    wide = np.maximum(np.maximum(score, np.roll(score, 1)), np.roll(score, -1))
    half = nominal_hz * tolerance_percent / 100
    step = spacing_hz / (2 * N_HARMONICS)
    frequency_hz = np.arange(nominal_hz - half, nominal_hz + half + step, step)
    total = np.zeros(frequency_hz.shape)
    for harmonic in range(1, N_HARMONICS + 1):
        index = np.rint(harmonic * frequency_hz / spacing_hz).astype(np.int64)
        total += wide[np.minimum(index, wide.size - 1)]
    return frequency_hz, total


def _best(
    frequency_hz: NDArray[np.float64],
    score: NDArray[np.float64],
    spacing_hz: float,
    nominal_hz: float,
) -> CombSpeed:
    at = int(np.argmax(score))
    top = float(score[at])
    # The maximum is a small plateau (lines are matched within one line): take its middle.
    plateau = np.flatnonzero(score >= top - 0.05 * top)
    plateau = plateau[np.abs(plateau - at) <= 2 * N_HARMONICS]
    best_hz = float(frequency_hz[plateau].mean())
    other = np.abs(frequency_hz - best_hz) > max(0.004 * nominal_hz, 3 * spacing_hz)
    lead = top - float(score[other].max() if other.any() else np.median(score))
    return CombSpeed(
        shaft_frequency_hz=best_hz,
        score=top,
        lead=lead,
        uncertainty_percent=float(100 * spacing_hz / (4 * best_hz)),
    )
