"""Criteria of sensitivity: what small fault would have been found."""

import math
from collections.abc import Iterable

from vibhealth.acceptance._evidence import Evidence, graded, label, not_judged
from vibhealth.bearing import blind_spots
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Element,
    Group,
    Hold,
    RecordingAnalysis,
    SensitivityFinding,
)

__all__ = ["found_words", "most_sensitive", "sensitivity_criteria"]

ADVICE = "Record longer, with the sensor nearer to the bearing, without material."
ADVICE_BESIDE_A_FAULT = (
    "Mend what was found first; the recordings after the repair tell this element anew."
)
FOUND_MEANS = "found: significant, and of at least watch size"

Sensitive = tuple[RecordingAnalysis, SensitivityFinding]


def found_words(finding: SensitivityFinding) -> str:
    """What would have been found of one element, as a sentence without its full stop.

    >>> found_words(SensitivityFinding(bearing="upper", element=Element.OUTER_RING,
    ...     detectable_depth=0.041, detectable_impact_m_s2=0.06, probability=0.95))
    'an outer-ring defect striking with 0.06 m/s² or more would have been found (95 of 100)'
    """
    article = "an" if finding.element in {Element.OUTER_RING, Element.INNER_RING} else "a"
    defect = f"{article} {finding.element.value} defect"
    depth, impact = finding.detectable_depth, finding.detectable_impact_m_s2
    if not math.isfinite(depth):
        return f"{defect}: no size tried would have been found"
    size = f"with a modulation depth of {depth:.2g} or more"
    if impact is not None and math.isfinite(impact):
        size = f"striking with {impact:.2g} m/s² or more"
    return f"{defect} {size} would have been found ({100 * finding.probability:.3g} of 100)"


def most_sensitive(analyses: Iterable[RecordingAnalysis]) -> tuple[Sensitive, ...]:
    """Of every bearing and element the recording that shows the smallest defect; worst first.

    A defect need be seen only once. The worst is the element of which no size tried was
    found, then the one that must strike hardest, or without calibration be deepest.

    Parameters
    ----------
    analyses : iterable of RecordingAnalysis
        Of one stage.

    Returns
    -------
    tuple of (RecordingAnalysis, SensitivityFinding)
    """
    best: dict[tuple[str, Element], Sensitive] = {}
    for analysis in analyses:
        for finding in analysis.sensitivity:
            key = finding.bearing, finding.element
            if key not in best or finding.detectable_depth < best[key][1].detectable_depth:
                best[key] = analysis, finding
    rows = list(best.values())
    by_strike = all(
        _is_known(finding.detectable_impact_m_s2) or not math.isfinite(finding.detectable_depth)
        for _, finding in rows
    )
    return tuple(sorted(rows, key=lambda row: _size(row[1], by_strike=by_strike), reverse=True))


def _is_known(impact: float | None) -> bool:
    return impact is not None and math.isfinite(impact)


def _size(finding: SensitivityFinding, *, by_strike: bool) -> float:
    if not math.isfinite(finding.detectable_depth):
        return math.inf
    if by_strike and finding.detectable_impact_m_s2 is not None:
        return finding.detectable_impact_m_s2
    return finding.detectable_depth


def sensitivity_criteria(evidence: Evidence) -> list[Criterion]:
    """Would a small fault have been found? Without this a PASS is worth nothing.

    An element in a blind spot of the bearing is watched at most: recording again does not
    mend it, and the blind spot is said with every verdict.
    """
    limits = evidence.limits
    title, id_ = "Smallest depth that would have been found", "detectable-depth"
    hold, source = limits.value("detectable_depth_hold"), limits.source("detectable_depth_hold")
    missing = [analysis for analysis in evidence.after if not analysis.sensitivity]
    if missing:
        return [
            not_judged(
                id_,
                Group.SENSITIVITY,
                title,
                reason=f"{label(missing[0])}: what it could have shown is not known.",
                advice="Record again, fast and long enough for the bearing band.",
                limit=hold,
                unit="1",
                limit_source=source,
            )
        ]
    rows = [finding for _, finding in most_sensitive(evidence.after)]
    blind = _blind(evidence)
    seen = [finding for finding in rows if (finding.bearing, finding.element) not in blind] or rows
    hidden = [f for f in rows if f not in seen and f.detectable_depth > hold]
    worst = max(seen, key=lambda finding: finding.detectable_depth)
    value = worst.detectable_depth
    result = graded(value, limits.value("detectable_depth_watch"), hold)
    if result is CriterionResult.PASS and hidden:
        result = CriterionResult.WATCH
    beside = "".join(f"; in a blind spot: bearing {f.bearing}, {found_words(f)}" for f in hidden)
    is_hidden = _is_beside_a_fault(evidence, worst)
    where = "beside the ticking that was found" if is_hidden else "in these recordings"
    reason = f"A small fault of the {_words(worst)} would not have been seen {where}."
    criterion = Criterion(
        id=id_,
        group=Group.SENSITIVITY,
        title=title,
        result=result,
        value=value if math.isfinite(value) else "none tried was found",
        unit="1",
        limit=hold,
        limit_source=source,
        advice=_advice(is_hidden=is_hidden) if result is not CriterionResult.PASS else "",
        hold=Hold.MEASURE_AGAIN if result is CriterionResult.HOLD else None,
        reason=reason if result is CriterionResult.HOLD else "",
        detail=f"Worst: bearing {worst.bearing}, {found_words(worst)} ({FOUND_MEANS}){beside}",
    )
    return [criterion, *_impact_criterion(evidence)]


def _blind(evidence: Evidence) -> set[tuple[str, Element]]:
    """Elements whose strike order can meet a whole shaft order within the slip."""
    slip_percent = evidence.card.analysis.slip_percent
    return {
        (spot.bearing, spot.element)
        for bearing in evidence.card.rolling_bearings()
        for spot in blind_spots(bearing, slip_percent)
        if spot.kind == "shaft-line" and spot.element is not None
    }


def _is_beside_a_fault(evidence: Evidence, finding: SensitivityFinding) -> bool:
    """Whether a recording after the work shows a defect of another element: it hides smaller ones."""
    return any(
        family.result is CriterionResult.HOLD
        and (family.bearing, family.element) != (finding.bearing, finding.element)
        for analysis in evidence.after
        for family in analysis.families
    )


def _advice(*, is_hidden: bool) -> str:
    return ADVICE_BESIDE_A_FAULT if is_hidden else ADVICE


def _words(finding: SensitivityFinding) -> str:
    return f"{finding.element.words} of bearing {finding.bearing}"


def _impact_criterion(evidence: Evidence) -> list[Criterion]:
    """The smallest strike, of rings and elements: a cage does not strike."""
    limit = evidence.limits.optional_value("detectable_impact_hold_m_s2")
    if limit is None:
        return []
    title, id_ = "Smallest strike that would have been found", "detectable-impact"
    source = evidence.limits.source("detectable_impact_hold_m_s2")
    least: dict[tuple[str, Element], SensitivityFinding] = {}
    for finding in (f for a in evidence.after for f in a.sensitivity):
        impact, key = finding.detectable_impact_m_s2, (finding.bearing, finding.element)
        if impact is None or finding.element is Element.CAGE:
            continue
        if key not in least or impact < (least[key].detectable_impact_m_s2 or math.inf):
            least[key] = finding
    if not least:
        return [
            not_judged(
                id_,
                Group.SENSITIVITY,
                title,
                reason="Without calibration the smallest strike in m/s² is not known.",
                advice="Give sensitivity and range on the card, beside the file or as options.",
                limit=limit,
                unit="m/s2",
                limit_source=source,
            )
        ]
    worst = max(least.values(), key=lambda finding: finding.detectable_impact_m_s2 or 0.0)
    value = worst.detectable_impact_m_s2 or 0.0
    bad = value > limit
    is_known = math.isfinite(value)
    is_hidden = _is_beside_a_fault(evidence, worst)
    beside = " beside the ticking that was found" if is_hidden else ""
    would_not = (
        f"A fault of the {_words(worst)} striking with less than {value:.2g} m/s² would not have "
        f"been seen{beside}."
        if is_known
        else f"A fault of the {_words(worst)} would not have been seen at any strength "
        f"tried{beside}."
    )
    return [
        Criterion(
            id=id_,
            group=Group.SENSITIVITY,
            title=title,
            result=CriterionResult.HOLD if bad else CriterionResult.PASS,
            value=value if is_known else "none tried was found",
            unit="m/s2",
            limit=limit,
            limit_source=source,
            advice=_advice(is_hidden=is_hidden) if bad else "",
            hold=Hold.MEASURE_AGAIN if bad else None,
            reason=would_not if bad else "",
            detail=f"worst: {_words(worst)}",
        )
    ]
