"""A quick look at the recording of a start or stop: is all of it there, and can it be read."""

from vibhealth.card import MachineCard
from vibhealth.diagnosis.transients import analyze_transients, run_segments
from vibhealth.errors import VibhealthError
from vibhealth.model import CriterionResult, RecordingAnalysis, Transient

__all__ = ["RECORD_WHOLE", "SPOILING", "WORDS", "start_stop_reasons"]

# Faults that spoil a start or stop; length and steady speed are no matter there.
SPOILING = frozenset({"constant", "dead-channel", "clipping", "sensor-range"})
WORDS = {"run-up": "start", "coast-down": "stop"}
RECORD_WHOLE = {
    "run-up": "Start the recorder 10 s before power-up and let it run until 60 s at full speed.",
    "coast-down": "Start the recorder 10 s before the stop and let it run until all stands still.",
}


def start_stop_reasons(analysis: RecordingAnalysis, *, card: MachineCard) -> tuple[str, ...] | None:
    """Why a recording of a start or stop cannot be used; None where it holds neither.

    Parameters
    ----------
    analysis : RecordingAnalysis
        From `inspect_recording`, for the faults of the recording.
    card : MachineCard
        Of a machine that shakes on purpose; another has no start to be read.

    Returns
    -------
    tuple of str, or None
        Empty where nothing speaks against it.
    """
    if card.exciter is None:
        return None
    recording = analysis.recording
    try:
        segments = run_segments(
            recording,
            nominal_hz=card.nominal_shaft_frequency_hz,
            tolerance_percent=card.machine.speed_tolerance_percent,
        )
        if not any(segment.kind in WORDS for segment in segments):
            return None
        found = analyze_transients(recording, card=card)
    except VibhealthError:  # too short or silent: the checks of the recording say so
        return None
    faults = [
        f"{finding.detail} {finding.advice}".strip()
        for finding in analysis.quality
        if finding.id in SPOILING and finding.result is CriterionResult.HOLD
    ]
    unread = [_missing(transient) for transient in found.transients]
    return (*faults, *(reason for reason in unread if reason))


def _missing(transient: Transient) -> str:
    """What could not be read of a start or stop, and what to do."""
    word = WORDS[transient.kind]
    if None in {transient.duration_s, transient.swing_ratio}:
        why = transient.missing or "its time or its swing could not be read"
        return f"It does not hold all of the {word}: {why}. {RECORD_WHOLE[transient.kind]}"
    if transient.strikes is None:
        return f"What strikes during the {word} cannot be seen: {transient.missing}. Record faster."
    return ""
