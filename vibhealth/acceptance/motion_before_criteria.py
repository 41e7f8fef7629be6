"""Criteria of the motion against that before the rebuild: a rebuild makes no machine rougher."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from vibhealth.acceptance._evidence import Evidence, graded, point_of
from vibhealth.model import Criterion, CriterionResult, Group, Hold, RecordingAnalysis

__all__ = ["motion_before_criteria"]

Reading = Callable[[RecordingAnalysis, float], float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Quantity:
    """A ratio over the 1x across the shaft, compared with before from ``least`` on."""

    id: str
    title: str
    what: str
    advice: str
    least: float
    read: Reading
    is_axial: bool = False


def _harmonics(analysis: RecordingAnalysis, radial_m_s2: float) -> float | None:
    if analysis.motion is None or radial_m_s2 <= 0:
        return None
    return analysis.motion.harmonic_ratio


def _axial_first(analysis: RecordingAnalysis, radial_m_s2: float) -> float | None:
    return None if analysis.motion is None else analysis.motion.amplitude_1x / radial_m_s2


def _axial_harmonics(analysis: RecordingAnalysis, radial_m_s2: float) -> float | None:
    if analysis.motion is None:
        return None
    lines = [line.amplitude_m_s2 for line in analysis.motion.harmonics if line.order <= 3]
    return math.hypot(*lines) / radial_m_s2


# What is smaller than ``least`` may double without meaning anything (common practice, no source).
QUANTITIES = (
    _Quantity(
        id="harmonics-since-before",
        title="Harmonics against those before the rebuild",
        what="The harmonics of the motion hold",
        advice="Lock out. Check bolts, coupling, guard clearance, stop and braces.",
        least=0.05,
        read=_harmonics,
    ),
    _Quantity(
        id="axial-since-before",
        title="1x along the shaft against that before the rebuild",
        what="The motion along the shaft holds",
        advice="Lock out. Check the seat of the unit, the drive shaft and the isolators.",
        least=0.05,
        read=_axial_first,
        is_axial=True,
    ),
    _Quantity(
        id="axial-harmonics-since-before",
        title="2x and 3x along the shaft against those before the rebuild",
        what="2x and 3x along the shaft hold",
        advice="Lock out. Check the coupling and the gap of the drive shaft, and the unit's seat.",
        least=0.005,
        read=_axial_harmonics,
        is_axial=True,
    ),
)


def motion_before_criteria(evidence: Evidence) -> list[Criterion]:
    """Harmonics and motion along the shaft over those before; nothing without both."""
    if evidence.card.exciter is None or not evidence.compared:
        return []
    return [found for quantity in QUANTITIES for found in _against_before(evidence, quantity)]


def _radial_m_s2(analyses: Sequence[RecordingAnalysis]) -> float | None:
    """Middle 1x acceleration across the shaft."""
    found = [
        analysis.motion.amplitude_1x
        for analysis in analyses
        if analysis.motion is not None and analysis.recording.direction != "z"
    ]
    return median(found) if found else None


def _against_before(evidence: Evidence, quantity: _Quantity) -> Iterator[Criterion]:
    was, now = _of_points(evidence.compared, quantity), _of_points(evidence.after, quantity)
    ratios = [
        (now[point] / max(was[point], 1e-9), now[point], was[point], point)
        for point in now
        if point in was
    ]
    if not ratios:
        return
    watch, hold = (
        evidence.limits.value(f"motion_since_before_{kind}_ratio") for kind in ("watch", "hold")
    )
    told = [row for row in ratios if row[1] >= quantity.least]
    ratio, value, before, point = max(told or ratios)
    result = graded(ratio, watch, hold) if told else CriterionResult.PASS
    bad = result is CriterionResult.HOLD
    yield Criterion(
        id=quantity.id,
        group=Group.MOTION,
        title=quantity.title,
        result=result,
        value=ratio,
        unit="1",
        limit=hold,
        limit_source=f"{evidence.limits.source('motion_since_before_hold_ratio')}; only from "
        f"{100 * quantity.least:g} % of 1x on",
        advice=quantity.advice if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"{quantity.what} {100 * value:.2g} % of 1x at {point}, {ratio:.1f} times the "
        f"{100 * before:.2g} % before the rebuild."
        if bad
        else "",
    )


def _of_points(analyses: Sequence[RecordingAnalysis], quantity: _Quantity) -> dict[str, float]:
    """Middle value of each point."""
    radial = _radial_m_s2(analyses)
    if radial is None:
        return {}
    values: dict[str, list[float]] = {}
    for analysis in analyses:
        if (analysis.recording.direction == "z") is not quantity.is_axial:
            continue
        value = quantity.read(analysis, radial)
        if value is not None:
            values.setdefault(point_of(analysis), []).append(value)
    return {point: median(found) for point, found in values.items()}
