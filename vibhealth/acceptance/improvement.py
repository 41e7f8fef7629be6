"""As-found to as-left: what got better, by how much, and what must not be worse."""

import math
from statistics import median

from vibhealth.acceptance._evidence import Evidence, graded, passed, point_of
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Descriptor,
    Element,
    FamilyFinding,
    Group,
    Hold,
    Improvement,
    RecordingAnalysis,
)
from vibhealth.units import amplitude_ratio_to_db

__all__ = ["improvement_criteria", "improvements"]

LEVELS = ("bearing-band-block-median", "residual-rms", "working-motion-rms")
# A rebuild takes 10 to 30 dB from a bad bearing's band; 40 dB is a loose or filtered sensor.
QUIETER_HOLD = 0.01
BEARING_LEVEL = "bearing-band-block-median"


def improvements(evidence: Evidence) -> tuple[Improvement, ...]:
    """Levels and families of the as-found recordings against the as-left ones, in dB.

    Only points recorded both times. A level is the median of its recordings. A
    family counts with its strike amplitude where both are calibrated, else with
    its depth as recorded; if it is gone, the as-left value is the smallest that
    would have been found, and the improvement reads "at least".
    """
    return tuple(
        row
        for pair in _pairs(evidence)
        for row in (*(level for _, level in _levels(*pair)), *_families(*pair))
    )


Pair = tuple[str, list[RecordingAnalysis], list[RecordingAnalysis]]


def _pairs(evidence: Evidence) -> list[Pair]:
    """Points recorded both times, with their analyses as found and as left."""
    pairs = (
        (
            point,
            [a for a in evidence.compared if point_of(a) == point],
            [a for a in evidence.after if point_of(a) == point],
        )
        for point in evidence.points
    )
    return [pair for pair in pairs if pair[1]]


def _level(analyses: list[RecordingAnalysis], id_: str) -> tuple[float, str, str] | None:
    found = _readings(analyses, id_)
    if not found or len({d.unit for d in found}) > 1:
        return None
    return median(d.value for d in found), found[0].unit, found[0].title


def _readings(analyses: list[RecordingAnalysis], id_: str) -> list[Descriptor]:
    return [d for a in analyses for d in a.descriptors if d.id == id_ and d.value > 0]


def _levels(
    point: str, before: list[RecordingAnalysis], after: list[RecordingAnalysis]
) -> list[tuple[str, Improvement]]:
    """Levels that both have, with their ids."""
    rows = []
    for id_ in LEVELS:
        was, now = _level(before, id_), _level(after, id_)
        if was is None or now is None or was[1] != now[1]:
            continue
        row = Improvement(
            title=f"{point}: {now[2]}",
            before=was[0],
            after=now[0],
            unit=now[1],
            improvement_db=amplitude_ratio_to_db(was[0] / now[0]),
            interval_db=_range_db(_readings(before, id_), _readings(after, id_)),
        )
        rows.append((id_, row))
    return rows


def _range_db(before: list[Descriptor], after: list[Descriptor]) -> tuple[float, float] | None:
    """Least and largest change from any recording of before to any of after; None of one each."""
    if len(before) + len(after) < 3:
        return None
    was, now = [d.value for d in before], [d.value for d in after]
    least, most = min(was) / max(now), max(was) / min(now)
    return amplitude_ratio_to_db(least), amplitude_ratio_to_db(most)


def _largest(
    analyses: list[RecordingAnalysis], bearing: str, element: Element
) -> FamilyFinding | None:
    found = [
        f
        for a in analyses
        for f in a.families
        if (f.bearing, f.element) == (bearing, element) and f.result is not CriterionResult.PASS
    ]
    return max(found, key=lambda f: f.depth_whitened, default=None)


def _detectable(
    analyses: list[RecordingAnalysis], bearing: str, element: Element, *, impact: bool
) -> float | None:
    values = [
        s.detectable_impact_m_s2 if impact else s.detectable_depth
        for a in analyses
        for s in a.sensitivity
        if (s.bearing, s.element) == (bearing, element)
    ]
    finite = [value for value in values if value is not None and math.isfinite(value)]
    return min(finite, default=None)


def _families(
    point: str,
    before: list[RecordingAnalysis],
    after: list[RecordingAnalysis],
) -> list[Improvement]:
    rows = []
    all_calibrated = all(a.recording.is_calibrated for a in (*before, *after))
    keys = dict.fromkeys((f.bearing, f.element) for a in (*before, *after) for f in a.families)
    for bearing, element in keys:
        was, now = _largest(before, bearing, element), _largest(after, bearing, element)
        if was is None and now is None:
            continue
        # A family whose strikes could not be measured is compared by its depth.
        calibrated = all_calibrated and all(f is None or f.impact_m_s2 for f in (was, now))
        was_value = _size(was, calibrated) or _detectable(
            before, bearing, element, impact=calibrated
        )
        now_value = _size(now, calibrated) or _detectable(
            after, bearing, element, impact=calibrated
        )
        if was_value is None or now_value is None:
            continue
        rows.append(
            Improvement(
                title=f"{point}: {element.words} of bearing {bearing}",
                before=was_value,
                after=now_value,
                unit="m/s2" if calibrated else "1",
                improvement_db=amplitude_ratio_to_db(was_value / now_value),
                at_least=now is None,
                detail=_family_detail(was, now, now_value, calibrated=calibrated),
                interval_db=_interval_db(was, now, now_value, calibrated=calibrated),
            )
        )
    return rows


def _size(finding: FamilyFinding | None, calibrated: bool) -> float | None:
    if finding is None:
        return None
    return (finding.impact_m_s2 if calibrated else finding.depth_whitened) or None


def _interval_db(
    was: FamilyFinding | None, now: FamilyFinding | None, now_value: float, *, calibrated: bool
) -> tuple[float, float] | None:
    """Interval of the change, from those of both sizes; of what is gone only how much at least.

    Errors of two recordings are independent, so the distances from the readings add in squares
    (in logarithms, since sizes scatter by factors).
    """
    first = _size_interval(was, calibrated=calibrated)
    if was is None or first is None:
        return None
    reading = _size(was, calibrated) or 0.0
    if now is None:
        return tuple(amplitude_ratio_to_db(edge / now_value) for edge in first)  # type: ignore[return-value]
    second, value = _size_interval(now, calibrated=calibrated), _size(now, calibrated) or 0.0
    if second is None or reading <= 0 or value <= 0:
        return None
    middle = amplitude_ratio_to_db(reading / value)
    down = math.hypot(
        amplitude_ratio_to_db(reading / first[0]), amplitude_ratio_to_db(second[1] / value)
    )
    up = math.hypot(
        amplitude_ratio_to_db(first[1] / reading), amplitude_ratio_to_db(value / second[0])
    )
    return middle - down, middle + up


def _size_interval(
    finding: FamilyFinding | None, *, calibrated: bool
) -> tuple[float, float] | None:
    """Interval of the size that is compared; None where it has none above 0."""
    if finding is None:
        return None
    interval = finding.impact_interval_m_s2 if calibrated else finding.depth_interval
    return interval if interval is not None and interval[0] > 0 else None


def _family_detail(
    was: FamilyFinding | None,
    now: FamilyFinding | None,
    now_value: float,
    *,
    calibrated: bool,
) -> str:
    size = "strike amplitude" if calibrated else "modulation depth"
    unit = " m/s²" if calibrated else ""
    if was is None:
        return f"new: not found before; the as-found value is the {size} that would have been found then"
    if now is None:
        before = _size(was, calibrated) or 0.0
        better = amplitude_ratio_to_db(before / now_value)
        ticking = was.element.words.replace(" ring", "-ring").replace("rolling ", "rolling-")
        return (
            f"the {ticking} ticking of {before:.2g}{unit} is gone; {now_value:.2g}{unit} would have "
            f"been found: at least {better:.0f} dB better"
        )
    return f"{size} before and now"


def improvement_criteria(evidence: Evidence) -> list[Criterion]:
    """No bearing value may be worse than before the rebuild; better proves no PASS."""
    if not evidence.compared:
        return []
    if not improvements(evidence):
        return [
            passed(
                "improvement",
                Group.IMPROVEMENT,
                "Better than before the rebuild",
                value="nothing to compare: no point was recorded both times",
                limit_source="as-found recordings",
            )
        ]
    return [_families_not_worse(evidence), *_level_not_worse(evidence)]


def _families_not_worse(evidence: Evidence) -> Criterion:
    limit = evidence.limits.value("worse_than_before_db")
    rows = [row for pair in _pairs(evidence) for row in _families(*pair)]
    families = [row for row in rows if not row.at_least]
    title = "No defect family worse than before"
    if not families:
        return passed(
            "families-not-worse",
            Group.IMPROVEMENT,
            title,
            value="none left to compare",
            limit=limit,
            unit="dB",
            limit_source=evidence.limits.source("worse_than_before_db"),
        )
    row = min(families, key=lambda r: r.improvement_db)
    worse = -row.improvement_db
    bad = worse > limit
    return Criterion(
        id="families-not-worse",
        group=Group.IMPROVEMENT,
        title=title,
        result=CriterionResult.HOLD if bad else CriterionResult.PASS,
        value=worse,
        unit="dB",
        limit=limit,
        limit_source=evidence.limits.source("worse_than_before_db"),
        advice="Do not load the machine. Call the engineer." if bad else "",
        hold=Hold.FIX if bad else None,
        reason=f"{row.title} is {worse:.0f} dB worse than before the rebuild." if bad else "",
        detail=row.title,
    )


def _level_not_worse(evidence: Evidence) -> list[Criterion]:
    limits = evidence.limits
    hold = limits.value("high_frequency_ratio_hold")
    ratios = [
        (row.after / row.before, row.title)
        for pair in _pairs(evidence)
        for id_, row in _levels(*pair)
        if id_ == BEARING_LEVEL
    ]
    if not ratios:
        return []
    quietest, where = min(ratios)
    if quietest < QUIETER_HOLD:
        return [
            Criterion(
                id="bearing-band-not-worse",
                group=Group.IMPROVEMENT,
                title="Bearing-band level over the as-found one",
                result=CriterionResult.HOLD,
                value=quietest,
                unit="1",
                limit=QUIETER_HOLD,
                limit_source="smallest believable ratio; common practice, no source",
                advice="Check mount, cable and filters of the sensor; record again.",
                hold=Hold.MEASURE_AGAIN,
                reason=f"The bearing band is {1 / quietest:.0f} times quieter than before the "
                f"rebuild ({where}): no rebuild does that, a deaf sensor does.",
            )
        ]
    value, title = max(ratios)
    result = graded(value, limits.value("high_frequency_ratio_watch"), hold)
    bad = result is CriterionResult.HOLD
    return [
        Criterion(
            id="bearing-band-not-worse",
            group=Group.IMPROVEMENT,
            title="Bearing-band level over the as-found one",
            result=result,
            value=value,
            unit="1",
            limit=hold,
            limit_source=limits.source("high_frequency_ratio_hold"),
            advice="Stop, let the oil settle, check level, grade, breather and dirt; check the "
            "sensor's mount. Then record again."
            if result is not CriterionResult.PASS
            else "",
            hold=Hold.FIX if bad else None,
            reason=f"The bearing is {value:.1f} times as rough as before the rebuild ({title})."
            if bad
            else "",
        )
    ]
