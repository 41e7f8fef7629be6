"""Criteria of the working motion: stroke, harmonics, half orders, direction of turning."""

from vibhealth.acceptance._evidence import (
    Evidence,
    graded,
    is_crosswise,
    label,
    not_judged,
    point_of,
)
from vibhealth.acceptance.orbit_criteria import orbit_criteria
from vibhealth.acceptance.shape_criteria import shape_criteria
from vibhealth.diagnosis.scaling import scaling_of
from vibhealth.model import Criterion, CriterionResult, Group, Hold, RecordingAnalysis

__all__ = ["motion_criteria"]


def motion_criteria(evidence: Evidence) -> list[Criterion]:
    """Criteria of the motion; none for an ordinary machine (a card without exciter)."""
    if evidence.card.exciter is None:
        return []
    criteria = [_stroke(evidence, analysis) for analysis in _one_per_point(evidence)]
    criteria.append(_ratio(evidence, "harmonic"))
    criteria.append(_ratio(evidence, "half_order"))
    criteria += orbit_criteria(evidence)
    criteria += shape_criteria(evidence)
    return criteria


def _one_per_point(evidence: Evidence) -> list[RecordingAnalysis]:
    """Of every point the as-left recording whose stroke is farthest from the card's."""
    chosen = []
    for point in evidence.points:
        analyses = [a for a in evidence.after if point_of(a) == point]
        if all(_is_unstated_crosswise(evidence, a) for a in analyses):
            continue  # judged against the motion that is meant
        chosen.append(max(analyses, key=lambda a: abs(_stroke_away(evidence, a) or 0.0)))
    return chosen


def _is_unstated_crosswise(evidence: Evidence, analysis: RecordingAnalysis) -> bool:
    """Whether a point where the body should not move has no stroke on a card that states others."""
    exciter = evidence.card.exciter
    if exciter is None or exciter.stroke_mm is None:
        return False
    is_stated = exciter.stroke_mm.along(analysis.recording.direction) is not None
    return is_crosswise(evidence.card, analysis.recording) and not is_stated


def _specified(evidence: Evidence, analysis: RecordingAnalysis) -> float | None:
    exciter, direction = evidence.card.exciter, analysis.recording.direction
    if exciter is None or exciter.stroke_mm is None or direction not in {"x", "y", "z"}:
        return None
    return exciter.stroke_mm.along(direction)


def _stroke_away(evidence: Evidence, analysis: RecordingAnalysis) -> float | None:
    specified = _specified(evidence, analysis)
    if specified is None or analysis.motion is None or analysis.motion.stroke_mm is None:
        return None
    return 100 * (analysis.motion.stroke_mm / specified - 1)


def _percent(value: float) -> str:
    """A deviation with its sign, and without one where it rounds to nothing.

    >>> _percent(-0.2), _percent(-12.4)
    ('0 %', '-12 %')
    """
    rounded = round(value)
    return f"{rounded:+d} %" if rounded else "0 %"


def _stroke(evidence: Evidence, analysis: RecordingAnalysis) -> Criterion:
    point, limits = point_of(analysis), evidence.limits
    id_, title = f"stroke-{point}", f"Stroke at {point}"
    hold, source = limits.value("stroke_hold_percent"), limits.source("stroke_hold_percent")
    away = _stroke_away(evidence, analysis)
    specified = _specified(evidence, analysis)
    if away is None or specified is None or analysis.motion is None:
        return _stroke_not_judged(evidence, analysis, id_, title)
    stroke = analysis.motion.stroke_mm or 0.0
    result = graded(abs(away), limits.value("stroke_watch_percent"), hold)
    moves = f"{point} moves {stroke:.2f} mm, the card says {specified:.2f} mm ({_percent(away)})"
    advice, kind, reason = "", None, ""
    if result is not CriterionResult.PASS:
        advice = _stroke_advice(away)
    if result is CriterionResult.HOLD:
        kind, reason = Hold.FIX, f"{moves}."
        scaling = scaling_of(stroke / specified) if stroke > 0 else None
        if scaling is not None:
            kind = Hold.MEASURE_AGAIN
            reason = f"The motion of {point} reads {scaling.words}: {stroke:.4g} mm for {specified:g} mm."
            advice = "Check sensitivity (mV/g), range and unit of the recording; record again."
    return Criterion(
        id=id_,
        group=Group.MOTION,
        title=title,
        result=result,
        value=stroke,
        unit="mm",
        limit=f"{specified:g} mm ± {hold:g} %",
        limit_source=f"stroke: card, exciter.stroke_mm; tolerance: {source}",
        advice=advice,
        hold=kind,
        reason=reason,
        detail=moves,
    )


def _stroke_advice(away_percent: float) -> str:
    if away_percent < 0:
        return (
            "Lock out. Look for a shipping brace left in, a locating stop not lowered, a wrong or "
            "wrongly set eccentric weight."
        )
    return "Lock out. Check the eccentric weight and its setting, the speed, and the isolators."


def _stroke_not_judged(
    evidence: Evidence, analysis: RecordingAnalysis, id_: str, title: str
) -> Criterion:
    if not analysis.recording.is_calibrated:
        reason = f"{label(analysis)} has no calibration, so its stroke in mm is not known."
        advice = "Give sensitivity and range on the card, beside the file or as options."
    elif _specified(evidence, analysis) is None:
        reason = f"The card states no stroke for {point_of(analysis)} ({label(analysis)})."
        advice = (
            "Write the machine's stroke on the card ([exciter] stroke_mm) and the point's axis."
        )
    else:
        reason = f"The working motion could not be read in {label(analysis)}."
        advice = "Record at least 60 s at working speed."
    return not_judged(
        id_,
        Group.MOTION,
        title,
        reason=reason,
        advice=advice,
        unit="mm",
        limit_source=evidence.limits.source("stroke_hold_percent"),
    )


RATIO_TITLES = {
    "harmonic": "Harmonics 2x to 10x over 1x",
    "half_order": "Half orders over 1x",
}
RATIO_WORDS = {
    "harmonic": "The motion is not round: its harmonics hold {value:.0%} of 1x",
    "half_order": "Half orders hold {value:.1%} of 1x",
}
RATIO_ADVICE = {
    "harmonic": "Lock out. Something is hit or opens once per turn: check bolts, guard clearance, "
    "locating stop, braces.",
    "half_order": "Lock out. A joint opens or something rubs: check the torque of the bolts, "
    "coupling and guard.",
}


def _ratio(evidence: Evidence, kind: str) -> Criterion:
    id_, title = f"{kind.replace('_', '-')}-ratio", RATIO_TITLES[kind]
    limits = evidence.limits
    hold, source = limits.value(f"{kind}_ratio_hold"), limits.source(f"{kind}_ratio_hold")
    readings = [
        (getattr(analysis.motion, f"{kind}_ratio"), analysis)
        for analysis in evidence.after
        if analysis.motion is not None
    ]
    if len(readings) < len(evidence.after):
        return not_judged(
            id_,
            Group.MOTION,
            title,
            reason="The working motion could not be read in every recording.",
            advice="Record at least 60 s at working speed.",
            limit=hold,
            unit="1",
            limit_source=source,
        )
    value, analysis = max(readings, key=lambda reading: reading[0])
    result = graded(value, limits.value(f"{kind}_ratio_watch"), hold)
    bad = result is CriterionResult.HOLD
    return Criterion(
        id=id_,
        group=Group.MOTION,
        title=title,
        result=result,
        value=float(value),
        unit="1",
        limit=hold,
        limit_source=source,
        advice=RATIO_ADVICE[kind] if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"{RATIO_WORDS[kind].format(value=value)} in {label(analysis)}." if bad else "",
    )
