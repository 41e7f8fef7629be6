"""Criteria of the work by hand: what was answered, torqued, filled, measured and felt."""

from collections.abc import Sequence

from vibhealth.acceptance._job_line import UNSIGNED, job_line, signed_by
from vibhealth.acceptance.fill_criteria import guard_criteria, oil_criteria
from vibhealth.acceptance.job_fact_criteria import job_fact_criteria
from vibhealth.acceptance.mistakes import MISTAKES
from vibhealth.acceptance.temperature_criteria import temperature_criteria
from vibhealth.acceptance.torque_criteria import torque_criteria
from vibhealth.card import Limits, MachineCard
from vibhealth.job import JobItem, JobRecord, Phase, items_of
from vibhealth.model import Criterion, CriterionResult, Hold, MachineCheck, Moment

__all__ = ["job_criteria"]

SOURCE = "check list of the job record; common practice, no source"

# The moments in the order of time; a start belongs before the first check, and a stop to it.
REACHED = {
    Moment.RUN_UP: 0,
    Moment.HOUR_1: 1,
    Moment.COAST_DOWN: 1,
    Moment.HOUR_8: 2,
    Moment.HOUR_24: 3,
    Moment.DAY_7: 4,
}
# How many items are named in a reason; the detail names all of them.
NAMED = 6
URGENCY = (Hold.STOP_NOW, Hold.FIX, Hold.MEASURE_AGAIN)

PHASE_WORDS = {
    Phase.AS_FOUND: "before the rebuild",
    Phase.STRIP: "stripping",
    Phase.BUILD: "building",
    Phase.PRE_START: "before the start",
    Phase.START: "first start",
    Phase.HOUR_1: "look at 1 h",
    Phase.HOUR_8: "look at 8 h",
    Phase.HOUR_24: "look at 24 h",
    Phase.DAY_7: "look at 7 days",
}


def job_criteria(
    job: JobRecord,
    card: MachineCard,
    limits: Limits,
    *,
    moment: Moment | None,
    largest_swing_mm: float | None = None,
) -> list[Criterion]:
    """Judge the job record: what was not checked is never good.

    Parameters
    ----------
    job : JobRecord
        As read; what is missing in it is not judged.
    card : MachineCard
        What the figures of the record are compared with.
    limits : Limits
        In force.
    moment : Moment or None
        The check that the job has reached; None stands for the first one, at 1 h. Questions of
        later checks count from then on, a "no" to them at once.
    largest_swing_mm : float, optional
        Farthest that the body swung to one side while starting or stopping, mm, as recorded.

    Returns
    -------
    list of Criterion
        All of ``Group.JOB``.
    """
    reached = REACHED[moment or Moment.HOUR_1]
    criteria = [*job_fact_criteria(job, card)]
    for phase in Phase:
        due = [item for item in items_of(phase) if _counts(job, item, reached)]
        if due:
            criteria.append(_phase(job, phase, due))
    return [
        *criteria,
        *torque_criteria(job, card, limits),
        *oil_criteria(job, card, limits),
        *guard_criteria(job, card, limits, largest_swing_mm=largest_swing_mm),
        *temperature_criteria(job, limits, has_run=reached > 0),
    ]


def _counts(job: JobRecord, item: JobItem, reached: int) -> bool:
    """Whether an item is due; a fault that was seen early counts at once."""
    if item.moment is None or REACHED[item.moment] <= reached:
        return True
    return job.answer(item.id).answer == "no"


def _phase(job: JobRecord, phase: Phase, items: Sequence[JobItem]) -> Criterion:
    """One line for all questions of a phase."""
    answers = {item.id: job.answer(item.id) for item in items}
    refused = [item for item in items if answers[item.id].answer == "no"]
    open_ = [item for item in items if answers[item.id].answer == "not checked"]
    unsigned = [
        item
        for item in items
        if answers[item.id].answer == "yes" and not _signed(job, item, answers[item.id].by)
    ]
    refused.sort(key=lambda item: URGENCY.index(item.no_means))
    result = CriterionResult.PASS
    if open_ or unsigned:
        result = CriterionResult.NOT_JUDGED
    if refused:
        result = CriterionResult.HOLD
    return job_line(
        f"check-{phase.value}",
        f"Work by hand: {PHASE_WORDS[phase]}",
        result=result,
        value=f"{len(items) - len(refused) - len(open_)} of {len(items)} yes",
        limit="every question answered yes, by a named person",
        source=SOURCE,
        reason=" ".join(
            [
                *(f"NO to: {item.question}" for item in refused),
                *([f"NOT CHECKED: {_named(open_)}. Answer needed before PASS."] if open_ else []),
                *([f"NO NAME beside: {_named(unsigned)}."] if unsigned else []),
            ]
        ),
        advice=_advice(refused, open_),
        kind=refused[0].no_means if refused else Hold.MEASURE_AGAIN,
        detail=_detail(job, refused, open_, unsigned),
        checks=tuple(_machine_check(item) for item in refused),
    )


def _signed(job: JobRecord, item: JobItem, name: str) -> str:
    """The rebuild has one name for all of it; a later look has its own."""
    return name.strip() if item.moment is not None else signed_by(job, name)


def _named(items: Sequence[JobItem]) -> str:
    """Items in plain words: their names in the record, without hyphens."""
    words = [item.id.replace("-", " ") for item in items[:NAMED]]
    more = len(items) - len(words)
    return ", ".join(words) + (f" and {more} more" if more else "")


def _advice(refused: Sequence[JobItem], open_: Sequence[JobItem]) -> str:
    if refused:
        return f"Lock out. {refused[0].why}" if refused[0].no_means is Hold.FIX else refused[0].why
    if open_:
        return f"Look, then answer in the job record. First: {open_[0].question}"
    return UNSIGNED


def _detail(
    job: JobRecord,
    refused: Sequence[JobItem],
    open_: Sequence[JobItem],
    unsigned: Sequence[JobItem],
) -> str:
    """All items that are not good, with their keys, and what was noted beside a "no"."""
    parts = []
    for item in refused:
        answer = job.answer(item.id)
        noted = ", ".join(filter(None, [signed_by(job, answer.by), answer.remark]))
        parts.append(f"no: {item.id}" + (f" ({noted})" if noted else ""))
    if open_:
        parts.append("not checked: " + ", ".join(item.id for item in open_))
    if unsigned:
        parts.append("no name: " + ", ".join(item.id for item in unsigned))
    return "; ".join(parts)


def _machine_check(item: JobItem) -> MachineCheck:
    """What to look at after a "no": the item's own check."""
    _, _, check = item.why.rpartition("Check: ")
    seen = [mistake.seen for mistake in MISTAKES if mistake.step == item.step]
    return MachineCheck(
        step=item.step,
        mistake=f'"no" to: {item.question}',
        check=check[:1].upper() + check[1:],
        seen_by_vibration=seen[0] if seen else "poorly",
    )
