"""From a found comb to a finding: depth, strike amplitude, side bands, result."""

from dataclasses import dataclass, replace

import numpy as np

from vibhealth.bearing import BlindSpot
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, envelope_orders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.sizes import (
    line_depth,
    line_to_floor_db,
    modulation_depth,
    strike_amplitude,
)
from vibhealth.model import CriterionResult, FamilyFinding, RollingBearing
from vibhealth.signal import RecordSpectrum

__all__ = ["FamilyContext", "FamilyLimits", "deepest_reading", "judged", "sized_finding"]

# Bands whose evidence reaches this share of the best band's compete for the deepest reading.
EVIDENCE_SHARE = 0.5

# Evidence from which a single band shows a family (a Chernoff bound of about 1e-4).
SHOWN_EVIDENCE = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyLimits:
    """Sizes and significance that turn a family into watch or hold.

    From ``depth_present`` on the element is named (``present``): below it, open
    data sets show significant families of elements that carry no defect.
    """

    depth_watch: float
    depth_present: float
    depth_hold: float
    false_alarm_probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyContext:
    """What every step of naming and sizing needs."""

    bearings: tuple[RollingBearing, ...]
    spots: tuple[BlindSpot, ...]
    recorded: list[RecordSpectrum]
    shaft_frequency_hz: float
    highest_order: float
    slip: float
    limits: FamilyLimits
    n_families: int
    is_calibrated: bool


def deepest_reading(family: FoundFamily) -> tuple[float, EnvelopeOrders]:
    """Largest depth among the bands in which the comb stands out nearly as well as in the best."""
    least = EVIDENCE_SHARE * max(evidence for evidence, _ in family.band_evidence)
    readings = [
        (modulation_depth(envelope, family.order, family.width_lines), envelope)
        for evidence, envelope in family.band_evidence
        if evidence >= least
    ]
    return max(readings, key=lambda reading: reading[0])


def sized_finding(context: FamilyContext, family: FoundFamily) -> FamilyFinding:
    """Finding of a searched family: sized in the band in which it is deepest, and judged."""
    depth_whitened, envelope = deepest_reading(family)
    recorded = envelope_orders(
        context.recorded,
        envelope.band_hz,
        shaft_frequency_hz=context.shaft_frequency_hz,
        highest_order=context.highest_order,
    )
    depth = modulation_depth(recorded, family.order, family.width_lines)
    probability = min(1.0, float(np.exp(family.log_probability)) * context.n_families)
    finding = FamilyFinding(
        bearing=family.comb.bearing,
        element=family.comb.element,
        order=family.order,
        frequency_hz=family.order * context.shaft_frequency_hz,
        slip_percent=100 * family.slip,
        false_alarm_probability=probability,
        depth=depth,
        depth_whitened=depth_whitened,
        impact_m_s2=_impact(context, family) if context.is_calibrated else None,
        band_hz=envelope.band_hz,
        result=CriterionResult.PASS,
        present=False,
        line_to_floor_db=line_to_floor_db(envelope, family.order, family.width_lines),
        sideband_evidence=_side_band_words(family, envelope),
    )
    return judged(finding, context.limits)


def judged(finding: FamilyFinding, limits: FamilyLimits) -> FamilyFinding:
    """Significance and size together decide."""
    significant = finding.false_alarm_probability <= limits.false_alarm_probability
    result = CriterionResult.PASS
    if significant and finding.depth_whitened >= limits.depth_hold:
        result = CriterionResult.HOLD
    elif significant and finding.depth_whitened >= limits.depth_watch:
        result = CriterionResult.WATCH
    present = significant and finding.depth_whitened >= limits.depth_present
    return replace(finding, result=result, present=present)


def _impact(context: FamilyContext, family: FoundFamily) -> float:
    """Strike amplitude over all bands that show the family.

    A strike excites several resonances and one band holds only a part of it. Of
    all tilings of the range the one with most evidence is taken, and the
    amplitudes of its bands in which the comb stands out are added: strikes are
    in step in all of them.
    """
    tilings: dict[int, list[tuple[float, EnvelopeOrders]]] = {}
    for evidence, envelope in family.band_evidence:
        if evidence >= SHOWN_EVIDENCE:
            width = round(envelope.band_hz[1] - envelope.band_hz[0])
            tilings.setdefault(width, []).append((evidence, envelope))
    if not tilings:
        tilings = {0: [(family.evidence, family.envelope)]}
    best = max(tilings.values(), key=lambda tiling: sum(evidence for evidence, _ in tiling))
    return sum(_band_impact(context, family, envelope.band_hz) for _, envelope in best)


def _band_impact(
    context: FamilyContext, family: FoundFamily, band_hz: tuple[float, float]
) -> float:
    recorded = envelope_orders(
        context.recorded,
        band_hz,
        shaft_frequency_hz=context.shaft_frequency_hz,
        highest_order=context.highest_order,
    )
    centre = line_depth(recorded, family.order, family.width_lines)
    swing = 1.0
    for band in family.comb.spacings:
        if band.strength == "strong" and centre > 0:
            sides = [
                line_depth(recorded, family.order + sign * band.spacing_order, family.width_lines)
                for sign in (-1, 1)
            ]
            swing += 2.0 * min(1.0, float(np.mean(sides)) / centre)
    width_hz = max(3, family.width_lines) * recorded.order_spacing * context.shaft_frequency_hz
    return strike_amplitude(
        context.recorded[0],
        band_hz,
        strike_hz=family.order * context.shaft_frequency_hz,
        load_swing=swing,
        width_hz=width_hz,
    )


def _side_band_words(family: FoundFamily, envelope: EnvelopeOrders) -> str:
    """What the side bands of the card's load case say, relative to the centre line."""
    centre = line_depth(envelope, family.order, family.width_lines)
    if centre <= 0 or not family.comb.spacings:
        return ""
    words = []
    for band in family.comb.spacings:
        sides = [
            line_depth(envelope, family.order + sign * band.spacing_order, family.width_lines)
            for sign in (-1, 1)
        ]
        words.append(f"±{band.spacing_order:.3f}x at {float(np.mean(sides)) / centre:.2f}")
    return "side bands relative to the first centre line: " + ", ".join(words)
