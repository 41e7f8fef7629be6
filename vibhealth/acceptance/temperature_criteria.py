"""Criteria of the temperature log: too hot, climbing, levelled, how far above the surroundings."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from vibhealth.acceptance._evidence import graded
from vibhealth.acceptance._job_line import job_line
from vibhealth.card import Limits
from vibhealth.job import JobRecord, TemperatureReading
from vibhealth.model import Criterion, CriterionResult, Hold, MachineCheck

__all__ = ["temperature_criteria"]

# Every new unit climbs at first: a fast climb counts after this time. Common practice, no source.
FIRST_MINUTES = 10.0
# Two readings nearer than this tell the thermometer's steps, not a climb; no source.
APART_MINUTES = 1.0
# A housing may be so much colder than the air around it (from a cold store); more is a wrong figure
# or one in °F. Common practice, no source.
COLDER_C = 15.0
# Levelling is read from a stretch of this length or more, from as many readings, no farther
# apart than told; common practice, no source.
LEVEL_MINUTES, LEVEL_READINGS, LARGEST_GAP_MINUTES = 20.0, 3, 30.0

HEAT = MachineCheck(
    step="oil",
    mistake="too much or too little oil, a blocked breather, a bearing too tight",
    check="Level at standstill after settling, breather, grade on the drum; feel where it is hot.",
    seen_by_vibration="poorly",
)
OIL = "check the oil level (too much is as bad as too little), grade and breather."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Log:
    """Readings in the order of time; minutes count from the start, or from the first reading."""

    minutes: tuple[float, ...]
    housing_c: tuple[float, ...]
    rises_c: tuple[float, ...]
    knows_start: bool


def temperature_criteria(job: JobRecord, limits: Limits, *, has_run: bool) -> list[Criterion]:
    """Judge the readings of housing and surroundings.

    Parameters
    ----------
    job : JobRecord
        Its ``[[temperature]]`` tables and ``job.machine_started``.
    limits : Limits
        In force; ``temperature_hold_c`` is the card's where the card gives one.
    has_run : bool
        Whether the first check is reached: until then nothing need have levelled.

    Returns
    -------
    list of Criterion
    """
    if not job.temperature:
        return [_nothing(limits)] if has_run else []
    log = _log(job.temperature, job.job.machine_started)
    criteria = [_highest(log, limits)]
    if has_run or _climbs(log):
        criteria.append(_climb(log, limits))
    if has_run:
        criteria += [_levelled(log, limits), _rise(log, limits)]
    return criteria


# Beyond this it is not the same state any more (practice: temperatures within 10 °C compare).
SAME_STATE_C = 10.0


def _log(readings: Sequence[TemperatureReading], started: datetime | None) -> _Log:
    ordered = sorted(readings, key=lambda reading: reading.at)
    origin = ordered[0].at if started is None else started
    return _Log(
        minutes=tuple((reading.at - origin).total_seconds() / 60 for reading in ordered),
        housing_c=tuple(reading.housing_c for reading in ordered),
        rises_c=tuple(
            reading.housing_c - reading.ambient_c
            for reading in ordered
            if reading.ambient_c is not None
        ),
        knows_start=started is not None,
    )


def _nothing(limits: Limits) -> Criterion:
    return job_line(
        "temperature",
        "Temperature of the housing",
        result=CriterionResult.NOT_JUDGED,
        unit="degC",
        limit=limits.value("temperature_hold_c"),
        source=limits.source("temperature_hold_c"),
        reason="NOT CHECKED: temperature of the housing. Answer needed before PASS.",
        advice="Measure housing and surroundings every 10 min, always at the same spot near the "
        "bearing.",
    )


def _highest(log: _Log, limits: Limits) -> Criterion:
    highest, limit = max(log.housing_c), limits.value("temperature_hold_c")
    return job_line(
        "temperature-highest",
        "Highest temperature of the housing",
        result=graded(highest, limit, limit),
        value=highest,
        unit="degC",
        limit=limit,
        source=limits.source("temperature_hold_c"),
        reason=f"The housing reached {highest:g} °C, the limit is {limit:g} °C.",
        advice=f"Let it cool, then {OIL}",
        kind=Hold.STOP_NOW,
        checks=(HEAT,),
    )


def _climbs(log: _Log) -> list[float]:
    """Climb in °C per min from each reading to the next, mostly after the first minutes."""
    rates = []
    for first, minute in enumerate(log.minutes):
        later = (n for n, at in enumerate(log.minutes) if at >= minute + APART_MINUTES)
        last = next(later, None)
        if last is not None and minute + log.minutes[last] >= 2 * FIRST_MINUTES:
            climb = log.housing_c[last] - log.housing_c[first]
            rates.append(climb / (log.minutes[last] - minute))
    return rates


def _climb(log: _Log, limits: Limits) -> Criterion:
    """The fastest climb after the first minutes."""
    id_, title = "temperature-climb", "Climb of the temperature after the first 10 min"
    limit = limits.value("temperature_climb_hold_c_per_min")
    source = limits.source("temperature_climb_hold_c_per_min")
    climbs = _climbs(log)
    if not climbs:
        return job_line(
            id_,
            title,
            result=CriterionResult.NOT_JUDGED,
            unit="degC/min",
            limit=limit,
            source=source,
            reason="Too few temperature readings: two are needed after the first 10 min.",
            advice="Measure housing and surroundings every 10 min, always at the same spot.",
        )
    fastest = max(climbs)
    return job_line(
        id_,
        title,
        result=graded(round(fastest, 9), limit, limit),
        value=fastest,
        unit="degC/min",
        limit=limit,
        source=source,
        reason=f"The housing climbs {fastest:.1f} °C per minute, the limit is {limit:g}.",
        advice=f"Let it cool, then {OIL}",
        kind=Hold.STOP_NOW,
        checks=(HEAT,),
    )


def _last_stretch(log: _Log) -> tuple[int, int] | None:
    """First and last reading of the latest stretch after the start, long and dense, if any."""
    for last in range(len(log.minutes) - 1, 1, -1):
        for first in range(last - LEVEL_READINGS + 1, -1, -1):
            spacing = np.diff(log.minutes[first : last + 1])
            if float(spacing.max()) > LARGEST_GAP_MINUTES or log.minutes[first] < 0:
                break
            if log.minutes[last] - log.minutes[first] >= LEVEL_MINUTES:
                return first, last
    return None


def _levelled(log: _Log, limits: Limits) -> Criterion:
    """Slope of the last stretch, by least squares; falling counts as much as climbing."""
    id_, title = "temperature-levelled", "Temperature has levelled"
    limit = limits.value("temperature_levelled_hold_c")
    source = limits.source("temperature_levelled_hold_c")
    stretch, ran = _last_stretch(log), limits.value("minimum_running_minutes")
    reason = ""
    if stretch is None:
        reason = (
            f"Too few temperature readings: {LEVEL_READINGS} are needed over the last "
            f"{LEVEL_MINUTES:g} min or more."
        )
    elif log.minutes[stretch[1]] < ran:
        since = "the start" if log.knows_start else "the first reading"
        reason = (
            f"Not warm yet: the last steady readings end {log.minutes[stretch[1]]:.0f} min after "
            f"{since}."
        )
    elif abs(moved := log.housing_c[-1] - log.housing_c[stretch[1]]) > SAME_STATE_C:
        reason = (
            f"The housing moved by {moved:+.0f} °C since it had levelled: that it levelled again "
            "is not known."
        )
    if stretch is None or reason:
        return job_line(
            id_,
            title,
            result=CriterionResult.NOT_JUDGED,
            unit="degC/10 min",
            limit=limit,
            source=source,
            reason=reason,
            advice=f"Run it for {ran:g} min or more, read the temperature every 10 min.",
        )
    first, last = stretch
    slope = np.polyfit(log.minutes[first : last + 1], log.housing_c[first : last + 1], 1)[0]
    change = 10 * float(slope)
    return job_line(
        id_,
        title,
        result=graded(round(abs(change), 6), limit, limit),
        value=round(change, 2) + 0.0,
        unit="degC/10 min",
        limit=limit,
        source=source,
        reason=f"Not warm yet: still {change:+.1f} °C in 10 min over the last "
        f"{log.minutes[last] - log.minutes[first]:.0f} min, {limit:g} °C is allowed.",
        advice=f"Wait until it changes less than {limit:g} °C in 10 min, then record again.",
        kind=Hold.MEASURE_AGAIN,
    )


def _rise(log: _Log, limits: Limits) -> Criterion:
    id_, title = "temperature-rise", "Housing above the surroundings"
    hold, source = (
        limits.value("temperature_rise_hold_c"),
        limits.source("temperature_rise_hold_c"),
    )
    if not log.rises_c:
        return job_line(
            id_,
            title,
            result=CriterionResult.NOT_JUDGED,
            unit="degC",
            limit=hold,
            source=source,
            reason="NOT CHECKED: temperature of the surroundings. Answer needed before PASS.",
            advice="Measure the air in the shade beside the machine, write it beside the housing's.",
        )
    if (lowest := min(log.rises_c)) < -COLDER_C:
        return job_line(
            id_,
            title,
            result=CriterionResult.NOT_JUDGED,
            unit="degC",
            limit=hold,
            source=source,
            reason=f"The housing is noted {-lowest:.0f} °C colder than the surroundings: one of the "
            "two is wrong, or in °F.",
            advice="Write both in °C: (°F - 32) / 1.8. Measure the air in the shade.",
        )
    rise = max(log.rises_c)
    result = graded(round(rise, 9), limits.value("temperature_rise_watch_c"), hold)
    return job_line(
        id_,
        title,
        result=result,
        value=rise,
        unit="degC",
        limit=hold,
        source=source,
        reason=f"The housing is {rise:.0f} °C above the surroundings, the limit is {hold:g} °C.",
        advice=f"Stop, lock out, let it cool; {OIL}",
        checks=(HEAT,),
    )
