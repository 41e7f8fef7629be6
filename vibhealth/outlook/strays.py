"""Recordings that stand in no trend, and what would be said if they did."""

from collections.abc import Sequence
from datetime import datetime

from vibhealth.card import MachineCard
from vibhealth.model import CriterionResult, HistoryRecording

__all__ = ["loud_strays"]


def loud_strays(
    recordings: Sequence[HistoryRecording], card: MachineCard, *, since: datetime | None
) -> tuple[str, ...]:
    """Defect families of action size in recordings without a date, or of a point not on the card.

    Parameters
    ----------
    recordings : sequence of HistoryRecording
        Of the card's machine.
    card : MachineCard
        Its points.
    since : datetime or None
        The last rebuild; dated recordings before it are past.

    Returns
    -------
    tuple of str
        One sentence for each kind, with what to do about it; empty where there is none.
    """
    names = {point.name for point in card.points}
    loud = [r for r in recordings if any(f.result is CriterionResult.HOLD for f in r.families)]
    undated = [r for r in loud if r.recorded_at is None]
    elsewhere = [
        r for r in loud
        if r.recorded_at is not None and r.point not in names
        and (since is None or r.recorded_at >= since)
    ]  # fmt: skip
    kinds = (
        (undated, "without a date", "find out when it was made, withdraw it and add it with --at"),
        (elsewhere, "of a point that is not on the card",
         "withdraw it and add it with --point, or write the point on the card"),
    )  # fmt: skip
    return tuple(_sentence(found, what, todo) for found, what, todo in kinds if found)


def _sentence(found: Sequence[HistoryRecording], what: str, todo: str) -> str:
    first = found[0]
    families = sorted(
        f"{f.element.value.replace('-', ' ')} of bearing {f.bearing}"
        for f in first.families
        if f.result is CriterionResult.HOLD
    )
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return (
        f"{first.path}{more}, a recording {what}, reads {' and '.join(families)} at the action "
        f"level: {todo}; until then nothing is known of it"
    )
