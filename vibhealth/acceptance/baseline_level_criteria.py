"""Levels against the reference: the bearing band, and every half octave."""

from collections.abc import Iterator
from statistics import median

import numpy as np

from vibhealth.acceptance._evidence import Evidence, graded, point_of
from vibhealth.acceptance.line_differences import not_compared
from vibhealth.acceptance.references import PointReference
from vibhealth.baseline import (
    FEWEST_FOR_SPREAD,
    REMOUNT_RATIO,
    Baseline,
    LevelLimits,
    is_same_band,
    level_limits,
    spread_limit_db,
)
from vibhealth.model import Criterion, CriterionResult, Group, Hold
from vibhealth.units import amplitude_ratio_to_db

__all__ = ["baseline_level_criteria"]

LEVEL = "bearing-band-block-median"
SAME_BAND = 0.02
OIL = (
    "Stop, let the oil settle, lock out. Check level and grade, breather and dirt, and the "
    "sensor's mount; then record again."
)


def baseline_level_criteria(evidence: Evidence) -> list[Criterion]:
    """Levels of all points with a fair reference; nothing without one."""
    return [*_bearing_band(evidence), *_half_octaves(evidence)]


def _is_stud(reference: PointReference) -> bool:
    """Whether the sensor reads the same whenever it is put back: screwed on, and the same one."""
    return (
        reference.baseline is not None
        and reference.baseline.conditions.mount == "stud"
        and reference.level_widening == 1.0
    )


def _bearing_band(evidence: Evidence) -> Iterator[Criterion]:
    """Median level of each point over the reference's: rougher is a fault, far quieter is deaf."""
    rows: list[tuple[float, LevelLimits, PointReference]] = []
    missing: list[str] = []
    for reference in evidence.references:
        if reference.baseline is None or not reference.is_comparable:
            continue
        scalar = reference.baseline.scalar(LEVEL)
        if scalar is None:
            missing.append(reference.point)
            continue
        now = [
            d.value
            for a in evidence.after
            if point_of(a) == reference.point
            for d in a.descriptors
            if d.id == LEVEL
            and d.value > 0
            and is_same_band(d.band_hz, scalar.band_hz, tolerance=SAME_BAND)
        ]
        if not now:
            missing.append(reference.point)
            continue
        limits = level_limits(
            scalar,
            watch_ratio=evidence.limits.value("baseline_level_watch_ratio"),
            hold_ratio=evidence.limits.value("baseline_level_hold_ratio"),
            widening=reference.level_widening,
            is_stud=_is_stud(reference),
            false_alarm_probability=evidence.limits.value("baseline_false_alarm_probability"),
        )
        if limits is not None:
            rows.append((median(now) / limits.mean, limits, reference))
    if missing:
        yield not_compared(evidence, "bearing-band", missing)
    if not rows:
        return
    title = "Bearing-band level over that of the reference"
    value, limits, reference = max(rows, key=lambda row: row[0] / row[1].hold_ratio)
    yield from _deaf(rows)
    result = graded(value, limits.watch_ratio, limits.hold_ratio)
    bad = result is CriterionResult.HOLD
    source = evidence.limits.source("baseline_level_hold_ratio")
    yield Criterion(
        id="bearing-band-over-baseline",
        group=Group.BEARING,
        title=title,
        result=result,
        value=value,
        unit="1",
        limit=limits.hold_ratio,
        limit_source=f"{source}; {limits.source}",
        advice=OIL if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"The bearing is {value:.1f} times as rough as in {reference.words} "
        f"({reference.point}), limit {limits.hold_ratio:.1f}."
        if bad
        else "",
        detail=f"{value:.2f} times {reference.words} at {reference.point}; watch from "
        f"{limits.watch_ratio:.2f}",
    )


def _deaf(rows: list[tuple[float, LevelLimits, PointReference]]) -> Iterator[Criterion]:
    """A point far quieter than the reference, whatever the others do."""
    quiet, limits, reference = min(rows, key=lambda row: row[0] * row[1].hold_ratio)
    if quiet * limits.hold_ratio < 1:
        yield Criterion(
            id="bearing-band-under-baseline",
            group=Group.BEARING,
            title="Bearing band heard as well as in the reference",
            result=CriterionResult.HOLD,
            value=quiet,
            unit="1",
            limit=1 / limits.hold_ratio,
            limit_source=f"one over the upper limit, {limits.source}",
            advice="Check mount, cable and filters of the sensor; record again.",
            hold=Hold.MEASURE_AGAIN,
            reason=f"The bearing band at {reference.point} is {1 / quiet:.1f} times quieter than in "
            f"{reference.words}: a deaf or loose sensor reads like that.",
        )


def _half_octaves(evidence: Evidence) -> Iterator[Criterion]:
    """The half octave that is farthest above the reference."""
    limits = evidence.limits
    rows = []
    for reference in evidence.references:
        if reference.baseline is None or not reference.is_comparable:
            continue
        now = [
            a.pattern.bands_db
            for a in evidence.after
            if point_of(a) == reference.point and a.pattern is not None
        ]
        if not now:
            continue
        size = min(*(bands.size for bands in now), reference.baseline.bands_db.size)
        if size == 0:
            continue
        above = np.median([bands[:size] for bands in now], axis=0)
        above = above - reference.baseline.bands_db[:size]
        watch, hold = _band_limits(evidence, reference, size)
        place = int(np.argmax(above - watch))
        rows.append(
            (
                float(above[place]),
                float(watch[place]),
                float(hold[place]),
                float(reference.baseline.bands_centre_hz[place]),
                reference,
            )
        )
    if not rows:
        return
    value, watch_db, hold_db, centre_hz, reference = max(rows, key=lambda row: row[0] - row[2])
    result = graded(value, watch_db, hold_db)
    bad = result is CriterionResult.HOLD
    where = f"the half octave about {centre_hz:.0f} Hz at {reference.point}"
    yield Criterion(
        id="half-octaves-over-baseline",
        group=Group.BEARING,
        title="Half octaves over those of the reference",
        result=result,
        value=value,
        unit="dB",
        limit=hold_db,
        limit_source=f"{limits.source('baseline_band_hold_db')}; {_band_source(reference)}",
        advice=OIL if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"{where[:1].upper()}{where[1:]} is {value:.0f} dB above {reference.words}, limit "
        f"{hold_db:.0f} dB."
        if bad
        else "",
        detail=f"farthest above: {where}, {value:+.1f} dB; watch from {watch_db:.1f} dB",
    )


def _has_spread(baseline: Baseline | None) -> bool:
    return (
        baseline is not None
        and baseline.bands_spread_db is not None
        and baseline.n_recordings >= FEWEST_FOR_SPREAD
    )


def _band_limits(
    evidence: Evidence, reference: PointReference, size: int
) -> tuple[np.ndarray, np.ndarray]:
    """Watch and hold limits of every band, in dB above the mean."""
    limits, baseline = evidence.limits, reference.baseline
    watch_db, hold_db = (limits.value(f"baseline_band_{kind}_db") for kind in ("watch", "hold"))
    wider_db = amplitude_ratio_to_db(reference.level_widening)
    watch = np.full(size, watch_db + wider_db)
    if baseline is not None and baseline.bands_spread_db is not None and _has_spread(baseline):
        chance = limits.value("baseline_false_alarm_probability") / size
        usual = np.maximum(baseline.bands_spread_db, np.median(baseline.bands_spread_db))[:size]
        remount_db = 0.0 if _is_stud(reference) else amplitude_ratio_to_db(REMOUNT_RATIO)
        watch = wider_db + remount_db + spread_limit_db(1.0, baseline.n_recordings, chance) * usual
    return watch, watch + hold_db - watch_db


def _band_source(reference: PointReference) -> str:
    baseline = reference.baseline
    if baseline is None or not _has_spread(baseline):
        return "stated distance"
    return f"tolerance interval of {baseline.n_recordings} recordings (ISO 16269-6, from memory)"
