"""Can this recording be judged at all: one table of checks, in the order of display."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_course import repeated_block, sensor_overload, settling
from vibhealth.diagnosis.quality_facts import (
    CLIPPED_SAMPLES,
    RANDOM_HITS_HOLD,
    RANDOM_HITS_WATCH,
    STROKE_HOLD_PERCENT,
    Needs,
    Outcome,
    SampleFacts,
    not_judged,
    sample_facts,
)
from vibhealth.diagnosis.quality_machine import material, stroke_fits, with_disturbances
from vibhealth.diagnosis.quality_mount import mount
from vibhealth.diagnosis.quality_pair import check_pair
from vibhealth.diagnosis.quality_phase import dropped_samples
from vibhealth.diagnosis.quality_samples import (
    calibration,
    clipping,
    constant,
    dead_channel,
    offset,
    sensor_range,
)
from vibhealth.diagnosis.quality_state import anti_alias, band_alive, bandwidth, length, mains
from vibhealth.model import QualityFinding, Recording

__all__ = ["CHECKS", "check_pair", "check_recording"]

Check = Callable[[SampleFacts, Needs], Outcome | None]

# In the order of display: id, title, check, whether it needs samples that vary. A check that does
# not apply to the recording returns None and gives no row.
CHECKS: tuple[tuple[str, str, Check, bool], ...] = (
    ("length", "Long enough", length, False),
    ("constant", "Not constant", constant, False),
    ("dead-channel", "Sensor connected", dead_channel, True),
    ("clipping", "Not clipped", clipping, True),
    ("sensor-overload", "Sensor not overloaded", sensor_overload, True),
    ("sensor-range", "Within the sensor's range", sensor_range, True),
    ("settling", "Sensor settled", settling, True),
    ("offset", "No large offset", offset, True),
    ("bandwidth", "Fast enough for the bearing band", bandwidth, False),
    ("band-alive", "The bearing band is alive", band_alive, True),
    ("anti-alias", "Falls towards half the sampling rate", anti_alias, True),
    ("dropped-samples", "No samples lost", dropped_samples, True),
    ("repeated-block", "No stuck or repeated samples", repeated_block, True),
    ("calibration", "Calibrated", calibration, False),
    ("mains", "No mains pick-up", mains, True),
    ("stroke-scale", "The stroke fits the card", stroke_fits, True),
    ("mount", "Sensor firmly mounted", mount, True),
    ("material", "Recorded without material", material, True),
)


def check_recording(  # noqa: PLR0913 - every option is a fact of the machine or a limit
    recording: Recording,
    *,
    shaft_frequency_hz: float | None,
    bearing_band_hz: tuple[float, float] | None,
    highest_needed_hz: float | None = None,
    minimum_turns: float = 400.0,
    recommended_turns: float = 1000.0,
    minimum_turns_source: str = "common practice, no source",
    clipped_samples: float = CLIPPED_SAMPLES,
    stroke_mm: float | None = None,
    stated_stroke_mm: float | None = None,
    stroke_hold_percent: float = STROKE_HOLD_PERCENT,
    random_hits_watch: float = RANDOM_HITS_WATCH,
    random_hits_hold: float = RANDOM_HITS_HOLD,
    shaft_phase_turns: NDArray[np.float64] | None = None,
    is_exciter: bool = False,
) -> tuple[QualityFinding, ...]:
    """Check one recording for faults of recording.

    Parameters
    ----------
    recording : Recording
        One channel, at least 16 finite samples.
    shaft_frequency_hz : float or None
        Above 0; None when no speed was found.
    bearing_band_hz : tuple of float or None
        Band in which the bearing is listened to, ``0 < low < high``.
    highest_needed_hz : float or None
        A frequency that the recording must reach whatever the band.
    minimum_turns, recommended_turns : float
        Fewer turns are a hold, or a watch; ``0 < minimum <= recommended``.
    minimum_turns_source : str
        Where the two limits come from, printed with them.
    clipped_samples : float
        More samples than this at the extreme value are clipping; above 0.
    stroke_mm, stated_stroke_mm : float or None
        Stroke peak to peak as read from the recording, and as the card states it along
        the recording's direction; without the latter nothing is compared.
    stroke_hold_percent : float
        Larger deviations of the stroke are said; above 0.
    random_hits_watch, random_hits_hold : float
        More hard hits at random per 100 turns are a watch, or a hold.
    shaft_phase_turns : ndarray, shape (n_samples,), optional
        Shaft angle of each sample, where it is known already.
    is_exciter : bool
        Whether the machine shakes on purpose; only such a one carries material.

    Returns
    -------
    tuple of QualityFinding
        One per row of `CHECKS` that applies, in that order. "hold" means measure
        again; "not judged" comes with its reason.

    Raises
    ------
    InputError
        If the samples are not finite or too few, or a number breaks its rule.
    """
    needs = Needs(
        shaft_frequency_hz=shaft_frequency_hz,
        bearing_band_hz=bearing_band_hz,
        highest_needed_hz=highest_needed_hz,
        minimum_turns=minimum_turns,
        recommended_turns=recommended_turns,
        turns_source=minimum_turns_source,
        clipped_samples=clipped_samples,
        stroke_mm=stroke_mm,
        stated_stroke_mm=stated_stroke_mm,
        stroke_hold_percent=stroke_hold_percent,
        random_hits_watch=random_hits_watch,
        random_hits_hold=random_hits_hold,
        shaft_phase_turns=shaft_phase_turns,
        is_exciter=is_exciter,
    )
    facts = sample_facts(recording)
    if not facts.is_constant:
        needs = with_disturbances(facts, needs)
    return tuple(
        _finding(name, title, outcome)
        for name, title, check, needs_variation in CHECKS
        if (outcome := _outcome(check, facts, needs, needs_variation=needs_variation)) is not None
    )


def _outcome(
    check: Check, facts: SampleFacts, needs: Needs, *, needs_variation: bool
) -> Outcome | None:
    if needs_variation and facts.is_constant:
        return not_judged("All samples are equal, there is nothing to judge.", "Record again.")
    return check(facts, needs)


def _finding(name: str, title: str, outcome: Outcome) -> QualityFinding:
    return QualityFinding(
        id=name,
        title=title,
        result=outcome.result,
        detail=outcome.detail,
        advice=outcome.advice,
    )
