"""What is read from a recording before its bearing: speed, faults, levels, motion."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from vibhealth._check import check_samples
from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.levels import level_descriptors
from vibhealth.diagnosis.motion import motion_of
from vibhealth.diagnosis.motion_shape import shape_of
from vibhealth.diagnosis.quality import check_recording
from vibhealth.diagnosis.slowed import slowed
from vibhealth.diagnosis.speed import ShaftTrack, find_speed
from vibhealth.errors import VibhealthError
from vibhealth.model import (
    CriterionResult,
    Descriptor,
    Motion,
    MotionShape,
    QualityFinding,
    Recording,
    Speed,
)
from vibhealth.units import rpm_to_hz

__all__ = ["CheckedRecording", "FirstLook", "checked_recording", "first_look"]

FEWEST_SAMPLES = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstLook:
    """Speed, recording faults, levels and motion of one recording.

    ``is_silent`` says that all samples are equal: then there is nothing else.
    """

    track: ShaftTrack
    quality: tuple[QualityFinding, ...]
    descriptors: tuple[Descriptor, ...]
    motion: Motion | None
    shape: MotionShape | None
    is_silent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedRecording:
    """Speed, recording faults and working motion of one recording."""

    track: ShaftTrack
    quality: tuple[QualityFinding, ...]
    motion: Motion | None


def first_look(
    recording: Recording,
    *,
    card: MachineCard | None,
    limits: Limits,
    given_speed_rpm: float | None,
    say: Callable[[str], None],
) -> FirstLook:
    """Read speed, faults, levels and motion.

    Parameters
    ----------
    recording : Recording
        At least 16 finite samples.
    card : MachineCard or None
        Nominal speed, bearing band, exciter.
    limits : Limits
        In force.
    given_speed_rpm : float or None
        Shaft speed, above 0, used instead of the recording's own.
    say : callable
        Called with a word before each step.

    Returns
    -------
    FirstLook

    Raises
    ------
    InputError
        If the recording has too few samples.
    """
    check_samples(recording.samples, name=f"samples of {recording.path}", minimum=FEWEST_SAMPLES)
    is_silent = float(np.ptp(recording.samples)) == 0.0
    say("speed")
    track = _silent_track() if is_silent else _track(recording, card, given_speed_rpm)
    say("recording faults")
    with ThreadPoolExecutor(max_workers=1) as pool:  # levels take as long as all of the rest
        levels = None if is_silent else pool.submit(_levels, recording, track, _band_hz(card))
        slow = _slowed(recording, track)
        motion = None if is_silent else _motion(*slow)
        quality = _quality(recording, track, motion, card, limits)
        say("levels and motion")
        return FirstLook(
            track=track,
            quality=(*quality, _speed_note(track)),
            motion=motion,
            shape=None if is_silent else _shape(*slow),
            descriptors=() if levels is None else levels.result(),
            is_silent=is_silent,
        )


def checked_recording(
    recording: Recording, *, card: MachineCard | None, given_speed_rpm: float | None = None
) -> CheckedRecording:
    """Read only what tells whether a recording is usable: speed, stroke and recording faults.

    Parameters
    ----------
    recording : Recording
        At least 16 samples, not all equal.
    card : MachineCard or None
        Nominal speed, bearing band, exciter, limits.
    given_speed_rpm : float, optional
        Shaft speed, above 0, used instead of the recording's own.

    Returns
    -------
    CheckedRecording

    Raises
    ------
    InputError
        If the recording has too few samples.
    """
    check_samples(recording.samples, name=f"samples of {recording.path}", minimum=FEWEST_SAMPLES)
    limits = card.limits if card is not None else Limits.default()
    is_silent = float(np.ptp(recording.samples)) == 0.0
    track = _silent_track() if is_silent else _track(recording, card, given_speed_rpm)
    motion = None if is_silent else _motion(*_slowed(recording, track))
    quality = _quality(recording, track, motion, card, limits)
    return CheckedRecording(track=track, quality=(*quality, _speed_note(track)), motion=motion)


def _band_hz(card: MachineCard | None) -> tuple[float, float] | None:
    return card.analysis.bearing_band_hz if card is not None else None


def _quality(
    recording: Recording,
    track: ShaftTrack,
    motion: Motion | None,
    card: MachineCard | None,
    limits: Limits,
) -> tuple[QualityFinding, ...]:
    return check_recording(
        recording,
        shaft_frequency_hz=track.speed.shaft_frequency_hz,
        bearing_band_hz=_band_hz(card),
        minimum_turns=limits.value("minimum_turns"),
        recommended_turns=limits.value("recommended_turns"),
        minimum_turns_source=limits.source("minimum_turns"),
        clipped_samples=limits.value("clipped_samples_hold"),
        stroke_mm=motion.stroke_mm if motion is not None else None,
        stated_stroke_mm=_stated_stroke_mm(recording, card),
        stroke_hold_percent=limits.value("stroke_hold_percent"),
        random_hits_watch=limits.value("random_hits_watch"),
        random_hits_hold=limits.value("random_hits_hold"),
        shaft_phase_turns=track.phase_turns,
        is_exciter=card is not None and card.exciter is not None,
    )


def _stated_stroke_mm(recording: Recording, card: MachineCard | None) -> float | None:
    """The card's stroke along the recording's direction, of a point on the moving body."""
    if card is None or card.exciter is None or card.exciter.stroke_mm is None:
        return None
    if not recording.is_calibrated or recording.direction is None:
        return None
    names = {point.name: point for point in card.points}
    point = names.get(recording.point or "")
    if point is not None and point.mounted_on not in {None, "body"}:
        return None
    return card.exciter.stroke_mm.along(recording.direction)


def _slowed(recording: Recording, track: ShaftTrack) -> tuple[Recording, ShaftTrack]:
    """The recording at a rate that still holds the working motion, with its shaft angle."""
    shaft_hz = track.speed.shaft_frequency_hz
    if shaft_hz is None or track.phase_turns is None:
        return recording, track
    slow, phase = slowed(
        recording, shaft_frequency_hz=shaft_hz, shaft_phase_turns=track.phase_turns
    )
    return slow, replace(track, phase_turns=phase)


def _silent_track() -> ShaftTrack:
    return ShaftTrack(
        speed=Speed(
            shaft_frequency_hz=None,
            variation_percent=None,
            source="none",
            detail="not found: the recording is constant",
        )
    )


def _track(
    recording: Recording, card: MachineCard | None, given_speed_rpm: float | None
) -> ShaftTrack:
    given_rpm = given_speed_rpm if given_speed_rpm is not None else recording.shaft_speed_rpm
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


def _shape(recording: Recording, track: ShaftTrack) -> MotionShape | None:
    if track.speed.shaft_frequency_hz is None or track.speed.source == "card":
        return None
    try:
        return shape_of(
            recording,
            shaft_frequency_hz=track.speed.shaft_frequency_hz,
            shaft_phase_turns=track.phase_turns,
        )
    except VibhealthError:
        # Too short or too slowly sampled: the length and bandwidth checks say so.
        return None


def _speed_note(track: ShaftTrack) -> QualityFinding:
    """How the speed was found, as the last of the checks.

    A given speed or a tachometer that the recording contradicts holds: one of the two is
    wrong, and nothing that is read at multiples of the speed can be relied upon.
    """
    advice, result = "", CriterionResult.PASS
    if track.doubt:
        result = CriterionResult.HOLD
        advice = (
            "Measure the speed again; check tachometer (mark, pulses per turn), sampling rate, "
            "machine and card, or leave out the speed or tachometer that was given."
        )
    elif track.speed.source in {"card", "none"}:
        result = CriterionResult.NOT_JUDGED
        advice = (
            "Give the speed with --speed-rpm from a tachometer or strobe reading, or record "
            "longer at steady speed."
        )
    return QualityFinding(
        id="speed-found",
        title="Speed found in the recording",
        result=result,
        detail=f"Speed {track.speed.detail}.",
        advice=advice,
    )
