"""Is the sensor firmly mounted: what a loose mount does to the spectrum above the motion.

A loose sensor is a mass on a soft spring: a wide peak somewhere between 0.5 and 3 kHz and next
to nothing of the bearing above it, while the working motion reads as ever (practice after the
mounting notes of accelerometer makers and ISO 5348, from memory). Where it lifts off once per
turn, what is left without the motion reaches farther to one side than to the other. A machine's
own resonance can look the same, so one recording alone holds only where it is sure; against
another recording of the same point the level itself decides.

Limits whose comment names no source are starting limits of this project, common practice
without a published source.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from vibhealth.diagnosis.quality_facts import (
    Needs,
    Outcome,
    SampleFacts,
    hold,
    passed,
    watch,
)

__all__ = ["asymmetry", "half_octaves", "mount", "quiet_half_octaves"]

# Half octaves from here up to this share of the sampling rate, where filters begin.
LOWEST_HZ, HIGHEST_SHARE_OF_RATE = 250.0, 0.4
# The peak of a loose mount, and by how much everything from an octave above it lies lower. A
# second-order system is 10 dB down one octave above its resonance and its peak stands 10 to
# 20 dB out. The open recordings that the benchmark names reach 7 dB.
PEAK_HZ = (500.0, 3000.0)
FALL_WATCH_DB, FALL_HOLD_DB = 10.0, 20.0
OCTAVE = 2
# How much farther the signal without its motion reaches to one side (outermost 0.5 % of samples).
MOTION_ORDERS = 15.0
TAIL = 0.005
ASYMMETRY_WATCH, ASYMMETRY_HOLD = 0.13, 0.25  # the open recordings reach 0.085
MOUNT_SAMPLES = 2**19
# Pieces for what sounds between strikes: long enough for a line every 100 Hz, shorter than a
# sixth of a turn of a machine that shakes on purpose; freed of its motion below this edge.
QUIET_PIECE_S, QUIET_SHARE = 0.01, 1 / 3
QUIET_LOWEST_HZ, QUIET_EDGE_SHARE = 500.0, 0.6
QUIET_FALL_DB = 3.5  # invented loose mounts reach 5 to 7, machines with strikes every turn 1


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfOctaves:
    """Density per half octave: ``centre_hz`` and ``density_db``, shape (n_bands,)."""

    centre_hz: NDArray[np.float64]
    density_db: NDArray[np.float64]


def half_octaves(facts: SampleFacts, lowest_hz: float = LOWEST_HZ) -> HalfOctaves:
    """Median power density of half octaves, in dB of one (unit of the samples)^2 per Hz.

    The median over the lines of a band leaves out single lines, such as those of the shaft.
    """
    highest_hz = HIGHEST_SHARE_OF_RATE * facts.recording.sampling_rate_hz
    number = max(0, int(2 * np.log2(max(highest_hz / lowest_hz, 1.0))))
    edges = lowest_hz * 2 ** (np.arange(number + 1) / 2)
    lines = [facts.between(low, high) for low, high in pairwise(edges)]
    median = np.array([np.median(part) if part.size else 0.0 for part in lines])
    total = max(float(facts.power.sum()), np.finfo(float).tiny) * facts.line_spacing_hz
    scale = facts.rms**2 / total
    density = 10 * np.log10(np.maximum(median * scale, np.finfo(float).tiny))
    return HalfOctaves(centre_hz=edges[:-1] * 2**0.25, density_db=density)


def quiet_half_octaves(facts: SampleFacts, lowest_hz: float = QUIET_LOWEST_HZ) -> HalfOctaves:
    """Power density of half octaves in the quieter moments, in dB of any reference.

    Of pieces of 10 ms the one at a third from the quietest counts in each line: what strikes once or twice a
    turn rings in fewer, and hides nothing between its strikes; a loose mount is deaf all along.
    """
    rate = facts.recording.sampling_rate_hz
    highest_hz = HIGHEST_SHARE_OF_RATE * rate
    number = max(0, int(2 * np.log2(max(highest_hz / lowest_hz, 1.0))))
    edges = lowest_hz * 2 ** (np.arange(number + 1) / 2)
    centre = edges[:-1] * 2**0.25
    samples = facts.samples[:MOUNT_SAMPLES] - facts.mean
    size = max(16, round(QUIET_PIECE_S * rate))
    if number == 0 or samples.size < 8 * size:
        return HalfOctaves(centre_hz=centre[:0], density_db=centre[:0])
    sections = signal.butter(6, QUIET_EDGE_SHARE * lowest_hz, "high", fs=rate, output="sos")
    rest = signal.sosfilt(sections, samples)[4 * size :]
    frequency, _, power = signal.spectrogram(rest, rate, window="hann", nperseg=size, noverlap=0)
    quiet = np.quantile(power, QUIET_SHARE, axis=1)
    parts = [quiet[(frequency >= low) & (frequency < high)] for low, high in pairwise(edges)]
    median = np.array([np.median(part) if part.size else np.nan for part in parts])
    kept = np.isfinite(median)
    density = 10 * np.log10(np.maximum(median[kept], np.finfo(float).tiny))
    return HalfOctaves(centre_hz=centre[kept], density_db=density)


def asymmetry(facts: SampleFacts, shaft_frequency_hz: float) -> float:
    """How much farther the samples without the motion reach to one side, -1 to 1.

    With the outermost 0.5 % at either end ``(high + low) / (high - low)``, 0 for a
    signal that is the same upside down; single strikes hardly move it.
    """
    rate = facts.recording.sampling_rate_hz
    edge = MOTION_ORDERS * shaft_frequency_hz
    if edge > 0.25 * rate:
        return 0.0
    sections = signal.butter(4, edge, "high", fs=rate, output="sos")
    rest = signal.sosfilt(sections, facts.samples[:MOUNT_SAMPLES] - facts.mean)
    rest = rest[round(2 * rate / edge) :]
    low, middle, high = np.quantile(rest, (TAIL, 0.5, 1 - TAIL))
    return float((high + low - 2 * middle) / (high - low)) if high > low else 0.0


def mount(facts: SampleFacts, needs: Needs) -> Outcome | None:
    """Look for the spectrum and the lopsidedness of a loose mount in one recording."""
    if needs.shaft_frequency_hz is None:
        return None
    fall = _fall(half_octaves(facts))
    between = _fall(quiet_half_octaves(facts))
    is_deaf = between is not None and between[1] > QUIET_FALL_DB
    lopsided = abs(asymmetry(facts, needs.shaft_frequency_hz))
    words = []
    if fall is not None:
        words.append(
            f"above its strongest half octave between 0.5 and 3 kHz (at {fall[0]:.0f} Hz) the "
            f"spectrum falls by {fall[1]:.0f} dB (watch {FALL_WATCH_DB:g}, hold {FALL_HOLD_DB:g})"
        )
    words.append(
        f"without the motion the signal reaches {100 * lopsided:.0f} % farther to one side "
        f"(watch {100 * ASYMMETRY_WATCH:g}, hold {100 * ASYMMETRY_HOLD:g})"
    )
    found = "; ".join(words)
    found = f"{found[0].upper()}{found[1:]}"
    fall_db = fall[1] if fall is not None and is_deaf else 0.0
    if fall is not None and fall[1] > FALL_WATCH_DB and not is_deaf:
        found += "; between what strikes it does not fall, so that is the strikes'"
    advice = (
        "Lock out, clean the spot, screw or stick the sensor on firmly, secure its cable, and "
        "record again; compare with a recording of the same point (inspect takes several)."
    )
    # What hits every turn is lopsided by itself, and need not be the sensor.
    strikes = [item for item in needs.disturbances or () if item.id == "strikes-at-1x"]
    if fall_db > FALL_HOLD_DB or (lopsided > ASYMMETRY_HOLD and not strikes):
        return hold(f"{found}: as of a loose sensor.", advice)
    if strikes:
        return watch(
            f"{found}; something hits at the same place of every turn, {strikes[0].value:.0f} times "
            "the noise: the sensor on a loose mount, a cable, a guard or a bolt.",
            advice,
        )
    if fall_db > FALL_WATCH_DB or lopsided > ASYMMETRY_WATCH:
        return watch(f"{found}: a loose sensor can do that.", advice)
    return passed(f"{found}.")


def _fall(bands: HalfOctaves) -> tuple[float, float] | None:
    """Where the peak of a mount would be, and how far all lies below it from an octave above."""
    near = (bands.centre_hz > PEAK_HZ[0]) & (bands.centre_hz < PEAK_HZ[1])
    if not near.any():
        return None
    peak = int(np.flatnonzero(near)[np.argmax(bands.density_db[near])])
    above = bands.density_db[peak + OCTAVE :]
    if above.size == 0:
        return None
    return float(bands.centre_hz[peak]), float(bands.density_db[peak] - above.max())
