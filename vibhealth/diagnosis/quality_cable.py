"""Channels of one file beside each other: hits that only a cable or connector makes.

What hits the machine shakes all of the body: every sensor on it hears that at the same instant,
some more, some less. A cable that whips with the motion, or a connector that opens, makes spikes
at the same place of the turn in its own channel only.

Limits are starting limits of this project, common practice without a published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth._check import check_positive
from vibhealth.card import MachineCard
from vibhealth.diagnosis.disturbance_hits import even_band, hard_hits
from vibhealth.diagnosis.disturbance_sweep import load_sweep
from vibhealth.diagnosis.disturbance_timing import locked_to_shaft
from vibhealth.diagnosis.motion import shaft_phase_of
from vibhealth.diagnosis.quality_facts import Outcome, hold, not_judged, passed, watch
from vibhealth.errors import InputError, VibhealthError
from vibhealth.model import CriterionResult, QualityFinding, Recording, RecordingAnalysis
from vibhealth.signal import analytic_band, record_spectrum

__all__ = ["CableLook", "cable_look", "check_cable"]

MOST_SAMPLES = 2**20
FEWEST_HITS = 20
# From just before a hit to 2.5 ms after it another place of the body must have heard it; windows of
# the same length before it and after it (counted in windows) are what that channel holds anyway.
BEFORE_S, AFTER_S = 0.001, 0.0025
BESIDE = np.array([-3, -2, 3, 4])
# So much louder it is when it hears the hits, and beyond what so many standard errors would do.
LOUDER, ERRORS = 1.1, 2.5
# A channel that fails one of these hears nothing at all and is no witness.
DEAF = frozenset({"constant", "dead-channel", "band-alive"})
# Of a hit on the body this share at least arrives in another direction or at another place of
# it; it shows in noise that is not much smaller.
LEAST_SHARE, LEAST_OVER_NOISE = 0.1, 1.5

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CableLook:
    """What was found, and the channels (numbers of the file) whose hits no other hears.

    ``open_hits`` are channels whose hits no other hears, perhaps for its own noise.
    """

    finding: QualityFinding
    own_hits: frozenset[int]
    open_hits: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Channel:
    """Squared envelope of a channel in its bearing band, evened in frequency, and its noise."""

    recording: Recording
    envelope: Values
    noise: float
    n_samples: int
    phase_turns: Values

    @property
    def duration_s(self) -> float:
        """Of the samples that the envelope stands for."""
        return self.n_samples / self.recording.sampling_rate_hz


def check_cable(
    recordings: Sequence[Recording],
    suspects: Sequence[Recording],
    *,
    shaft_hz: float,
    bearing_band_hz: tuple[float, float],
) -> CableLook:
    """Check that what hits in one channel is heard in the others that were recorded with it.

    Parameters
    ----------
    recordings : sequence of Recording
        Channels of one file, all on the same body.
    suspects : sequence of Recording
        Those in which something hits every turn, as far as that is known.
    shaft_hz : float
        Mean shaft frequency, above 0.
    bearing_band_hz : tuple of float
        Where hits are listened to, cut off at half the sampling rate.

    Returns
    -------
    CableLook
        Its finding, ``cable``: hold where a channel has hits at one place of the turn that
        no other hears though it would; not judged with one channel alone.

    Raises
    ------
    InputError
        If the recordings are not of one length and rate, or the frequency is not above 0.
    """
    check_positive(shaft_hz, name="shaft_hz")
    if len({(r.samples.shape, r.sampling_rate_hz) for r in recordings}) > 1:
        msg = f"{recordings[0].path}: channels of a file must have one rate and length"
        raise InputError(msg)
    outcomes = _outcomes(recordings, suspects, shaft_hz, bearing_band_hz)
    order = ("hold", "watch", "not-judged", "pass")
    worst = min((outcome for _, outcome in outcomes), key=lambda o: order.index(o.result.value))
    return CableLook(
        finding=QualityFinding(
            id="cable",
            title="No cable makes hits of its own",
            result=worst.result,
            detail=worst.detail,
            advice=worst.advice,
        ),
        own_hits=_channels(outcomes, CriterionResult.HOLD),
        open_hits=_channels(outcomes, CriterionResult.WATCH),
    )


def _channels(
    outcomes: Sequence[tuple[Recording, Outcome]], result: CriterionResult
) -> frozenset[int]:
    return frozenset(r.channel for r, outcome in outcomes if outcome.result is result)


def cable_look(analyses: Sequence[RecordingAnalysis], *, card: MachineCard) -> CableLook | None:
    """Whether a cable makes the hits of a channel, where something hits every turn at all.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Channels of one file on the moving body, from `inspect_recording` or
        `analyze_recording`.
    card : MachineCard
        Bearing band.

    Returns
    -------
    CableLook or None
        None where there is one channel that hears, nothing hits, or no speed was found.

    Raises
    ------
    InputError
        If the channels are not of one rate and length.
    """
    hz = analyses[0].speed.shaft_frequency_hz
    hearing = [a for a in analyses if not _is_deaf(a)]
    suspects = [a.recording for a in hearing if _may_be_hit(a)]
    if len(hearing) < 2 or hz is None or not suspects or card.exciter is None:
        return None
    return check_cable(
        [a.recording for a in hearing],
        suspects,
        shaft_hz=hz,
        bearing_band_hz=card.analysis.bearing_band_hz,
    )


def _may_be_hit(analysis: RecordingAnalysis) -> bool:
    """Whether something hits every turn: then the mount is in doubt too."""
    mount = [finding for finding in analysis.quality if finding.id == "mount"]
    return any(finding.result is not CriterionResult.PASS for finding in mount)


def _is_deaf(analysis: RecordingAnalysis) -> bool:
    return any(f.id in DEAF and f.result is CriterionResult.HOLD for f in analysis.quality)


def _outcomes(
    recordings: Sequence[Recording],
    suspects: Sequence[Recording],
    shaft_hz: float,
    band_hz: tuple[float, float],
) -> list[tuple[Recording, Outcome]]:
    """What is said of every suspect, of the first channel where there is none."""
    if len(recordings) < 2:
        alone = not_judged(
            "Hits that only a cable makes show beside another channel of the body.",
            "Record two directions into one file.",
        )
        return [(recordings[0], alone)]
    if not suspects:
        return [(recordings[0], passed("Nothing hits every turn in one of the channels."))]
    rate_hz = recordings[0].sampling_rate_hz
    band = (band_hz[0], min(band_hz[1], 0.49 * rate_hz))
    try:
        phase = _phase(recordings, shaft_hz)
        channels = [_listened(recording, band, phase) for recording in recordings]
        return [
            (channel.recording, _of_suspect(channel, channels, band[1] - band[0]))
            for channel in channels
            if any(channel.recording is suspect for suspect in suspects)
        ]
    except VibhealthError as error:
        why = not_judged(f"The channels could not be compared: {error}.", "Record again.")
        return [(recordings[0], why)]


def _phase(recordings: Sequence[Recording], shaft_hz: float) -> Values:
    """Shaft angle of each sample, from the channel that moves most."""
    strongest = max(recordings, key=lambda recording: float(np.std(recording.samples)))
    try:
        return shaft_phase_of(
            strongest.samples, strongest.sampling_rate_hz, shaft_frequency_hz=shaft_hz
        )
    except VibhealthError:  # too short, or 1x fades: the speed check says so
        step = shaft_hz / strongest.sampling_rate_hz
        return np.arange(strongest.samples.size, dtype=np.float64) * step


def _listened(recording: Recording, band_hz: tuple[float, float], phase: Values) -> _Channel:
    spectrum = record_spectrum(recording.samples[:MOST_SAMPLES], recording.sampling_rate_hz)
    wave = analytic_band(spectrum, band_hz)
    # The median of an exponential variable of mean 1 is ln 2.
    noise = np.sqrt(float(np.median(wave.real**2 + wave.imag**2)) / np.log(2))
    envelope = even_band(spectrum, band_hz)
    at = np.arange(envelope.size) * (spectrum.n_samples / envelope.size)
    return _Channel(
        recording=recording,
        envelope=envelope,
        noise=max(noise, 1e-30),
        n_samples=spectrum.n_samples,
        phase_turns=np.interp(at, np.arange(phase.size), phase),
    )


def _of_suspect(suspect: _Channel, channels: Sequence[_Channel], bandwidth_hz: float) -> Outcome:
    """Hits of one channel at one place of the turn, and who else hears them."""
    name = _name(suspect.recording)
    times_s, height = _hits(suspect, bandwidth_hz)
    if times_s.size < FEWEST_HITS:
        return passed(f"{name}: too few hits at one place of the turn to follow.")
    heard, deaf, unknown = [], [], []
    for other in channels:
        if other is suspect:
            continue
        louder, error = _louder(other, times_s, bandwidth_hz)
        words = f"{_name(other.recording)} is {louder:.2f} times as strong"
        if louder > max(LOUDER, 1 + ERRORS * error):
            heard.append(words)
        elif LEAST_SHARE * height * suspect.noise < LEAST_OVER_NOISE * other.noise:
            unknown.append(words)
        else:
            deaf.append(words)
    found = (
        f"{name} shows {times_s.size} hits at one place of the turn, {height:.0f} times its noise"
    )
    if heard:
        return passed(f"{found}; they are heard elsewhere too: then {', '.join(heard)}.")
    told = f"then {', '.join([*deaf, *unknown])} as before and after"
    if not deaf:
        return watch(
            f"{found}; the others may be too loud to tell whether they hear them: {told}.",
            "Check mount, cable and connector of that sensor, then look for a loose part.",
        )
    return hold(
        f"{found}, and no other channel hears them: {told} (limit {LOUDER:g}). Its cable or "
        "connector makes them, not the machine.",
        "Lock out, tie down the cable, clean and tighten the connector, swap the cable, and record "
        "again.",
    )


def _hits(channel: _Channel, bandwidth_hz: float) -> tuple[Values, float]:
    """Times of the hits at one place of the turn, and their middle height over the noise."""
    hits = hard_hits(
        channel.envelope,
        bandwidth_hz=bandwidth_hz,
        duration_s=channel.duration_s,
        phase_turns=channel.phase_turns,
    )
    step_s = channel.duration_s / channel.envelope.size
    turns = np.interp(hits.times_s / step_s, np.arange(channel.envelope.size), channel.phase_turns)
    locked = locked_to_shaft(turns, float(np.ptp(channel.phase_turns)))
    if locked is None:
        return np.zeros(0), 0.0
    return hits.times_s[locked.is_locked], float(np.median(hits.heights[locked.is_locked]))


def _louder(channel: _Channel, times_s: Values, bandwidth_hz: float) -> tuple[float, float]:
    """Power at the hits over that before and after them, and its standard error without hits.

    Medians over all hits. The mean power of a window of noise spreads by the root of one over
    bandwidth times length (textbook), a median a quarter more than a mean.
    """
    step_s = channel.duration_s / channel.envelope.size
    length = max(1, round((BEFORE_S + AFTER_S) / step_s))
    first = np.round((times_s - BEFORE_S) / step_s).astype(np.intp)
    inside = (first + BESIDE[0] * length >= 0) & (
        first + (BESIDE[-1] + 1) * length <= channel.envelope.size
    )
    first = first[inside]
    if first.size == 0:
        return 1.0, 1.0
    even = channel.envelope / load_sweep(channel.envelope, channel.phase_turns)
    starts = first[:, np.newaxis] + length * np.append(0, BESIDE)
    power = even[starts[..., np.newaxis] + np.arange(length)].mean(axis=-1)
    ratio = float(np.median(power[:, 0]) / max(float(np.median(power[:, 1:])), 1e-300))
    spread = 1.25 / np.sqrt(bandwidth_hz * (BEFORE_S + AFTER_S) * first.size)
    return ratio, float(spread * np.sqrt(1 + 1 / BESIDE.size))


def _name(recording: Recording) -> str:
    return recording.point or f"channel {recording.channel}"
