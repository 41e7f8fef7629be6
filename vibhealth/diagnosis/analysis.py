"""The chain for one recording: quality, speed, levels, motion, families, sensitivity."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.comb import bearing_combs
from vibhealth.diagnosis.curves import envelope_curves, spectrum_curves, waveform_excerpt
from vibhealth.diagnosis.envelope_bank import envelope_orders
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.diagnosis.levels import level_descriptors
from vibhealth.diagnosis.motion import motion_of
from vibhealth.diagnosis.quality import check_recording
from vibhealth.diagnosis.sensitivity import detectable_families
from vibhealth.diagnosis.speed import ShaftTrack, find_speed
from vibhealth.errors import VibhealthError
from vibhealth.model import (
    CriterionResult,
    Descriptor,
    FamilyFinding,
    Motion,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    SensitivityFinding,
    Speed,
)
from vibhealth.signal import resample_to_angle
from vibhealth.units import rpm_to_hz

__all__ = ["analyze_recording", "largest_present"]

# Beyond this the record is resampled to equal shaft angles before any line is read.
LARGEST_STEADY_VARIATION_PERCENT = 0.1

# Faster change than this within a recording is no steady running: nothing is read from it.
LARGEST_TRACKED_VARIATION_PERCENT = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Steady:
    """Samples at constant speed: as recorded, or resampled to equal angles."""

    samples: NDArray[np.float64]
    rate_hz: float
    shaft_hz: float


def analyze_recording(
    recording: Recording,
    *,
    card: MachineCard | None = None,
    limits: Limits | None = None,
    given_speed_rpm: float | None = None,
    progress: Callable[[str], None] | None = None,
) -> RecordingAnalysis:
    """Everything one recording of one point can tell, without an opinion.

    Parameters
    ----------
    recording : Recording
        Calibrated or not; what needs calibration is left out without it.
    card : MachineCard, optional
        Without it there is no nominal speed and no bearing: quality and levels
        remain, and ``families_not_judged`` says why.
    limits : Limits, optional
        Default: the card's, or the defaults.
    given_speed_rpm : float, optional
        Shaft speed, used instead of the recording's own.
    progress : callable, optional
        Called with a word before each step.

    Returns
    -------
    RecordingAnalysis
    """
    limits = limits or (card.limits if card is not None else Limits.default())
    say = progress or (lambda _step: None)
    band_hz = card.analysis.bearing_band_hz if card is not None else None
    say("speed")
    track = _speed(recording, card, given_speed_rpm)
    shaft_hz = track.speed.shaft_frequency_hz
    say("recording faults")
    quality = check_recording(
        recording,
        shaft_frequency_hz=shaft_hz,
        bearing_band_hz=band_hz,
        minimum_turns=limits.value("minimum_turns"),
        recommended_turns=limits.value("recommended_turns"),
        minimum_turns_source=limits.source("minimum_turns"),
    )
    silent = any(f.id == "constant" and f.result is not CriterionResult.PASS for f in quality)
    say("levels and motion")
    descriptors = () if silent else _levels(recording, track, band_hz)
    motion = None if silent else _motion(recording, track)
    say("bearing families")
    report, sensitivity, steady = _bearing(recording, card, limits, track, silent=silent)
    say("spectra")
    time_s, waveform = waveform_excerpt(recording, shaft_hz)
    return RecordingAnalysis(
        recording=recording,
        speed=track.speed,
        quality=_with_speed_note(quality, track.speed),
        descriptors=descriptors,
        motion=motion,
        families=report.findings,
        families_not_judged=report.not_judged,
        sensitivity=sensitivity,
        spectra=() if silent else spectrum_curves(recording, shaft_hz),
        envelopes=()
        if steady is None or card is None
        else envelope_curves(report, card.analysis.trend_band_hz, steady.rate_hz, steady.shaft_hz),
        waveform_time_s=time_s,
        waveform=waveform,
    )


def _speed(
    recording: Recording, card: MachineCard | None, given_speed_rpm: float | None
) -> ShaftTrack:
    given_rpm = given_speed_rpm if given_speed_rpm is not None else recording.shaft_speed_rpm
    if float(np.ptp(recording.samples)) == 0.0:
        return ShaftTrack(
            speed=Speed(
                shaft_frequency_hz=None,
                variation_percent=None,
                source="none",
                detail="the recording is constant",
            )
        )
    return find_speed(
        recording,
        nominal_hz=None if card is None else card.nominal_shaft_frequency_hz,
        tolerance_percent=3.0 if card is None else card.machine.speed_tolerance_percent,
        is_exciter=card is not None and card.exciter is not None,
        given_hz=None if given_rpm is None else rpm_to_hz(given_rpm),
    )


def _levels(
    recording: Recording, track: ShaftTrack, band_hz: tuple[float, float] | None
) -> tuple[Descriptor, ...]:
    return level_descriptors(
        recording,
        shaft_frequency_hz=track.speed.shaft_frequency_hz,
        bearing_band_hz=band_hz,
        shaft_phase_turns=track.phase_turns,
    ).descriptors


def _motion(recording: Recording, track: ShaftTrack) -> Motion | None:
    if track.speed.shaft_frequency_hz is None:
        return None
    try:
        return motion_of(
            recording,
            shaft_frequency_hz=track.speed.shaft_frequency_hz,
            shaft_phase_turns=track.phase_turns,
        )
    except VibhealthError:
        # Too short or too slowly sampled: the length and bandwidth checks say so.
        return None


def _with_speed_note(
    quality: tuple[QualityFinding, ...], speed: Speed
) -> tuple[QualityFinding, ...]:
    """Add how the speed was found to the checks."""
    result = CriterionResult.PASS
    advice = ""
    if speed.source in {"card", "none"}:
        result = CriterionResult.NOT_JUDGED
        advice = (
            "Give the speed with --speed-rpm from a tachometer or strobe reading, or record longer "
            "at steady speed."
        )
    note = QualityFinding(
        id="speed-found",
        title="Speed found in the recording",
        result=result,
        detail=f"Speed {speed.detail}.",
        advice=advice,
    )
    return (*quality, note)


def _steady(recording: Recording, track: ShaftTrack) -> _Steady | str:
    """Samples at constant speed, or why there are none."""
    shaft_hz, variation = track.speed.shaft_frequency_hz, track.speed.variation_percent
    if shaft_hz is None:
        return f"no shaft speed: {track.speed.detail}"
    if variation is None or variation <= LARGEST_STEADY_VARIATION_PERCENT:
        return _Steady(
            samples=recording.samples, rate_hz=recording.sampling_rate_hz, shaft_hz=shaft_hz
        )
    if variation > LARGEST_TRACKED_VARIATION_PERCENT or track.phase_turns is None:
        return f"the speed changes by {variation:.1f} % within the recording"
    per_turn = int(np.ceil(recording.sampling_rate_hz / shaft_hz))
    angle = resample_to_angle(
        recording.samples - recording.samples.mean(),
        recording.sampling_rate_hz,
        shaft_phase_turns=track.phase_turns,
        samples_per_turn=per_turn,
    )
    return _Steady(samples=angle.samples, rate_hz=per_turn * shaft_hz, shaft_hz=shaft_hz)


def _nothing(reason: str) -> FamilyReport:
    return FamilyReport(
        findings=(),
        found=(),
        recorded=(),
        whitened=(),
        envelopes=(),
        highest_order=0.0,
        not_judged=reason,
    )


def _bearing(
    recording: Recording,
    card: MachineCard | None,
    limits: Limits,
    track: ShaftTrack,
    *,
    silent: bool,
) -> tuple[FamilyReport, tuple[SensitivityFinding, ...], _Steady | None]:
    if silent:
        return _nothing("the recording is constant"), (), None
    if card is None:
        return _nothing("no machine card: no bearing and no nominal speed"), (), None
    steady = _steady(recording, track)
    if isinstance(steady, str):
        return _nothing(steady), (), None
    family_limits = FamilyLimits(
        depth_watch=limits.value("depth_watch"),
        depth_present=limits.value("depth_present"),
        depth_hold=limits.value("depth_hold"),
        false_alarm_probability=limits.value("family_false_alarm_probability"),
    )
    try:
        report = find_families(
            steady.samples,
            steady.rate_hz,
            shaft_frequency_hz=steady.shaft_hz,
            bearings=card.rolling_bearings(),
            slip_percent=card.analysis.slip_percent,
            limits=family_limits,
            is_calibrated=recording.is_calibrated,
            usable_hz=recording.sensor_usable_hz,
        )
    except VibhealthError as error:
        return _nothing(str(error)), (), None
    return report, _sensitivity(report, card, limits, steady, recording), steady


def _sensitivity(
    report: FamilyReport,
    card: MachineCard,
    limits: Limits,
    steady: _Steady,
    recording: Recording,
) -> tuple[SensitivityFinding, ...]:
    """What would have been found in the card's bearing band, as far as it was recorded."""
    if not report.envelopes:
        return ()
    low, high = report.envelopes[0].band_hz
    band = (max(low, card.analysis.bearing_band_hz[0]), min(high, card.analysis.bearing_band_hz[1]))
    if band[0] >= band[1]:
        return ()
    whitened, recorded = (
        envelope_orders(
            list(spectra),
            band,
            shaft_frequency_hz=steady.shaft_hz,
            highest_order=report.highest_order,
        )
        for spectra in (report.whitened, report.recorded)
    )
    names = {finding.bearing for finding in report.findings}
    distinct = [bearing for bearing in card.rolling_bearings() if bearing.name in names]
    return detectable_families(
        bearing_combs(distinct),
        report.found,
        whitened,
        recorded,
        shaft_frequency_hz=steady.shaft_hz,
        false_alarm_probability=limits.value("family_false_alarm_probability"),
        depth_hold=limits.value("depth_hold"),
        is_calibrated=recording.is_calibrated,
        n_trials=max(family.n_trials for family in report.found),
    )


def largest_present(families: tuple[FamilyFinding, ...]) -> FamilyFinding | None:
    """The present family of the largest whitened depth, or None.

    Parameters
    ----------
    families : tuple of FamilyFinding
        Of one recording, in any order.

    Returns
    -------
    FamilyFinding or None
    """
    present = [family for family in families if family.present]
    return max(present, key=lambda family: family.depth_whitened, default=None)
