"""Whether the recordings of a start or stop can be believed: connected, not clipped, to scale."""

from collections.abc import Iterator
from statistics import median

from vibhealth.acceptance._evidence import Evidence, is_on_body, point_of
from vibhealth.acceptance._start_stop import PRACTICE
from vibhealth.diagnosis.quality import check_recording
from vibhealth.diagnosis.start_stop_inspection import SPOILING
from vibhealth.errors import VibhealthError
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    Recording,
    Stage,
    TransientAnalysis,
)

__all__ = ["start_stop_quality"]

ADVICE = "Record start and stop again with the sensors and settings of the other recordings."


def start_stop_quality(evidence: Evidence) -> list[Criterion]:
    """Faults of the recordings of starts and stops; none where none were given."""
    analyses = [
        analysis
        for analysis in evidence.transients
        if analysis.recording.stage is Stage.AS_LEFT
        and is_on_body(evidence.card, analysis.recording)
    ]
    if not analyses:
        return []
    faults = [fault for analysis in analyses for fault in _faults(evidence, analysis)]
    unread = [a for a in analyses if not a.transients and a.recording.moment is not None]
    result = CriterionResult.HOLD if faults else CriterionResult.PASS
    if unread and not faults:
        result = CriterionResult.WATCH
    named = [f"{_where(a.recording)} shows no start or stop" for a in unread]
    told = [*faults, *named]
    return [
        Criterion(
            id="start-stop-recordings",
            group=Group.START_AND_STOP,
            title="Recordings of start and stop are sound",
            result=result,
            value="; ".join(told) if told else f"{len(analyses)} channels",
            unit="",
            limit=None,
            limit_source=PRACTICE,
            advice=ADVICE if told else "",
            hold=Hold.MEASURE_AGAIN if faults else None,
            reason=f"Start and stop: {faults[0]}" if faults else "",
        )
    ]


def _where(recording: Recording) -> str:
    return f"{recording.path} ({recording.point or f'channel {recording.channel}'})"


def _faults(evidence: Evidence, analysis: TransientAnalysis) -> Iterator[str]:
    recording = analysis.recording
    try:
        found = check_recording(recording, shaft_frequency_hz=None, bearing_band_hz=None)
    except VibhealthError as error:
        yield f"{_where(recording)}: {error}"
        return
    for finding in found:
        if finding.id in SPOILING and finding.result is CriterionResult.HOLD:
            yield f"{_where(recording)}: {finding.detail}"
    yield from _off_scale(evidence, analysis)


def _off_scale(evidence: Evidence, analysis: TransientAnalysis) -> Iterator[str]:
    """A stroke at speed that is not that of the steady recordings of the same point."""
    recording = analysis.recording
    steady = [
        other.motion.stroke_mm
        for other in evidence.after
        if point_of(other) == recording.point
        and other.recording.direction != "z"
        and other.motion is not None
        and other.motion.stroke_mm
    ]
    read = [
        2 * transient.swing_mm / transient.swing_ratio
        for transient in analysis.transients
        if transient.swing_mm and transient.swing_ratio
    ]
    if not steady or not read:
        return
    usual, here = median(steady), median(read)
    limit = evidence.limits.value("stroke_hold_percent")
    if abs(100 * (here / usual - 1)) > limit:
        yield (
            f"{_where(recording)} moves {here:.3g} mm at speed, the steady recordings of the point "
            f"{usual:.3g} mm (limit ± {limit:g} %): another scale or another point"
        )
