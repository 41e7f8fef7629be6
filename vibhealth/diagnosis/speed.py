"""Shaft speed of a recording: tachometer, the working motion, or the harmonic comb."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import signal
from scipy.interpolate import CubicSpline

from vibhealth.diagnosis.speed_comb import WIDEST_PERCENT, CombSpeed, comb_speeds
from vibhealth.diagnosis.speed_field import SlowSignals, slow_signals
from vibhealth.diagnosis.speed_follow import follow_comb
from vibhealth.diagnosis.speed_line import dominant_line_hz, has_harmonics
from vibhealth.errors import RecordingError, VibhealthError
from vibhealth.model import Recording, Speed
from vibhealth.signal import (
    phase_from_demodulation,
    tachometer_phase,
)
from vibhealth.signal.shaft_phase import refine_phase
from vibhealth.units import hz_to_rpm

__all__ = ["ShaftTrack", "find_speed"]

# The phase of 1x is read in a band of 2 f / 8: a window of 16 turns.
DEMODULATION_TURNS = 8

# That window rounds the course of the phase, and reaches its ends by guessing: what it leaves is
# followed about the angle found, in shorter windows one after the other. Four turns still have
# zeros at all multiples of half the shaft frequency.
REFINING_TURNS = (8.0, 4.0, 4.0)
# On so many samples per turn: 1x is a slow line, and the windows take out what is folded onto
# other orders.
REFINING_SAMPLES_PER_TURN = 128.0

# A given speed is contradicted beyond this share (a strobe or a hand tachometer reads to 0.1 %;
# starting limit of this project, no published source). Without an exciter a line that dominates
# is taken for 1x only so near to it.
GIVEN_SHARE = 0.005
NEAR_LINE = 0.02

# A comb that is not followed must fix the speed this well: half of the cage's slip that is
# searched for a bearing's lines.
VAGUE_PERCENT = 0.75

# Error of the angle followed at either end, in turns (measured on simulated machines).
FOLLOWED_ERROR_TURNS = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftTrack:
    """Speed of a recording and, where it could be followed, the shaft angle.

    ``phase_turns`` has one value per sample and rises strictly. ``doubt`` says what
    in the recording contradicts a given speed, empty where nothing does.
    """

    speed: Speed
    phase_turns: NDArray[np.float64] | None = None
    doubt: str = ""


def find_speed(
    recording: Recording,
    *,
    nominal_hz: float | None,
    tolerance_percent: float,
    is_exciter: bool,
    given_hz: float | None = None,
) -> ShaftTrack:
    """Find the shaft speed, and say where it comes from.

    In this order: the tachometer channel, where its pulses can be followed; the speed the
    user gives; the working motion itself where one line holds most of the low-frequency velocity (an
    exciter), followed by phase demodulation; the comb of shaft harmonics in the
    spectrum and in the envelope spectrum, up to 10 % off the card, followed by the
    phase of its harmonics where they stand out, or, where that fails, by a line within the
    tolerance that dominates the motion and has harmonics that keep to its phase; the card's
    nominal speed, unconfirmed.

    A given speed is kept, being the user's word, but confronted: where the working
    motion of an exciter stands more than 0.5 % from it, or a comb within 10 % of it
    contradicts it, ``doubt`` says so, and nothing is followed. A tachometer is confronted
    with the working motion of an exciter in the same way.

    Parameters
    ----------
    recording : Recording
        Not constant; calibrated or not.
    nominal_hz : float or None
        The card's nominal shaft frequency.
    tolerance_percent : float
        Half width of the comb search with the lower demand.
    is_exciter : bool
        Whether the machine moves at 1x on purpose: then the working motion is
        looked for far beyond the tolerance too, so that a wrong machine shows.
    given_hz : float, optional
        Overrides everything but a tachometer.

    Returns
    -------
    ShaftTrack
        ``speed.shaft_frequency_hz`` is None only where no speed is known at all.
    """
    if recording.tachometer is None:
        return _without_tachometer(recording, nominal_hz, tolerance_percent, is_exciter, given_hz)
    try:
        return _from_tachometer(recording, nominal_hz if is_exciter else None)
    except VibhealthError as error:
        found = _without_tachometer(recording, nominal_hz, tolerance_percent, is_exciter, given_hz)
        left_out = f"{found.speed.detail}; the tachometer was left out: {error}"
        return replace(found, speed=replace(found.speed, detail=left_out))


def _without_tachometer(
    recording: Recording,
    nominal_hz: float | None,
    tolerance_percent: float,
    is_exciter: bool,
    given_hz: float | None,
) -> ShaftTrack:
    if given_hz is not None:
        return _given(recording, given_hz, is_exciter=is_exciter)
    if is_exciter and nominal_hz is not None:
        line_hz = dominant_line_hz(recording, nominal_hz)
        if line_hz is not None:
            return _tracked(recording, line_hz, "recording", "from the working motion (1x)")
    if nominal_hz is not None:
        by_comb = _from_comb(recording, nominal_hz, tolerance_percent)
        if by_comb.phase_turns is not None:
            return by_comb
        return _from_line(recording, nominal_hz, tolerance_percent) or by_comb
    detail = "no tachometer, no nominal speed on the card and none given"
    return ShaftTrack(
        speed=Speed(shaft_frequency_hz=None, variation_percent=None, source="none", detail=detail)
    )


def _variation_percent(phase: NDArray[np.float64], rate_hz: float, mean_hz: float) -> float:
    """Peak-to-peak variation of the speed over windows of the demodulation's length."""
    span = max(1, round(2 * DEMODULATION_TURNS / mean_hz * rate_hz))
    if phase.size < 3 * span:
        span = max(1, phase.size // 4)
    marks = phase[::span]
    speeds = np.diff(marks) * rate_hz / span
    return float(100.0 * (speeds.max() - speeds.min()) / mean_hz)


def _mean_hz(phase: NDArray[np.float64], rate_hz: float) -> float:
    return float((phase[-1] - phase[0]) * rate_hz / (phase.size - 1))


def _from_phase(phase: NDArray[np.float64], rate_hz: float, source: str, detail: str) -> ShaftTrack:
    mean_hz = _mean_hz(phase, rate_hz)
    variation = _variation_percent(phase, rate_hz, mean_hz)
    return ShaftTrack(
        speed=Speed(
            shaft_frequency_hz=mean_hz,
            variation_percent=variation,
            source=source,  # type: ignore[arg-type]
            detail=f"{detail}, varies by {variation:.2f} %",
        ),
        phase_turns=phase,
    )


def _from_tachometer(recording: Recording, nominal_hz: float | None) -> ShaftTrack:
    """Speed by the pulses, confronted with the working motion where a nominal speed is given."""
    assert recording.tachometer is not None  # noqa: S101
    phase = tachometer_phase(
        recording.tachometer,
        recording.sampling_rate_hz,
        pulses_per_turn=recording.tachometer_pulses_per_turn,
    )
    track = _from_phase(phase, recording.sampling_rate_hz, "tachometer", "from the tachometer")
    line_hz = None if nominal_hz is None else dominant_line_hz(recording, nominal_hz)
    if line_hz is None:
        return track
    seen = _tracked(recording, line_hz, "recording", "").speed.shaft_frequency_hz or line_hz
    pulses_hz = _mean_hz(phase, recording.sampling_rate_hz)
    if abs(seen / pulses_hz - 1) <= GIVEN_SHARE:
        return track
    doubt = (
        f"the working motion (1x) shows {hz_to_rpm(seen):.1f} r/min "
        f"({100 * (seen / pulses_hz - 1):+.1f} % from the tachometer, limit {100 * GIVEN_SHARE:g} %)"
    )
    detail = f"{hz_to_rpm(pulses_hz):.1f} r/min from the tachometer, but {doubt}"
    speed = replace(track.speed, detail=detail)
    return replace(track, speed=speed, phase_turns=None, doubt=doubt)


def _tracked(recording: Recording, near_hz: float, source: str, detail: str) -> ShaftTrack:
    """Speed near a frequency, followed by phase where 1x is strong enough for that."""
    try:
        phase = phase_from_demodulation(
            recording.samples,
            recording.sampling_rate_hz,
            near_hz,
            bandwidth_hz=2 * near_hz / DEMODULATION_TURNS,
        )
        phase = _refined(recording, phase, near_hz)
    except VibhealthError as error:
        untracked = f"{detail}; the phase of 1x could not be followed ({error})"
        return _untracked(near_hz, source, untracked)
    return _from_phase(phase, recording.sampling_rate_hz, source, detail)


def _refined(
    recording: Recording, phase: NDArray[np.float64], near_hz: float
) -> NDArray[np.float64]:
    """Shaft angle refined about itself, on the samples that the 1x motion needs.

    1x of a record is the same at a tenth of its rate; what the refining adds to the angle is
    smooth, so it is carried back by a spline.
    """
    factor = max(1, int(recording.sampling_rate_hz / (REFINING_SAMPLES_PER_TURN * near_hz)))
    slow, samples = phase[::factor], recording.samples
    if factor > 1:
        samples = signal.resample_poly(samples, 1, factor, padtype="line")
    refined = slow
    for window in REFINING_TURNS:
        refined = refine_phase(samples, phase_turns=refined, turns_per_window=window)
    if factor == 1:
        return refined
    at = factor * np.arange(slow.size)
    turns = phase + CubicSpline(at, refined - slow)(np.arange(phase.size))
    if not np.diff(turns).min() > 0:
        msg = "the refined phase of 1x runs backwards; samples may be missing"
        raise RecordingError(msg)
    return np.asarray(turns, dtype=np.float64)


def _untracked(shaft_hz: float, source: str, detail: str, doubt: str = "") -> ShaftTrack:
    return ShaftTrack(
        speed=Speed(
            shaft_frequency_hz=shaft_hz,
            variation_percent=None,
            source=source,  # type: ignore[arg-type]
            detail=detail,
        ),
        doubt=doubt,
    )


def _given(recording: Recording, given_hz: float, *, is_exciter: bool) -> ShaftTrack:
    """The given speed, confronted with what the recording shows."""
    detail = f"given as {hz_to_rpm(given_hz):.1f} r/min"
    line_hz = dominant_line_hz(recording, given_hz)
    if line_hz is not None and (is_exciter or abs(line_hz / given_hz - 1) < NEAR_LINE):
        track = _tracked(recording, line_hz, "given", detail)
        found_hz = track.speed.shaft_frequency_hz or line_hz
        if abs(found_hz / given_hz - 1) > GIVEN_SHARE:
            return _contradicted(given_hz, found_hz, "the working motion (1x)", detail)
        shown = f"{detail}; the recording shows {hz_to_rpm(found_hz):.1f} r/min"
        return replace(
            track, speed=replace(track.speed, detail=track.speed.detail.replace(detail, shown))
        )
    return _given_against_comb(recording, given_hz, detail)


def _given_against_comb(recording: Recording, given_hz: float, detail: str) -> ShaftTrack:
    comb = _comb(recording, given_hz, 100 * GIVEN_SHARE)
    if isinstance(comb, str):
        return _untracked(given_hz, "given", detail)
    found_hz, uncertainty = comb.found.shaft_frequency_hz, 0.01 * comb.found.uncertainty_percent
    if comb.phase_turns is not None:
        found_hz, uncertainty = _mean_hz(comb.phase_turns, recording.sampling_rate_hz), 0.0
    if abs(found_hz / given_hz - 1) > GIVEN_SHARE + uncertainty:
        return _contradicted(given_hz, found_hz, "the comb of shaft harmonics", detail)
    shown = f"{detail}; the comb of shaft harmonics shows {hz_to_rpm(found_hz):.1f} r/min"
    if comb.phase_turns is None:
        return _untracked(given_hz, "given", shown)
    return _from_phase(comb.phase_turns, recording.sampling_rate_hz, "given", shown)


def _contradicted(given_hz: float, found_hz: float, by: str, detail: str) -> ShaftTrack:
    """The given speed as it was given: the recording does not say which of the two is wrong."""
    doubt = (
        f"{by} shows {hz_to_rpm(found_hz):.1f} r/min ({100 * (found_hz / given_hz - 1):+.1f} % "
        f"from the speed given, limit {100 * GIVEN_SHARE:g} %)"
    )
    return _untracked(given_hz, "given", f"{detail}, but {doubt}", doubt)


def _slow(recording: Recording, nominal_hz: float, tolerance_percent: float) -> SlowSignals | None:
    fastest_hz = nominal_hz * (1 + 0.01 * max(tolerance_percent, WIDEST_PERCENT))
    return slow_signals(recording.samples, recording.sampling_rate_hz, highest_shaft_hz=fastest_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Comb:
    """The comb's speed and, where its harmonics could be followed, the shaft angle."""

    found: CombSpeed
    phase_turns: NDArray[np.float64] | None


def _comb(recording: Recording, nominal_hz: float, tolerance_percent: float) -> _Comb | str:
    """The first course of speed that can be followed, or the first one; or why there is none."""
    slow = _slow(recording, nominal_hz, tolerance_percent)
    if slow is None:
        return (
            f"the recording is too short for a comb, or {recording.sampling_rate_hz:g} Hz is "
            "too low a sampling rate"
        )
    first, vague = None, "the recording is too short for a comb"
    for found in comb_speeds(slow, nominal_hz=nominal_hz, tolerance_percent=tolerance_percent):
        if found.doubt:
            return found.doubt
        phase = follow_comb(slow, found)
        if phase is not None:
            phase = _at_samples(phase, slow.rate_hz, recording)
            return _Comb(found=found, phase_turns=phase)
        if found.uncertainty_percent > VAGUE_PERCENT:
            vague = (
                f"the comb at {hz_to_rpm(found.shaft_frequency_hz):.1f} r/min is only good to "
                f"{found.uncertainty_percent:.1f} %, and its phase could not be followed"
            )
        else:
            first = first or _Comb(found=found, phase_turns=None)
    return first or vague


def _from_line(
    recording: Recording, nominal_hz: float, tolerance_percent: float
) -> ShaftTrack | None:
    """The speed of the line that dominates, where it is 1x beyond doubt."""
    line_hz = dominant_line_hz(recording, nominal_hz)
    if line_hz is None or abs(line_hz / nominal_hz - 1) > 0.01 * tolerance_percent:
        return None
    track = _tracked(recording, line_hz, "recording", "from the line that dominates (1x)")
    phase = track.phase_turns
    return track if phase is not None and has_harmonics(recording.samples, phase) else None


def _from_comb(recording: Recording, nominal_hz: float, tolerance_percent: float) -> ShaftTrack:
    comb = _comb(recording, nominal_hz, tolerance_percent)
    if isinstance(comb, _Comb):
        return _comb_track(recording, comb, nominal_hz, tolerance_percent)
    return ShaftTrack(
        speed=Speed(
            shaft_frequency_hz=nominal_hz,
            variation_percent=None,
            source="card",
            detail=f"the card's {hz_to_rpm(nominal_hz):.1f} r/min, not confirmed: {comb}",
            uncertainty_percent=tolerance_percent,
        )
    )


def _comb_track(
    recording: Recording, comb: _Comb, nominal_hz: float, tolerance_percent: float
) -> ShaftTrack:
    found, phase = comb.found, comb.phase_turns
    rate_hz = recording.sampling_rate_hz
    shaft_hz = found.shaft_frequency_hz if phase is None else _mean_hz(phase, rate_hz)
    away = 100 * (shaft_hz / nominal_hz - 1)
    detail = "from the comb of shaft harmonics"
    if abs(away) > tolerance_percent:
        detail += (
            f", {away:+.1f} % off the card's {hz_to_rpm(nominal_hz):.1f} r/min and outside its "
            f"tolerance of {tolerance_percent:g} %"
        )
    detail += f" (a false speed with probability {max(found.false_speed_probability, 1e-9):.1g})"
    if phase is not None:
        track = _from_phase(phase, rate_hz, "recording", detail)
        uncertainty_percent = 100 * FOLLOWED_ERROR_TURNS / float(phase[-1] - phase[0])
        speed = replace(track.speed, uncertainty_percent=uncertainty_percent)
        return replace(track, speed=speed)
    variation = None
    if found.course_hz.size > 1:
        variation = float(100 * np.ptp(found.course_hz) / shaft_hz)
        detail += f", varies by about {variation:.1f} %, its phase could not be followed"
    return ShaftTrack(
        speed=Speed(
            shaft_frequency_hz=shaft_hz,
            variation_percent=variation,
            source="recording",
            detail=detail,
            uncertainty_percent=found.uncertainty_percent,
        )
    )


def _at_samples(
    slow_phase: NDArray[np.float64], slow_rate_hz: float, recording: Recording
) -> NDArray[np.float64]:
    """A slow signal's phase at each sample; beyond its end the last speed goes on."""
    slow_s = np.arange(slow_phase.size) / slow_rate_hz
    time_s = np.arange(recording.samples.size) / recording.sampling_rate_hz
    inside = np.minimum(time_s, slow_s[-1])
    speed_hz = (slow_phase[-1] - slow_phase[-2]) * slow_rate_hz
    phase = CubicSpline(slow_s, slow_phase)(inside) + speed_hz * (time_s - inside)
    return np.asarray(phase, dtype=np.float64)
