"""What a question of the check list is, and the phases of the job."""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Literal

from vibhealth.model import Hold, Moment

__all__ = ["DUE", "EARLIEST_SHARE", "JobItem", "Need", "Phase"]


class Phase(StrEnum):
    """Part of the job, in the order of time."""

    AS_FOUND = "as-found"
    STRIP = "strip"
    BUILD = "build"
    PRE_START = "pre-start"
    START = "start"
    HOUR_1 = "1h"
    HOUR_8 = "8h"
    HOUR_24 = "24h"
    DAY_7 = "7d"


# How long after the start of the machine a check is due; the moments of the recording plan.
DUE: dict[Moment, timedelta] = {
    Moment.HOUR_1: timedelta(hours=1),
    Moment.HOUR_8: timedelta(hours=8),
    Moment.HOUR_24: timedelta(hours=24),
    Moment.DAY_7: timedelta(days=7),
}
# A check made at this share of its time already counts (shifts end before eight hours are up);
# common practice, no source.
EARLIEST_SHARE = 0.75

Need = Literal["", "torque", "oil", "clearance", "temperature"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobItem:
    """One question of the check list; "yes" is always the good answer.

    Attributes
    ----------
    id : str
        Key below ``[check]``; stable.
    step : str
        Step of the rebuild in plain words.
    phase : Phase
        When it is asked.
    question : str
        One sentence that "yes" or "no" answers.
    why : str
        What goes wrong without it, and how to check.
    no_means : Hold
        What a "no" leads to; ``STOP_NOW`` for the signs to abort a run.
    needs : str
        Table of the record with the figures behind the answer, or empty.
    moment : Moment or None
        The later check from which on it can be answered.
    """

    id: str
    step: str
    phase: Phase
    question: str
    why: str
    no_means: Hold = Hold.FIX
    needs: Need = ""
    moment: Moment | None = None
