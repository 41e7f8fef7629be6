"""Criteria of the motion's shape: one-sided, thirds, beat, wobble, along the shaft, on the base."""

from collections.abc import Iterator
from dataclasses import dataclass

from vibhealth.acceptance._evidence import (
    Evidence,
    graded,
    is_crosswise,
    label,
    not_judged,
    point_of,
)
from vibhealth.model import Criterion, CriterionResult, Group, Hold, RecordingAnalysis

__all__ = ["shape_criteria"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """A value of one recording, worse the larger it is."""

    value: float
    analysis: RecordingAnalysis


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """How a criterion is called, what it says when it fails, what to do."""

    id: str
    title: str
    reason: str
    advice: str
    unit: str = "1"


ONE_SIDED = _Words(
    id="one-sided-motion",
    title="Motion reaches equally far both ways",
    reason="The motion is cut off on one side once per turn ({value:.0%} of its travel)",
    advice="Lock out. Check the locating stop, the shipping braces and the guard clearance.",
)
THIRDS = _Words(
    id="third-order-ratio",
    title="Third orders over 1x",
    reason="1/3x or 2/3x holds {value:.1%} of 1x: something rubs hard",
    advice="Lock out. Look for fresh rub marks at guard and seals.",
)
BEAT = _Words(
    id="beat",
    title="Stroke keeps its size",
    reason="The stroke swells and shrinks by {value:.0f} % within a recording",
    advice="Lock out. Check that all eccentrics turn together and that nothing else beats.",
    unit="%",
)
WOBBLE = _Words(
    id="wobble-ratio",
    title="No slow rocking below 1x",
    reason="The body rocks slowly beside its motion, with {value:.1%} of the stroke",
    advice="Lock out. Look at every isolator: broken, unseated, of unequal height.",
)


def shape_criteria(evidence: Evidence) -> list[Criterion]:
    """Criteria of the shape of the motion of a body that shakes on purpose."""
    if evidence.card.exciter is None:
        return []
    return [
        *_of_shape(evidence, ONE_SIDED, "one_sided", "one_sidedness"),
        *_of_shape(evidence, THIRDS, "third_order_ratio", "third_order_ratio"),
        *_of_shape(evidence, BEAT, "beat", "beat_percent", percent=True),
        *_of_shape(evidence, WOBBLE, "wobble_ratio", "wobble_ratio"),
        *_stroke_drift(evidence),
        *_axial(evidence),
        *_across_line(evidence),
        *_base(evidence),
    ]


def _of_shape(
    evidence: Evidence, words: _Words, limit: str, attribute: str, *, percent: bool = False
) -> list[Criterion]:
    readings = [
        _Reading(value=abs(float(getattr(analysis.shape, attribute))), analysis=analysis)
        for analysis in evidence.after
        if analysis.shape is not None and not is_crosswise(evidence.card, analysis.recording)
    ]
    suffix = "_percent" if percent else ""
    ids = (f"{limit}_watch{suffix}", f"{limit}_hold{suffix}")
    if not readings:
        if all(is_crosswise(evidence.card, a.recording) for a in evidence.after):
            return []
        return [_unread(evidence, words, ids[1], where="in any recording")]
    worst = _worst(evidence, words, ids, readings)
    blind = _points_without(evidence, readings)
    if blind and worst.result is not CriterionResult.HOLD:
        return [_unread(evidence, words, ids[1], where=f"in any recording of {', '.join(blind)}")]
    return [worst]


def _points_without(evidence: Evidence, readings: list[_Reading]) -> list[str]:
    """Points that must move by the card, none of whose recordings shows how."""
    exciter = evidence.card.exciter
    stated = exciter.stroke_mm if exciter is not None else None
    if stated is None:
        return []
    moving = {
        point_of(analysis)
        for analysis in evidence.after
        if analysis.recording.direction in {"x", "y"} and stated.along(analysis.recording.direction)
    }
    return sorted(moving - {point_of(reading.analysis) for reading in readings})


def _unread(evidence: Evidence, words: _Words, limit_id: str, *, where: str) -> Criterion:
    return not_judged(
        words.id,
        Group.MOTION,
        words.title,
        reason=f"The shape of the motion could not be read {where}.",
        advice="Record at least 60 s at steady working speed.",
        limit=evidence.limits.value(limit_id),
        unit=words.unit,
        limit_source=evidence.limits.source(limit_id),
    )


def _worst(
    evidence: Evidence, words: _Words, limit_ids: tuple[str, str], readings: list[_Reading]
) -> Criterion:
    worst = max(readings, key=lambda reading: reading.value)
    hold = evidence.limits.value(limit_ids[1])
    result = graded(worst.value, evidence.limits.value(limit_ids[0]), hold)
    bad = result is CriterionResult.HOLD
    found = words.reason.format(value=worst.value)
    return Criterion(
        id=words.id,
        group=Group.MOTION,
        title=words.title,
        result=result,
        value=worst.value,
        unit=words.unit,
        limit=hold,
        limit_source=evidence.limits.source(limit_ids[1]),
        advice=words.advice if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"{found} in {label(worst.analysis)}." if bad else "",
    )


def _stroke_drift(evidence: Evidence) -> list[Criterion]:
    """Spread of the stroke among the recordings of a point."""
    words = _Words(
        id="stroke-repeats",
        title="Stroke repeats from recording to recording",
        reason="The stroke differs by {value:.0f} % between recordings of a point",
        advice="Lock out. Look for a moving eccentric weight, a joint that opens, a tired isolator.",
        unit="%",
    )
    readings = []
    for point in evidence.points:
        strokes = [
            (analysis.motion.stroke_mm, analysis)
            for analysis in evidence.after
            if point_of(analysis) == point
            and not is_crosswise(evidence.card, analysis.recording)
            and analysis.motion is not None
            and analysis.motion.stroke_mm
        ]
        if len(strokes) > 1:
            low = min(stroke for stroke, _ in strokes)
            high, analysis = max(strokes, key=lambda item: item[0])
            readings.append(_Reading(value=100 * (high / low - 1), analysis=analysis))
    if not readings:
        return []
    return [
        _worst(
            evidence, words, ("stroke_drift_watch_percent", "stroke_drift_hold_percent"), readings
        )
    ]


def _radial_amplitude(evidence: Evidence, path: str) -> float | None:
    """Largest radial 1x acceleration of a file; of any file where that one has none."""
    radial = [
        (analysis.recording.path == path, analysis.motion.amplitude_1x)
        for analysis in evidence.after
        if analysis.motion is not None
        and analysis.recording.is_calibrated
        and analysis.recording.direction in {"x", "y"}
    ]
    same = [amplitude for is_same, amplitude in radial if is_same]
    return max(same or [amplitude for _, amplitude in radial], default=None)


AXIAL = {
    "axial_ratio": _Words(
        id="axial-ratio",
        title="1x along the shaft over that across it",
        reason="The body moves along the shaft with {value:.0%} of its motion across it",
        advice="Lock out. Check the seat of the unit, the drive shaft and the isolators.",
    ),
    "axial_harmonic_ratio": _Words(
        id="axial-harmonic-ratio",
        title="2x and 3x along the shaft over 1x across it",
        reason="2x and 3x along the shaft hold {value:.1%} of 1x across it",
        advice="Lock out. Check the coupling and the gap of the drive shaft, and the unit's seat.",
    ),
}


def _axial(evidence: Evidence) -> Iterator[Criterion]:
    """Motion along the shaft against that across it; nothing without both."""
    exciter = evidence.card.exciter
    stated = exciter is not None and exciter.stroke_mm is not None and exciter.stroke_mm.z
    found: dict[str, list[_Reading]] = {"axial_ratio": [], "axial_harmonic_ratio": []}
    for analysis in evidence.after:
        if analysis.recording.direction != "z" or analysis.motion is None:
            continue
        radial = _radial_amplitude(evidence, analysis.recording.path)
        if radial is None or not analysis.recording.is_calibrated:
            continue
        motion = analysis.motion
        upper = sum(line.amplitude_m_s2**2 for line in motion.harmonics if line.order <= 3)
        if not stated:
            found["axial_ratio"].append(
                _Reading(value=motion.amplitude_1x / radial, analysis=analysis)
            )
        found["axial_harmonic_ratio"].append(_Reading(value=upper**0.5 / radial, analysis=analysis))
    for limit, readings in found.items():
        if readings:
            yield _worst(evidence, AXIAL[limit], (f"{limit}_watch", f"{limit}_hold"), readings)


ACROSS_LINE = _Words(
    id="across-line-ratio",
    title="1x across the line of motion over that along it",
    reason="The body moves across its line of motion with {value:.0%} of its stroke",
    advice="Lock out. Check the timing marks of both shafts, the eccentrics and the isolators.",
)


def _across_line(evidence: Evidence) -> Iterator[Criterion]:
    """Motion of two counter-turning shafts off their line; nothing without both directions."""
    readings = [
        _Reading(value=analysis.motion.amplitude_1x / along, analysis=analysis)
        for analysis in evidence.after
        if analysis.motion is not None
        and analysis.recording.direction != "z"
        and is_crosswise(evidence.card, analysis.recording)
        and analysis.recording.is_calibrated
        and (along := _radial_amplitude(evidence, analysis.recording.path))
    ]
    if readings:
        yield _worst(evidence, ACROSS_LINE, ("axial_ratio_watch", "axial_ratio_hold"), readings)


# 0.1 mg at 1x: less is the noise of an accelerometer (common practice, no source).
LEAST_BASE_M_S2 = 0.001
BASE = _Words(
    id="base-ratio",
    title="Base stands still: 1x over that of the body",
    reason="The base moves with {value:.0%} of the body's stroke: the isolators are bridged",
    advice="Lock out. Count the shipping braces, check the locating stop and what lies between "
    "body and base.",
)


def _base(evidence: Evidence) -> Iterator[Criterion]:
    """Stroke of points on the base against the body's; nothing without such a point."""
    strokes = [
        analysis.motion.stroke_mm
        for analysis in evidence.after
        if analysis.motion is not None
        and analysis.motion.stroke_mm
        and not is_crosswise(evidence.card, analysis.recording)
    ]
    if not strokes:
        return
    body = sorted(strokes)[len(strokes) // 2]
    on_base = [
        analysis
        for analysis in evidence.elsewhere
        if evidence.card.point(point_of(analysis)).mounted_on == "base"
    ]
    readings = [
        _Reading(value=analysis.motion.stroke_mm / body, analysis=analysis)
        for analysis in on_base
        if analysis.motion is not None and analysis.motion.stroke_mm and not _is_dead(analysis)
    ]
    if readings:
        yield _worst(evidence, BASE, ("base_ratio_watch", "base_ratio_hold"), readings)
    elif on_base:
        yield not_judged(
            BASE.id,
            Group.MOTION,
            BASE.title,
            reason=f"The motion of the base could not be read in {label(on_base[0])}.",
            advice="Check sensor, cable, channel and calibration of the point on the base; record "
            "again.",
            limit=evidence.limits.value("base_ratio_hold"),
            unit=BASE.unit,
            limit_source=evidence.limits.source("base_ratio_hold"),
        )


def _is_dead(analysis: RecordingAnalysis) -> bool:
    """Whether a channel on the base is silent: a base hardly moves, but a sensor has its noise."""
    is_constant = any(
        finding.id == "constant" and finding.result is CriterionResult.HOLD
        for finding in analysis.quality
    )
    amplitude = analysis.motion.amplitude_1x if analysis.motion is not None else 0.0
    return is_constant or amplitude < LEAST_BASE_M_S2
