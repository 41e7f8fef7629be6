"""One bearing has one cage: what each family says of its speed, and what they say together.

The passing rates of both rings are proportional to the speed of the cage against that ring
(BPFO = Z |f_c - f_o|, BPFI = Z |f_i - f_c|: T. A. Harris, Rolling Bearing Analysis, 4th ed.
2001, from memory), so that BPFO + BPFI = Z |f_i - f_o| whatever the cage slips. A rolling
element may slide about its own axis and takes no part.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from vibhealth.bearing import defect_orders, orders_at_cage
from vibhealth.diagnosis.comb import Comb
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.model import CageSpeed, CriterionResult, Element, FamilyFinding, RollingBearing

__all__ = ["CageReading", "cage_reading", "cage_speeds", "expected_order", "reject_contradictions"]

# Rings and cage of one bearing must agree on the cage speed within this share: what the mean over
# one family's strikes can differ from another's within a recording (starting value, no source).
CAGE_AGREEMENT = 0.003

# A comb is matched within half a line at its highest harmonic; a spread line within half its width
# at the first. Taken as the standard deviation of an even distribution: width / sqrt(12).
EVEN = math.sqrt(12.0)
NORMAL_95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class CageReading:
    """Cage order that one family implies, with its standard uncertainty."""

    element: Element
    order: float
    uncertainty: float


def _is_against_load(bearing: RollingBearing, comb: Comb) -> bool:
    """Whether the cage's comb stands at 1 - FTF (load turning with the shaft)."""
    cage = defect_orders(bearing).cage
    return abs(comb.strike_order - abs(1.0 - cage)) < abs(comb.strike_order - cage)


def _cage_and_slope(
    bearing: RollingBearing, comb: Comb, order: float
) -> tuple[float, float] | None:
    """Cage order at which the comb stands at ``order``, and its change per order of the comb."""
    cage = defect_orders(bearing).cage
    if comb.element is Element.CAGE:
        return (1.0 - order, -1.0) if _is_against_load(bearing, comb) else (order, 1.0)
    if comb.element is Element.ROLLING_ELEMENT:
        return None
    here = orders_at_cage(bearing, cage).strike_order(comb.element)
    beside = orders_at_cage(bearing, 1.001 * cage).strike_order(comb.element)
    if here is None or beside is None or here == beside:
        return None
    slope = 0.001 * cage / (beside - here)
    return cage + (order - here) * slope, slope


def cage_reading(bearing: RollingBearing, family: FoundFamily) -> CageReading | None:
    """What a family says of the cage.

    Parameters
    ----------
    bearing : RollingBearing
        The family's bearing.
    family : FoundFamily
        With its order and the width over which its lines are spread.

    Returns
    -------
    CageReading or None
        None for a rolling element, which may slide about its own axis.
    """
    reading = _cage_and_slope(bearing, family.comb, family.order)
    if reading is None:
        return None
    order, slope = reading
    spacing = family.envelope.order_spacing
    width = spacing * (family.width_lines if family.width_lines > 1 else 1.0)
    return CageReading(
        element=family.comb.element, order=order, uncertainty=width / EVEN * abs(slope)
    )


def expected_order(
    bearing: RollingBearing, comb: Comb, explained: Sequence[FoundFamily]
) -> tuple[float, float] | None:
    """Order of a comb, and how far off it may lie as a share, given the bearing's other families.

    Parameters
    ----------
    bearing : RollingBearing
        The comb's bearing.
    comb : Comb
        Family that is searched.
    explained : sequence of FoundFamily
        Families found so far, of any bearing.

    Returns
    -------
    (order, share) or None
        None where no ring or cage of this bearing was found, or the comb is a rolling
        element's.
    """
    readings = [
        reading
        for family in explained
        if family.comb.bearing == bearing.name
        and (reading := cage_reading(bearing, family)) is not None
    ]
    own = _cage_and_slope(bearing, comb, comb.strike_order)
    if not readings or own is None:
        return None
    best = min(readings, key=lambda reading: reading.uncertainty)
    kinematic, slope = own
    order = comb.strike_order + (best.order - kinematic) / slope
    off = (CAGE_AGREEMENT * best.order + 3 * best.uncertainty) / abs(slope)
    return order, off / order + _rounding(bearing)


def _rounding(bearing: RollingBearing) -> float:
    """Share by which given orders miss BPFO + BPFI = Z: they may be rounded."""
    orders = defect_orders(bearing)
    missed = abs(orders.outer_ring + orders.inner_ring - bearing.element_count)
    return missed / bearing.element_count


def reject_contradictions(
    bearings: Sequence[RollingBearing],
    found: Sequence[FoundFamily],
    findings: Sequence[FamilyFinding],
) -> list[FamilyFinding]:
    """Take back the naming of a ring or cage that needs another cage speed than a surer family.

    Parameters
    ----------
    bearings : sequence of RollingBearing
        Bearings that were searched.
    found : sequence of FoundFamily
        What the search made of their families.
    findings : sequence of FamilyFinding
        One per family.

    Returns
    -------
    list of FamilyFinding
        In the same order; a rejected one is not present, at most to be watched, and says why.
    """
    families = {family.comb.key: family for family in found}
    checked = list(findings)
    for bearing in bearings:
        own = [(i, f) for i, f in enumerate(findings) if f.bearing == bearing.name and f.present]
        sure: list[CageReading] = []
        for i, finding in sorted(own, key=lambda pair: pair[1].false_alarm_probability):
            family = families[finding.bearing, finding.element]
            reading = cage_reading(bearing, family)
            if reading is None or family.order != finding.order:
                continue
            contradicted = next((s for s in sure if not _agree(bearing, s, reading)), None)
            if contradicted is None:
                sure.append(reading)
                continue
            checked[i] = replace(
                finding,
                present=False,
                result=CriterionResult.WATCH,
                detail=f"needs a cage speed of {reading.order:.4f}x, against the "
                f"{contradicted.order:.4f}x of the {contradicted.element.words}: one bearing "
                "has one cage, so it is not taken for this element",
            )
    return checked


def _agree(bearing: RollingBearing, one: CageReading, other: CageReading) -> bool:
    allowed = (CAGE_AGREEMENT + _rounding(bearing)) * one.order
    return abs(one.order - other.order) <= allowed + 3 * (one.uncertainty + other.uncertainty)


def cage_speeds(
    bearings: Sequence[RollingBearing],
    found: Sequence[FoundFamily],
    findings: Sequence[FamilyFinding],
) -> tuple[CageSpeed, ...]:
    """The cage speed of every bearing that shows a significant ring or cage family.

    Readings are weighted with their inverse squared uncertainty; the interval holds 95 of
    100 cases and is never narrower than the readings' own spread.

    Parameters
    ----------
    bearings : sequence of RollingBearing
        Bearings that were searched.
    found : sequence of FoundFamily
        What the search made of their families.
    findings : sequence of FamilyFinding
        Only families that are not a pass here, and are found at the searched order, count.

    Returns
    -------
    tuple of CageSpeed
        In the order of ``bearings``.
    """
    shown = {
        (f.bearing, f.element): f.order for f in findings if f.present or f.result.value != "pass"
    }
    speeds = []
    for bearing in bearings:
        readings = [
            reading
            for family in found
            if family.comb.bearing == bearing.name
            and shown.get(family.comb.key) == family.order
            and (reading := cage_reading(bearing, family)) is not None
        ]
        if readings:
            speeds.append(_joint(bearing, readings))
    return tuple(speeds)


def _joint(bearing: RollingBearing, readings: Sequence[CageReading]) -> CageSpeed:
    weights = [1.0 / reading.uncertainty**2 for reading in readings]
    order = sum(w * r.order for w, r in zip(weights, readings, strict=True)) / sum(weights)
    spread = max(abs(reading.order - order) for reading in readings)
    half = max(NORMAL_95 / math.sqrt(sum(weights)), spread)
    kinematic = defect_orders(bearing).cage
    return CageSpeed(
        bearing=bearing.name,
        order=order,
        low=order - half,
        high=order + half,
        slip_percent=100 * (order / kinematic - 1),
        elements=tuple(reading.element for reading in readings),
    )
