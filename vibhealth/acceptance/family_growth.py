"""A family against its own size in the reference: the ratio decides, small depths count too."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

from vibhealth.acceptance._evidence import Evidence, point_of
from vibhealth.acceptance._words import AS_REFERENCE
from vibhealth.acceptance.combined_evidence import Reading
from vibhealth.acceptance.references import PointReference
from vibhealth.model import Criterion, CriterionResult, Element, Hold

__all__ = ["Growth", "family_growth", "with_growth"]

CALL = "Do not load the machine. Call the engineer."


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How much deeper a family is than in the reference, at the point where that is most.

    ``is_complete`` says that every point that shows it has a reference, so that the ratio may
    excuse it; ``is_blind`` that it lies where lines of the shaft are read along with it, which
    come and go.
    """

    ratio: float
    depth: float
    depth_before: float
    reference: PointReference
    is_complete: bool
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
    rows: list[Growth] = []
    points = dict.fromkeys(point_of(analysis) for analysis, _ in readings)
    compared = set()
    for point in points:
        reference = evidence.reference_of(point)
        was = (
            reference.baseline.family(bearing, element)
            if reference and reference.baseline
            else None
        )
        if reference is None or was is None:
            continue
        compared.add(point)
        depth = median(f.depth_whitened for a, f in readings if point_of(a) == point)
        rows.append(
            Growth(
                ratio=depth / was.depth_whitened,
                depth=depth,
                depth_before=was.depth_whitened,
                reference=reference,
                is_complete=False,
                is_blind=all(f.blind_spot for a, f in readings if point_of(a) == point),
            )
        )
    if not rows:
        return None
    showing = {point_of(analysis) for analysis, _ in shown}
    most = max(rows, key=lambda row: row.ratio / row.reference.widening)
    return replace(most, is_complete=showing <= compared)


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
    watch = limits.value("baseline_depth_watch_ratio") * widening
    hold = limits.value("baseline_depth_hold_ratio") * widening
    is_shown = absolute is not CriterionResult.PASS
    if is_shown and growth.is_complete and growth.ratio <= watch:
        # Of hold size it stays to be watched, whatever the reference says.
        is_held = absolute is CriterionResult.HOLD
        return CriterionResult.WATCH if is_held else CriterionResult.PASS
    if not (is_sure or is_shown):
        return absolute
    is_large = growth.depth >= limits.value("grown_depth_hold")
    if growth.ratio > hold and is_large and not growth.is_blind:
        return CriterionResult.HOLD
    grown = growth.ratio > watch and growth.depth >= limits.value("grown_depth_watch")
    return CriterionResult.WATCH if grown and not is_shown else absolute
