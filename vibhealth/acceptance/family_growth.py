"""A family against its own size in the reference: the ratio decides, small depths count too."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

from vibhealth.acceptance._evidence import Evidence, point_of
from vibhealth.acceptance._words import AS_REFERENCE
from vibhealth.acceptance.combined_evidence import Reading
from vibhealth.acceptance.references import PointReference
from vibhealth.baseline import FamilyStatistic
from vibhealth.model import Criterion, CriterionResult, Element, Hold, ReferenceRank

__all__ = ["Growth", "family_growth", "with_growth"]

# A family of hold size is excused up to this many times depth_hold, at an order within this share
# of the reference's (starting values, common practice, no source).
EXCUSED_OVER_HOLD = 1.5
SAME_ORDER = 0.01

CALL = "Do not load the machine. Call the engineer."


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How much deeper a family is than in the reference, at the point where that is most.

    ``depth`` is the median of the recordings that have a vote. ``shown_ratio`` is that of the
    deepest reading that shows it, ``is_known`` whether the reference shows the same family too
    (significant, at the same order) at every point that does: only then may it be excused.
    ``is_blind`` says that it lies where lines of the shaft are read along with it.
    """

    ratio: float
    depth: float
    depth_before: float
    reference: PointReference
    shown_ratio: float = 0.0
    shown_depth: float = 0.0
    is_known: bool = False
    is_blind: bool = False


def family_growth(
    evidence: Evidence,
    bearing: str,
    element: Element,
    readings: Sequence[Reading],
    shown: Sequence[Reading],
) -> Growth | None:
    """Largest ratio over the reference among the points; None where none has one.

    Parameters
    ----------
    evidence : Evidence
        With the references of its points.
    bearing, element
        The family.
    readings, shown : sequence of Reading
        All of it, and those that show it.

    Returns
    -------
    Growth or None
    """
    votes = [r for r in readings if not r[0].masked or r[1].result is not CriterionResult.PASS]
    rows = []
    for point in dict.fromkeys(point_of(analysis) for analysis, _ in votes):
        reference = evidence.reference_of(point)
        was = _family_of(reference, bearing, element)
        if reference is None or was is None:
            continue
        of_point = [finding for analysis, finding in votes if point_of(analysis) == point]
        depth = median(finding.depth_whitened for finding in of_point)
        rows.append(
            Growth(
                ratio=depth / was.depth_whitened,
                depth=depth,
                depth_before=was.depth_whitened,
                reference=reference,
                is_blind=all(finding.blind_spot for finding in of_point),
            )
        )
    if not rows:
        return None
    most = max(rows, key=lambda row: row.ratio / row.reference.widening)
    return replace(
        most,
        shown_ratio=_shown_ratio(evidence, bearing, element, shown),
        shown_depth=max((finding.depth_whitened for _, finding in shown), default=0.0),
        is_known=all(_is_known(evidence, bearing, element, reading) for reading in shown),
    )


def _family_of(
    reference: PointReference | None, bearing: str, element: Element
) -> FamilyStatistic | None:
    if reference is None or reference.baseline is None:
        return None
    return reference.baseline.family(bearing, element)


def _shown_ratio(
    evidence: Evidence, bearing: str, element: Element, shown: Sequence[Reading]
) -> float:
    """Of the deepest reading over the reference of its point; infinite where one has none."""
    ratios = [0.0]
    for analysis, finding in shown:
        was = _family_of(evidence.reference_of(point_of(analysis)), bearing, element)
        ratios.append(math.inf if was is None else finding.depth_whitened / was.depth_whitened)
    return max(ratios)


def _is_known(evidence: Evidence, bearing: str, element: Element, reading: Reading) -> bool:
    """Whether the reference shows this family, at this order, in half of its recordings or more."""
    was = _family_of(evidence.reference_of(point_of(reading[0])), bearing, element)
    if was is None:
        return False
    limit = evidence.limits.value("family_false_alarm_probability")
    same = [
        row
        for row in was.readings
        if row.false_alarm_probability <= limit
        and abs(row.order / reading[1].order - 1) <= SAME_ORDER
    ]
    return 2 * len(same) >= len(was.readings)


def with_growth(
    criterion: Criterion, growth: Growth | None, evidence: Evidence, *, is_sure: bool
) -> Criterion:
    """The criterion of a family, decided by its growth where there is a reference.

    Parameters
    ----------
    criterion : Criterion
        As the absolute limits have it.
    growth : Growth or None
        None where there is no reference.
    evidence : Evidence
        With the limits in force.
    is_sure : bool
        Whether the family is significant.

    Returns
    -------
    Criterion
        Held or watched families that are no deeper than in the reference are a watch and a
        pass; significant ones that have grown beyond the limits hold, however small.
    """
    if growth is None or criterion.result is CriterionResult.NOT_JUDGED:
        return criterion
    result = _result(criterion.result, growth, evidence, is_sure=is_sure)
    compared = (
        f"{growth.ratio:.1f} times the {growth.depth_before:.2f} in {growth.reference.words} "
        f"({growth.reference.point})"
    )
    detail = "; ".join(filter(None, [criterion.detail, compared]))
    if result is criterion.result:
        return replace(criterion, detail=detail)
    hold = evidence.limits.value("baseline_depth_hold_ratio") * growth.reference.widening
    source = f"{evidence.limits.source('baseline_depth_hold_ratio')}; {hold:g} times the reference"
    if result is CriterionResult.HOLD:
        return replace(
            criterion,
            result=result,
            hold=Hold.FIX,
            value=growth.depth,
            limit=hold * growth.depth_before,
            limit_source=source,
            reason=f"The ticking of the {criterion.title[:1].lower()}{criterion.title[1:]} has grown: "
            f"modulation depth {growth.depth:.2f}, {compared}.",
            advice=CALL,
            detail=detail,
        )
    is_grown = growth.ratio > evidence.limits.value("baseline_depth_watch_ratio")
    return replace(
        criterion,
        result=result,
        hold=None,
        value=growth.depth,
        limit=hold * growth.depth_before,
        limit_source=source,
        reason="",
        advice=""
        if result is CriterionResult.PASS
        else "A small regular ticking has grown: record again within a shift."
        if is_grown
        else "A regular ticking, no more than in the reference: record again within a week; it "
        "must not grow.",
        detail=detail if is_grown else f"{detail}; {AS_REFERENCE}",
    )


def _result(
    absolute: CriterionResult, growth: Growth, evidence: Evidence, *, is_sure: bool
) -> CriterionResult:
    limits, widening = evidence.limits, growth.reference.widening
    watch = limits.value("baseline_depth_watch_ratio")
    hold = limits.value("baseline_depth_hold_ratio") * widening
    is_shown = absolute is not CriterionResult.PASS
    if is_shown and growth.is_known and growth.shown_ratio <= watch:
        return _excused(absolute, growth, limits.value("depth_hold"))
    if not (is_sure or is_shown):
        return absolute
    is_large = growth.depth >= limits.value("grown_depth_hold")
    if growth.ratio > hold and is_large and not growth.is_blind:
        return CriterionResult.HOLD
    grown = growth.depth >= limits.value("grown_depth_watch") and growth.ratio > watch * widening
    return CriterionResult.WATCH if grown and not is_shown else absolute


def _excused(absolute: CriterionResult, growth: Growth, depth_hold: float) -> CriterionResult:
    """Of what the reference shows too: a watch passes, what is of hold size stays to be watched.

    Not far beyond hold size, and not by a sister machine: that is no line of a healthy bearing.
    """
    if absolute is CriterionResult.WATCH:
        return CriterionResult.PASS
    is_own = growth.reference.rank is ReferenceRank.KNOWN_GOOD
    is_near = growth.shown_depth <= EXCUSED_OVER_HOLD * depth_hold
    return CriterionResult.WATCH if is_own and is_near else absolute
