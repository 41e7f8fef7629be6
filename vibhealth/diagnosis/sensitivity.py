"""The smallest defect that a recording could have shown.

A PASS is worth as much as the fault it would have caught. For one element, trains of
strikes as the card's load case makes them are seeded into the recording itself and searched
on the search's own path; the size is stated from which 95 of 100 of them are found, that is
significant and of at least watch size.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import Comb, measured_shaft_lines, searched_widths
from vibhealth.diagnosis.decoys import PRIOR_MEAN_EXCESS
from vibhealth.diagnosis.explained import family_lines
from vibhealth.diagnosis.families import FamilyReport
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.family_sizing import FamilyLimits
from vibhealth.diagnosis.seeding import WALKS
from vibhealth.diagnosis.seeding_bed import SeedBed, limited_block, seed_bed
from vibhealth.diagnosis.seeding_sizes import (
    PROBABILITY,
    RARELY_MASKED,
    DetectableSize,
    detectable_size,
    family_trials,
    pooled_scatter,
    worst_bed,
)
from vibhealth.diagnosis.seeding_trials import Found, Seeded, SlipRange, is_quiet
from vibhealth.errors import InputError
from vibhealth.model import SensitivityFinding

__all__ = ["detectable_families"]

# Resonances that are tried: the middles of so many equal parts of the band on a logarithmic scale.
N_RESONANCES = 3

# Slip of the seeds (Randall and Antoni, Mechanical Systems and Signal Processing 25 (2011) 485-520:
# one or two per cent), and the share of the searched slip that leaves room for a walk.
SLIP = 0.01
SLIP_SHARE = 0.8

# Fewer clusters of decoys than this that reach so many times farther above their threshold than in
# noise are lines of the machine that nothing on the card explains. Beside a defect they weigh
# differently (seen: five times as much), and nothing can be promised (starting values, from one
# open recording).
FEW_CLUSTERS = 10
LARGEST_MEAN_EXCESS = 20 * PRIOR_MEAN_EXCESS

# Where the recording itself ticks at an element's order, seeds are put beside it: places tried,
# as shares of the order.
PLACES = (0.03, -0.03, 0.06, -0.06)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """Facts of the search that every family's seeds meet."""

    report: FamilyReport
    limits: FamilyLimits
    shaft_frequency_hz: float
    n_families: int
    half_slip: float
    widths: tuple[int, ...]
    order: NDArray[np.float64]
    shaft: NDArray[np.bool_]

    @property
    def spacing(self) -> float:
        """Distance of two lines in orders."""
        return self.report.envelopes[0].order_spacing

    def log_probability(self) -> float:
        """Largest false-alarm probability of one family, logarithm."""
        return math.log(self.limits.false_alarm_probability / self.n_families)

    def is_significant(self, family: FoundFamily) -> bool:
        """As the search judged it."""
        return family.log_probability <= self.log_probability()


def detectable_families(  # noqa: PLR0913 (facts of recording, machine and limits)
    report: FamilyReport,
    combs: Sequence[Comb],
    *,
    bearing_band_hz: tuple[float, float],
    shaft_frequency_hz: float,
    slip_percent: float,
    limits: FamilyLimits,
    is_calibrated: bool,
) -> tuple[SensitivityFinding, ...]:
    """Smallest defect of every element that is found in 95 of 100 trials.

    Parameters
    ----------
    report : FamilyReport
        What the search made of the recording; empty where it judged nothing.
    combs : sequence of Comb
        Families searched.
    bearing_band_hz : tuple of float
        Band in which a strike is taken to ring; what lies outside of the bank is left out.
    shaft_frequency_hz, slip_percent, limits
        As in the search.
    is_calibrated : bool
        Whether the recording is in m/s^2: without, no strike amplitude is given.

    Returns
    -------
    tuple of SensitivityFinding
        One per comb, in their order; sizes are infinite where none tried is found.

    Raises
    ------
    InputError
        If the bearing band and the bank do not overlap.
    """
    if not report.envelopes:
        return ()
    search = _search(report, combs, limits, shaft_frequency_hz, slip_percent)
    beds = _beds(report, bearing_band_hz)
    families = [_family(search, comb, beds) for comb in combs]
    can_be_seeded = [family for family in families if isinstance(family, Seeded)]
    worst, log_ratio = worst_bed(beds, can_be_seeded, search.half_slip)
    trials = {
        family.comb.key: family_trials(worst, family, search.half_slip, log_ratio, number)
        for number, family in enumerate(can_be_seeded)
        if worst is not None
    }
    scatter = pooled_scatter(list(trials.values()))
    findings = []
    for comb, family in zip(combs, families, strict=True):
        if isinstance(family, str):
            size = DetectableSize.none(family)
        elif comb.key not in trials:
            size = DetectableSize.none("the record is silent about every resonance tried")
        else:
            size = detectable_size(trials[comb.key], scatter)
        findings.append(
            SensitivityFinding(
                bearing=comb.bearing,
                element=comb.element,
                detectable_depth=size.depth,
                detectable_impact_m_s2=size.amplitude if is_calibrated else None,
                probability=PROBABILITY,
                n_trials=size.n_trials,
                method=_words(search, size, beds, worst),
            )
        )
    return tuple(findings)


def _search(
    report: FamilyReport,
    combs: Sequence[Comb],
    limits: FamilyLimits,
    shaft_frequency_hz: float,
    slip_percent: float,
) -> _Search:
    spacing = report.envelopes[0].order_spacing
    n_lines = max(envelope.depth_power.size for envelope in report.envelopes)
    order = np.arange(n_lines, dtype=np.float64) * spacing
    return _Search(
        report=report,
        limits=limits,
        shaft_frequency_hz=shaft_frequency_hz,
        n_families=len(combs),
        half_slip=min(SLIP, SLIP_SHARE * 0.01 * slip_percent),
        widths=searched_widths(combs, spacing),
        order=order,
        shaft=measured_shaft_lines(report.envelopes, order),
    )


def _beds(report: FamilyReport, bearing_band_hz: tuple[float, float]) -> list[SeedBed]:
    """The record about each resonance that is tried and not silent there."""
    bands = tuple(dict.fromkeys(envelope.band_hz for envelope in report.envelopes))
    low = max(bearing_band_hz[0], bands[0][0])
    high = min(bearing_band_hz[1], bands[0][1])
    if low >= high:
        msg = (
            f"bearing_band_hz must overlap the searched {bands[0][0]:.0f} to {bands[0][1]:.0f} Hz, "
            f"got {bearing_band_hz[0]:g} to {bearing_band_hz[1]:g}"
        )
        raise InputError(msg)
    blocks = [limited_block(block, lowest_hz=bands[0][0]) for block in report.recorded]
    rings = [low * (high / low) ** ((2 * i + 1) / (2 * N_RESONANCES)) for i in range(N_RESONANCES)]
    beds = [seed_bed(blocks, bands, ring_hz=ring) for ring in rings]
    return [bed for bed in beds if bed is not None]


def _family(search: _Search, comb: Comb, beds: Sequence[SeedBed]) -> Seeded | str:
    """What is seeded for a comb, or why nothing can be."""
    own = next((f for f in search.report.found if f.comb.key == comb.key), None)
    if own is None:
        return "this element was not searched"
    # With a defect in it chance is measured anew.
    evidence = own.null_evidence(search.log_probability(), confidence=PROBABILITY)
    if not math.isfinite(evidence):
        return "chance could not be measured: too few orders without a bearing or shaft line"
    if own.null.peaks.size < FEW_CLUSTERS and own.null.mean_excess > LARGEST_MEAN_EXCESS:
        return (
            "a few strong lines of the machine that no element on the card explains decide what "
            "chance is, and beside a defect they would weigh differently"
        )
    masked = search.shaft.copy()
    for other in search.report.found:
        if other.comb.key != comb.key and search.is_significant(other):
            masked |= family_lines(
                search.order,
                other.comb,
                other.order,
                order_spacing=search.spacing,
                width_lines=other.width_lines,
            )
    places = PLACES if search.is_significant(own) else (0.0,)
    candidates = [
        Seeded(
            comb=comb,
            centre_order=comb.strike_order * (1.0 + place),
            masked=masked,
            widths=search.widths,
            order_spacing=search.spacing,
            highest_line=search.order.size - 1,
            shaft_frequency_hz=search.shaft_frequency_hz,
            found=Found(evidence=evidence, depth=search.limits.depth_watch),
        )
        for place in places
    ]
    if not search.is_significant(own):
        return candidates[0]
    quiet = [
        seeded
        for seeded in candidates
        if all(is_quiet(bed, seeded, search.half_slip) for bed in beds)
    ]
    if not quiet:
        return (
            "the recording itself ticks at this element's order and at all places tried beside it"
        )
    return min(quiet, key=lambda seeded: SlipRange.about(seeded, search.half_slip).masked_share)


def _words(
    search: _Search, size: DetectableSize, beds: Sequence[SeedBed], bed: SeedBed | None
) -> str:
    """How a size was found, or why there is none."""
    if bed is None or not size.n_trials:
        return f"no size was tried: {size.reason}"
    bands = ", ".join(f"{low:.0f} to {high:.0f}" for low, high in bed.bands)
    tried = ", ".join(f"{each.ring_hz:.0f}" for each in beds)
    words = (
        f"{size.n_trials} random trains of strikes of the card's load case seeded into the "
        f"recording, slip within {100 * search.half_slip:.2g} %, cage walking {100 * WALKS[0]:.2g} to "
        f"{100 * WALKS[1]:.2g} % of a strike's spacing, ringing at {bed.ring_hz:.0f} Hz "
        f"(of {tried} Hz the one at which strikes must be hardest), read in {bands} Hz; found: "
        f"significant and a whitened depth of at least {search.limits.depth_watch:.2g}"
    )
    if size.place_percent:
        words += f"; seeded {size.place_percent:+.0f} % beside the order, where the record ticks"
    if size.masked_share > RARELY_MASKED:
        words += f"; {100 * size.masked_share:.0f} % of the slips lie on masked lines"
    if size.reason:
        words += f"; no size: {size.reason}"
    return words
