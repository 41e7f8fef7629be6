"""Is this recording usable: speed, recording faults, levels and motion, without the bearing."""

from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.analysis import _levels, _motion, _speed, _with_speed_note
from vibhealth.diagnosis.curves import waveform_excerpt
from vibhealth.diagnosis.quality import check_recording
from vibhealth.model import CriterionResult, QualityFinding, Recording, RecordingAnalysis

__all__ = ["inspect_recording", "not_checked", "reasons_to_record_again"]

NOT_SEARCHED = "not looked for: this was an inspection of the recording only"
# Without these nothing else can be judged, once the nominal speed is known.
NEEDED = ("length", "speed-found")


def inspect_recording(
    recording: Recording,
    *,
    card: MachineCard | None = None,
    given_speed_rpm: float | None = None,
) -> RecordingAnalysis:
    """Quick look at one recording, before anyone leaves the machine.

    Parameters
    ----------
    recording : Recording
        At least 16 finite samples.
    card : MachineCard, optional
        Nominal speed, bearing band and limits.
    given_speed_rpm : float, optional
        Shaft speed, above 0, used instead of the recording's own.

    Returns
    -------
    RecordingAnalysis
        As `analyze_recording` gives it, but without families, sensitivity and curves.

    Raises
    ------
    InputError
        If the recording has too few samples.
    """
    limits = card.limits if card is not None else Limits.default()
    band_hz = card.analysis.bearing_band_hz if card is not None else None
    track = _speed(recording, card, given_speed_rpm)
    shaft_hz = track.speed.shaft_frequency_hz
    quality = check_recording(
        recording,
        shaft_frequency_hz=shaft_hz,
        bearing_band_hz=band_hz,
        minimum_turns=limits.value("minimum_turns"),
        recommended_turns=limits.value("recommended_turns"),
        minimum_turns_source=limits.source("minimum_turns"),
    )
    silent = any(f.id == "constant" and f.result is not CriterionResult.PASS for f in quality)
    time_s, waveform = waveform_excerpt(recording, shaft_hz)
    return RecordingAnalysis(
        recording=recording,
        speed=track.speed,
        quality=_with_speed_note(quality, track.speed),
        descriptors=() if silent else _levels(recording, track, band_hz),
        motion=None if silent else _motion(recording, track),
        families=(),
        families_not_judged=NOT_SEARCHED,
        sensitivity=(),
        spectra=(),
        envelopes=(),
        waveform_time_s=time_s,
        waveform=waveform,
    )


def reasons_to_record_again(
    analysis: RecordingAnalysis, *, is_nominal_speed_known: bool
) -> tuple[str, ...]:
    """Why a recording cannot be used; empty where nothing speaks against it.

    Parameters
    ----------
    analysis : RecordingAnalysis
        From `inspect_recording` or `analyze_recording`.
    is_nominal_speed_known : bool
        Whether a card was given: then a speed that was not found is a reason too.

    Returns
    -------
    tuple of str
        What was found, and what to do.
    """
    return tuple(
        f"{finding.detail} {finding.advice}".strip()
        for finding in analysis.quality
        if finding.result is CriterionResult.HOLD
        or (is_nominal_speed_known and finding.id in NEEDED and _is_open(finding))
    )


def not_checked(analysis: RecordingAnalysis) -> tuple[str, ...]:
    """Titles of the checks that could not be made.

    Parameters
    ----------
    analysis : RecordingAnalysis
        From `inspect_recording` or `analyze_recording`.

    Returns
    -------
    tuple of str
    """
    return tuple(finding.title for finding in analysis.quality if _is_open(finding))


def _is_open(finding: QualityFinding) -> bool:
    return finding.result is CriterionResult.NOT_JUDGED
