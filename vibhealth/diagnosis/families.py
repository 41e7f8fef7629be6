"""Defect families of one recording: search, size, name, and say what is ambiguous."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import blind_spots, defect_orders
from vibhealth.diagnosis.cage_or_element import name_cage_or_element
from vibhealth.diagnosis.cage_speed import cage_speeds, expected_order, reject_contradictions
from vibhealth.diagnosis.comb import HARMONICS, Comb, bearing_combs
from vibhealth.diagnosis.envelope_bank import (
    EnvelopeOrders,
    bank_bands,
    block_spectra,
    envelope_bank,
)
from vibhealth.diagnosis.family_naming import name_coinciding, with_blind_spot
from vibhealth.diagnosis.family_search import FoundFamily, search_families
from vibhealth.diagnosis.family_sizing import (
    FamilyContext,
    FamilyLimits,
    deepest_reading,
    sized_finding,
)
from vibhealth.diagnosis.ring_pattern import Pattern, ring_pattern
from vibhealth.model import CageSpeed, Element, FamilyFinding, LoadCase, RollingBearing
from vibhealth.signal import RecordSpectrum

__all__ = ["FamilyLimits", "FamilyReport", "find_families"]


SWINGING_LOADS = {LoadCase.ROTATING, LoadCase.TWICE_PER_TURN}


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyReport:
    """Findings with what the figures, the sensitivity and a trend need besides."""

    findings: tuple[FamilyFinding, ...]
    found: tuple[FoundFamily, ...]
    recorded: tuple[RecordSpectrum, ...]
    whitened: tuple[RecordSpectrum, ...]
    envelopes: tuple[EnvelopeOrders, ...]
    highest_order: float
    cage_speeds: tuple[CageSpeed, ...] = ()
    not_judged: str = ""

    @classmethod
    def without(cls, reason: str) -> "FamilyReport":
        """A report without findings, and why."""
        return cls(
            findings=(),
            found=(),
            recorded=(),
            whitened=(),
            envelopes=(),
            highest_order=0.0,
            not_judged=reason,
        )


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
        return FamilyReport.without("no bearing with geometry or orders on the card")
    fastest = max(comb.strike_order for comb in combs)
    bands = bank_bands(
        sampling_rate_hz, shaft_frequency_hz, fastest_strike_order=fastest, usable_hz=usable_hz
    )
    if not bands:
        return FamilyReport.without(
            f"a sampling rate of {sampling_rate_hz:g} Hz leaves no band above the working motion "
            "that is wide enough to carry the strikes"
        )
    highest_order = max(HARMONICS) * fastest + 2.5
    recorded, whitened = block_spectra(
        samples,
        sampling_rate_hz,
        shaft_frequency_hz=shaft_frequency_hz,
        lowest_hz=bands[0][0],
    )
    envelopes = list(
        envelope_bank(
            whitened,
            bands,
            shaft_frequency_hz=shaft_frequency_hz,
            highest_order=highest_order,
            progress=progress,
        )
    )
    context = FamilyContext(
        bearings=tuple(distinct),
        spots=tuple(spot for bearing in distinct for spot in blind_spots(bearing, slip_percent)),
        recorded=recorded,
        whitened=whitened,
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
    findings = [sized_finding(context, family) for family in found]
    findings = [with_blind_spot(context, finding, envelopes) for finding in findings]
    findings = name_cage_or_element(context, findings, found)
    findings = reject_contradictions(distinct, found, findings)
    findings = name_coinciding(context, findings, bearings)
    findings = _with_pattern(context, findings, found)
    findings.sort(key=lambda f: (-int(f.present), f.false_alarm_probability, -f.depth_whitened))
    return FamilyReport(
        findings=tuple(findings),
        cage_speeds=cage_speeds(distinct, found, findings),
        found=found,
        recorded=tuple(recorded),
        whitened=tuple(whitened),
        envelopes=tuple(envelopes),
        highest_order=highest_order,
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


def _window(
    context: FamilyContext, comb: Comb, explained: Sequence[FoundFamily]
) -> tuple[float, float]:
    """Where to search a comb: its slip window, or for a ring where the other ring puts the cage."""
    rings = {Element.OUTER_RING, Element.INNER_RING}
    bearing = next(b for b in context.bearings if b.name == comb.bearing)
    others = [family for family in explained if family.comb.element in rings]
    expected = expected_order(bearing, comb, others) if comb.element in rings else None
    if expected is None:
        return comb.strike_order, context.slip
    order, allowed = expected
    low = max(comb.strike_order * (1 - context.slip), order * (1 - allowed))
    high = min(comb.strike_order * (1 + context.slip), order * (1 + allowed))
    if low >= high:
        return comb.strike_order, context.slip
    return 0.5 * (low + high), (high - low) / (low + high)


def _with_pattern(
    context: FamilyContext, findings: Sequence[FamilyFinding], found: Sequence[FoundFamily]
) -> list[FamilyFinding]:
    """Tell one mark from marks all round for the ring families that are present.

    That side bands are missing says something only where the load is sure to swing the
    strikes: on a machine that shakes by its own unbalance, not where a card supposes a
    stationary load (seeded single spalls of open data sets show none there).
    """
    families = {family.comb.key: family for family in found}
    swung = {b.name for b in context.bearings if b.load_case in SWINGING_LOADS}
    patterned = []
    for finding in findings:
        family = families[finding.bearing, finding.element]
        pattern: Pattern = ""
        if finding.present and finding.order == family.order:
            depth, envelope = deepest_reading(family)
            pattern = ring_pattern(family, envelope, depth)
            if pattern == "marks-at-every-element" and finding.bearing not in swung:
                pattern = ""
        patterned.append(replace(finding, pattern=pattern))
    return patterned
