"""Faults of recordings that show in their times and temperatures alone."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from vibhealth.diagnosis.quality_series import check_series
from vibhealth.diagnosis.quality_times import check_times
from vibhealth.model import Moment, QualityFinding, Recording, Stage

__all__ = ["faults_in_time", "job_of"]

Findings = dict[str, tuple[QualityFinding, ...]]

NOON = datetime(2031, 3, 5, 12, 0, tzinfo=UTC)


def job_of(before: Recording, after: Recording) -> list[Recording]:
    """A job in its right order: before, 1h, 8h."""
    early = replace(after, samples=after.samples[:-1])
    return [
        replace(before, stage=Stage.AS_FOUND, start_time=NOON),
        replace(early, stage=Stage.AS_LEFT, moment=Moment.HOUR_1, start_time=NOON + _hours(30)),
        replace(after, stage=Stage.AS_LEFT, moment=Moment.HOUR_8, start_time=NOON + _hours(37)),
    ]


def _hours(number: float) -> timedelta:
    return timedelta(hours=number)


def faults_in_time(before: Recording, after: Recording, rng: np.random.Generator) -> Findings:
    """What is found where times or temperatures are at fault, one entry per fault."""
    found, first, second = job_of(before, after)
    slope = float(rng.uniform(1.5, 6.0))
    warming = [
        replace(item, start_time=NOON + timedelta(minutes=10 * n), temperature_c=40 + slope * n)
        for n, item in enumerate((first, second, first))
    ]
    late = first.start_time
    assert late is not None
    return {
        "temperature climbs": check_series(warming, bearing_band_hz=None),
        "before and after swapped": check_times(
            [
                replace(found, stage=Stage.AS_LEFT, moment=Moment.HOUR_1),
                replace(first, stage=Stage.AS_FOUND, moment=None),
            ]
        ),
        "two checks swapped": check_times(
            [
                found,
                replace(first, moment=Moment.HOUR_8),
                replace(second, moment=Moment.HOUR_1),
            ]
        ),
        "recorded before the work was done": check_times(
            [found, first, second], rebuilt_at=late + _hours(float(rng.uniform(1.0, 20.0)))
        ),
    }
