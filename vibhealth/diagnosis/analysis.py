"""The chain for one recording: quality, speed, levels, motion, families, sensitivity."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.comb import bearing_combs
from vibhealth.diagnosis.curves import envelope_curves, spectrum_curves, waveform_excerpt
from vibhealth.diagnosis.disturbances import find_disturbances, masking_reason
from vibhealth.diagnosis.envelope_bank import LOWEST_ORDER, block_spectra, split_blocks
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.diagnosis.first_look import FirstLook, first_look
from vibhealth.diagnosis.pattern import point_pattern
from vibhealth.diagnosis.sensitivity import detectable_families
from vibhealth.diagnosis.speed import ShaftTrack
from vibhealth.errors import VibhealthError
from vibhealth.model import (
    CriterionResult,
    Disturbance,
    FamilyFinding,
    PointPattern,
    Recording,
    RecordingAnalysis,
    RollingBearing,
    SensitivityFinding,
)
from vibhealth.signal import resample_to_angle

__all__ = [
    "Steady",
    "analyze_recording",
    "bearings_heard",
    "largest_present",
    "steady_samples",
]

# Beyond this the record is resampled to equal shaft angles before any line is read.
LARGEST_STEADY_VARIATION_PERCENT = 0.1

# Faster change than this within a recording is no steady running: nothing is read from it.
LARGEST_TRACKED_VARIATION_PERCENT = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """Samples at constant speed: as recorded, or resampled to equal angles."""

    samples: NDArray[np.float64]
    rate_hz: float
    shaft_hz: float


def analyze_recording(  # noqa: PLR0913 - each may be left out
    recording: Recording,
    *,
    card: MachineCard | None = None,
    limits: Limits | None = None,
    given_speed_rpm: float | None = None,
    progress: Callable[[str], None] | None = None,
    with_sensitivity: bool = True,
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
    with_sensitivity : bool
        False leaves out what could have been found, the slowest part, where nothing disturbs
        the recording: for a history, which keeps what was found.

    Returns
    -------
    RecordingAnalysis
    """
    limits = limits or (card.limits if card is not None else Limits.default())
    say = progress or (lambda _step: None)
    look = first_look(recording, card=card, limits=limits, given_speed_rpm=given_speed_rpm, say=say)
    shaft_hz = look.track.speed.shaft_frequency_hz
    say("bearing families")
    report, steady = _bearing(recording, card, limits, look)
    say("disturbances")
    disturbances = _disturbances(recording, card, look)
    # Whether a disturbance hides the bearing shows only in what would have been found beside it.
    sensitivity = (
        _sensitivity(report, card, limits, steady, recording)
        if (with_sensitivity or disturbances) and card is not None and steady is not None
        else ()
    )
    say("spectra")
    time_s, waveform = waveform_excerpt(recording, shaft_hz)
    return RecordingAnalysis(
        recording=recording,
        speed=look.track.speed,
        quality=look.quality,
        descriptors=look.descriptors,
        motion=look.motion,
        shape=look.shape,
        families=report.findings,
        families_not_judged=report.not_judged,
        sensitivity=sensitivity,
        spectra=() if look.is_silent else spectrum_curves(recording, shaft_hz),
        envelopes=()
        if steady is None or card is None
        else envelope_curves(report, card.analysis.trend_band_hz, steady.rate_hz, steady.shaft_hz),
        waveform_time_s=time_s,
        waveform=waveform,
        cage_speeds=report.cage_speeds,
        disturbances=disturbances,
        masked=_masked(report, sensitivity, disturbances, limits),
        pattern=_pattern(recording, card, report, steady),
    )


def _pattern(
    recording: Recording, card: MachineCard | None, report: FamilyReport, steady: Steady | None
) -> PointPattern | None:
    """What other recordings of the point are compared with, in the card's fixed band."""
    if steady is None or card is None:
        return None
    recorded, whitened = report.recorded, report.whitened
    if not recorded:  # no bearing on the card: then a baseline is all there is to tell by
        spectra = block_spectra(
            steady.samples,
            steady.rate_hz,
            shaft_frequency_hz=steady.shaft_hz,
            lowest_hz=min(LOWEST_ORDER * steady.shaft_hz, 0.4 * steady.rate_hz),
        )
        recorded, whitened = (tuple(item) for item in spectra)
    return point_pattern(
        recording,
        blocks=split_blocks(steady.samples),
        rate_hz=steady.rate_hz,
        shaft_frequency_hz=steady.shaft_hz,
        recorded=recorded,
        whitened=whitened,
        band_hz=card.analysis.trend_band_hz,
    )


def _disturbances(
    recording: Recording, card: MachineCard | None, look: FirstLook
) -> tuple[Disturbance, ...]:
    """What else strikes or hums, read from the record at equal times."""
    if card is None or look.is_silent:
        return ()
    try:
        return find_disturbances(
            recording.samples,
            recording.sampling_rate_hz,
            shaft_frequency_hz=look.track.speed.shaft_frequency_hz,
            bearing_band_hz=card.analysis.bearing_band_hz,
            shaft_phase_turns=look.track.phase_turns,
        )
    except VibhealthError:
        # The band was not recorded, or is silent: the checks of the recording say so.
        return ()


def _masked(
    report: FamilyReport,
    sensitivity: tuple[SensitivityFinding, ...],
    disturbances: tuple[Disturbance, ...],
    limits: Limits,
) -> str:
    """What hides the bearing; nothing where a family of hold size is found all the same.

    An element in a blind spot of the bearing hides itself: recording again without the
    disturbance would not show it.
    """
    if report.not_judged or any(f.result is CriterionResult.HOLD for f in report.findings):
        return ""
    blind = {(f.bearing, f.element) for f in report.findings if f.blind_spot}
    rows = [row for row in sensitivity if (row.bearing, row.element) not in blind] or sensitivity
    # A defect is as deep as it is hard against the machine alone, not against what falls on it.
    rise = max((item.background_rise for item in disturbances), default=1.0)
    reason = masking_reason(
        disturbances,
        [rise * row.detectable_depth for row in rows],
        limits.value("detectable_depth_hold"),
    )
    limit = limits.optional_value("detectable_impact_hold_m_s2")
    if reason or limit is None:
        return reason
    return masking_reason(disturbances, [row.detectable_impact_m_s2 for row in rows], limit)


def steady_samples(recording: Recording, track: ShaftTrack, *, is_exciter: bool) -> Steady | str:
    """Samples at constant speed, or why there are none.

    Parameters
    ----------
    recording : Recording
        At equal times.
    track : ShaftTrack
        Its speed, and its shaft angle where that varies.
    is_exciter : bool
        Whether the machine moves on purpose: then the card's speed alone will not do.

    Returns
    -------
    Steady or str
        The recording's own samples up to a variation of 0.1 %, beyond it samples at equal
        shaft angles.
    """
    shaft_hz, variation = track.speed.shaft_frequency_hz, track.speed.variation_percent
    if shaft_hz is None:
        return f"no shaft speed: {track.speed.detail}"
    if is_exciter and track.speed.source == "card":
        return f"the working motion shows no steady speed: {track.speed.detail}"
    if variation is None or variation <= LARGEST_STEADY_VARIATION_PERCENT:
        return Steady(
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
    return Steady(samples=angle.samples, rate_hz=per_turn * shaft_hz, shaft_hz=shaft_hz)


def _bearing(
    recording: Recording,
    card: MachineCard | None,
    limits: Limits,
    look: FirstLook,
) -> tuple[FamilyReport, Steady | None]:
    if look.is_silent:
        return FamilyReport.without("the recording is constant"), None
    if card is None:
        return FamilyReport.without("no machine card: no bearing and no nominal speed"), None
    steady = steady_samples(recording, look.track, is_exciter=card.exciter is not None)
    if isinstance(steady, str):
        return FamilyReport.without(steady), None
    try:
        report = find_families(
            steady.samples,
            steady.rate_hz,
            shaft_frequency_hz=steady.shaft_hz,
            bearings=bearings_heard(card, recording),
            slip_percent=card.analysis.slip_percent,
            limits=_family_limits(limits),
            is_calibrated=recording.is_calibrated,
            usable_hz=recording.sensor_usable_hz,
        )
    except VibhealthError as error:
        return FamilyReport.without(str(error)), None
    return report, steady


def _family_limits(limits: Limits) -> FamilyLimits:
    return FamilyLimits(
        depth_watch=limits.value("depth_watch"),
        depth_present=limits.value("depth_present"),
        depth_hold=limits.value("depth_hold"),
        false_alarm_probability=limits.value("family_false_alarm_probability"),
    )


def bearings_heard(card: MachineCard, recording: Recording) -> tuple[RollingBearing, ...]:
    """Bearings that the card says are heard at the recording's point; all where it says nothing.

    Parameters
    ----------
    card : MachineCard
        Its points may name the bearings they hear.
    recording : Recording
        Its ``point`` may be a point of the card, another one, or None.

    Returns
    -------
    tuple of RollingBearing
        In the card's order.
    """
    if recording.point in {point.name for point in card.points}:
        return card.bearings_at(str(recording.point))
    return card.rolling_bearings()


def _sensitivity(
    report: FamilyReport,
    card: MachineCard,
    limits: Limits,
    steady: Steady,
    recording: Recording,
) -> tuple[SensitivityFinding, ...]:
    """What would have been found in the card's bearing band, as far as it was recorded."""
    if not report.envelopes:
        return ()
    low, high = report.envelopes[0].band_hz
    band = (max(low, card.analysis.bearing_band_hz[0]), min(high, card.analysis.bearing_band_hz[1]))
    if band[0] >= band[1]:
        return ()
    names = {finding.bearing for finding in report.findings}
    distinct = [bearing for bearing in card.rolling_bearings() if bearing.name in names]
    return detectable_families(
        report,
        bearing_combs(distinct),
        bearing_band_hz=band,
        shaft_frequency_hz=steady.shaft_hz,
        slip_percent=card.analysis.slip_percent,
        limits=_family_limits(limits),
        is_calibrated=recording.is_calibrated,
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
