"""Defect families of one recording: search, size, name, and say what is ambiguous."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import BlindSpot, blind_spots, defect_orders
from vibhealth.diagnosis.comb import HARMONICS, Comb, bearing_combs
from vibhealth.diagnosis.envelope_bank import (
    EnvelopeOrders,
    bank_bands,
    block_spectra,
    envelope_bank,
    envelope_orders,
)
from vibhealth.diagnosis.family_search import (
    CAGE_AGREEMENT,
    FoundFamily,
    explained_lines,
    search_families,
)
from vibhealth.diagnosis.shaft_locked import shaft_locked_family
from vibhealth.diagnosis.sizes import (
    line_depth,
    line_to_floor_db,
    modulation_depth,
    strike_amplitude,
)
from vibhealth.model import CriterionResult, Element, FamilyFinding, RollingBearing
from vibhealth.signal import RecordSpectrum

__all__ = ["FamilyLimits", "FamilyReport", "find_families"]

# Bands whose evidence reaches this share of the best band's compete for the deepest reading.
EVIDENCE_SHARE = 0.5

# Evidence from which a single band shows a family (a Chernoff bound of about 1e-4).
SHOWN_EVIDENCE = 12.0

# A rolling element is excluded beside a cage family where, between the cage's own lines, its comb
# reaches at most this share of the cage family's depth anywhere in its slip window, and where at
# least this share of the window lies between them (starting values, from simulated cage defects
# and the open recordings of rolling-element defects).
EXCLUDED_SHARE = 0.12
LEAST_WINDOW = 0.2
EXCLUSION_WIDTH = 3


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
class FamilyReport:
    """Findings with what the figures, the sensitivity and a trend need besides."""

    findings: tuple[FamilyFinding, ...]
    found: tuple[FoundFamily, ...]
    recorded: tuple[RecordSpectrum, ...]
    whitened: tuple[RecordSpectrum, ...]
    envelopes: tuple[EnvelopeOrders, ...]
    highest_order: float
    not_judged: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Context:
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


def find_families(  # noqa: PLR0913 (facts of recording, machine and limits)
    samples: NDArray[np.float64],
    sampling_rate_hz: float,
    *,
    shaft_frequency_hz: float,
    bearings: Sequence[RollingBearing],
    slip_percent: float,
    limits: FamilyLimits,
    is_calibrated: bool,
    usable_hz: tuple[float, float] | None = None,
    progress: Callable[[], None] | None = None,
) -> FamilyReport:
    """Search all families of all bearings in one recording and size them.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        At equal times, or at equal shaft angles with ``sampling_rate_hz`` the
        samples per turn times the mean shaft frequency.
    sampling_rate_hz : float
        Above 0.
    shaft_frequency_hz : float
        Mean over the recording, above 0.
    bearings : sequence of RollingBearing
        Identical bearings may be among them; they are named together.
    slip_percent : float
        Half width of the search about the kinematic orders.
    limits : FamilyLimits
        Sizes and significance that decide.
    is_calibrated : bool
        Whether ``samples`` are in m/s^2: without, no strike amplitude is given.
    usable_hz : tuple of float, optional
        Usable band of the sensor.
    progress : callable, optional
        Called once per band.

    Returns
    -------
    FamilyReport
        One finding per element of every distinct bearing; ``not_judged`` says why
        where there is none.
    """
    distinct = _distinct(bearings)
    combs = bearing_combs(distinct)
    if not combs:
        return _nothing("no bearing with geometry or orders on the card")
    fastest = max(comb.strike_order for comb in combs)
    bands = bank_bands(
        sampling_rate_hz, shaft_frequency_hz, fastest_strike_order=fastest, usable_hz=usable_hz
    )
    if not bands:
        return _nothing(
            f"a sampling rate of {sampling_rate_hz:g} Hz leaves no band above the working motion "
            "that is wide enough to carry the strikes"
        )
    highest_order = max(HARMONICS) * fastest + 2.5
    recorded, whitened = block_spectra(samples, sampling_rate_hz)
    envelopes = list(
        envelope_bank(
            whitened,
            bands,
            shaft_frequency_hz=shaft_frequency_hz,
            highest_order=highest_order,
            progress=progress,
        )
    )
    context = _Context(
        bearings=tuple(distinct),
        spots=tuple(spot for bearing in distinct for spot in blind_spots(bearing, slip_percent)),
        recorded=recorded,
        shaft_frequency_hz=shaft_frequency_hz,
        highest_order=highest_order,
        slip=slip_percent / 100,
        limits=limits,
        n_families=len(combs),
        is_calibrated=is_calibrated,
    )
    found = search_families(
        envelopes,
        combs,
        slip=context.slip,
        significance=limits.false_alarm_probability,
        windows=lambda comb, explained: _window(context, comb, explained),
    )
    findings = [_finding(context, family) for family in found]
    findings = [_with_blind_spot(context, finding, envelopes) for finding in findings]
    excluded = {f.comb.bearing for f in found if _excludes_element(context, f, combs)}
    findings = _name_cage_or_element(context, findings, excluded)
    findings = _name_coinciding(context, findings, bearings)
    findings.sort(key=lambda f: (-int(f.present), f.false_alarm_probability, -f.depth_whitened))
    return FamilyReport(
        findings=tuple(findings),
        found=found,
        recorded=tuple(recorded),
        whitened=tuple(whitened),
        envelopes=tuple(envelopes),
        highest_order=highest_order,
    )


def _nothing(reason: str) -> FamilyReport:
    return FamilyReport(
        findings=(),
        found=(),
        recorded=(),
        whitened=(),
        envelopes=(),
        highest_order=0.0,
        not_judged=reason,
    )


def _distinct(bearings: Sequence[RollingBearing]) -> list[RollingBearing]:
    """Bearings with different orders or load cases; identical ones cannot be told apart."""
    kept: list[RollingBearing] = []
    for bearing in bearings:
        twin = any(
            defect_orders(bearing) == defect_orders(other) and bearing.load_case == other.load_case
            for other in kept
        )
        if not twin:
            kept.append(bearing)
    return kept


def _window(context: _Context, comb: Comb, explained: Sequence[FoundFamily]) -> tuple[float, float]:
    """Where to search a comb: its slip window, or where an explained family puts the cage."""
    ring = {Element.OUTER_RING, Element.INNER_RING}
    partner = next(
        (
            family
            for family in explained
            if family.comb.bearing == comb.bearing
            and family.comb.element in ring
            and comb.element in ring
        ),
        None,
    )
    if partner is None:
        return comb.strike_order, context.slip
    bearing = next(b for b in context.bearings if b.name == comb.bearing)
    kinematic = comb.strike_order + partner.comb.strike_order
    # BPFO + BPFI = Z; given orders may be rounded, so what they miss Z by widens the window.
    expected = bearing.element_count - partner.order
    mismatch = abs(kinematic - bearing.element_count) / bearing.element_count
    allowed = CAGE_AGREEMENT + mismatch
    low = max(comb.strike_order * (1 - context.slip), expected * (1 - allowed))
    high = min(comb.strike_order * (1 + context.slip), expected * (1 + allowed))
    if low >= high:
        return comb.strike_order, context.slip
    return 0.5 * (low + high), 0.5 * (high - low) / (0.5 * (low + high))


def _deepest(family: FoundFamily) -> tuple[float, EnvelopeOrders]:
    """Largest depth among the bands in which the comb stands out nearly as well as in the best."""
    least = EVIDENCE_SHARE * max(evidence for evidence, _ in family.band_evidence)
    readings = [
        (modulation_depth(envelope, family.order, family.width_lines), envelope)
        for evidence, envelope in family.band_evidence
        if evidence >= least
    ]
    return max(readings, key=lambda reading: reading[0])


def _finding(context: _Context, family: FoundFamily) -> FamilyFinding:
    depth_whitened, envelope = _deepest(family)
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
    return _judged(finding, context.limits)


def _judged(finding: FamilyFinding, limits: FamilyLimits) -> FamilyFinding:
    """Significance and size together decide."""
    significant = finding.false_alarm_probability <= limits.false_alarm_probability
    result = CriterionResult.PASS
    if significant and finding.depth_whitened >= limits.depth_hold:
        result = CriterionResult.HOLD
    elif significant and finding.depth_whitened >= limits.depth_watch:
        result = CriterionResult.WATCH
    present = significant and finding.depth_whitened >= limits.depth_present
    return replace(finding, result=result, present=present)


def _impact(context: _Context, family: FoundFamily) -> float:
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


def _band_impact(context: _Context, family: FoundFamily, band_hz: tuple[float, float]) -> float:
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


def _with_blind_spot(
    context: _Context, finding: FamilyFinding, envelopes: Sequence[EnvelopeOrders]
) -> FamilyFinding:
    """Mark a family whose slip range holds a whole order, and look at the shaft line itself."""
    spot = next(
        (
            spot
            for spot in context.spots
            if spot.bearing == finding.bearing
            and spot.element is finding.element
            and spot.kind == "shaft-line"
        ),
        None,
    )
    if spot is None:
        return finding
    marked = replace(finding, blind_spot=True, detail=spot.sentence)
    if spot.at_order is None or not float(spot.at_order).is_integer():
        return marked
    locked = shaft_locked_family(envelopes, int(spot.at_order))
    probability = min(1.0, locked.probability * context.n_families)
    if (
        probability > context.limits.false_alarm_probability
        or locked.depth <= finding.depth_whitened
    ):
        return marked
    recorded = envelope_orders(
        context.recorded,
        locked.envelope.band_hz,
        shaft_frequency_hz=context.shaft_frequency_hz,
        highest_order=context.highest_order,
    )
    order = float(spot.at_order)
    at_shaft = replace(
        marked,
        order=order,
        frequency_hz=order * context.shaft_frequency_hz,
        slip_percent=100 * (order / (finding.order / (1 + finding.slip_percent / 100)) - 1),
        false_alarm_probability=probability,
        depth=modulation_depth(recorded, order, 1),
        depth_whitened=locked.depth,
        band_hz=locked.envelope.band_hz,
        line_to_floor_db=line_to_floor_db(locked.envelope, order, 1),
        ambiguous_with=(f"{spot.at_order:g}x of the shaft",),
    )
    return _judged(at_shaft, context.limits)


def _excludes_element(context: _Context, family: FoundFamily, combs: Sequence[Comb]) -> bool:
    """Whether this cage family's band shows that nothing strikes at twice the spin order."""
    comb = next(
        (
            comb
            for comb in combs
            if comb.bearing == family.comb.bearing and comb.element is Element.ROLLING_ELEMENT
        ),
        None,
    )
    if family.comb.element is not Element.CAGE or comb is None:
        return False
    _, envelope = _deepest(family)
    masked = explained_lines(
        envelope.order,
        family.order,
        order_spacing=envelope.order_spacing,
        width_lines=family.width_lines,
    )
    low, high = (comb.strike_order * (1 + sign * context.slip) for sign in (-1, 1))
    window = np.arange(low, high, 0.5 * envelope.order_spacing)
    number = np.minimum(np.rint(window / envelope.order_spacing).astype(int), masked.size - 1)
    between = window[~masked[number]]
    if between.size < LEAST_WINDOW * window.size:
        return False
    cage_depth = modulation_depth(envelope, family.order, family.width_lines)
    largest = max(modulation_depth(envelope, order, EXCLUSION_WIDTH) for order in between)
    return largest <= EXCLUDED_SHARE * cage_depth


def _name_cage_or_element(
    context: _Context, findings: list[FamilyFinding], excluded: set[str]
) -> list[FamilyFinding]:
    """A cage-rate family belongs to the rolling element too, unless that is excluded.

    A defect on a rolling element is carried through the load zone at the cage
    rate, so its family includes the cage's lines (W. A. Smith and R. B. Randall,
    MSSP 64-65 (2015) 100-131, table 1). Only where the recording is sharp enough
    to show that nothing strikes at twice the spin order is the cage named alone.
    """
    named = list(findings)
    for i, cage in enumerate(findings):
        if cage.element is not Element.CAGE or not cage.present:
            continue
        if (cage.bearing, Element.ROLLING_ELEMENT) not in {
            (f.bearing, f.element) for f in findings
        }:
            named[i] = replace(
                cage,
                ambiguous_with=(Element.ROLLING_ELEMENT.value,),
                detail="the card gives no order for the rolling element, so it was not searched",
            )
        for j, other in enumerate(findings):
            if other.bearing != cage.bearing or other.element is not Element.ROLLING_ELEMENT:
                continue
            if cage.bearing in excluded and not other.present:
                continue
            named[i] = replace(
                cage,
                present=False,
                ambiguous_with=(Element.ROLLING_ELEMENT.value,),
                detail="cage-rate lines are explained by the rolling element or by the cage",
            )
            if not other.present:
                joint = replace(
                    other,
                    false_alarm_probability=cage.false_alarm_probability,
                    depth=cage.depth,
                    depth_whitened=cage.depth_whitened,
                    impact_m_s2=cage.impact_m_s2,
                    band_hz=cage.band_hz,
                    detail="size and significance are those of its lines at the cage rate "
                    f"({cage.order:.3f}x)",
                )
                named[j] = _judged(joint, context.limits)
            named[j] = replace(named[j], ambiguous_with=(Element.CAGE.value,))
    return named


def _name_coinciding(
    context: _Context, findings: list[FamilyFinding], bearings: Sequence[RollingBearing]
) -> list[FamilyFinding]:
    """Name every element and bearing that this family could as well belong to."""
    named = []
    for finding in findings:
        others = list(finding.ambiguous_with)
        for other in findings:
            if other is finding or (other.bearing, other.element) == (
                finding.bearing,
                finding.element,
            ):
                continue
            kinematic = other.order / (1 + other.slip_percent / 100)
            if abs(finding.order / kinematic - 1) <= context.slip and finding.present:
                same = other.bearing == finding.bearing
                others.append(
                    other.element.value if same else f"{other.element.value} of {other.bearing}"
                )
        own = next(b for b in context.bearings if b.name == finding.bearing)
        others += [
            f"{finding.element.value} of {bearing.name}"
            for bearing in bearings
            if bearing.name != own.name
            and defect_orders(bearing) == defect_orders(own)
            and bearing.load_case == own.load_case
        ]
        named.append(replace(finding, ambiguous_with=tuple(dict.fromkeys(others))))
    return named
