"""Faults of the samples themselves: dead, clipped, overloaded, settling, stuck, out of range.

Limits whose comment names no source are starting limits of this project, common
practice without a published source.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_facts import (
    Needs,
    Outcome,
    SampleFacts,
    hold,
    not_judged,
    passed,
    watch,
)
from vibhealth.units import g_to_m_s2

__all__ = [
    "calibration",
    "clipping",
    "constant",
    "dead_channel",
    "offset",
    "sensor_range",
]

DEAD_RMS_M_S2 = g_to_m_s2(0.02)
DEAD_MAINS_SHARE = 0.5
LIVE_SHAFT_SHARE = 0.5  # a quiet channel that follows the shaft is connected, if not well scaled
MAINS_HZ = (50.0, 60.0)
CLIPPED_RUN = 3  # so many in a row at the extreme value are clipping, however few they are
# A clean sine rounded to a grid puts 1 / (sqrt(3) - 1) * 2 = 2.73 times as many samples on
# its outermost level as on the mean of the next two (arcsine law); noise always puts fewer.
# The larger ratio allows for chance where the neighbours are few.
PILE_UP_RATIO, PILE_UP_RATIO_OF_FEW = 3.0, 4.0
FEW_NEIGHBOURS = 30
# Full scale of a positive half is one step short: 2**-15 for 16 bit, nothing for the negative.
FULL_SCALE_TOLERANCE = 5e-5
OFFSET_TO_RMS = 1.0
OFFSET_TO_FULL_SCALE = 0.5
RANGE_WATCH = 0.7
RANGE_HOLD = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _End:
    """Samples that lie exactly on one extreme value (values mirrored for the minimum)."""

    count: int
    longest_run: int
    neighbours: float  # mean count of the next two distinct values

    def is_pile_up(self, clipped_samples: float) -> bool:
        """Whether more samples lie here than the values below can explain."""
        if self.count > clipped_samples:
            few = self.neighbours < FEW_NEIGHBOURS
            ratio = PILE_UP_RATIO_OF_FEW if few else PILE_UP_RATIO
            return self.count > ratio * max(self.neighbours, 1.0)
        return self.longest_run >= CLIPPED_RUN and self.neighbours <= 1.0


def constant(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Hold a channel whose samples take three values or fewer."""
    if facts.is_constant:
        return hold(
            f"All {facts.samples.size} samples are equal to {facts.words(facts.mean)}.",
            "Check sensor, cable and channel number, then record again.",
        )
    if facts.n_values <= 3:
        return hold(
            f"The samples take only {facts.n_values} different values (limit: more than 3).",
            "Check cable and input range: the channel is at its rails or far too coarse. "
            "Record again.",
        )
    return passed(f"The samples take {facts.n_values} different values (limit: more than 3).")


def dead_channel(facts: SampleFacts, needs: Needs) -> Outcome:
    """Hold a channel without vibration, or with mains hum and no shaft line."""
    advice = "Check sensor, connector, cable and supply of the channel, then record again."
    share, mains_hz = max((_mains_share(facts, needs, line), line) for line in MAINS_HZ)
    hum = f"{100 * share:.3g} % of the power lies at {mains_hz:g} Hz (limit 50 %)"
    if share > DEAD_MAINS_SHARE and needs.shaft_frequency_hz is None:
        return hold(f"{hum} and no shaft speed was found: this is mains hum.", advice)
    if share > DEAD_MAINS_SHARE and facts.line_power(needs.shaft_frequency_hz or 0.0) == 0:
        return hold(f"{hum} and there is no line at the shaft frequency: mains hum.", advice)
    if not facts.recording.is_calibrated:
        return passed(f"{hum}; the level is not judged without calibration.")
    level = f"The rms value is {facts.words(facts.rms)} (limit 0.02 g); {hum}."
    if facts.rms >= DEAD_RMS_M_S2:
        return passed(level)
    shaft = facts.line_power(needs.shaft_frequency_hz or 0.0) / float(facts.power.sum())
    if needs.shaft_frequency_hz is not None and shaft > LIVE_SHAFT_SHARE:
        return passed(f"{level} {100 * shaft:.0f} % of it turns with the shaft: connected.")
    return hold(level, advice)


def _mains_share(facts: SampleFacts, needs: Needs, mains_hz: float) -> float:
    """Share of the power at a mains frequency; 0 where the shaft turns that fast."""
    shaft_hz = needs.shaft_frequency_hz
    if shaft_hz is not None and abs(shaft_hz - mains_hz) < 0.02 * mains_hz:
        return 0.0
    return facts.line_power(mains_hz) / float(facts.power.sum())


def clipping(facts: SampleFacts, needs: Needs) -> Outcome:
    """Hold flat tops: the extreme value repeated more often than its neighbours.

    Low-level recordings repeat their extreme values because the converter's grid
    is coarse, so repeats are compared with those of the next two values. Samples
    at the converter's full scale count whatever their neighbours.
    """
    limit = needs.clipped_samples
    ends = (_end(facts, top=True), _end(facts, top=False))
    flat = sum(end.count for end in ends if end.is_pile_up(limit))
    share = f"{100 * flat / facts.samples.size:.2g} % flat tops"
    repeats = max(end.count for end in ends)
    if flat:
        return hold(
            f"{share}: {flat} samples lie exactly on the extreme value (limit "
            f"{limit:g}, or {CLIPPED_RUN} in a row).",
            "Signal too big for the input range. Use the next higher range and record again.",
        )
    at_limit, run = _at_full_scale(facts)
    found = f"{at_limit} samples lie at the converter's full scale (limit {limit:g})"
    if at_limit > limit or run >= CLIPPED_RUN:
        return hold(
            f"{found}, up to {run} in a row (limit {CLIPPED_RUN - 1}).",
            "Signal too big for the input range. Use the next higher range and record again.",
        )
    if at_limit:
        return watch(f"{found}.", "The range is only just enough: use the next higher one.")
    return passed(
        f"No flat tops: the extreme value occurs {repeats} times, as its neighbours explain."
    )


def _end(facts: SampleFacts, *, top: bool) -> _End:
    """Describe the samples on the largest value, or mirrored on the smallest."""
    ordered = facts.ordered if top else -facts.ordered[::-1]
    samples = facts.samples if top else -facts.samples
    counts: list[int] = []
    last = ordered.size
    while last > 0 and len(counts) < 3:
        first = int(np.searchsorted(ordered, ordered[last - 1] - facts.step / 2))
        counts.append(last - first)
        last = first
    on_top = samples >= ordered[ordered.size - counts[0]]
    return _End(
        count=counts[0],
        longest_run=_longest_run(on_top),
        neighbours=float(np.mean(counts[1:])) if counts[1:] else float(counts[0]),
    )


def _longest_run(flags: NDArray[np.bool_]) -> int:
    """Length of the longest stretch of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False]))))
    return int(np.max(np.diff(edges)[::2], initial=0))


def _at_full_scale(facts: SampleFacts) -> tuple[int, int]:
    """Count the samples at the converter's limits, and the most in a row.

    Where the format has no limit, a grid from exactly -2**k to 2**k - 1 steps
    (k at least 7) shows that of the converter.
    """
    full_scale = facts.recording.full_scale
    low, high = facts.ordered[0], facts.ordered[-1]
    if full_scale is not None:
        tolerance = max(1.5 * facts.step, FULL_SCALE_TOLERANCE * full_scale)
        at_limit = np.abs(facts.samples) >= full_scale - tolerance
    elif _spans_a_converter(facts):
        margin = facts.step / 2
        at_limit = (facts.samples <= low + margin) | (facts.samples >= high - margin)
    else:
        return 0, 0
    return int(at_limit.sum()), _longest_run(at_limit)


def _spans_a_converter(facts: SampleFacts) -> bool:
    """Whether the values reach from exactly -2**k to 2**k - 1 steps, k at least 7."""
    low, high = facts.ordered[0], facts.ordered[-1]
    if facts.step == 0 or low >= 0:
        return False
    top = 2 ** round(math.log2(max(-low / facts.step, 1.0)))
    off_low, off_high = low / facts.step + top, high / facts.step - top + 1
    return top >= 2**7 and bool(abs(off_low) < 0.5 and abs(off_high) < 0.5)


def offset(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Watch a mean larger than the vibration, hold one that eats half the range."""
    full_scale = facts.recording.full_scale
    found = f"The mean is {facts.words(facts.mean)}, the rms value {facts.words(facts.rms)}"
    if full_scale is not None and abs(facts.mean) > OFFSET_TO_FULL_SCALE * full_scale:
        return hold(
            f"{found}: the mean takes {100 * abs(facts.mean) / full_scale:.0f} % of full scale "
            "(limit 50 %).",
            "Check the sensor's supply and coupling (AC), then record again.",
        )
    if abs(facts.mean) > OFFSET_TO_RMS * facts.rms:
        return watch(
            f"{found} (limit: mean not above rms).",
            "Check the sensor's supply and coupling; a sensor that reads gravity shows up to 1 g.",
        )
    return passed(f"{found} (limit: mean not above rms).")


def sensor_range(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Compare the peak with the range of the sensor."""
    limit = facts.recording.sensor_range_m_s2
    if limit is None or not facts.recording.is_calibrated:
        missing = "calibration" if limit is not None else "range of the sensor"
        return not_judged(
            f"The {missing} is not known, so overload of the sensor is not excluded.",
            "Write range and sensitivity of the sensor on the machine card.",
        )
    ratio = facts.peak / limit
    found = (
        f"The peak is {facts.words(facts.peak)}, {100 * ratio:.0f} % of the sensor's range of "
        f"{facts.words(limit)}"
    )
    advice = "Use a sensor with a larger range (for example 500 g instead of 50 g)."
    if ratio > RANGE_HOLD:
        return hold(f"{found} (limit 100 %).", f"{advice} Record again.")
    if ratio > RANGE_WATCH:
        return watch(f"{found} (limit 70 %).", advice)
    return passed(f"{found} (limit 70 %).")


def calibration(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Say what a missing calibration costs."""
    known = facts.recording.calibration
    if facts.recording.is_calibrated:
        return passed(f"Calibrated: {known.source if known else 'samples are in m/s2'}.")
    return not_judged(
        "No calibration is known: stroke, levels in g, impact size, sensor range and every "
        "absolute limit are not judged; ratios and frequencies are.",
        "Give unit or sensitivity and full scale on the machine card or beside the recording.",
    )
