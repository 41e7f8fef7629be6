"""Can this recording be judged at all: one table of checks, in the order of display."""

from collections.abc import Callable

from vibhealth.diagnosis.quality_course import repeated_block, sensor_overload, settling
from vibhealth.diagnosis.quality_facts import (
    CLIPPED_SAMPLES,
    Needs,
    Outcome,
    SampleFacts,
    not_judged,
    sample_facts,
)
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

Check = Callable[[SampleFacts, Needs], Outcome]

# In the order of display: id, title, check, whether it needs samples that vary.
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

    Returns
    -------
    tuple of QualityFinding
        One per row of `CHECKS`, in that order. "hold" means measure again;
        "not judged" comes with its reason.

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
    )
    facts = sample_facts(recording)
    return tuple(
        _finding(name, title, _outcome(check, facts, needs, needs_variation=needs_variation))
        for name, title, check, needs_variation in CHECKS
    )


def _outcome(check: Check, facts: SampleFacts, needs: Needs, *, needs_variation: bool) -> Outcome:
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
