"""Where a job stands: the check reached, the next one due, and who released it against a HOLD."""

from datetime import datetime
from typing import Any

from vibhealth.job import DUE, JobRecord
from vibhealth.model import Hold, Moment, Release

__all__ = ["CHECKS", "due_after", "job_facts", "override_of"]

# The checks of a rebuild, in the order of time.
CHECKS = (Moment.HOUR_1, Moment.HOUR_8, Moment.HOUR_24, Moment.DAY_7)
WORDS = {
    Moment.HOUR_1: "1 h",
    Moment.HOUR_8: "8 h",
    Moment.HOUR_24: "24 h",
    Moment.DAY_7: "7 days",
}


def due_after(moment: Moment | None, job: JobRecord | None) -> str:
    """When to check again after a PASS, in words; empty outside a job.

    Parameters
    ----------
    moment : Moment or None
        The check that was just passed.
    job : JobRecord or None
        Says when the machine was started.

    Returns
    -------
    str
    """
    if job is None or moment not in CHECKS:
        return ""
    later = CHECKS[CHECKS.index(moment) + 1 :]
    if not later:
        return (
            "At the next regular check: keep the 24 h and the 7 day set as the machine's reference"
        )
    first, *others = [_due(item, job.job.machine_started) for item in later]
    return f"At {first}" + (f", then at {' and '.join(others)}" if others else "")


def _due(moment: Moment, started: datetime | None) -> str:
    words = f"{WORDS[moment]} of running"
    if started is None:
        return words
    return f"{words} ({(started + DUE[moment]).strftime('%Y-%m-%d %H:%M')})"


def job_facts(job: JobRecord, moment: Moment | None) -> dict[str, Any]:
    """What the report says of the job itself.

    Parameters
    ----------
    job : JobRecord
        As read.
    moment : Moment or None
        The check reached.

    Returns
    -------
    dict
        Plain values; what the record does not say is None.
    """
    facts = job.job
    return {
        "path": job.path,
        "sha256": job.sha256,
        "check": None if moment is None else moment.value,
        "unit_serial": facts.unit_serial or None,
        "bearing_designation": facts.bearing_designation or None,
        "rebuilt_by": facts.rebuilt_by or None,
        "rebuild_finished": facts.rebuild_finished,
        "machine_started": facts.machine_started,
        "remarks": facts.remarks or None,
    }


def override_of(
    job: JobRecord | None, kind: Hold | None, *, newest: datetime | None = None
) -> Release | None:
    """Who runs on against a HOLD, and whether that is theirs to decide.

    Parameters
    ----------
    job : JobRecord or None
        Its ``override`` table.
    kind : Hold or None
        Of the verdict; None for a PASS, which needs no release.
    newest : datetime or None
        When the latest recording was made: an override given before it knew nothing of it.

    Returns
    -------
    Release or None
        None without an override, or where there is nothing to override. Not valid
        for stop-now, without name, reason and time, or older than the recordings.
    """
    if job is None or job.override is None or kind is None:
        return None
    given = job.override
    if kind is Hold.STOP_NOW:
        words, is_valid = (
            "STOP NOW cannot be overridden by anyone: the override counts for nothing.",
            False,
        )
    elif given.by.strip() and given.reason.strip() and _is_older(given.at, newest):
        words = (
            "The override was given before these recordings, or says not when: it counts for "
            "nothing."
        )
        is_valid = False
    elif not given.by.strip() or not given.reason.strip():
        words, is_valid = (
            "An override needs a name and a reason: this one counts for nothing.",
            False,
        )
    else:
        when = "" if given.at is None else f" on {given.at.strftime('%Y-%m-%d %H:%M')}"
        words = f"Overridden by {given.by.strip()}{when}: {given.reason.strip()}"
        is_valid = True
    return Release(by=given.by, reason=given.reason, at=given.at, is_valid=is_valid, sentence=words)


def _is_older(at: datetime | None, newest: datetime | None) -> bool:
    if newest is None:
        return False
    if at is None or (at.utcoffset() is None) is not (newest.utcoffset() is None):
        return True
    return at < newest
