"""Recording faults of random strength, each with the checks that must report it.

Strengths are drawn evenly (ranges in ``RANGE``) from what happens at machines (common
practice, no source); weaker ones are not claimed to be found.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from vibhealth.model import Recording
from vibhealth.simulate.recording_faults import (
    alias,
    dead_with_hum,
    load_with_material,
    loosen_mount,
    pick_up_mains,
    saturate_sensor,
    settle_at_start,
    shorten,
    wander_speed,
    wrong_sensitivity,
)

__all__ = ["SINGLE_FAULTS", "SingleFault"]

Rng = np.random.Generator
Samples = NDArray[np.float64]
FACTORS = (2.54, 9.80665, 10.0, 25.4, 100.0, 1000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleFault:
    """A fault of one recording: what is done to it, how strongly, and which checks see it.

    ``on_real`` says why it is not tried on the open recordings, empty where it is.
    """

    strength: str
    inject: Callable[[Recording, Rng], Recording]
    seen_by: frozenset[str]
    on_real: str = ""


def _changed(
    function: Callable[..., Samples], **ranges: Callable[[Rng], Any]
) -> Callable[[Recording, Rng], Recording]:
    """Apply a function of samples with strengths drawn from the ranges."""

    def inject(recording: Recording, rng: Rng) -> Recording:
        drawn = {name: draw(rng) for name, draw in ranges.items()}
        samples = function(recording.samples[None], recording.sampling_rate_hz, rng, **drawn)
        return replace(recording, samples=samples[0])

    return inject


def _between(low: float, high: float) -> Callable[[Rng], float]:
    return lambda rng: float(rng.uniform(low, high))


def _one_of(*values: Any) -> Callable[[Rng], Any]:
    return lambda rng: values[int(rng.integers(len(values)))]


def _factor(rng: Rng) -> float:
    value = float(FACTORS[int(rng.integers(len(FACTORS)))]) * rng.uniform(0.97, 1.03)
    return value if rng.random() < 0.5 else 1 / value


def _lost(recording: Recording, rng: Rng) -> Recording:
    """One block is lost, away from the ends, where the phase cannot be followed."""
    rate = recording.sampling_rate_hz
    length = round(rng.uniform(0.005, 0.04) * rate)
    end = min(round(1.2 * rate), recording.samples.size // 3)
    start = int(rng.integers(end, recording.samples.size - end - length))
    kept = np.delete(recording.samples, slice(start, start + length))
    return replace(recording, samples=kept)


def _limit(recording: Recording, rng: Rng, low: float, high: float) -> float:
    """Magnitude that this share of the samples exceeds, drawn evenly in its logarithm."""
    share = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    return float(np.quantile(np.abs(recording.samples), 1 - share))


def _clip(recording: Recording, rng: Rng) -> Recording:
    """Exact flat tops."""
    limit = _limit(recording, rng, 3e-4, 0.05)
    return replace(recording, samples=np.clip(recording.samples, -limit, limit))


def _clip_rounded(recording: Recording, rng: Rng) -> Recording:
    """A 16-bit converter whose range is too small, full scale known or not."""
    top = _limit(recording, rng, 3e-4, 0.05)
    counts = np.clip(np.round(recording.samples / top * 2**15), -(2**15), 2**15 - 1)
    full_scale = float(top) if rng.random() < 0.5 else None
    return replace(recording, samples=counts * top / 2**15, full_scale=full_scale)


def _one_sided_saturation(recording: Recording, rng: Rng) -> Recording:
    """Tops bent flat on one side, far below full scale."""
    limit = float(np.quantile(np.abs(recording.samples), 0.995)) / rng.uniform(1.15, 1.6)
    knee = 0.9 * limit
    over = np.maximum(recording.samples - knee, 0.0)
    bent = np.minimum(recording.samples, knee) + (limit - knee) * np.tanh(over / (limit - knee))
    sign = 1.0 if rng.random() < 0.5 else -1.0
    return replace(recording, samples=sign * bent)


def _stuck(recording: Recording, rng: Rng) -> Recording:
    """A block of 5 to 50 ms is repeated, or one value stays for as long."""
    samples = recording.samples.copy()
    length = max(80, round(rng.uniform(0.005, 0.05) * recording.sampling_rate_hz))
    start = int(rng.integers(2 * length, samples.size - 2 * length))
    is_copy = rng.random() < 0.5
    samples[start : start + length] = samples[start - length : start] if is_copy else samples[start]
    return replace(recording, samples=samples)


def _jumps(recording: Recording, rng: Rng) -> Recording:
    """One to three overloads: the baseline jumps by 0.3 to 1 of the rms and creeps back."""
    samples = saturate_sensor(
        recording.samples[None],
        recording.sampling_rate_hz,
        rng,
        share=float(rng.uniform(0.6, 0.9)),
        jump_share=float(rng.uniform(0.3, 1.0)),
        recovery_s=float(rng.uniform(0.5, 3.0)),
        jumps=int(rng.integers(1, 4)),
    )
    return replace(recording, samples=samples[0])


def _filtered(recording: Recording, rng: Rng) -> Recording:
    """A low pass of eighth order at 200 to 500 Hz was left in."""
    corner_hz = rng.uniform(200.0, 500.0)
    sections = signal.butter(8, corner_hz, fs=recording.sampling_rate_hz, output="sos")
    return replace(recording, samples=signal.sosfiltfilt(sections, recording.samples))


def _shortened(recording: Recording, rng: Rng) -> Recording:
    seconds = rng.uniform(0.2, 0.85) * recording.duration_s
    samples = shorten(recording.samples[None], recording.sampling_rate_hz, rng, seconds=seconds)
    return replace(recording, samples=samples[0])


SINGLE_FAULTS: Mapping[str, SingleFault] = {
    "sensitivity or unit wrong": SingleFault(
        strength="2.54, 9.81, 10, 25.4, 100 or 1000 times or inverse, each within 3 %",
        inject=_changed(wrong_sensitivity, factor=_factor),
        seen_by=frozenset({"stroke-scale"}),
        on_real="the card of an ordinary machine states no stroke to compare with",
    ),
    "clipped, exact tops": SingleFault(
        strength="0.03 to 5 % of the samples",
        inject=_clip,
        seen_by=frozenset({"clipping"}),
    ),
    "clipped, 16 bit": SingleFault(
        strength="0.03 to 5 % of the samples, full scale known or not",
        inject=_clip_rounded,
        seen_by=frozenset({"clipping"}),
    ),
    "sensor saturates on one side": SingleFault(
        strength="bent flat 1.15 to 1.6 times below the 99.5 % magnitude, below full scale",
        inject=_one_sided_saturation,
        seen_by=frozenset({"sensor-overload", "clipping", "mount"}),
        on_real="tops of noise last one or two samples, too few to show a soft bend",
    ),
    "sensor overloaded, baseline jumps": SingleFault(
        strength="1 to 3 jumps of 0.3 to 1 of the peak, 0.5 to 3 s",
        inject=_jumps,
        seen_by=frozenset({"sensor-overload", "settling"}),
    ),
    "still settling": SingleFault(
        strength="0.3 to 3 of the rms, time constant 1 to 8 s",
        inject=_changed(
            settle_at_start, share=_between(0.3, 3.0), time_constant_s=_between(1.0, 8.0)
        ),
        seen_by=frozenset({"settling", "sensor-overload"}),
    ),
    "dead, hum only": SingleFault(
        strength="hum of 0.0001 to 0.01 of the rms at 50 or 60 Hz",
        inject=_changed(dead_with_hum, share=_between(0.0001, 0.01), mains_hz=_one_of(50.0, 60.0)),
        seen_by=frozenset({"dead-channel", "constant"}),
    ),
    "mount loose, alone": SingleFault(
        strength="second-order corner at 600 to 1500 Hz, motion bent by 0.03 to 0.2, rattle of "
        "0.05 to 0.3 of the peak",
        inject=_changed(
            loosen_mount,
            corner_hz=_between(600.0, 1500.0),
            asymmetry=_between(0.03, 0.2),
            rattle_share=_between(0.05, 0.3),
        ),
        seen_by=frozenset({"mount", "band-alive"}),
        on_real="the machine's own resonance looks the same; another recording of the point tells",
    ),
    "low pass left in": SingleFault(
        strength="eighth order, forth and back, at 200 to 500 Hz",
        inject=_filtered,
        seen_by=frozenset({"band-alive", "mount"}),
    ),
    "samples lost": SingleFault(
        strength="one gap of 5 to 40 ms, 1.2 s or more from the ends",
        inject=_lost,
        seen_by=frozenset({"dropped-samples"}),
        on_real="1x of an ordinary machine is too weak to be followed",
    ),
    "block repeated or stuck": SingleFault(
        strength="5 to 50 ms",
        inject=_stuck,
        seen_by=frozenset({"repeated-block"}),
    ),
    "mains picked up": SingleFault(
        strength="0.3 to 1 of the rms at 50 or 60 Hz",
        inject=_changed(pick_up_mains, share=_between(0.3, 1.0), mains_hz=_one_of(50.0, 60.0)),
        seen_by=frozenset({"mains", "dead-channel"}),
    ),
    "speed wanders": SingleFault(
        strength="8 to 15 % peak to peak (the limit is 5)",
        inject=_changed(wander_speed, percent=_between(8.0, 15.0)),
        seen_by=frozenset({"speed"}),
        on_real="1x of an ordinary machine is too weak to be followed",
    ),
    "too short": SingleFault(
        strength="0.2 to 0.85 of the length that is needed",
        inject=_shortened,
        seen_by=frozenset({"length"}),
        on_real="the pieces are shorter than 400 turns from the start",
    ),
    "material on the machine": SingleFault(
        strength="3 to 40 strikes per second, the smallest 0.01 to 0.05 of the peak",
        inject=_changed(
            load_with_material, per_second=_between(3.0, 40.0), share=_between(0.01, 0.05)
        ),
        seen_by=frozenset({"material"}),
        on_real="an ordinary machine carries no material; its bearing's own hits look the same",
    ),
}


def aliased(oversampled: Recording, keep_every: int, rng: Rng) -> Recording:
    """Every so-many-th sample without a filter."""
    samples = alias(
        oversampled.samples[None], oversampled.sampling_rate_hz, rng, keep_every=keep_every
    )
    return replace(
        oversampled, samples=samples[0], sampling_rate_hz=oversampled.sampling_rate_hz / keep_every
    )
