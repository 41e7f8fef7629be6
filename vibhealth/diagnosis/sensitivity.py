"""The smallest defect that a recording could have shown.

A PASS is worth as much as the fault it would have caught. For one element the
three centre lines get a signal of equal depth on top of the floor that was
measured in this recording; the depth at which their evidence exceeds the
threshold of the search in 95 of 100 trials is the detectable depth. The lines'
powers follow the noncentral chi-square law of a sinusoid in Gaussian noise
(S. M. Kay, Fundamentals of Statistical Signal Processing II, 1998, ch. 7, from
memory). How hard a defect has to strike for that is measured with seeded strikes
(`vibhealth.diagnosis.seeding`).
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import HARMONICS, Comb, harmonic_widths
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.seeding import SeedBed, strike_for_whitened_depth
from vibhealth.model import SensitivityFinding

__all__ = ["detectable_depth", "detectable_families"]

PROBABILITY = 0.95
N_TRIALS = 2000


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


def detectable_families(  # noqa: PLR0913 (facts of one recording)
    combs: Sequence[Comb],
    found: Sequence[FoundFamily],
    whitened: EnvelopeOrders,
    *,
    bed: SeedBed | None,
    false_alarm_probability: float,
    depth_hold: float,
) -> tuple[SensitivityFinding, ...]:
    """Detectable depth and strike amplitude of every element, read in one band.

    ``detectable_depth`` is what would be significant; the strike amplitude is
    that of a defect that would be significant *and* big enough to hold.

    Parameters
    ----------
    combs, found
        Families searched, and what the search made of them.
    whitened : EnvelopeOrders
        Squared-envelope spectrum of the card's band, whitened.
    bed : SeedBed or None
        Stretch of the recording to seed strikes into; None for a recording without
        calibration: then no strike amplitude is given.
    false_alarm_probability : float
        Of all families of the recording together; each gets an equal share.
    depth_hold : float
        Whitened depth from which a significant family holds.

    Returns
    -------
    tuple of SensitivityFinding
        One per comb, in their order.
    """
    findings = []
    for comb in combs:
        own = next((family for family in found if family.comb.key == comb.key), None)
        width = 3
        if own is None:
            continue
        threshold = own.null_evidence(math.log(false_alarm_probability / len(combs)))
        depth = detectable_depth(
            whitened, comb.strike_order, threshold=threshold, width_lines=width
        )
        strike: float | None = None
        if bed is not None:
            strong = [band for band in comb.spacings if band.strength == "strong"]
            strike = strike_for_whitened_depth(
                bed,
                strike_order=comb.strike_order,
                swing_order=strong[0].spacing_order if strong else None,
                target_depth=max(depth, depth_hold),
            )
        findings.append(
            SensitivityFinding(
                bearing=comb.bearing,
                element=comb.element,
                detectable_depth=depth,
                detectable_impact_m_s2=strike,
                probability=PROBABILITY,
                method=(
                    f"depth: three equal centre lines on the measured floor of "
                    f"{whitened.band_hz[0]:.0f} to {whitened.band_hz[1]:.0f} Hz, {N_TRIALS} trials; "
                    f"strikes: seeded into the recording until they read a whitened depth of "
                    f"{max(depth, depth_hold):.2f}"
                ),
            )
        )
    return tuple(findings)
