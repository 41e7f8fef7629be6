"""Is this recording usable: speed, recording faults, levels and motion, without the bearing."""

from collections.abc import Sequence

from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.curves import waveform_excerpt
from vibhealth.diagnosis.first_look import first_look
from vibhealth.diagnosis.quality_axes import check_axes
from vibhealth.diagnosis.quality_fingerprint import check_same_point
from vibhealth.diagnosis.quality_series import check_series
from vibhealth.diagnosis.quality_times import check_times
from vibhealth.model import (
    CriterionResult,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    Speed,
)
from vibhealth.units import hz_to_rpm

__all__ = [
    "axes_finding",
    "inspect_recording",
    "not_checked",
    "reasons_to_record_again",
    "series_findings",
    "speed_faults",
    "speed_reasons",
]

NOT_SEARCHED = "not looked for: this was an inspection of the recording only"
# Without these nothing else can be judged, once the nominal speed is known.
NEEDED = ("length", "speed-found")
GRAVITY = (
    CriterionResult.PASS,
    CriterionResult.NOT_JUDGED,
    CriterionResult.WATCH,
    CriterionResult.HOLD,
)


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
    look = first_look(
        recording,
        card=card,
        limits=limits,
        given_speed_rpm=given_speed_rpm,
        say=lambda _step: None,
    )
    time_s, waveform = waveform_excerpt(recording, look.track.speed.shaft_frequency_hz)
    return RecordingAnalysis(
        recording=recording,
        speed=look.track.speed,
        quality=look.quality,
        descriptors=look.descriptors,
        motion=look.motion,
        shape=look.shape,
        families=(),
        families_not_judged=NOT_SEARCHED,
        sensitivity=(),
        spectra=(),
        envelopes=(),
        waveform_time_s=time_s,
        waveform=waveform,
    )


def axes_finding(
    analyses: Sequence[RecordingAnalysis], *, card: MachineCard
) -> QualityFinding | None:
    """Whether axes of a file are swapped, where that can be asked.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Channels of one file on the moving body, from `inspect_recording`; at least one.
    card : MachineCard
        Strokes and direction of the orbit.

    Returns
    -------
    QualityFinding or None
        None where the file does not hold both radial axes, or no speed was found.
    """
    hz = analyses[0].speed.shaft_frequency_hz
    axes: dict[str | None, Recording] = {}
    for analysis in analyses:
        axes.setdefault(analysis.recording.direction, analysis.recording)
    if hz is None or card.exciter is None or not {"x", "y"} <= axes.keys():
        return None
    return check_axes(tuple(axes.values()), card=card, shaft_hz=hz)


def series_findings(
    analyses: Sequence[RecordingAnalysis], *, card: MachineCard | None = None
) -> tuple[QualityFinding, ...]:
    """Compare several recordings of one point in one state, in the order of time.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        From `inspect_recording`, two or more; sorted by start time where all state one.
    card : MachineCard or None
        Bearing band.

    Returns
    -------
    tuple of QualityFinding
        That none is there twice, that level and temperature are settled, and that each
        agrees with the first; only the worst of the latter.

    Raises
    ------
    InputError
        If there are fewer than two, or they are of several points.
    """
    band_hz = card.analysis.bearing_band_hz if card is not None else None
    began = [
        (a.recording.start_time, number)
        for number, a in enumerate(analyses)
        if a.recording.start_time is not None
    ]
    if len(began) == len(analyses) and len({time.utcoffset() is None for time, _ in began}) == 1:
        analyses = [analyses[number] for _, number in sorted(began)]
    recordings = [analysis.recording for analysis in analyses]
    once = tuple(f for f in check_times(recordings) if f.id == "recorded-once")
    series = check_series(recordings, bearing_band_hz=band_hz)
    hz = [analysis.speed.shaft_frequency_hz for analysis in analyses]
    compared = [
        finding
        for recording, own_hz in zip(recordings[1:], hz[1:], strict=True)
        if hz[0] is not None and own_hz is not None
        for finding in check_same_point(
            recordings[0],
            recording,
            shaft_frequencies_hz=(hz[0], own_hz),
            bearing_band_hz=band_hz,
        )
    ]
    worst = {
        name: max((f for f in compared if f.id == name), key=lambda f: GRAVITY.index(f.result))
        for name in dict.fromkeys(f.id for f in compared)
    }
    return (*once, *series, *worst.values())


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


def speed_reasons(analysis: RecordingAnalysis, *, card: MachineCard) -> tuple[str, ...]:
    """Why the speed speaks against this recording: off the card's, or not steady.

    Parameters
    ----------
    analysis : RecordingAnalysis
        From `inspect_recording`.
    card : MachineCard
        Nominal speed and limits.

    Returns
    -------
    tuple of str
    """
    return speed_faults(analysis.speed, card=card)


def speed_faults(speed: Speed, *, card: MachineCard) -> tuple[str, ...]:
    """Why a speed speaks against its recording: off the card's, or not steady.

    Parameters
    ----------
    speed : Speed
        As found in the recording.
    card : MachineCard
        Nominal speed and limits.

    Returns
    -------
    tuple of str
    """
    hz, variation = speed.shaft_frequency_hz, speed.variation_percent
    reasons = []
    if hz is not None and speed.source != "card":
        away = 100 * (hz / card.nominal_shaft_frequency_hz - 1)
        limit = card.limits.value("speed_hold_percent")
        if abs(away) > limit:
            reasons.append(
                f"It turns at {hz_to_rpm(hz):.0f} r/min, the card says "
                f"{card.machine.nominal_speed_rpm:g} ({away:+.1f} %, limit {limit:g} %). Check "
                "machine, point, card and sampling rate."
            )
    limit = card.limits.value("speed_variation_hold_percent")
    if variation is not None and variation > limit:
        reasons.append(
            f"The speed changes by {variation:.1f} % (limit {limit:g} %). Record away from start "
            "and stop."
        )
    elif variation is None and card.exciter is not None:
        reasons.append(
            "How steady the speed was could not be measured. Record at steady speed, away from "
            "start and stop, sensor on the moving body."
        )
    return tuple(reasons)


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
