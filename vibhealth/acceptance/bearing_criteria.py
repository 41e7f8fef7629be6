"""Criteria of the bearing: families, and what could have been found."""

import math

from vibhealth.acceptance._evidence import Evidence, graded, label, not_judged, passed, point_of
from vibhealth.bearing import blind_spots
from vibhealth.diagnosis.analysis import bearings_heard
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Element,
    FamilyFinding,
    Group,
    Hold,
    RecordingAnalysis,
)

__all__ = ["bearing_criteria", "element_words", "sensitivity_criteria"]

# With this many recordings of a point a family must show in this share of them.
AGREEING_RECORDINGS = 3
AGREEING_SHARE = 2 / 3

# Least share of the detectable strike amplitude at which a strike's size is told.
READABLE_SHARE = 0.5

Reading = tuple[RecordingAnalysis, FamilyFinding]


def element_words(finding: FamilyFinding) -> str:
    """The element, and what it cannot be told from."""
    others = [
        name.replace("outer-ring", "outer ring")
        .replace("inner-ring", "inner ring")
        .replace("rolling-element", "rolling element")
        for name in finding.ambiguous_with
    ]
    return " or ".join([finding.element.words, *others])


def bearing_criteria(evidence: Evidence) -> list[Criterion]:
    """One line per element of every bearing, and the blind spots of these bearings.

    A recording that could not be judged hides nothing that another one shows.
    """
    keys = dict.fromkeys((f.bearing, f.element) for a in evidence.after for f in a.families)
    criteria = [_family(evidence, bearing, element) for bearing, element in keys]
    return [
        *_families_not_judged(evidence),
        *criteria,
        *_all_heard(evidence),
        *_blind_spots(evidence),
    ]


def _all_heard(evidence: Evidence) -> list[Criterion]:
    """Bearings that no recorded point hears, where points of the card name what they hear."""
    card = evidence.card
    if not any(point.bearings for point in card.points):
        return []
    heard = {b.name for a in evidence.after for b in bearings_heard(card, a.recording)}
    silent = [bearing.name for bearing in card.bearings if bearing.name not in heard]
    id_, title, source = "bearings-heard", "All bearings listened to", "card, [[point]] bearings"
    if not silent:
        names = ", ".join(bearing.name for bearing in card.bearings)
        return [passed(id_, Group.BEARING, title, value=names, limit_source=source)]
    points = [point.name for point in card.points if set(point.bearings) & set(silent)]
    return [
        not_judged(
            id_,
            Group.BEARING,
            title,
            reason=f"No recording listens to bearing {', '.join(silent)}.",
            advice=f"Record at {' or '.join(points)} too."
            if points
            else "Record at a point near it, and name the bearing there on the card.",
            limit_source=source,
        )
    ]


def _families_not_judged(evidence: Evidence) -> list[Criterion]:
    silent = [analysis for analysis in evidence.after if analysis.families_not_judged]
    if not silent:
        return []
    return [
        not_judged(
            "families",
            Group.BEARING,
            "Defect families",
            reason=f"{label(silent[0])}: the bearing could not be judged, "
            f"{silent[0].families_not_judged}.",
            advice="Put this right and record again.",
            limit=evidence.limits.value("depth_hold"),
            unit="1",
            limit_source=evidence.limits.source("depth_hold"),
        )
    ]


def _readings(evidence: Evidence, bearing: str, element: Element) -> list[Reading]:
    return [
        (analysis, finding)
        for analysis in evidence.after
        for finding in analysis.families
        if (finding.bearing, finding.element) == (bearing, element)
    ]


def _agreed(readings: list[Reading], least: CriterionResult) -> list[Reading]:
    """Readings of a point in which enough of its recordings show the family this badly."""
    bad = {CriterionResult.HOLD}
    if least is CriterionResult.WATCH:
        bad.add(CriterionResult.WATCH)
    agreed: list[Reading] = []
    for point in dict.fromkeys(point_of(analysis) for analysis, _ in readings):
        here = [reading for reading in readings if point_of(reading[0]) == point]
        shown = [reading for reading in here if reading[1].result in bad]
        needed = math.ceil(AGREEING_SHARE * len(here)) if len(here) >= AGREEING_RECORDINGS else 1
        if len(shown) >= needed:
            agreed += shown
    return agreed


def _family(evidence: Evidence, bearing: str, element: Element) -> Criterion:
    limits = evidence.limits
    readings = _readings(evidence, bearing, element)
    hold = _agreed(readings, CriterionResult.HOLD)
    watch = _agreed(readings, CriterionResult.WATCH)
    single = [reading for reading in readings if reading[1].result is not CriterionResult.PASS]
    shown = hold or watch or single
    result = (
        CriterionResult.HOLD
        if hold
        else CriterionResult.WATCH
        if watch or single
        else CriterionResult.PASS
    )
    _, finding = max(shown or readings, key=lambda reading: reading[1].depth_whitened)
    title = f"{element.words.capitalize()} of bearing {bearing}"
    return Criterion(
        id=f"family-{bearing}-{element.value}",
        group=Group.BEARING,
        title=title,
        result=result,
        value=finding.depth_whitened if shown else _largest_insignificant(readings),
        unit="1",
        limit=limits.value("depth_hold"),
        limit_source=f"{limits.source('depth_hold')}; significant below a false-alarm probability "
        f"of {limits.value('family_false_alarm_probability'):g}",
        advice=_advice(result, finding),
        hold=Hold.FIX if result is CriterionResult.HOLD else None,
        reason=_reason(evidence, finding, hold) if hold else "",
        detail=_detail(evidence, finding),
    )


def _largest_insignificant(readings: list[Reading]) -> float:
    """The largest depth at the family's place; without significance it is the noise there."""
    return max(finding.depth_whitened for _, finding in readings)


def _strike_words(evidence: Evidence, finding: FamilyFinding) -> str:
    """Strike amplitude of a significant family, where it is readable.

    A reading below half of what these recordings could have shown at all is a
    reading of the noise: the strikes are there, their size is not known.
    """
    if finding.result is CriterionResult.PASS or not finding.impact_m_s2:
        return ""
    detectable = [
        row.detectable_impact_m_s2
        for analysis in evidence.after
        for row in analysis.sensitivity
        if (row.bearing, row.element) == (finding.bearing, finding.element)
        and row.detectable_impact_m_s2 is not None
    ]
    if finding.impact_m_s2 < READABLE_SHARE * min(detectable, default=0.0) < math.inf:
        return ""
    return f"about {finding.impact_m_s2:.2g} m/s²"


def _detail(evidence: Evidence, finding: FamilyFinding) -> str:
    words = _strike_words(evidence, finding)
    impact = f", strikes of {words}" if words else ""
    return (
        f"order {finding.order:.3f} ({finding.frequency_hz:.2f} Hz, {finding.slip_percent:+.2f} % "
        f"from the computed one), false-alarm probability "
        f"{_probability(finding.false_alarm_probability)}{impact}"
    )


def _probability(value: float) -> str:
    """In words: below one in a million the exact figure claims too much.

    >>> _probability(9e-146), _probability(0.00042)
    ('below 1e-6', '0.0004')
    """
    return "below 1e-6" if value < 1e-6 else f"{value:.1g}"


def _advice(result: CriterionResult, finding: FamilyFinding) -> str:
    if result is CriterionResult.HOLD:
        return (
            "Do not load the machine. Call the engineer. Ask how the unit went down (dropped, "
            "hammered?), how it was stored, and whether the oil is clean and at its level."
        )
    if result is CriterionResult.WATCH:
        return (
            f"A small regular ticking near the {element_words(finding)}: record again within a "
            "shift; it must not grow."
        )
    return ""


def _reason(evidence: Evidence, finding: FamilyFinding, hold: list[Reading]) -> str:
    files = {analysis.recording.sha256 for analysis, _ in hold}
    all_files = {analysis.recording.sha256 for analysis in evidence.after}
    words = _strike_words(evidence, finding)
    impact = f", striking with {words}" if words else ""
    spot = " It lies in a blind spot of this bearing." if finding.blind_spot else ""
    return (
        f"Regular ticking that fits the {element_words(finding)} of bearing {finding.bearing}"
        f"{_in_how_many(len(files), len(all_files))}{impact} (modulation depth "
        f"{finding.depth_whitened:.2f}, limit {evidence.limits.value('depth_hold'):g}).{spot}"
    )


def _in_how_many(shown: int, of: int) -> str:
    """How many recordings show it; nothing to say of one.

    >>> _in_how_many(1, 1), _in_how_many(2, 3)
    ('', ', in 2 of 3 recordings')
    """
    return "" if of == 1 else f", in {shown} of {of} recordings"


def _blind_spots(evidence: Evidence) -> list[Criterion]:
    """What these bearings cannot show at this speed ratio: said with every verdict."""
    bearings = evidence.card.rolling_bearings()
    spots = [
        spot
        for bearing in bearings
        for spot in blind_spots(bearing, evidence.card.analysis.slip_percent)
        if spot.kind == "shaft-line"
    ]
    title, source = "Blind spots of the bearings", "computed from the card"
    if not spots:
        return [passed("blind-spots", Group.BEARING, title, value="none", limit_source=source)]
    return [
        Criterion(
            id="blind-spots",
            group=Group.BEARING,
            title=title,
            result=CriterionResult.WATCH,
            value="; ".join(
                f"{spot.element.words if spot.element else ''} of {spot.bearing}" for spot in spots
            ),
            unit="",
            limit=None,
            limit_source=source,
            advice="Nothing to put right: look at the trend of the shaft orders, and open the old "
            "unit to learn what it looked like.",
            detail=" ".join(spot.sentence for spot in spots),
        )
    ]


def sensitivity_criteria(evidence: Evidence) -> list[Criterion]:
    """Would a small fault have been found? Without this a PASS is worth nothing."""
    limits = evidence.limits
    title, id_ = "Smallest depth that would have been found", "detectable-depth"
    hold, source = limits.value("detectable_depth_hold"), limits.source("detectable_depth_hold")
    missing = [analysis for analysis in evidence.after if not analysis.sensitivity]
    if missing:
        return [
            not_judged(
                id_,
                Group.SENSITIVITY,
                title,
                reason=f"{label(missing[0])}: what it could have shown is not known.",
                advice="Record again, fast and long enough for the bearing band.",
                limit=hold,
                unit="1",
                limit_source=source,
            )
        ]
    # A defect is found if any recording shows it, so the best recording of each element counts.
    best: dict[tuple[str, Element], float] = {}
    impacts: dict[tuple[str, Element], float] = {}
    for analysis in evidence.after:
        for finding in analysis.sensitivity:
            key = finding.bearing, finding.element
            best[key] = min(best.get(key, math.inf), finding.detectable_depth)
            if finding.detectable_impact_m_s2 is not None:
                impacts[key] = min(impacts.get(key, math.inf), finding.detectable_impact_m_s2)
    key, value = max(best.items(), key=lambda item: item[1])
    result = graded(value, limits.value("detectable_depth_watch"), hold)
    words = f"{key[1].words} of bearing {key[0]}"
    criterion = Criterion(
        id=id_,
        group=Group.SENSITIVITY,
        title=title,
        result=result,
        value=value if math.isfinite(value) else "none tried was found",
        unit="1",
        limit=hold,
        limit_source=source,
        advice="Record longer, with the sensor nearer to the bearing, without material."
        if result is not CriterionResult.PASS
        else "",
        hold=Hold.MEASURE_AGAIN if result is CriterionResult.HOLD else None,
        reason=f"A small fault of the {words} would not have been seen in these recordings."
        if result is CriterionResult.HOLD
        else "",
        detail=f"worst: {words}",
    )
    return [criterion, *_impact_criterion(evidence, impacts)]


def _impact_criterion(
    evidence: Evidence, impacts: dict[tuple[str, Element], float]
) -> list[Criterion]:
    limit = evidence.limits.optional_value("detectable_impact_hold_m_s2")
    if limit is None:
        return []
    title, source = (
        "Smallest strike that would have been found",
        evidence.limits.source("detectable_impact_hold_m_s2"),
    )
    rings = {key: value for key, value in impacts.items() if key[1] is not Element.CAGE}
    if not rings:
        return [
            not_judged(
                "detectable-impact",
                Group.SENSITIVITY,
                title,
                reason="Without calibration the smallest strike in m/s² is not known.",
                advice="Give sensitivity and range on the card, beside the file or as options.",
                limit=limit,
                unit="m/s2",
                limit_source=source,
            )
        ]
    key, value = max(rings.items(), key=lambda item: item[1])
    bad = value > limit
    words = f"{key[1].words} of bearing {key[0]}"
    return [
        Criterion(
            id="detectable-impact",
            group=Group.SENSITIVITY,
            title=title,
            result=CriterionResult.HOLD if bad else CriterionResult.PASS,
            value=value,
            unit="m/s2",
            limit=limit,
            limit_source=source,
            advice="Record longer, with the sensor nearer to the bearing." if bad else "",
            hold=Hold.MEASURE_AGAIN if bad else None,
            reason=f"A fault of the {words} striking with less than {value:.2g} m/s² would not "
            "have been seen."
            if bad
            else "",
        )
    ]
