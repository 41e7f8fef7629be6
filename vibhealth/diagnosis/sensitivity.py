"""The smallest defect that a recording could have shown.

A PASS is worth as much as the fault it would have caught. For one element the
three centre lines get a signal of equal depth on top of the floor that was
measured in this recording; the depth at which their evidence exceeds the
threshold of the search in 95 of 100 trials is the detectable depth. The lines'
powers follow the noncentral chi-square law of a sinusoid in Gaussian noise
(S. M. Kay, Fundamentals of Statistical Signal Processing II, 1998, ch. 7, from
memory). The strike amplitude that makes this depth follows from the Fourier
series of a train of decaying oscillations.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import HARMONICS, Comb, harmonic_widths
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import log_tail_bound
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.model import Element, SensitivityFinding

__all__ = ["detectable_depth", "detectable_families", "strike_for_depth"]

PROBABILITY = 0.95
N_TRIALS = 2000

# Assumed damping ratio of the resonance that a strike rings (common practice, no source).
ASSUMED_DAMPING_RATIO = 0.04

# Mean over largest squared strike as a defect goes in and out of the load zone: 1 / (1 + 2 r1 +
# 2 r2) with the side bands r1 = 0.89, r2 = 0.57 of a turning load on the outer ring (simulation
# of a generic bearing).
MEAN_OVER_LARGEST = 0.26


def _log_threshold(
    comb: Comb, found: FoundFamily | None, n_trials: float, false_alarm: float, counts: list[int]
) -> float:
    """Evidence needed: the Chernoff bound with all trials, or the measured null if larger."""
    target = math.log(false_alarm / max(1.0, n_trials))
    low, high = 0.0, 10_000.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if log_tail_bound(middle, counts) > target:
            low = middle
        else:
            high = middle
    threshold = high
    if found is not None and found.comb.key == comb.key:
        threshold = max(threshold, found.null_evidence(math.log(false_alarm)))
    return threshold


def _found_share(
    depth: float,
    floors: NDArray[np.float64],
    counts: list[int],
    *,
    n_averages: int,
    threshold: float,
) -> float:
    """Share of trials in which three lines of equal depth reach the threshold."""
    rng = np.random.default_rng(20240229)
    evidence = np.zeros(N_TRIALS)
    for floor, count in zip(floors, counts, strict=True):
        # Each averaged spectrum carries the whole signal: so many floors in all of the lines.
        signal = n_averages * depth**2 / len(HARMONICS) / floor
        mean = rng.noncentral_chisquare(2 * count, 2 * signal, size=N_TRIALS) / (2 * count)
        mean = np.maximum(mean, 1.0)
        evidence += count * (mean - 1.0 - np.log(mean))
    return float(np.mean(evidence >= threshold))


def detectable_depth(
    envelope: EnvelopeOrders, order: float, *, threshold: float, width_lines: int
) -> float:
    """Depth of three equal centre lines that reaches the threshold in 95 % of trials.

    Parameters
    ----------
    envelope : EnvelopeOrders
        The spectrum whose floor counts.
    order : float
        First centre line, above 0.
    threshold : float
        Evidence that makes a family significant.
    width_lines : int
        Lines over which a line is taken to wander.

    Returns
    -------
    float
        Modulation depth; infinite where a centre line is outside the spectrum.
    """
    numbers = [round(h * order / envelope.order_spacing) for h in HARMONICS]
    if max(numbers) >= envelope.floor.shape[-1]:
        return math.inf
    floors = envelope.floor[numbers]
    counts = [width * envelope.n_averages for width in harmonic_widths(width_lines)]

    def is_found(depth: float) -> bool:
        share = _found_share(
            depth, floors, counts, n_averages=envelope.n_averages, threshold=threshold
        )
        return share >= PROBABILITY

    low, high = 0.0, 4.0
    if not is_found(high):
        return math.inf
    for _ in range(24):
        middle = 0.5 * (low + high)
        if not is_found(middle):
            low = middle
        else:
            high = middle
    return high


def strike_for_depth(
    depth: float, *, mean_square: float, band_hz: tuple[float, float], strike_hz: float
) -> float:
    """Zero-to-peak amplitude of strikes that modulate a band to a given depth.

    Strikes of amplitude A that ring at the middle of the band and decay with
    ``exp(-b t)`` add ``A^2 f / (2 b)`` to the mean squared envelope M, and lines of
    ``2 A^2 f / sqrt(4 b^2 + (2 pi n f)^2)`` at n times the strike rate f.

    Parameters
    ----------
    depth : float
        Root of the summed squares of the first three lines over the mean, 0 or
        more.
    mean_square : float
        Mean squared envelope without strikes, in squared sample units.
    band_hz : tuple of float
        Band whose middle the strikes ring at.
    strike_hz : float
        Strike rate, above 0.

    Returns
    -------
    float
        In the units of the samples; infinite where no amplitude reaches the depth.
    """
    decay = 2 * math.pi * ASSUMED_DAMPING_RATIO * 0.5 * (band_hz[0] + band_hz[1])
    lines = [2 * strike_hz / math.hypot(2 * decay, 2 * math.pi * n * strike_hz) for n in HARMONICS]
    slope = math.sqrt(sum(line**2 for line in lines))
    added = strike_hz / (2 * decay)
    if slope <= depth * added:
        return math.inf
    return math.sqrt(depth * mean_square / (slope - depth * added))


def detectable_families(  # noqa: PLR0913 (facts of one recording)
    combs: Sequence[Comb],
    found: Sequence[FoundFamily],
    whitened: EnvelopeOrders,
    recorded: EnvelopeOrders,
    *,
    shaft_frequency_hz: float,
    false_alarm_probability: float,
    depth_hold: float,
    is_calibrated: bool,
    n_trials: float,
) -> tuple[SensitivityFinding, ...]:
    """Detectable depth and strike amplitude of every element, read in one band.

    ``detectable_depth`` is what would be significant; the strike amplitude is
    that of a defect that would be significant *and* big enough to hold.

    Parameters
    ----------
    combs, found
        Families searched, and what the search made of them.
    whitened, recorded : EnvelopeOrders
        Squared-envelope spectra of the card's band.
    shaft_frequency_hz : float
        Above 0.
    false_alarm_probability : float
        Of all families of the recording together; each gets an equal share.
    depth_hold : float
        Whitened depth from which a significant family holds.
    is_calibrated : bool
        Whether the samples are in m/s^2: without, no strike amplitude is given.
    n_trials : float
        Orders, bands, detectors and widths searched per family.

    Returns
    -------
    tuple of SensitivityFinding
        One per comb, in their order.
    """
    findings = []
    for comb in combs:
        own = next((family for family in found if family.comb.key == comb.key), None)
        width = 3
        counts = [w * whitened.n_averages for w in harmonic_widths(width)]
        threshold = _log_threshold(
            comb, own, n_trials, false_alarm_probability / len(combs), counts
        )
        depth = detectable_depth(
            whitened, comb.strike_order, threshold=threshold, width_lines=width
        )
        strike: float | None = None
        if is_calibrated:
            mean_strike = strike_for_depth(
                max(depth, depth_hold),
                mean_square=recorded.mean_square,
                band_hz=recorded.band_hz,
                strike_hz=comb.strike_order * shaft_frequency_hz,
            )
            swings = comb.element is Element.CAGE or any(
                band.strength == "strong" for band in comb.spacings
            )
            strike = mean_strike / math.sqrt(MEAN_OVER_LARGEST if swings else 1.0)
        findings.append(
            SensitivityFinding(
                bearing=comb.bearing,
                element=comb.element,
                detectable_depth=depth,
                detectable_impact_m_s2=strike,
                probability=PROBABILITY,
                method=(
                    f"three equal centre lines on the measured floor of "
                    f"{recorded.band_hz[0]:.0f} to {recorded.band_hz[1]:.0f} Hz, "
                    f"{N_TRIALS} trials; strike amplitude for a depth of "
                    f"{max(depth, depth_hold):.2f}"
                ),
            )
        )
    return tuple(findings)
