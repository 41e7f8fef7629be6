"""Motion against the reference: stroke, harmonics, half orders, orbit."""

from collections.abc import Iterator
from statistics import median

from vibhealth.acceptance._evidence import Evidence, graded, is_crosswise, point_of
from vibhealth.baseline import motion_values
from vibhealth.model import Criterion, CriterionResult, Group, Hold

__all__ = ["baseline_motion_criteria"]

# What is smaller over 1x may double without meaning anything (common practice, no source).
LEAST = {"harmonic-ratio": 0.05, "half-order-ratio": 0.01}
RATIOS = {
    "harmonic-ratio": (
        "harmonics-over-baseline",
        "Harmonics 2x to 10x over those of the reference",
        "The harmonics of the motion hold",
        "Lock out. Check bolts, coupling, guard clearance, stop and braces.",
    ),
    "half-order-ratio": (
        "half-orders-over-baseline",
        "Half orders over those of the reference",
        "Half orders hold",
        "Lock out. A joint opens or something rubs: check the torque of the bolts, coupling, guard.",
    ),
}


def baseline_motion_criteria(evidence: Evidence) -> list[Criterion]:
    """Motion of all points with a fair reference; nothing without one or on ordinary machines."""
    if evidence.card.exciter is None:
        return []
    return [
        *_stroke(evidence),
        *_ratio(evidence, "harmonic-ratio"),
        *_ratio(evidence, "half-order-ratio"),
        *_orbit(evidence),
    ]


def _now_and_was(evidence: Evidence, id_: str) -> Iterator[tuple[float, float, str, str, float]]:
    """Median now, the reference's mean, point, words, widening."""
    for reference in evidence.references:
        if reference.baseline is None or not reference.is_comparable:
            continue
        scalar = reference.baseline.scalar(id_)
        now = [
            value
            for a in evidence.after
            if point_of(a) == reference.point and not is_crosswise(evidence.card, a.recording)
            if (value := motion_values(a).get(id_, ("", "", None))[2])
        ]
        if scalar is not None and scalar.mean is not None and now:
            yield median(now), scalar.mean, reference.point, reference.words, reference.widening


def _stroke(evidence: Evidence) -> Iterator[Criterion]:
    rows = list(_now_and_was(evidence, "stroke-mm"))
    if not rows:
        return
    now, was, point, words, widening = max(rows, key=lambda row: abs(row[0] / row[1] - 1) / row[4])
    away = 100 * (now / was - 1)
    limits = evidence.limits
    hold = limits.value("stroke_hold_percent") * widening
    result = graded(abs(away), limits.value("stroke_watch_percent") * widening, hold)
    bad = result is CriterionResult.HOLD
    moves = f"{point} moves {now:.2f} mm, {was:.2f} mm in {words} ({away:+.0f} %)"
    yield Criterion(
        id="stroke-over-baseline",
        group=Group.MOTION,
        title="Stroke against that of the reference",
        result=result,
        value=away,
        unit="%",
        limit=hold,
        limit_source=limits.source("stroke_hold_percent"),
        advice="Lock out. Look for a shipping brace left in, a locating stop not lowered, a wrong "
        "or wrongly set eccentric weight."
        if result is not CriterionResult.PASS
        else "",
        hold=Hold.FIX if bad else None,
        reason=f"{moves}." if bad else "",
        detail=moves,
    )


def _ratio(evidence: Evidence, id_: str) -> Iterator[Criterion]:
    rows = list(_now_and_was(evidence, id_))
    if not rows:
        return
    name, title, what, advice = RATIOS[id_]
    told = [row for row in rows if row[0] >= LEAST[id_]]
    now, was, point, words, widening = max(told or rows, key=lambda row: row[0] / row[1] / row[4])
    limits = evidence.limits
    hold = limits.value("baseline_harmonic_hold_ratio") * widening
    watch = limits.value("baseline_harmonic_watch_ratio") * widening
    result = graded(now / was, watch, hold) if told else CriterionResult.PASS
    bad = result is CriterionResult.HOLD
    yield Criterion(
        id=name,
        group=Group.MOTION,
        title=title,
        result=result,
        value=now / was,
        unit="1",
        limit=hold,
        limit_source=f"{limits.source('baseline_harmonic_hold_ratio')}; only from "
        f"{100 * LEAST[id_]:g} % of 1x on",
        advice=advice if result is not CriterionResult.PASS else "",
        hold=Hold.FIX if bad else None,
        reason=f"{what} {100 * now:.2g} % of 1x at {point}, {now / was:.1f} times the "
        f"{100 * was:.2g} % in {words}."
        if bad
        else "",
    )


def _orbit(evidence: Evidence) -> Iterator[Criterion]:
    """Axes and tilt of the orbit; a reversed sense is told by the criterion of the direction."""
    limits = evidence.limits
    ratio_limit = limits.value("baseline_orbit_percent")
    tilt_limit = limits.value("baseline_tilt_deg")
    rows = []
    for reference in evidence.references:
        was = reference.baseline.orbit if reference.baseline and reference.is_fair else None
        left = [
            o for o in evidence.orbits if o.stage == "as-left" and was and o.points == was.points
        ]
        if was is None or not left or was.major_mm <= 0:
            continue
        ratio_was = was.minor_mm / was.major_mm
        ratio = median(o.minor_mm / o.major_mm for o in left)
        tilt = median(abs((o.tilt_deg - was.tilt_deg + 90) % 180 - 90) for o in left)
        is_round = max(ratio, ratio_was) > 0.9  # then no long axis has a tilt to speak of
        away = 100 * abs(ratio - ratio_was)
        share = max(away / ratio_limit, 0.0 if is_round else tilt / tilt_limit) / reference.widening
        turned = {o.direction for o in left} - {was.direction, "line"}
        tilt_words = "round" if is_round else f"tilt {tilt:.0f}° away"
        is_reversed = bool(turned) and was.direction != "line"
        rows.append((is_reversed, share, ratio, ratio_was, tilt_words, reference))
    if not rows:
        return
    reversed_, share, ratio, ratio_was, tilt_words, reference = max(rows, key=lambda row: row[:2])
    result = CriterionResult.PASS if share <= 1 else CriterionResult.WATCH
    if reversed_:
        result = CriterionResult.HOLD
    yield Criterion(
        id="orbit-over-baseline",
        group=Group.MOTION,
        title="Orbit against that of the reference",
        result=result,
        value=f"axes {ratio:.2f} ({ratio_was:.2f} in {reference.words}), {tilt_words}",
        unit="",
        limit=f"axes ± {ratio_limit:g} %, tilt ± {tilt_limit:g}°",
        limit_source=limits.source("baseline_orbit_percent"),
        advice="Lock out. An electrician swaps two phases; check the arrow on the housing."
        if reversed_
        else "Look at isolators and eccentric weights; check that the sensors sit on their axes."
        if result is CriterionResult.WATCH
        else "",
        hold=Hold.FIX if reversed_ else None,
        reason=f"It turns the other way than in {reference.words}." if reversed_ else "",
    )
