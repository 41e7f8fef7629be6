"""Is it this machine, in this state: the stroke as calibrator, material on the deck.

A check that does not apply to a recording (no card, no stroke stated, no bearing band)
returns None and shows no row. Limits whose comment names no source are starting limits of
this project, common practice without a published source.
"""

from dataclasses import replace

import numpy as np

from vibhealth.diagnosis.disturbances import find_disturbances
from vibhealth.diagnosis.quality_facts import (
    Needs,
    Outcome,
    SampleFacts,
    hold,
    not_judged,
    passed,
    watch,
)
from vibhealth.diagnosis.scaling import Scaling, scaling_of
from vibhealth.errors import VibhealthError

__all__ = ["material", "stroke_fits", "with_disturbances"]

# Material is looked for in at most so many samples (41 s at 25.6 kHz): it falls all the time.
MATERIAL_SAMPLES = 2**20
HIGHEST_SHARE_OF_NYQUIST = 0.98


def stroke_fits(_facts: SampleFacts, needs: Needs) -> Outcome | None:
    """Compare the stroke with the card's: the machine calibrates the sensor.

    A ratio of units means a wrong scale (hold, at 2.54 too, though that could be real); any
    other large deviation another machine or point, or a machine fault (watch: the recording
    may be right, and the acceptance judges the stroke itself).
    """
    stated, stroke = needs.stated_stroke_mm, needs.stroke_mm
    if stated is None:
        return None
    if stroke is None or not stroke > 0:
        return not_judged(
            f"The stroke could not be read, so the card's {stated:g} mm calibrate nothing.",
            "Give sensitivity and range, record at steady speed.",
        )
    away = 100 * (stroke / stated - 1)
    limit = needs.stroke_hold_percent
    found = f"The stroke reads {stroke:.4g} mm, the card says {stated:g} mm"
    if abs(away) <= limit:
        return passed(f"{found} ({away:+.1f} %, limit {limit:g} %).")
    scaling = scaling_of(stroke / stated)
    if scaling is not None:
        return hold(f"{found}: {_times(scaling)}.", _scaling_advice(scaling))
    return watch(
        f"{found} ({away:+.1f} %, limit {limit:g} %), by no ratio of units.",
        "Check that this is the right machine and point and that the sensor moves with the body; "
        "if it is, the machine itself does not move as it should.",
    )


def _times(scaling: Scaling) -> str:
    return f"{scaling.words} (within 5 %), as {scaling.cause} would make it"


def _scaling_advice(scaling: Scaling) -> str:
    advice = "Check sensitivity (mV/g), range and unit of recorder, sidecar and card; record again."
    if scaling.could_be_real:
        return f"{advice} A machine can be off as much: measure the stroke by eye, on a sticker."
    return advice


def with_disturbances(facts: SampleFacts, needs: Needs) -> Needs:
    """Add what strikes or hums in the bearing band of a machine that shakes on purpose.

    Only such a one carries material; on another, such hits are its bearing's.
    """
    band_hz = _readable(facts, needs)
    if band_hz is None or not needs.is_exciter or needs.shaft_frequency_hz is None:
        return needs
    size = min(facts.samples.size, MATERIAL_SAMPLES)
    phase = needs.shaft_phase_turns
    try:
        heard = find_disturbances(
            facts.samples[:size],
            facts.recording.sampling_rate_hz,
            shaft_frequency_hz=needs.shaft_frequency_hz,
            bearing_band_hz=band_hz,
            shaft_phase_turns=None if phase is None else phase[:size],
        )
    except VibhealthError:  # too short or silent: other checks say so
        return needs
    return replace(needs, disturbances=heard)


def material(facts: SampleFacts, needs: Needs) -> Outcome | None:
    """Look for hard hits at random in a recording that should be of an empty machine.

    Where the machine is stated as empty they are a watch: they may be dirt in the
    bearing or a loose part, which the acceptance judges; stated as loaded, a watch too.
    """
    heard = needs.disturbances
    if heard is None or needs.shaft_frequency_hz is None:
        return None
    hits = next((item for item in heard if item.id == "material-strikes"), None)
    per_100 = 0.0 if hits is None else 100 * hits.value / needs.shaft_frequency_hz
    found = f"{per_100:.3g} hard hits at random per 100 turns"
    limits = f"(watch {needs.random_hits_watch:g}, hold {needs.random_hits_hold:g})"
    stated = dict(facts.recording.remarks).get("load")
    says = f"; stated as {stated}" if stated else ""
    if hits is None or per_100 <= needs.random_hits_watch:
        return passed(f"{found} {limits}{says}.")
    text = f"{found} {limits}{says}: material on the machine, {hits.value:.2g} hits per second."
    advice = (
        "Stop the feed, let the machine run empty, look for loose parts, record again. If it was "
        'empty, write load = "empty" beside the recording: then dirt or a loose part hits.'
    )
    if per_100 > needs.random_hits_hold and not stated:
        return hold(text, advice)
    return watch(text, advice)


def _readable(facts: SampleFacts, needs: Needs) -> tuple[float, float] | None:
    """Part of the bearing band that was recorded, None where there is next to none."""
    if needs.bearing_band_hz is None:
        return None
    low_hz, high_hz = needs.bearing_band_hz
    usable = facts.recording.sensor_usable_hz or (0.0, np.inf)
    nyquist_hz = facts.recording.sampling_rate_hz / 2
    low_hz = max(low_hz, usable[0])
    high_hz = min(high_hz, usable[1], HIGHEST_SHARE_OF_NYQUIST * nyquist_hz)
    return (low_hz, high_hz) if high_hz > 1.2 * low_hz else None
