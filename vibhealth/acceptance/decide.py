"""From criteria to PASS or HOLD, with one reason first and one thing to do next."""

from collections.abc import Sequence

from vibhealth.acceptance._words import AS_REFERENCE
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    NextStep,
    ReferenceRank,
    Verdict,
)

__all__ = ["decide", "headline", "hold_kind", "next_step", "reasons"]

BAD = {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}

HOLD_WORDS = {
    Hold.STOP_NOW: "STOP NOW",
    Hold.FIX: "FIX",
    Hold.MEASURE_AGAIN: "MEASURE AGAIN",
}


# A recording that failed its checks makes every finding in it doubtful, and so does a record that
# says it was made of a loaded machine, at another place, or of another machine.
SPOILING = frozenset({Group.RECORDING, Group.STATE, Group.MOTION, Group.START_AND_STOP})
SPOILING_WORK = frozenset({"job-state", "job-facts"})

# Ids of the criteria of defect families begin so.
FAMILY = "family-"
CHANGED = "No fault to hold, but it sounds otherwise than the reference: check early."

NOTHING_JUDGED = "Nothing was judged."


def decide(criteria: Sequence[Criterion]) -> Verdict:
    """PASS only if every criterion was judged and none holds; of nothing judged no PASS."""
    return Verdict.HOLD if hold_kind(criteria) is not None else Verdict.PASS


def hold_kind(criteria: Sequence[Criterion]) -> Hold | None:
    """Which of the three HOLDs.

    Stop-now beats everything. A recording that failed its checks makes every
    finding in it doubtful, so measuring again comes next; a fault found in good
    recordings comes before what merely could not be judged.
    """
    if not criteria:
        return Hold.MEASURE_AGAIN
    bad = [c for c in criteria if c.result in BAD]
    if not bad:
        return None
    if any(c.hold is Hold.STOP_NOW for c in bad):
        return Hold.STOP_NOW
    spoiled = any(
        c.hold is Hold.MEASURE_AGAIN
        and c.result is CriterionResult.HOLD
        and (c.group in SPOILING or c.id in SPOILING_WORK)
        for c in bad
    )
    if not spoiled and any(c.hold is Hold.FIX for c in bad):
        return Hold.FIX
    return Hold.MEASURE_AGAIN


def _urgency(kind: Hold | None) -> list[Hold]:
    """Order of the reasons: the verdict's own kind first."""
    order = [Hold.STOP_NOW, Hold.FIX, Hold.MEASURE_AGAIN]
    if kind in {Hold.STOP_NOW, Hold.MEASURE_AGAIN}:
        order = [Hold.STOP_NOW, Hold.MEASURE_AGAIN, Hold.FIX]
    return order


def _failed(criteria: Sequence[Criterion]) -> list[Criterion]:
    """Failed criteria, most urgent first; those found before those merely not judged.

    That there are too few recordings comes last of its kind: what is wrong with those that
    there are has to be put right first.
    """
    order = _urgency(hold_kind(criteria))
    bad = [c for c in criteria if c.result in BAD]
    return sorted(
        bad,
        key=lambda c: (
            order.index(c.hold or Hold.MEASURE_AGAIN),
            c.id == "recording-count" and c.result is CriterionResult.HOLD,  # only too few
            c.result is CriterionResult.NOT_JUDGED,
        ),
    )


def _sentence(criterion: Criterion) -> str:
    return criterion.reason or f"{criterion.title}: not judged."


def _within_a_sentence(title: str) -> str:
    """A title after a colon; names in it stay as they are.

    >>> _within_a_sentence("Stroke at P1X"), _within_a_sentence("RMS")
    ('stroke at P1X', 'RMS')
    """
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def reasons(criteria: Sequence[Criterion]) -> tuple[str, ...]:
    """Sentences for the technician, most urgent first; none is hidden.

    After the failed criteria, what to keep an eye on.
    """
    failed = [_sentence(c) for c in _failed(criteria)]
    watch = [
        f"Watch: {_within_a_sentence(c.title)} - {c.advice}"
        for c in criteria
        if c.result is CriterionResult.WATCH
        and c.group in {Group.BEARING, Group.MOTION}
        and c.id != "blind-spots"
        and c.advice
    ]
    if not criteria:
        return (NOTHING_JUDGED,)
    return tuple(dict.fromkeys([*failed, *watch]))


def headline(criteria: Sequence[Criterion], *, rank: ReferenceRank) -> str:
    """The first line: what a gloved hand can act on.

    ``rank`` is that of the poorest reference among the points.
    """
    kind = hold_kind(criteria)
    if not criteria:
        return f"HOLD - {HOLD_WORDS[Hold.MEASURE_AGAIN]}. {NOTHING_JUDGED}"
    if kind is not None:
        return f"HOLD - {HOLD_WORDS[kind]}. {_sentence(_failed(criteria)[0])}"
    clean = _ticking(criteria) or "No fault found, and a small bearing fault would have been seen."
    clean += _exceptions(criteria)
    if rank is ReferenceRank.KNOWN_GOOD:
        return f"PASS. {clean}"
    if rank is ReferenceRank.SISTER:
        return f"PASS against a healthy sister machine. {clean}"
    return f"PASS on absolute checks only. {clean}"


def _ticking(criteria: Sequence[Criterion]) -> str:
    """What the first line says of a ticking that does not hold; empty without one."""
    watched = [c for c in criteria if c.result is CriterionResult.WATCH and c.id.startswith(FAMILY)]
    if not watched:
        return CHANGED if _has_changed(criteria) else ""
    if all(AS_REFERENCE in c.detail for c in watched):
        return "A regular ticking is there, no more than in the reference: keep an eye on it."
    if any(_is_hold_size(c) for c in watched):
        return "A regular ticking shows in too few recordings to hold: check early."
    return "A small regular ticking is there, too small to hold: check early."


def _has_changed(criteria: Sequence[Criterion]) -> bool:
    """Whether levels or lines stand above the reference, though not enough to hold."""
    return any(
        c.result is CriterionResult.WATCH
        and c.group is Group.BEARING
        and c.id.endswith("over-baseline")
        for c in criteria
    )


def _is_hold_size(criterion: Criterion) -> bool:
    value, limit = criterion.value, criterion.limit
    return isinstance(value, float) and isinstance(limit, float) and value >= limit


def _exceptions(criteria: Sequence[Criterion]) -> str:
    """What the first line must not hide: blind spots, and what was masked, points not recorded."""
    watched = {c.id: c for c in criteria if c.result is CriterionResult.WATCH}
    words = ""
    if "blind-spots" in watched:
        words += f" Blind spot: {watched['blind-spots'].value}."
    if "masked" in watched:
        words += f" Some recordings show nothing for certain ({watched['masked'].value})."
    if "points-recorded" in watched:
        missing = str(watched["points-recorded"].value).removeprefix("not recorded: ")
        words += f" Not recorded, of the card's points: {missing}."
    return words


def next_step(
    criteria: Sequence[Criterion], *, due: str = "", rank: ReferenceRank = ReferenceRank.NAMEPLATE
) -> NextStep:
    """One action, where to look first, and when to check again.

    ``due`` says in words when a job's next check is due after a PASS, ``rank`` what it was
    compared with.
    """
    kind = hold_kind(criteria)
    if kind is None:
        return _after_pass(criteria, due, rank)
    if not criteria:
        return NextStep(action="Record the machine.", check_at="Now: nothing was judged")
    failed = _failed(criteria)
    first = failed[0]
    # Where the first reason names no step, the next of its kind that does: it may be the cause.
    checks = next((c.checks for c in failed if c.checks and c.hold is first.hold), ())
    if kind is Hold.STOP_NOW:
        action = f"Press stop, lock out. {first.advice}"
        return NextStep(
            action=action, check_at="Do not restart before this is put right", checks=checks
        )
    if kind is Hold.FIX:
        action = first.advice or "Lock out and put this right."
        again = "Record again after the repair, warm and empty"
        return NextStep(action=action, check_at=again, checks=checks)
    action = first.advice or "Record again."
    again = "Now: record again before the machine is handed back"
    return NextStep(action=action, check_at=again, checks=checks)


def _after_pass(criteria: Sequence[Criterion], due: str, rank: ReferenceRank) -> NextStep:
    early = any(
        c.result is CriterionResult.WATCH
        and c.group in {Group.BEARING, Group.MOTION, Group.IMPROVEMENT}
        and c.id not in {"blind-spots", "disturbances"}
        for c in criteria
    )
    by_hand = any(c.group is Group.JOB for c in criteria)
    action = (
        "Hand the machine back. "
        if by_hand
        else "Hand back when the work by hand is signed off "
        "(bolts, oil level, seals, guard, braces). "
    )
    if rank is not ReferenceRank.KNOWN_GOOD:
        action += (
            "Keep this set: it is the candidate for the machine's reference. Record again at 24 h "
            "and 7 days; that becomes the reference."
        )
    later = due or "At 8 h, 24 h and 7 days of running"
    when = f"Within 4 h of running, then {later[:1].lower()}{later[1:]}" if early else later
    return NextStep(action=action.rstrip(), check_at=when)
