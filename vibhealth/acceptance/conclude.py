"""From evidence to the whole answer: all criteria, the verdict, what it rests on."""

from datetime import datetime
from typing import Any

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.baseline_level_criteria import baseline_level_criteria
from vibhealth.acceptance.baseline_line_criteria import baseline_line_criteria
from vibhealth.acceptance.baseline_motion_criteria import baseline_motion_criteria
from vibhealth.acceptance.bearing_criteria import bearing_criteria
from vibhealth.acceptance.cautions import CAUTIONS
from vibhealth.acceptance.check_time_criteria import check_time_criteria
from vibhealth.acceptance.decide import decide, headline, hold_kind, next_step, reasons
from vibhealth.acceptance.hit_criteria import hit_criteria
from vibhealth.acceptance.improvement import improvement_criteria, improvements
from vibhealth.acceptance.job_course import due_after, job_facts, override_of
from vibhealth.acceptance.line_differences import NOT_COMPARED
from vibhealth.acceptance.motion_before_criteria import motion_before_criteria
from vibhealth.acceptance.motion_criteria import motion_criteria
from vibhealth.acceptance.recording_criteria import (
    nothing_recorded,
    recording_criteria,
    state_criteria,
)
from vibhealth.acceptance.reference_criteria import reference_criteria
from vibhealth.acceptance.references import PointReference, rank_of, reference_use
from vibhealth.acceptance.roughness_criteria import roughness_criteria
from vibhealth.acceptance.sensitivity_criteria import sensitivity_criteria
from vibhealth.acceptance.set_criteria import set_criteria
from vibhealth.acceptance.stability import stability_criteria
from vibhealth.acceptance.start_stop_criteria import start_stop_criteria
from vibhealth.acceptance.start_stop_quality import start_stop_quality
from vibhealth.acceptance.symptoms import with_checks
from vibhealth.acceptance.work_criteria import work_criteria
from vibhealth.card import MachineCard
from vibhealth.model import Assessment, Criterion, Group, ReferenceRank, Stage

__all__ = ["conclude"]

SCOPE = (
    "Recordings only: nothing is known here of the work by hand. Bolts, oil, seals, guard and "
    "braces still have to be checked and signed for."
)
WITH_JOB = (
    "Recordings and the record of the work by hand: what was answered there is believed as written."
)
INVENTED = "INVENTED recordings of an invented machine: for practice, never evidence."
NO_BASELINE = (
    "There is no known-good recording of this machine to compare with: absolute limits only."
)
NO_FAIR_COMPARISON = (
    "There is a reference of this machine, but no fair comparison with it: absolute limits only."
)
AS_FOUND = "The as-found recordings prove an improvement, never a PASS."


def conclude(evidence: Evidence) -> Assessment:
    """Criteria of all groups, the verdict and everything that goes with it.

    Parameters
    ----------
    evidence : Evidence
        Analyses, card, job record.

    Returns
    -------
    Assessment
    """
    order = list(Group)
    found = sorted(_criteria(evidence), key=lambda item: order.index(item.group))
    criteria = with_checks(found, evidence)
    kind = hold_kind(criteria)
    rank = rank_of(evidence.references)
    if any(item.id.startswith(NOT_COMPARED) for item in criteria):
        rank = max(rank, ReferenceRank.NAMEPLATE, key=list(ReferenceRank).index)
    return Assessment(
        machine=_machine(evidence.card),
        verdict=decide(criteria),
        hold=kind,
        headline=headline(criteria, rank=rank),
        scope=_scope(evidence),
        reasons=reasons(criteria),
        next_step=next_step(criteria, due=due_after(evidence.moment, evidence.job), rank=rank),
        criteria=criteria,
        recordings=(*evidence.before, *evidence.earlier, *evidence.after, *evidence.elsewhere),
        improvements=improvements(evidence),
        orbits=evidence.orbits,
        cautions=CAUTIONS,
        settings=_settings(evidence.card),
        transients=evidence.transients,
        job=None if evidence.job is None else job_facts(evidence.job, evidence.moment),
        override=override_of(evidence.job, kind, newest=_newest(evidence)),
        references=tuple(reference_use(item) for item in evidence.references),
    )


def _newest(evidence: Evidence) -> datetime | None:
    """When the latest as-left recording began, as far as the clocks are of one kind."""
    recordings = [
        *(analysis.recording for analysis in evidence.after),
        *(analysis.recording for analysis in evidence.transients),
    ]
    times = [
        recording.start_time
        for recording in recordings
        if recording.start_time is not None and recording.stage is Stage.AS_LEFT
    ]
    kinds = {time.utcoffset() is None for time in times}
    return max(times) if len(kinds) == 1 else None


def _criteria(evidence: Evidence) -> tuple[Criterion, ...]:
    by_hand = work_criteria(evidence)
    if not evidence.after:
        return (
            *by_hand,
            nothing_recorded(evidence),
            *start_stop_criteria(evidence),
            *start_stop_quality(evidence),
        )
    return (
        *by_hand,
        *recording_criteria(evidence),
        *set_criteria(evidence),
        *check_time_criteria(evidence),
        *state_criteria(evidence),
        *reference_criteria(evidence),
        *motion_criteria(evidence),
        *baseline_motion_criteria(evidence),
        *motion_before_criteria(evidence),
        *start_stop_criteria(evidence),
        *start_stop_quality(evidence),
        *hit_criteria(evidence),
        *bearing_criteria(evidence),
        *baseline_level_criteria(evidence),
        *baseline_line_criteria(evidence),
        *sensitivity_criteria(evidence),
        *stability_criteria(evidence),
        *roughness_criteria(evidence),
        *improvement_criteria(evidence),
    )


def _scope(evidence: Evidence) -> str:
    everything = (*evidence.before, *evidence.after, *evidence.elsewhere)
    invented = any("INVENTED" in text for a in everything for _, text in a.recording.remarks)
    return " ".join(
        [
            *([INVENTED] if invented else []),
            SCOPE if evidence.job is None else WITH_JOB,
            _compared_with(evidence),
            *([AS_FOUND] if evidence.before else []),
        ]
    )


def _compared_with(evidence: Evidence) -> str:
    """What the recordings were compared with, point by point where the points differ."""
    named: dict[str, list[str]] = {}
    for reference in evidence.references:
        if reference.baseline is not None and reference.is_fair:
            named.setdefault(_reference_words(reference), []).append(reference.point)
    if not named:
        is_unfair = any(reference.baseline is not None for reference in evidence.references)
        return NO_FAIR_COMPARISON if is_unfair else NO_BASELINE
    told = [f"{words} ({', '.join(points)})" for words, points in named.items()]
    rest = [r.point for r in evidence.references if not r.is_comparable]
    sentence = f"Compared with {' and '.join(told)}"
    return f"{sentence}; absolute limits only at {', '.join(rest)}." if rest else f"{sentence}."


def _reference_words(reference: PointReference) -> str:
    baseline = reference.baseline
    if baseline is None:
        return ""
    kind = (
        "the known-good reference"
        if reference.rank is ReferenceRank.KNOWN_GOOD
        else f"that of the healthy sister {baseline.machine_id}, limits widened by "
        f"{reference.widening:g},"
    )
    return (
        f"{kind} of {baseline.made_at:%Y-%m-%d}, version {baseline.version}, accepted by "
        f"{baseline.accepted_by}"
    )


def _machine(card: MachineCard) -> dict[str, Any]:
    return {
        "id": card.machine.id,
        "name": card.machine.name,
        "nominal_speed_rpm": card.machine.nominal_speed_rpm,
        "card": card.path,
        "card_sha256": card.sha256,
        "bearings": [
            {
                "name": bearing.name,
                "element_count": bearing.element_count,
                "load_case": bearing.load_case.value,
                "rotating_ring": bearing.rotating_ring.value,
            }
            for bearing in card.rolling_bearings()
        ],
    }


def _settings(card: MachineCard) -> dict[str, Any]:
    return {
        limit.id: {
            "value": limit.value,
            "unit": limit.unit,
            "source": limit.source,
            "meaning": limit.meaning,
        }
        for limit in card.limits.rows
    }
