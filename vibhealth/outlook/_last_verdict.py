"""What the last verdict on a machine says of the bearing that runs now."""

from collections.abc import Sequence
from datetime import datetime

from vibhealth.model import HistoryVerdict, Sign
from vibhealth.outlook.visits import ONE_VISIT

__all__ = ["last_verdict", "said_by"]


def last_verdict(
    verdicts: Sequence[HistoryVerdict], since: datetime | None, as_of: datetime
) -> HistoryVerdict | None:
    """The last one that judged: "measure again" takes nothing back.

    One without a date that says stop counts until a rebuild or a dated verdict is on record.
    """
    judged = [v for v in verdicts if v.hold != "measure-again"]
    dated = [
        v for v in judged
        if v.decided_on is not None and v.decided_on <= as_of
        and (since is None or v.decided_on >= since)
    ]  # fmt: skip
    undated = [v for v in judged if v.decided_on is None and v.hold == "stop-now" and since is None]
    return max(dated, key=lambda v: v.decided_on or as_of, default=next(iter(undated), None))


def said_by(verdict: HistoryVerdict | None, last: datetime | None) -> tuple[Sign, str]:
    """The sign that the last verdict is, and its words; visits after it speak for themselves."""
    if verdict is None:
        return Sign.NONE, ""
    hold = {"stop-now": "HOLD - STOP NOW", "fix": "HOLD - FIX"}.get(verdict.hold or "", "")
    headline = verdict.headline.removeprefix(hold).lstrip(".: ")
    day = "without a date" if verdict.decided_on is None else f"of {verdict.decided_on:%d %b %Y}"
    words = f"the last verdict, {day}, is {hold}: {headline}"
    if verdict.hold == "stop-now":
        return Sign.STOP, words
    at = verdict.decided_on
    is_latest = last is None or (at is not None and last <= at + ONE_VISIT)
    if verdict.hold == "fix" and verdict.named and is_latest:
        return Sign.CLEAR, words
    return Sign.NONE, ""
