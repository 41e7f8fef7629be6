"""Shaft speed of a recording: tachometer, the working motion, or the harmonic comb."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_comb import CombSpeed, comb_speed
from vibhealth.errors import VibhealthError
from vibhealth.model import Recording, Speed
from vibhealth.signal import (
    integrate_spectrum,
    phase_from_demodulation,
    power_spectral_density,
    tachometer_phase,
)
from vibhealth.units import hz_to_rpm

__all__ = ["ShaftTrack", "find_speed"]

# Slowest and fastest 1x looked for on an exciter, as multiples of the nominal speed: a wrong
# machine, a wrong unit of the sampling rate or a wrong drive setting should be seen as such.
EXCITER_SEARCH = (0.3, 3.0)

# Share of the velocity power in the search range that one line must hold to be taken as the
# working motion (closed form for a lone 1x: 1; common practice, no source, for the limit).
DOMINANT_SHARE = 0.5

# The phase of 1x is read in a band of 2 f / 8: a window of 16 turns.
DEMODULATION_TURNS = 8

# Comb search: least score (noise alone: 23 with a standard deviation of 2) and least lead over
# the next best speed, both in nepers of summed line power.
SMALLEST_COMB_SCORE = 40.0
SMALLEST_COMB_LEAD = 8.0

TURNS_PER_SEGMENT = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftTrack:
    """Speed of a recording and, where it could be followed, the shaft angle.

    ``phase_turns`` has one value per sample and rises strictly.
    """

    speed: Speed
    phase_turns: NDArray[np.float64] | None = None


def find_speed(
    recording: Recording,
    *,
    nominal_hz: float | None,
    tolerance_percent: float,
    is_exciter: bool,
    given_hz: float | None = None,
) -> ShaftTrack:
    """Find the shaft speed, and say where it comes from.

    In this order: the tachometer channel; the speed the user gives; the working
    motion itself where one line holds most of the low-frequency velocity (an
    exciter), followed by phase demodulation; the comb of shaft harmonics in the
    spectrum and in the envelope spectrum; the card's nominal speed, unconfirmed.

    Parameters
    ----------
    recording : Recording
        Not constant; calibrated or not.
    nominal_hz : float or None
        The card's nominal shaft frequency.
    tolerance_percent : float
        Half width of the comb search about it.
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
    if recording.tachometer is not None:
        return _from_tachometer(recording)
    if given_hz is not None:
        return _tracked(recording, given_hz, "given", f"given as {hz_to_rpm(given_hz):.1f} r/min")
    if is_exciter and nominal_hz is not None:
        line_hz = _dominant_line_hz(recording, nominal_hz)
        if line_hz is not None:
            return _tracked(recording, line_hz, "recording", "from the working motion (1x)")
    if nominal_hz is not None:
        return _from_comb(recording, nominal_hz, tolerance_percent)
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


def _from_phase(phase: NDArray[np.float64], rate_hz: float, source: str, detail: str) -> ShaftTrack:
    mean_hz = float((phase[-1] - phase[0]) * rate_hz / (phase.size - 1))
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


def _from_tachometer(recording: Recording) -> ShaftTrack:
    assert recording.tachometer is not None  # noqa: S101
    phase = tachometer_phase(
        recording.tachometer,
        recording.sampling_rate_hz,
        pulses_per_turn=recording.tachometer_pulses_per_turn,
    )
    return _from_phase(phase, recording.sampling_rate_hz, "tachometer", "from the tachometer")


def _tracked(recording: Recording, near_hz: float, source: str, detail: str) -> ShaftTrack:
    """Speed near a frequency, followed by phase where 1x is strong enough for that."""
    try:
        phase = phase_from_demodulation(
            recording.samples,
            recording.sampling_rate_hz,
            near_hz,
            bandwidth_hz=2 * near_hz / DEMODULATION_TURNS,
        )
    except VibhealthError as error:
        untracked = f"{detail}; the phase of 1x could not be followed ({error})"
        return ShaftTrack(
            speed=Speed(
                shaft_frequency_hz=near_hz,
                variation_percent=None,
                source=source,  # type: ignore[arg-type]
                detail=untracked,
            )
        )
    track = _from_phase(phase, recording.sampling_rate_hz, source, detail)
    found_hz = track.speed.shaft_frequency_hz
    if source != "given" or found_hz is None:
        return track
    if not _is_dominant(recording, found_hz):
        # A weak 1x gives a phase of noise: the given speed stands as it was given.
        return ShaftTrack(
            speed=Speed(
                shaft_frequency_hz=near_hz, variation_percent=None, source="given", detail=detail
            )
        )
    shown = f"{detail}; the recording shows {hz_to_rpm(found_hz):.1f} r/min"
    return _from_phase(phase, recording.sampling_rate_hz, "given", shown)


def _velocity_power(
    recording: Recording, turn_hz: float, top_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Velocity power below ``top_hz``, lines a sixtieth of ``turn_hz`` apart at best."""
    seconds = min(TURNS_PER_SEGMENT / turn_hz, recording.duration_s)
    psd = power_spectral_density(
        recording.samples - recording.samples.mean(),
        recording.sampling_rate_hz,
        segment_seconds=seconds,
    )
    amplitude = integrate_spectrum(
        np.sqrt(psd.values), psd.frequency_hz, times=1, lower_cut_hz=0.25 * turn_hz
    )
    keep = psd.frequency_hz <= top_hz
    return psd.frequency_hz[keep], np.abs(amplitude[keep]) ** 2


def _line_share(power: NDArray[np.float64], at: int) -> float:
    """Share of all power held by a line and its two neighbours on each side."""
    total = float(power.sum())
    return float(power[max(0, at - 2) : at + 3].sum()) / total if total > 0 else 0.0


def _dominant_line_hz(recording: Recording, nominal_hz: float) -> float | None:
    low, high = (multiple * nominal_hz for multiple in EXCITER_SEARCH)
    if high >= recording.sampling_rate_hz / 4 or recording.duration_s * nominal_hz < 10:
        return None
    frequency_hz, power = _velocity_power(recording, nominal_hz, high)
    power = np.where(frequency_hz >= low, power, 0.0)
    at = int(np.argmax(power))
    if _line_share(power, at) < DOMINANT_SHARE:
        return None
    near = slice(max(0, at - 2), at + 3)
    return float(np.sum(frequency_hz[near] * power[near]) / np.sum(power[near]))


def _is_dominant(recording: Recording, line_hz: float) -> bool:
    found = _dominant_line_hz(recording, line_hz)
    return found is not None and abs(found / line_hz - 1) < 0.02


def _from_comb(recording: Recording, nominal_hz: float, tolerance_percent: float) -> ShaftTrack:
    found: CombSpeed | None = comb_speed(
        recording.samples,
        recording.sampling_rate_hz,
        nominal_hz=nominal_hz,
        tolerance_percent=tolerance_percent,
    )
    rpm = hz_to_rpm(nominal_hz)
    if found is None:
        detail = f"the card's {rpm:.1f} r/min, not confirmed: the recording is too short for a comb"
    elif found.score < SMALLEST_COMB_SCORE or found.lead < SMALLEST_COMB_LEAD:
        detail = (
            f"the card's {rpm:.1f} r/min, not confirmed: no comb of shaft harmonics stands out "
            f"within {tolerance_percent:g} % (best {hz_to_rpm(found.shaft_frequency_hz):.1f} r/min "
            f"with {found.score:.1f} of {SMALLEST_COMB_SCORE:g} and a lead of {found.lead:.1f} of "
            f"{SMALLEST_COMB_LEAD:g})"
        )
    else:
        return ShaftTrack(
            speed=Speed(
                shaft_frequency_hz=found.shaft_frequency_hz,
                variation_percent=None,
                source="recording",
                detail=f"from the comb of shaft harmonics (score {found.score:.1f}, "
                f"lead {found.lead:.1f})",
                uncertainty_percent=found.uncertainty_percent,
            )
        )
    return ShaftTrack(
        speed=Speed(
            shaft_frequency_hz=nominal_hz,
            variation_percent=None,
            source="card",
            detail=detail,
            uncertainty_percent=tolerance_percent,
        )
    )
