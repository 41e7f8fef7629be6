"""Criteria of the reference itself: which it is, whether comparing is fair, the same place."""

from collections.abc import Iterator
from statistics import median

import numpy as np

from vibhealth.acceptance._evidence import Evidence, not_judged, passed, point_of, worst
from vibhealth.acceptance.baseline_level_criteria import baseline_level_criteria
from vibhealth.acceptance.family_criteria import family_criteria
from vibhealth.acceptance.references import PointReference, rank_of
from vibhealth.baseline import Baseline
from vibhealth.diagnosis.quality_fingerprint import (
    CORRELATION_HOLD,
    CORRELATION_WATCH,
    Fingerprint,
    correlation,
)
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    PointPattern,
    RecordingAnalysis,
    ReferenceRank,
)

__all__ = ["reference_criteria"]

RANKING = "known-good of this point, healthy sister, nameplate, none; common practice, no source"
WORDS = {
    ReferenceRank.KNOWN_GOOD: "known-good of this machine",
    ReferenceRank.SISTER: "healthy sister machine, limits widened",
    ReferenceRank.NAMEPLATE: "the card's own values and absolute limits only",
    ReferenceRank.NONE: "nothing",
}
NOTHING = (
    "There is no reference of this machine, and the card lacks its stroke or its bearings: that is "
    "not enough to judge by."
)


def reference_criteria(evidence: Evidence) -> list[Criterion]:
    """Which reference is used, how fairly it compares, and whether the place is the same."""
    return [
        _rank(evidence),
        *_conditions(evidence),
        *_pattern(evidence),
        *_temperature(evidence),
    ]


def _rank(evidence: Evidence) -> Criterion:
    title = "Reference to compare with"
    rank = rank_of(evidence.references)
    if rank is ReferenceRank.NONE:
        return not_judged(
            "reference",
            Group.STATE,
            title,
            reason=NOTHING,
            advice="Write stroke and bearings on the card from nameplate and drawing, or record a "
            "baseline when the machine is known to be good.",
            limit_source=RANKING,
        )
    names = [r.baseline.name for r in evidence.references if r.baseline and r.is_fair]
    unfair = [r.baseline.name for r in evidence.references if r.baseline and not r.is_fair]
    words = f"{WORDS[rank]} ({'; '.join(names)})" if names else WORDS[rank]
    words += f"; no fair comparison with {'; '.join(unfair)}" if unfair else ""
    return passed("reference", Group.STATE, title, value=words, limit_source=RANKING)


def _conditions(evidence: Evidence) -> Iterator[Criterion]:
    compared = [r for r in evidence.references if r.baseline is not None]
    if not compared:
        return
    findings = [(r, finding) for r in compared for finding in r.conditions]
    result = worst(finding.result for _, finding in findings)
    bad = [(r, f) for r, f in findings if f.result is CriterionResult.NOT_JUDGED]
    rough = [f"{r.point}: {f.sentence}" for r, f in findings if f.result is CriterionResult.WATCH]
    yield Criterion(
        id="reference-conditions",
        group=Group.STATE,
        title="Recorded under the conditions of the reference",
        result=result,
        value="; ".join(dict.fromkeys([*(f"{r.point}: {f.sentence}" for r, f in bad), *rough]))
        or "same state and means, as far as stated",
        unit="",
        limit=None,
        limit_source=evidence.limits.source("baseline_speed_hold_percent"),
        advice=bad[0][1].advice if bad else "",
        hold=Hold.MEASURE_AGAIN if bad else None,
        reason=f"No fair comparison with the reference at {bad[0][0].point}: {bad[0][1].sentence}."
        if bad
        else "",
        detail="; ".join(dict.fromkeys(f"{r.point}: {f.sentence}" for r, f in findings)),
    )


def _pattern(evidence: Evidence) -> Iterator[Criterion]:
    """Whether harmonics and half octaves look like those of this point when it was good.

    Bearings that are bad sound otherwise: where one is held, for its families or because it is
    far rougher than the reference, the pattern says nothing.
    """
    likeness = [
        (value, reference)
        for reference in evidence.references
        if reference.is_comparable and reference.rank is ReferenceRank.KNOWN_GOOD
        if (value := _likeness(evidence, reference)) is not None
    ]
    if not likeness:
        return
    value, reference = min(likeness, key=lambda pair: pair[0])
    judged = [*family_criteria(evidence), *baseline_level_criteria(evidence)]
    held = any(c.result is CriterionResult.HOLD and c.hold is Hold.FIX for c in judged)
    result = CriterionResult.PASS
    if value < CORRELATION_WATCH:
        result = CriterionResult.WATCH
    if value < CORRELATION_HOLD and not held:
        # Not judged: a fault of the motion changes the pattern too, and is to be told first.
        result = CriterionResult.NOT_JUDGED
    bad = result is CriterionResult.NOT_JUDGED
    yield Criterion(
        id="reference-pattern",
        group=Group.STATE,
        title="Pattern of harmonics and bands is that of the reference",
        result=result,
        value=value,
        unit="1",
        limit=CORRELATION_HOLD,
        limit_source="correlation of levels in dB, starting value, common practice, no source",
        advice="Check the tag, the point, its axis and the channel; then record again."
        if result is not CriterionResult.PASS
        else "",
        hold=Hold.MEASURE_AGAIN if bad else None,
        reason=f"This looks like another machine or place than the reference of {reference.point} "
        f"(likeness {value:.2f}, at least {CORRELATION_HOLD:g} is needed)."
        if bad
        else "",
        detail="a bearing that is held sounds otherwise: no sign of another place"
        if held and value < CORRELATION_HOLD
        else "",
    )


def _likeness(evidence: Evidence, reference: PointReference) -> float | None:
    """Middle likeness of the recordings of the point."""
    if reference.baseline is None:
        return None
    found = [
        value
        for analysis in evidence.after
        if point_of(analysis) == reference.point and analysis.pattern is not None
        if (value := _correlation(analysis.pattern, reference.baseline)) is not None
    ]
    return median(found) if found else None


def _correlation(pattern: PointPattern, baseline: Baseline) -> float | None:
    size = min(pattern.bands_db.size, baseline.bands_db.size)

    def marks(harmonics_db: np.ndarray, bands_db: np.ndarray) -> Fingerprint:
        return Fingerprint(
            harmonics_db=harmonics_db,
            bands_db=bands_db[:size],
            centre_hz=baseline.bands_centre_hz[:size],
            first=1.0,
        )

    return correlation(
        marks(pattern.harmonics_db, pattern.bands_db),
        marks(baseline.harmonics_db, baseline.bands_db),
    )


def _temperature(evidence: Evidence) -> Iterator[Criterion]:
    """Housing against the reference's: hotter than when it was good is news."""
    limits = evidence.limits
    rises = []
    for reference in evidence.references:
        was = reference.baseline.conditions.temperature_c if reference.baseline else None
        warm = [_warmth(a) for a in evidence.after if point_of(a) == reference.point]
        now = [value for value in warm if value is not None]
        if was is not None and now and reference.is_fair:
            rises.append((median(now) - was.middle, median(now), was.middle, reference))
    if not rises:
        return
    rise, now_c, was_c, reference = max(rises, key=lambda row: row[0])
    watch = limits.value("baseline_temperature_watch_c") * reference.widening
    # The air is not known here, and a summer day is no fault: the rise above the air (job record)
    # and the machine's own limit hold.
    result = CriterionResult.WATCH if rise > watch else CriterionResult.PASS
    yield Criterion(
        id="temperature-over-baseline",
        group=Group.STATE,
        title="Housing temperature over that of the reference",
        result=result,
        value=rise,
        unit="degC",
        limit=watch,
        limit_source=limits.source("baseline_temperature_watch_c"),
        advice="Unless the air is that much warmer: check the oil level (too much is as bad as too "
        "little), grade and breather."
        if result is not CriterionResult.PASS
        else "",
        detail=f"{now_c:.0f} °C, in {reference.words} {was_c:.0f} °C",
    )


def _warmth(analysis: RecordingAnalysis) -> float | None:
    return analysis.recording.temperature_c
