"""Criteria of what was filled in and left free: oil, and the gap between body and guard."""

import re

from vibhealth.acceptance._evidence import graded
from vibhealth.acceptance._job_line import UNSIGNED, job_line, signed_by
from vibhealth.card import Limits, MachineCard
from vibhealth.job import JobRecord
from vibhealth.model import Criterion, CriterionResult, MachineCheck

__all__ = ["guard_criteria", "oil_criteria"]

LEVEL = MachineCheck(
    step="oil",
    mistake="too much or too little oil",
    check="Read the level at standstill after settling; count the litres; open the breather.",
    seen_by_vibration="fairly",
)
GRADE = MachineCheck(
    step="oil",
    mistake="oil of another grade",
    check="Compare the label on the drum with the card; keep a sample.",
    seen_by_vibration="poorly",
)
RUB = MachineCheck(
    step="guard",
    mistake="the body reaches the guard",
    check="Look for fresh paint marks; measure the gap all the way round, locked out.",
    seen_by_vibration="fairly",
)


def oil_criteria(job: JobRecord, card: MachineCard, limits: Limits) -> list[Criterion]:
    """Judge litres and grade of the oil.

    Parameters
    ----------
    job : JobRecord
        Its ``[oil]`` table.
    card : MachineCard
        Volume and grade.
    limits : Limits
        In force.

    Returns
    -------
    list of Criterion
    """
    return [_volume(job, card, limits), _grade(job, card)]


def _unsigned_oil(job: JobRecord) -> str:
    return "" if signed_by(job, job.oil.by) else "NO NAME beside the oil."


def _volume(job: JobRecord, card: MachineCard, limits: Limits) -> Criterion:
    title, filled = "Litres of oil filled in", job.oil.filled_l
    on_card = None if card.oil is None else card.oil.volume_l
    tolerance = limits.value("oil_volume_hold_percent")
    source = f"card, oil.volume_l; tolerance: {limits.source('oil_volume_hold_percent')}"
    detail = "" if job.oil.drained_l is None else f"{job.oil.drained_l:g} L came out"
    if filled is None or _unsigned_oil(job):
        return job_line(
            "oil-volume",
            title,
            result=CriterionResult.NOT_JUDGED,
            unit="L",
            limit=on_card,
            source=source,
            reason="NOT CHECKED: litres of oil filled in. Answer needed before PASS."
            if filled is None
            else _unsigned_oil(job),
            advice="Read the litres from the can, and the level at standstill after settling.",
            detail=detail,
        )
    if on_card is None:
        return job_line(
            "oil-volume",
            title,
            result=CriterionResult.WATCH,
            value=filled,
            unit="L",
            source="card, oil.volume_l",
            advice="The card gives no volume: write the maker's litres on it ([oil] volume_l).",
            detail=detail,
        )
    away = 100 * (filled / on_card - 1)
    result = graded(round(abs(away), 6), tolerance, tolerance)
    much = "Too much" if away > 0 else "Too little"
    return job_line(
        "oil-volume",
        title,
        result=result,
        value=filled,
        unit="L",
        limit=f"{on_card:g} L ± {tolerance:g} %",
        source=source,
        reason=f"{much} oil: {filled:g} L filled in, the card says {on_card:g} L ({away:+.0f} %).",
        advice="Lock out, let it cool. Set the level at standstill after settling: too much is as "
        "bad as too little.",
        detail=detail,
        checks=(LEVEL,),
    )


def _grade(job: JobRecord, card: MachineCard) -> Criterion:
    title, grade = "Grade of the oil", job.oil.grade
    on_card = None if card.oil is None else card.oil.grade
    if not grade or _unsigned_oil(job):
        return job_line(
            "oil-grade",
            title,
            result=CriterionResult.NOT_JUDGED,
            limit=on_card,
            source="card, oil.grade",
            reason="NOT CHECKED: grade of the oil. Answer needed before PASS."
            if not grade
            else _unsigned_oil(job),
            advice="Read it from the drum it came out of.",
        )
    result = CriterionResult.PASS if on_card else CriterionResult.WATCH
    advice = "The card gives no grade: write the maker's on it ([oil] grade)."
    if on_card and not _is_same_grade(grade, on_card):
        result = CriterionResult.HOLD
        advice = "Lock out, let it cool. Drain, flush, fill in the grade of the card."
    return job_line(
        "oil-grade",
        title,
        result=result,
        value=grade,
        limit=on_card,
        source="card, oil.grade",
        reason=f"Wrong oil: {grade} filled in, the card says {on_card}.",
        advice=advice,
        checks=(GRADE,),
    )


def _is_same_grade(one: str, other: str) -> bool:
    """Whether two texts name one grade: all numbers alike, the words of one among the other's.

    >>> _is_same_grade("VG220", "ISO VG 220"), _is_same_grade("VG 22", "ISO VG 220")
    (True, False)
    """
    first, second = (set(re.findall(r"[^\W\d_]+|\d+", text.casefold())) for text in (one, other))
    numbers = [{part for part in parts if part.isdigit()} for parts in (first, second)]
    return numbers[0] == numbers[1] and (first <= second or second <= first)


def guard_criteria(
    job: JobRecord, card: MachineCard, limits: Limits, *, largest_swing_mm: float | None
) -> list[Criterion]:
    """Judge the gap at the guard, at rest and against the swing while starting and stopping.

    Parameters
    ----------
    job : JobRecord
        Its ``[clearance]`` table.
    card : MachineCard
        The gap to be kept; without ``[guard]`` only the swing is judged.
    limits : Limits
        In force.
    largest_swing_mm : float or None
        Farthest that the body swung to one side, mm; None where it was not recorded.

    Returns
    -------
    list of Criterion
    """
    gaps = job.clearance.guard_mm
    criteria = [_clearance(job, card, limits)] if card.guard is not None else []
    if largest_swing_mm is not None and gaps:
        criteria.append(_swing(largest_swing_mm, min(gaps), limits))
    return criteria


def _clearance(job: JobRecord, card: MachineCard, limits: Limits) -> Criterion:
    gaps, places = job.clearance.guard_mm, int(limits.value("minimum_guard_clearances"))
    least = 0.0 if card.guard is None else card.guard.clearance_mm
    reason = ""
    if not gaps:
        reason = "NOT CHECKED: clearance at the guard. Answer needed before PASS."
    elif len(gaps) < places:
        reason = f"The clearance was measured at {len(gaps)} of at least {places} places."
    elif not signed_by(job, job.clearance.by):
        reason = "NO NAME beside the clearance at the guard."
    result = CriterionResult.NOT_JUDGED if reason else CriterionResult.PASS
    if gaps and min(gaps) < least:
        result = CriterionResult.HOLD
        reason = (
            f"Guard too close: {min(gaps):g} mm at place {gaps.index(min(gaps)) + 1} of "
            f"{len(gaps)}, the card asks for {least:g} mm."
        )
    return job_line(
        "guard-clearance",
        "Smallest clearance at the guard",
        result=result,
        value=min(gaps, default=None),
        unit="mm",
        limit=least,
        source=f"card, guard.clearance_mm; places: {limits.source('minimum_guard_clearances')}",
        reason=reason,
        advice=f"Lock out. Measure the gap all the way round, at {places} places or more, and set "
        f"the guard. {UNSIGNED}",
        checks=(RUB,) if result is CriterionResult.HOLD else (),
    )


def _swing(swing_mm: float, gap_mm: float, limits: Limits) -> Criterion:
    """The swing through the isolators' frequency is several times the working stroke."""
    hold = limits.value("guard_swing_hold_ratio")
    ratio = swing_mm / gap_mm if gap_mm > 0 else float("inf")
    result = graded(ratio, limits.value("guard_swing_watch_ratio"), hold)
    if ratio >= hold:  # here the limit itself is a touch
        result = CriterionResult.HOLD
    return job_line(
        "guard-swing",
        "Swing while starting and stopping against the smallest gap at the guard",
        result=result,
        value=swing_mm,
        unit="mm",
        limit=hold * gap_mm,
        source=limits.source("guard_swing_hold_ratio"),
        reason=f"The body swings {swing_mm:.1f} mm to one side while starting or stopping, the "
        f"smallest gap at the guard is {gap_mm:g} mm.",
        advice="Lock out. Look for fresh paint marks, set the guard back: its gap must exceed the "
        "swing, not the working stroke.",
        checks=(RUB,),
    )
