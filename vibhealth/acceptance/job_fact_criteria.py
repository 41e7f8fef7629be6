"""Criteria of the facts of a job: which machine and unit, in which state, by whom."""

import re

from vibhealth.acceptance._job_line import job_line
from vibhealth.card import MachineCard
from vibhealth.job import JobFacts, JobRecord
from vibhealth.model import Criterion, CriterionResult, Hold

__all__ = ["job_fact_criteria"]

SOURCE = "common practice, no source"

NO_NOISE = frozenset({"", "no", "none", "nothing", "n/a", "no noise", "no new noise"})

NEEDED = {
    "machine": "machine",
    "unit_serial": "serial number of the unit",
    "bearing_designation": "designation of the bearings",
    "rebuilt_by": "who rebuilt it",
    "rebuild_finished": "when the rebuild was finished",
    "machine_started": "when the machine was started",
}


def job_fact_criteria(job: JobRecord, card: MachineCard) -> list[Criterion]:
    """Judge what no recording can say of a job.

    Parameters
    ----------
    job : JobRecord
        Its ``[job]`` table.
    card : MachineCard
        The machine that the job should be about.

    Returns
    -------
    list of Criterion
    """
    return [
        _facts(job.job, card),
        _state(job.job),
        *_designation(job.job, card),
        *_noise(job),
    ]


def _noise(job: JobRecord) -> list[Criterion]:
    """A noise that was written down, beside "no new noise: yes"."""
    noise = job.job.noise
    if noise.strip(" .-").casefold() in NO_NOISE or job.answer("no-new-noise").answer != "yes":
        return []
    return [
        job_line(
            "job-noise",
            "What is written of noises fits the answer",
            result=CriterionResult.NOT_JUDGED,
            source=SOURCE,
            reason=f'The record notes a noise ("{noise}") and answers "no new noise: yes": one of '
            "the two is wrong. Answer needed before PASS.",
            advice='Listen again. Where there is a noise, answer "no" and stop the machine; where '
            "there is none, clear job.noise.",
            kind=Hold.MEASURE_AGAIN,
        )
    ]


def _facts(facts: JobFacts, card: MachineCard) -> Criterion:
    title = "The job record names machine, unit and people"
    missing = [words for key, words in NEEDED.items() if not getattr(facts, key)]
    other = bool(facts.machine) and not _same(facts.machine, card)
    result = CriterionResult.NOT_JUDGED if missing else CriterionResult.PASS
    reason = f"NOT WRITTEN DOWN: {', '.join(missing)}. Answer needed before PASS."
    advice = "Write it into the [job] table of the job record."
    if other:
        result = CriterionResult.HOLD
        reason = f"The job record is about {facts.machine}, the machine card about {_name(card)}."
        advice = "Take the card of this machine, or put the name in the job record right."
    return job_line(
        "job-facts",
        title,
        result=result,
        value=facts.machine,
        limit=_name(card),
        source="card, machine.id",
        reason=reason,
        advice=advice,
        kind=Hold.MEASURE_AGAIN,
        detail=f"unit {facts.unit_serial}, rebuilt by {facts.rebuilt_by}"
        if result is CriterionResult.PASS
        else "",
    )


def _same(machine: str, card: MachineCard) -> bool:
    given = machine.strip().casefold()
    names = {card.machine.id.strip().casefold(), card.machine.name.strip().casefold()}
    return given in names or given == f"{card.machine.name} ({card.machine.id})".casefold()


def _name(card: MachineCard) -> str:
    return f"{card.machine.name} ({card.machine.id})"


def _state(facts: JobFacts) -> Criterion:
    """Recorded empty, at the marked point: else the recordings tell of something else."""
    missing = []
    if not facts.load:
        missing.append("empty or loaded")
    if facts.point_checked == "not checked":
        missing.append("sensor at the marked point")
    result = CriterionResult.NOT_JUDGED if missing else CriterionResult.PASS
    reason = f"NOT CHECKED: {', '.join(missing)}. Answer needed before PASS."
    advice = "Look, then answer in the [job] table: load, point_checked."
    if facts.load == "loaded":
        result, reason = CriterionResult.HOLD, "The recordings were made with the machine loaded."
        advice = "Stop the feed, run the machine empty, record again."
    elif facts.point_checked == "no":
        result, reason = CriterionResult.HOLD, "The sensor did not sit at the marked point."
        advice = "Lock out, mount the sensor at the painted ring and arrow, record again."
    return job_line(
        "job-state",
        "Recorded empty, at the marked point",
        result=result,
        value=f"{facts.load or 'load not told'}, marked point: {facts.point_checked}",
        limit="empty, at the marked point",
        source=SOURCE,
        reason=reason,
        advice=advice,
        kind=Hold.MEASURE_AGAIN,
    )


def _designation(facts: JobFacts, card: MachineCard) -> list[Criterion]:
    """Parts and card agree, where both name the bearing."""
    on_card = [bearing.designation for bearing in card.bearings if bearing.designation]
    if not on_card or not facts.bearing_designation:
        return []
    given = _letters(facts.bearing_designation)
    agrees = any(_letters(text) in given or given in _letters(text) for text in on_card)
    return [
        job_line(
            "bearing-designation",
            "Bearings are those of the card",
            result=CriterionResult.PASS if agrees else CriterionResult.WATCH,
            value=facts.bearing_designation,
            limit=", ".join(dict.fromkeys(on_card)),
            source="card, bearing.designation",
            advice="The defect frequencies are those of the card's bearings: compare the ring face "
            "with parts list and card, and put the wrong one right.",
        )
    ]


def _letters(text: str) -> str:
    """Letters and digits alone, so that spaces and strokes do not matter.

    >>> _letters("Roller brg. 100/C4")
    'rollerbrg100c4'
    """
    return re.sub(r"[\W_]+", "", text.casefold())
