"""What is read from a recording before its bearing: speed, faults, levels, motion."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from vibhealth._check import check_samples
from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.levels import level_descriptors
from vibhealth.diagnosis.motion import motion_of
from vibhealth.diagnosis.motion_shape import shape_of
from vibhealth.diagnosis.quality import check_recording
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

__all__ = ["FirstLook", "first_look"]

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
    band_hz = card.analysis.bearing_band_hz if card is not None else None
    check_samples(recording.samples, name=f"samples of {recording.path}", minimum=FEWEST_SAMPLES)
    is_silent = float(np.ptp(recording.samples)) == 0.0
    say("speed")
    track = _silent_track() if is_silent else _track(recording, card, given_speed_rpm)
    shaft_hz = track.speed.shaft_frequency_hz
    say("recording faults")
    quality = check_recording(
        recording,
        shaft_frequency_hz=shaft_hz,
        bearing_band_hz=band_hz,
        minimum_turns=limits.value("minimum_turns"),
        recommended_turns=limits.value("recommended_turns"),
        minimum_turns_source=limits.source("minimum_turns"),
        clipped_samples=limits.value("clipped_samples_hold"),
    )
    say("levels and motion")
    return FirstLook(
        track=track,
        quality=(*quality, _speed_note(track)),
        descriptors=() if is_silent else _levels(recording, track, band_hz),
        motion=None if is_silent else _motion(recording, track),
        shape=None if is_silent else _shape(recording, track),
        is_silent=is_silent,
    )


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

    A given speed that the recording contradicts is not judged: one of the two is
    wrong, and nothing that is read at multiples of the speed can be relied upon.
    """
    advice = ""
    if track.doubt:
        advice = (
            "Measure the speed again and check sampling rate, machine and card, or leave out "
            "the given speed."
        )
    elif track.speed.source in {"card", "none"}:
        advice = (
            "Give the speed with --speed-rpm from a tachometer or strobe reading, or record "
            "longer at steady speed."
        )
    return QualityFinding(
        id="speed-found",
        title="Speed found in the recording",
        result=CriterionResult.NOT_JUDGED if advice else CriterionResult.PASS,
        detail=f"Speed {track.speed.detail}.",
        advice=advice,
    )
