"""Faults in the course of a recording: overload, settling, stuck and repeated samples."""

import math

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_facts import (
    BASELINE_HOP_S,
    BASELINE_WINDOW_S,
    Needs,
    Outcome,
    SampleFacts,
    hold,
    not_judged,
    passed,
    watch,
)
from vibhealth.units import STANDARD_GRAVITY_M_S2

__all__ = ["repeated_block", "sensor_overload", "settling"]

# Starting limits of this project; no published source.
BASELINE_STEP_G = 0.2
SETTLING_G = 0.1
SETTLING_S = 10.0
# Of a quiet machine a smaller step is a fault: this part of the rms value, but not below what
# sensors creep by themselves. The open recordings that the benchmark names reach 0.18.
STEP_TO_RMS, SMALLEST_STEP_G = 0.3, 0.02
# A smaller change is a remark where it is this part of the rms value and an exponential explains
# this share of all that the baseline does. Pieces of the open recordings change by 0.09 at most in
# 99 of 100, the strongest by 0.27 with a share of 0.69.
SETTLING_TO_RMS, SETTLING_SHARE, SMALLEST_SETTLING_G = 0.12, 0.95, 0.002
# Without calibration the same checks compare with the rms value, and only warn.
RELATIVE_TO_RMS = 0.1
PLATEAU_ZONE = 0.015  # of peak-to-peak
PLATEAU_SHARE = 1e-3  # of the samples must lie in the zone before it is judged
PLATEAU_HOLD, PLATEAU_WATCH = 0.1, 0.25
STUCK_SAMPLES = 8
BLOCK_LENGTH = 64


def sensor_overload(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Hold tops flattened below full scale and jumps of the baseline.

    An overloaded sensor or amplifier passes no fast vibration while it is
    saturated: near the extreme values the second difference collapses. When it
    recovers, its baseline has jumped and creeps back.
    """
    advice = "Use a sensor or amplifier with a larger range, check the cable, record again."
    ratio = min(_plateau_ratio(facts, top=True), _plateau_ratio(facts, top=False))
    quiet = (
        f"Near the extreme values the fast vibration falls to {100 * ratio:.2g} % of its usual "
        f"size (limit {100 * PLATEAU_HOLD:.0f} %)"
    )
    if ratio < PLATEAU_HOLD:
        return hold(f"{quiet}: the sensor or its amplifier saturates.", advice)
    if facts.baseline.size < 3:
        return not_judged("Too short to follow the baseline (limit 2 s).", "Record longer.")
    lag = round(BASELINE_WINDOW_S / BASELINE_HOP_S)
    change = facts.baseline[lag:] - facts.baseline[:-lag]
    where = int(np.argmax(np.abs(change)))
    limit, is_absolute = _limit(facts, BASELINE_STEP_G)
    found = (
        f"The baseline moves by at most {facts.words(abs(float(change[where])))} within 1 s "
        f"(limit {facts.words(limit)})"
    )
    if abs(change[where]) > limit:
        text = f"{found}, at {(where + lag) * BASELINE_HOP_S:.1f} s{_return(facts, where, lag)}."
        return hold(text, advice) if is_absolute else watch(text, advice)
    if ratio < PLATEAU_WATCH:
        return watch(f"{quiet}.", advice)
    return passed(f"{found}; no flattened tops.")


def _plateau_ratio(facts: SampleFacts, *, top: bool) -> float:
    """Median second difference near one extreme over that of all samples, 1 if unknown."""
    bend = np.abs(np.diff(facts.samples, 2))
    usual = float(np.median(bend))
    if usual <= 4 * facts.step:
        return 1.0
    low, high = facts.ordered[0], facts.ordered[-1]
    inner = facts.samples[1:-1]
    width = PLATEAU_ZONE * (high - low)
    zone = inner > high - width if top else inner < low + width
    if zone.sum() < max(PLATEAU_SHARE * inner.size, 20):
        return 1.0
    return float(np.median(bend[zone])) / usual


def _limit(facts: SampleFacts, limit_g: float) -> tuple[float, bool]:
    """Limit in the unit of the samples, and whether it is an absolute one."""
    if facts.recording.is_calibrated:
        of_rms_g = STEP_TO_RMS * facts.rms / STANDARD_GRAVITY_M_S2
        return min(limit_g, max(of_rms_g, SMALLEST_STEP_G)) * STANDARD_GRAVITY_M_S2, True
    return RELATIVE_TO_RMS * facts.rms, False


def _return(facts: SampleFacts, where: int, lag: int) -> str:
    """Words on how the baseline comes back after a jump that starts at ``where``."""
    deviation = (facts.baseline[where + lag :] - facts.baseline[where]) * np.sign(
        facts.baseline[where + lag] - facts.baseline[where]
    )
    back = np.flatnonzero(deviation < deviation[0] / np.e)
    if back.size == 0:
        return " and does not come back"
    return f" and creeps back within about {back[0] * BASELINE_HOP_S:.1f} s, as after an overload"


def settling(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Fit an exponential to the baseline of the first 10 s."""
    early = facts.baseline[: round((SETTLING_S - BASELINE_WINDOW_S) / BASELINE_HOP_S) + 1]
    if early.size < 5:
        return not_judged("Too short to see a settling baseline (limit 3 s).", "Record longer.")
    trend, time_constant_s, share = _exponential_trend(early)
    limit, is_absolute = _limit(facts, SETTLING_G)
    found = (
        f"The baseline settles by {facts.words(abs(trend))} in the first "
        f"{min(SETTLING_S, facts.recording.duration_s):.3g} s (limit {facts.words(limit)})"
    )
    if abs(trend) <= limit:
        least = max(SETTLING_TO_RMS * facts.rms, SMALLEST_SETTLING_G * STANDARD_GRAVITY_M_S2)
        if is_absolute and abs(trend) > least and share > SETTLING_SHARE:
            return watch(
                f"{found}, but {abs(trend) / facts.rms:.2f} of the rms value (watch "
                f"{SETTLING_TO_RMS:g}) along an exponential.",
                "The sensor was still settling a little: wait 10 s after power-up.",
            )
        return passed(f"{found}.")
    wait_s = time_constant_s * np.log(abs(trend) / (0.1 * limit))
    advice = (
        f"The sensor was still settling. Wait at least {max(wait_s, 10):.0f} s after power-up, "
        "then record again."
    )
    return hold(f"{found}.", advice) if is_absolute else watch(f"{found}.", advice)


def _exponential_trend(baseline: NDArray[np.float64]) -> tuple[float, float, float]:
    """Change over the fitted ``a exp(-t / tau) + c``, the best tau in s, the share it explains."""
    time_s = np.arange(baseline.size) * BASELINE_HOP_S
    best = (np.inf, 0.0, 1.0)
    for tau_s in np.geomspace(0.5, 20.0, 16):
        shape = np.exp(-time_s / tau_s)
        slope = np.polyfit(shape, baseline, 1)
        error = float(np.sum((np.polyval(slope, shape) - baseline) ** 2))
        best = min(best, (error, float(slope[0] * (shape[0] - shape[-1])), float(tau_s)))
    left = best[0] / max(float(np.sum((baseline - baseline.mean()) ** 2)), np.finfo(float).tiny)
    return best[1], best[2], 1 - left


def repeated_block(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Hold stuck stretches and stretches that occur twice, sample by sample."""
    rate = facts.recording.sampling_rate_hz
    advice = (
        "The recorder lost samples. Close other programs, use another memory card, record again."
    )
    start, length = _stuck(facts)
    if length:
        return hold(
            f"{length} equal samples in a row at {start / rate:.3f} s (limit {STUCK_SAMPLES - 1}).",
            advice,
        )
    copied, second = _copied(facts.samples)
    if copied:
        return hold(
            f"About {copied} samples repeat an earlier stretch exactly, first at "
            f"{second / rate:.3f} s (limit {BLOCK_LENGTH - 1} in a row).",
            advice,
        )
    return passed(
        f"No stretch of {STUCK_SAMPLES} equal samples, none of {BLOCK_LENGTH} samples that "
        "occurs twice."
    )


def _stuck(facts: SampleFacts) -> tuple[int, int]:
    """Start and length of the longest stuck stretch, (0, 0) for none.

    Stuck is a stretch away from the extreme values that is longer than equal
    neighbours can explain, and that the signal does not enter and leave gently,
    as it does at the rounded crest of a quiet sine.
    """
    x = facts.samples
    equal = x[1:] == x[:-1]
    edges = np.flatnonzero(np.diff(np.concatenate(([False], equal, [False]))))
    starts, stops = edges[::2], edges[1::2]
    long = stops - starts + 1 >= _stuck_limit(facts, equal)
    best = (0, 0)
    margin = facts.step / 2
    for start, stop in zip(starts[long], stops[long], strict=True):
        before = abs(x[start] - x[start - 1]) if start > 0 else 0.0
        after = abs(x[stop + 1] - x[stop]) if stop + 1 < x.size else 0.0
        inside = facts.ordered[0] + margin < x[start] < facts.ordered[-1] - margin
        if inside and max(before, after) > 3 * facts.step and stop - start + 1 > best[1]:
            best = (int(start), int(stop - start + 1))
    return best


def _stuck_limit(facts: SampleFacts, equal: NDArray[np.bool_]) -> int:
    """Shortest run expected less than once in 10 000 recordings, at least 8 samples.

    Runs at the commonest value are the longest in noise, runs between neighbours
    that tend to be equal in slow signals; the larger of the two shares counts.
    """
    edges = np.flatnonzero(np.diff(facts.ordered) > 0)
    counts = np.diff(np.concatenate(([-1], edges, [facts.ordered.size - 1])))
    share = max(float(equal.mean()), float(counts.max()) / facts.ordered.size)
    by_chance = 1 + math.ceil(math.log(1e-4 / equal.size) / math.log(share)) if share < 1 else 0
    return max(STUCK_SAMPLES, by_chance)


def _copied(samples: NDArray[np.float64]) -> tuple[int, int]:
    """Samples in stretches of 64 that occurred before, and where the first is.

    A polynomial hash of every window of 64 samples, built by doubling (Karp and
    Rabin, IBM J. Res. Dev. 31(2), 1987, 249-260); windows in which fewer than
    half of the neighbours differ are left out, and one pair is compared in full.
    """
    if samples.size < 2 * BLOCK_LENGTH:
        return 0, 0
    code = (samples + 0.0).view(np.uint64)  # + 0.0 turns -0.0 into 0.0
    code = (code ^ (code >> np.uint64(32))) * np.uint64(0x9E3779B97F4A7C15)
    code ^= code >> np.uint64(29)
    factor, span = 0xD6E8FEB86659FD93, 1
    while span < BLOCK_LENGTH:
        code = code[:-span] * np.uint64(factor) + code[span:]
        factor, span = factor * factor % 2**64, 2 * span
    changes = np.concatenate(([0], np.cumsum(samples[1:] != samples[:-1])))
    lively = changes[BLOCK_LENGTH - 1 :] - changes[: -BLOCK_LENGTH + 1] >= BLOCK_LENGTH // 2
    where = np.flatnonzero(lively)
    ordered = np.sort(code[where])
    twice = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
    if twice.size == 0:
        return 0, 0
    return _second_occurrences(samples, code, where, twice)


def _second_occurrences(
    samples: NDArray[np.float64],
    code: NDArray[np.uint64],
    where: NDArray[np.intp],
    twice: NDArray[np.uint64],
) -> tuple[int, int]:
    """Samples covered by later occurrences of the codes, and the first of them."""
    at = where[np.isin(code[where], twice)]
    _, first = np.unique(code[at], return_index=True)
    later = np.setdiff1d(at, at[first])
    earlier = at[first][np.searchsorted(code[at][first], code[later[0]])]
    window = np.arange(BLOCK_LENGTH)
    if not np.array_equal(samples[earlier + window], samples[later[0] + window]):
        return 0, 0  # a collision of the hash: about 1 in 10 million records
    covered = np.zeros(samples.size + 1, dtype=np.int64)
    np.add.at(covered, later, 1)
    np.add.at(covered, later + BLOCK_LENGTH, -1)
    return int(np.count_nonzero(np.cumsum(covered)[:-1])), int(later[0])
