"""From a found comb to a finding: depth, strike amplitude, side bands, result.

The whitened depth decides, and the depth's interval belongs to it. Intervals, and the
strike amplitude, are given to significant families only: of the others nothing is
there whose size could be told.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from vibhealth.bearing import BlindSpot, defect_orders, ring_orders
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, envelope_orders
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.size_intervals import SizedDepth, depth_with_interval
from vibhealth.diagnosis.sizes import (
    line_depth,
    line_to_floor_db,
    modulation_depth,
)
from vibhealth.diagnosis.strike_load import Swing
from vibhealth.diagnosis.strike_size import StrikeRates, StrikeSize, strike_size
from vibhealth.model import CriterionResult, FamilyFinding, RollingBearing
from vibhealth.signal import RecordSpectrum

__all__ = ["FamilyContext", "FamilyLimits", "deepest_reading", "judged", "sized_finding"]

# Bands whose evidence reaches this share of the best band's compete for the deepest reading.
EVIDENCE_SHARE = 0.5

# Bands at least so many strike rates wide are folded: a strike dies away between two.
NARROWEST_TILE = 8.0

# Orders are of size one: nearer than this they are the same.
SAME_ORDER = 1e-9


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
    """What every step of naming and sizing needs.

    ``whitened`` are the spectra in which the families were searched; without them
    no depth gets an interval.
    """

    bearings: tuple[RollingBearing, ...]
    spots: tuple[BlindSpot, ...]
    recorded: list[RecordSpectrum]
    shaft_frequency_hz: float
    highest_order: float
    slip: float
    limits: FamilyLimits
    n_families: int
    is_calibrated: bool
    whitened: list[RecordSpectrum] = field(default_factory=list)


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
    """Finding of a searched family: sized in the band in which it is deepest, and judged.

    ``depth_interval`` is that of ``depth_whitened``, which decides.
    """
    depth_whitened, envelope = deepest_reading(family)
    probability = min(1.0, float(np.exp(family.log_probability)) * context.n_families)
    sized, strikes = None, None
    if probability <= context.limits.false_alarm_probability:
        sized = _sized(context, family, envelope)
        strikes = strike_reading(context, family) if context.is_calibrated else None
    recorded = envelope_orders(
        context.recorded,
        envelope.band_hz,
        shaft_frequency_hz=context.shaft_frequency_hz,
        highest_order=context.highest_order,
    )
    width = family.width_lines if sized is None else sized.width_lines
    finding = FamilyFinding(
        bearing=family.comb.bearing,
        element=family.comb.element,
        order=family.order,
        frequency_hz=family.order * context.shaft_frequency_hz,
        slip_percent=100 * family.slip,
        false_alarm_probability=probability,
        depth=modulation_depth(recorded, family.order, width),
        depth_whitened=depth_whitened if sized is None else sized.depth,
        impact_m_s2=None if strikes is None else strikes.amplitude,
        band_hz=envelope.band_hz,
        result=CriterionResult.PASS,
        present=False,
        line_to_floor_db=line_to_floor_db(envelope, family.order, family.width_lines),
        sideband_evidence=_side_band_words(family, envelope),
        evidence=family.evidence,
        depth_interval=None if sized is None else (sized.low, sized.high),
        impact_interval_m_s2=None if strikes is None else (strikes.low, strikes.high),
    )
    return judged(finding, context.limits)


def _sized(
    context: FamilyContext, family: FoundFamily, envelope: EnvelopeOrders
) -> SizedDepth | None:
    if not context.whitened:
        return None
    return depth_with_interval(
        envelope,
        context.whitened,
        order=family.order,
        width_lines=family.width_lines,
        shaft_frequency_hz=context.shaft_frequency_hz,
    )


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


def strike_reading(context: FamilyContext, family: FoundFamily) -> StrikeSize | None:
    """Amplitude of a family's strongest strikes in the first block of the record, over all bands.

    None where no fold of the record shows a strike.
    """
    order_hz = context.shaft_frequency_hz
    strike_hz = family.order * order_hz
    _, leading = max(family.band_evidence, key=lambda reading: reading[0])
    width_lines = max(3, family.width_lines)
    rates = StrikeRates(
        strike_hz=strike_hz,
        width_hz=width_lines * leading.order_spacing * order_hz,
        shaft_frequency_hz=order_hz,
        swings=_swings(context, family),
    )
    bands = [envelope.band_hz for _, envelope in family.band_evidence]
    return strike_size(context.recorded[0], leading.band_hz, _tiles(bands, strike_hz), rates)


def _tiles(bands: list[tuple[float, float]], strike_hz: float) -> list[tuple[float, float]]:
    """The narrowest bands of the bank, of one width, that still let a strike die away."""
    widths = sorted({round(high - low) for low, high in bands})
    wide = [width for width in widths if width >= NARROWEST_TILE * strike_hz] or widths[-1:]
    return [band for band in bands if round(band[1] - band[0]) == wide[0]]


def _swings(context: FamilyContext, family: FoundFamily) -> tuple[Swing, ...]:
    """How the load and the path turn against the defect.

    What turns with a ring keeps to the shaft, once or twice per turn; what turns with
    the cage keeps to the strikes, as near as the slip allows.
    """
    comb = family.comb
    bearing = next(b for b in context.bearings if b.name == comb.bearing)
    cage, fixed = defect_orders(bearing).cage, ring_orders(bearing)[1]
    per_strike = (cage - fixed) / comb.strike_order
    swings: list[Swing] = []
    for band in comb.spacings:
        if abs(band.spacing_order - abs(cage)) < SAME_ORDER:
            swings.append(Swing(by_shaft=fixed, by_strike=per_strike, slip=context.slip))
        elif abs(band.spacing_order - abs(cage - 1.0)) < SAME_ORDER:
            swings.append(Swing(by_shaft=fixed - 1.0, by_strike=per_strike, slip=context.slip))
    if any(abs(s.spacing_order - round(s.spacing_order)) < SAME_ORDER for s in comb.spacings):
        if not swings:
            swings.append(Swing(by_shaft=1.0, repeats=(1, 2)))
        elif any(s.spacing_order == 2.0 for s in comb.spacings):
            swings.append(Swing(by_shaft=2.0))
    return tuple(swings)


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
