"""One criterion per element of every bearing, from all as-left recordings together."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from statistics import median

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance._words import (
    cage_words,
    depth_words,
    element_words,
    in_how_many,
    probability_words,
    shown_words,
    strike_words,
)
from vibhealth.acceptance.combined_evidence import (
    CAGE_TOLERANCE,
    CommonCage,
    PointEvidence,
    Reading,
    common_cage,
    look_of,
    over_points,
    point_evidence,
)
from vibhealth.acceptance.family_growth import family_growth, with_growth
from vibhealth.acceptance.masked_criteria import masked_words
from vibhealth.bearing import defect_orders, orders_at_cage
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Element,
    FamilyFinding,
    Group,
    Hold,
    RollingBearing,
)

__all__ = ["family_criteria"]

SHOWN = {CriterionResult.HOLD, CriterionResult.WATCH}

NO_COMMON_CAGE = "fits no common cage speed"
WEAK_TOGETHER = "no recording alone is sure of it, all of them together are"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judged:
    """One family in all recordings: what shows it how badly, and what speaks against it."""

    readings: tuple[Reading, ...]
    hold: tuple[PointEvidence, ...]
    watch: tuple[PointEvidence, ...]
    cage: CommonCage | None
    odd: tuple[Reading, ...]
    result: CriterionResult
    remark: str
    chance: float
    shown: tuple[Reading, ...]

    @property
    def deepest(self) -> FamilyFinding:
        """Deepest reading that shows it; without one the deepest of all, which is noise."""
        votes = [reading for point in self.watch for reading in point.votes]
        return max(
            (finding for _, finding in self.shown or votes or self.readings),
            key=lambda finding: finding.depth_whitened,
        )


def family_criteria(evidence: Evidence) -> list[Criterion]:
    """One line per element of every bearing whose families were searched."""
    keys = dict.fromkeys((f.bearing, f.element) for a in evidence.after for f in a.families)
    cages = {bearing: common_cage(evidence.after, bearing) for bearing, _ in keys}
    judged = {key: _judge(evidence, *key, cages[key[0]]) for key in keys}
    criteria = {key: _compared(evidence, key, family) for key, family in judged.items()}
    return [_once(key, criterion, judged, criteria) for key, criterion in criteria.items()]


def _compared(evidence: Evidence, key: tuple[str, Element], family: _Judged) -> Criterion:
    """The criterion by absolute limits, and by the reference of the points where there is one."""
    growth = family_growth(evidence, *key, family.readings, family.shown)
    is_sure = family.chance <= evidence.limits.value("family_false_alarm_probability")
    return with_growth(_criterion(evidence, *key, family), growth, evidence, is_sure=is_sure)


def _judge(evidence: Evidence, bearing: str, element: Element, cage: CommonCage | None) -> _Judged:
    limits = evidence.limits
    readings = tuple(
        (analysis, finding)
        for analysis in evidence.after
        for finding in analysis.families
        if (finding.bearing, finding.element) == (bearing, element)
    )
    odd = tuple(_odd(evidence, readings, cage))
    excused = odd if len({look_of(analysis) for analysis, _ in odd}) == 1 else ()
    hold = point_evidence(
        readings, lambda r: r[1].result is CriterionResult.HOLD and r not in excused
    )
    watch = point_evidence(readings, lambda r: r[1].result in SHOWN)
    held = [point for point in hold if point.agrees]
    shown = tuple(r for p in held for r in p.shown)
    result, remark = CriterionResult.PASS, ""
    if held:
        result = CriterionResult.HOLD
    elif seen := [reading for point in watch for reading in point.shown]:
        result, shown = CriterionResult.WATCH, tuple(seen)
        remark = NO_COMMON_CAGE if excused else ""
    elif not watch:
        result = CriterionResult.NOT_JUDGED
    elif together := _together(watch, limits.value("family_false_alarm_probability"),
                               limits.value("depth_watch")):  # fmt: skip
        result, shown, remark = CriterionResult.WATCH, together, WEAK_TOGETHER
    chances = [point.probability for point in held or watch]
    return _Judged(
        readings=readings,
        hold=hold,
        watch=watch,
        cage=cage,
        odd=odd,
        result=result,
        remark=remark,
        chance=over_points([min(chances)] * len(watch)) if chances else 1.0,
        shown=shown,
    )


def _together(
    points: Iterable[PointEvidence], limit: float, least_depth: float
) -> tuple[Reading, ...]:
    """Readings of a point that say together what none says alone, at one and the same order."""
    points = tuple(points)
    for point in points:
        orders = [finding.order for _, finding in point.votes]
        depth = median(finding.depth_whitened for _, finding in point.votes)
        agree = max(orders) - min(orders) <= CAGE_TOLERANCE * max(orders)
        chance = over_points([point.together] * len(points))
        if len(orders) > 1 and agree and chance <= limit and depth >= least_depth:
            return point.votes
    return ()


def _odd(
    evidence: Evidence, readings: Iterable[Reading], cage: CommonCage | None
) -> Iterable[Reading]:
    """Readings of hold size that contradict the cage speed that most recordings agree on.

    Only rings and cage count their events by the cage alone; a rolling element may also
    slide about its own axis, so no order of it contradicts a cage speed.
    """
    if cage is None or not cage.is_carried:
        return
    bearing = next((b for b in evidence.card.rolling_bearings() if b.name == cage.bearing), None)
    for reading in readings:
        finding = reading[1]
        is_held = finding.result is CriterionResult.HOLD
        is_tied = finding.element is not Element.ROLLING_ELEMENT and not finding.ambiguous_with
        if bearing and is_held and is_tied and not _fits(bearing, cage, finding):
            yield reading


def _fits(bearing: RollingBearing, cage: CommonCage, finding: FamilyFinding) -> bool:
    """Whether the finding's order lies where this cage speed puts its element."""
    kinematic = defect_orders(bearing)
    # BPFO + BPFI = Z; given orders may be rounded, so what they miss Z by is allowed for.
    count = bearing.element_count
    mismatch = abs(kinematic.outer_ring + kinematic.inner_ring - count) / count
    reach = (0.5 * CAGE_TOLERANCE + mismatch) * cage.high
    at = [orders_at_cage(bearing, order) for order in (cage.low - reach, cage.high + reach)]
    places = [orders.strike_order(finding.element) or 0.0 for orders in at]
    spans = [sorted(places)]
    if finding.element is Element.CAGE:  # a turning load shows the cage at what it lags behind
        spans.append(sorted(1.0 - place for place in places))
    return any(low <= finding.order <= high for low, high in spans)


def _criterion(evidence: Evidence, bearing: str, element: Element, family: _Judged) -> Criterion:
    limits, finding = evidence.limits, family.deepest
    is_held = family.result is CriterionResult.HOLD
    is_sure = family.chance <= limits.value("family_false_alarm_probability")
    is_hidden = family.result is CriterionResult.NOT_JUDGED
    kind = Hold.FIX if is_held and is_sure else Hold.MEASURE_AGAIN if is_held or is_hidden else None
    hidden = masked_words([analysis for analysis, _ in family.readings])
    reason = _reason(evidence, family, finding, is_sure=is_sure) if is_held else ""
    return Criterion(
        id=f"family-{bearing}-{element.value}",
        group=Group.BEARING,
        title=f"{element.words.capitalize()} of bearing {bearing}",
        result=family.result,
        value=None if is_hidden else finding.depth_whitened,
        unit="1",
        limit=limits.value("depth_hold"),
        limit_source=f"{limits.source('depth_hold')}; significant below a false-alarm probability "
        f"of {limits.value('family_false_alarm_probability'):g}",
        advice=hidden.advice if is_hidden else _advice(family, finding, is_sure=is_sure),
        hold=kind,
        reason=hidden.reason if is_hidden else reason,
        detail="" if is_hidden else _detail(evidence, family, finding),
    )


def _detail(evidence: Evidence, family: _Judged, finding: FamilyFinding) -> str:
    strikes = strike_words(evidence.after, finding)
    is_shown = family.result is not CriterionResult.PASS
    is_held = family.result is CriterionResult.HOLD  # then the reason tells the sizes
    combined = "" if sum(len(point.votes) for point in family.watch) == 1 else "combined "
    found = (
        f"Order {finding.order:.3f} ({finding.frequency_hz:.2f} Hz, {finding.slip_percent:+.1f} % "
        "from the computed one)"
    )
    parts = [
        found,
        shown_words(family.hold if is_held else family.watch)
        if is_shown and family.remark != WEAK_TOGETHER
        else "",
        f"{combined}false-alarm probability {probability_words(family.chance)}",
        depth_words(finding) if finding.depth_interval and not is_held else "",
        f"strikes of {strikes}" if strikes and not is_held else "",
        cage_words(family.cage, evidence.after),
        family.remark or (NO_COMMON_CAGE if is_shown and family.odd else ""),
        _PATTERNS[finding.pattern] if is_shown else "",
    ]
    return "; ".join(filter(None, parts))


_PATTERNS = {
    "": "",
    "single-mark": "a single mark",
    "marks-at-every-element": "marks at every element spacing (standing or knocked while still: "
    "brinelling), not a single spall",
}


def _reason(evidence: Evidence, family: _Judged, finding: FamilyFinding, *, is_sure: bool) -> str:
    shown = {look_of(analysis) for analysis, _ in family.shown}
    looks = {look_of(analysis) for analysis, _ in family.readings}
    strikes = strike_words(evidence.after, finding)
    what = (
        f"Regular ticking that fits the {element_words(finding)} of bearing {finding.bearing}"
        f"{in_how_many(len(shown), len(looks))}"
    )
    size = f"{f', striking with {strikes}' if strikes else ''}; {depth_words(finding)}"
    sentences = [f"{what}{size}, limit {evidence.limits.value('depth_hold'):g}."]
    if finding.pattern == "marks-at-every-element":
        sentences.append(f"It reads like {_PATTERNS[finding.pattern]}.")
    if family.odd:
        sentences.append(f"In {len(family.odd)} of the readings it {NO_COMMON_CAGE}.")
    if finding.blind_spot:
        sentences.append("It lies in a blind spot of this bearing.")
    if not is_sure:
        sentences.append(
            "Of so many recordings and axes one shows as much by chance "
            f"(probability {probability_words(family.chance)}): a repeat tells."
        )
    return " ".join(sentences)


def _advice(family: _Judged, finding: FamilyFinding, *, is_sure: bool) -> str:
    if family.result is CriterionResult.HOLD and not is_sure:
        return "Do not load the machine. Record this point three times, a few minutes apart."
    if family.result is CriterionResult.HOLD:
        checks = "how the unit went down (dropped, hammered?), how it was stored"
        if finding.pattern == "marks-at-every-element":
            checks = (
                "how machine and unit were stored and transported (did they stand still while "
                "something near them shook?), whether the unit was dropped or hammered"
            )
        return (
            f"Do not load the machine. Call the engineer. Ask {checks}, and whether the oil is "
            "clean and at its level."
        )
    if family.result is not CriterionResult.WATCH:
        return ""
    if family.remark == NO_COMMON_CAGE:
        return (
            f"One recording shows lines near the {element_words(finding)} that {NO_COMMON_CAGE}: "
            "record three times; if they stay, look for another source of their order."
        )
    if family.remark == WEAK_TOGETHER:
        return (
            f"A faint regular ticking near the {element_words(finding)}, {WEAK_TOGETHER}: record "
            "longer, within a shift."
        )
    return (
        f"A small regular ticking near the {element_words(finding)}: record again within a shift; "
        "it must not grow."
    )


def _once(
    key: tuple[str, Element],
    criterion: Criterion,
    judged: dict[tuple[str, Element], _Judged],
    criteria: dict[tuple[str, Element], Criterion],
) -> Criterion:
    """A cage that cannot be told from the rolling element gives its reason and advice once.

    Both lines stand; where the rolling element's is as bad, it speaks for both.
    """
    other = key[0], Element.ROLLING_ELEMENT
    shown = judged[key].shown
    is_joint = bool(shown) and all(
        Element.ROLLING_ELEMENT.value in finding.ambiguous_with for _, finding in shown
    )
    if key[1] is not Element.CAGE or not is_joint or other not in criteria:
        return criterion
    told = criteria[other]
    if told.result is not criterion.result:
        return criterion
    detail = f"{criterion.detail}; the same lines as those of the rolling element, told there"
    is_held = criterion.result is CriterionResult.HOLD
    advice = told.advice if is_held else ""
    return replace(criterion, reason=told.reason, advice=advice, detail=detail)
