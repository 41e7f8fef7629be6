"""The recordings of a whole job in time: every one once, each stage and check in its turn."""

from collections.abc import Callable, Sequence
from datetime import datetime
from itertools import combinations, pairwise

from vibhealth.diagnosis.quality_facts import Outcome, hold, not_judged, passed
from vibhealth.diagnosis.quality_pair import digests, is_same, name_of
from vibhealth.model import CriterionResult, Moment, QualityFinding, Recording, Stage

__all__ = ["check_times"]

# In the order in which the checks of a rebuild are due; a stop may come at any time.
IN_ORDER = (Moment.RUN_UP, Moment.HOUR_1, Moment.HOUR_8, Moment.HOUR_24, Moment.DAY_7)
CLOCK = "Write start_time, with or without time zone but alike, beside each recording."
CHECK = "Check the recorder's clock, and which file belongs to which check."


def check_times(
    recordings: Sequence[Recording], *, rebuilt_at: datetime | None = None
) -> tuple[QualityFinding, ...]:
    """Check that no recording of a job is there twice or out of its turn.

    Parameters
    ----------
    recordings : sequence of Recording
        Of the whole job, with their stage and moment.
    rebuilt_at : datetime, optional
        When the work was finished; recordings from after the rebuild begin later.

    Returns
    -------
    tuple of QualityFinding
        ``recorded-once`` (the same samples in two places: hold), ``stage-order`` (one from
        after the rebuild not later than one from before: hold), ``moment-order`` (run-up, 1h,
        8h, 24h, 7d of the machine as left out of turn: hold) and, with ``rebuilt_at``,
        ``after-the-work``. Missing times: not judged.
    """
    checks: list[tuple[str, str, Callable[[], Outcome]]] = [
        ("recorded-once", "No recording stands in two places", lambda: _once(recordings)),
        ("stage-order", "Before was recorded before after", lambda: _stages(recordings)),
        ("moment-order", "The checks follow each other", lambda: _moments(recordings)),
    ]
    if rebuilt_at is not None:
        checks.append(
            (
                "after-the-work",
                "Recorded after the work was finished",
                lambda: _after_work(recordings, rebuilt_at),
            )
        )
    outcomes = ((name, title, check()) for name, title, check in checks)
    return tuple(
        QualityFinding(id=name, title=title, result=o.result, detail=o.detail, advice=o.advice)
        for name, title, o in outcomes
    )


def _once(recordings: Sequence[Recording]) -> Outcome:
    pairs = combinations(zip(recordings, digests(recordings), strict=True), 2)
    same = [(a, b) for (a, one), (b, two) in pairs if is_same(a, b, (one, two))]
    if not same:
        return passed(f"{len(recordings)} recordings, no two of them the same.")
    first, second = same[0]
    return hold(
        f"{_place(first)} and {_place(second)} hold the same samples; {len(same)} such pair{'s' * (len(same) != 1)} "
        "(limit 0).",
        "One recording belongs to one check: choose the right file, or record that check again.",
    )


def _place(recording: Recording) -> str:
    facts = [str(recording.stage)] if recording.stage is not Stage.UNSTATED else []
    facts += [str(recording.moment)] if recording.moment is not None else []
    return f"{name_of(recording)} ({', '.join(facts)})" if facts else name_of(recording)


def _stages(recordings: Sequence[Recording]) -> Outcome:
    before = [r for r in recordings if r.stage is Stage.AS_FOUND]
    after = [r for r in recordings if r.stage is Stage.AS_LEFT]
    if not before or not after:
        return not_judged("There is no recording of one of the two stages.", "Record both stages.")
    return _in_turn(before, after) or passed("Every before began earlier than every after.")


def _moments(recordings: Sequence[Recording]) -> Outcome:
    left = [r for r in recordings if r.stage is not Stage.AS_FOUND]
    groups = [[r for r in left if r.moment is moment] for moment in IN_ORDER]
    present = [group for group in groups if group]
    if len(present) < 2:
        return passed("There are recordings of fewer than two checks.")
    found = [_in_turn(group, later) for group, later in pairwise(present)]
    wrong = [outcome for outcome in found if outcome is not None]
    if wrong:  # one without a clock must not hide that others are out of turn
        return next((o for o in wrong if o.result is CriterionResult.HOLD), wrong[0])
    return passed(f"{', '.join(str(group[0].moment) for group in present)}: each in its turn.")


def _in_turn(earlier: Sequence[Recording], later: Sequence[Recording]) -> Outcome | None:
    """What is wrong between two groups, the first of which must all begin before the second."""
    missing = [r for r in (*earlier, *later) if r.start_time is None]
    if missing:
        return not_judged(f"The start time of {name_of(missing[0])} is not known.", CLOCK)
    began = [[(r.start_time, r) for r in group if r.start_time] for group in (earlier, later)]
    if len({time.utcoffset() is None for group in began for time, _ in group}) > 1:
        return not_judged("Some start times have a time zone and some have none.", CLOCK)
    last, last_one = max(began[0], key=lambda item: item[0])
    first, first_one = min(began[1], key=lambda item: item[0])
    if first > last:
        return None
    return hold(
        f"{_place(first_one)} began at {first.isoformat()}, not later than {_place(last_one)} at "
        f"{last.isoformat()}.",
        CHECK,
    )


def _after_work(recordings: Sequence[Recording], rebuilt_at: datetime) -> Outcome:
    after = [r for r in recordings if r.stage is Stage.AS_LEFT]
    times = [(r.start_time, r) for r in after if r.start_time is not None]
    if len(times) < len(after) or not times:
        return not_judged("The start time of a recording from after the work is not known.", CLOCK)
    if {time.utcoffset() is None for time, _ in times} != {rebuilt_at.utcoffset() is None}:
        return not_judged("Some times have a time zone and some have none.", CLOCK)
    first, recording = min(times, key=lambda item: item[0])
    if first >= rebuilt_at:
        return passed(f"The first began at {first.isoformat()}, after {rebuilt_at.isoformat()}.")
    return hold(
        f"{_place(recording)} began at {first.isoformat()}, before the work was finished at "
        f"{rebuilt_at.isoformat()}.",
        "Check the recorder's clock and the job record, or record again.",
    )
