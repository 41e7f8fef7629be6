"""The limits themselves: id, default, unit, allowed range, meaning, source."""

from collections.abc import Mapping
from dataclasses import dataclass

from vibhealth.card import (
    _limits_of_baseline,
    _limits_of_bearing,
    _limits_of_motion,
    _limits_of_outlook,
    _limits_of_state,
    _limits_of_work,
)

__all__ = ["BY_ID", "FALLING", "LIMIT_DEFINITIONS", "ORDERED", "WHOLE", "LimitDefinition"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitDefinition:
    """One limit: default (None: not applied unless given), range and source."""

    id: str
    default: float | None
    unit: str
    low: float
    high: float
    source: str
    meaning: str


TABLES = (
    _limits_of_state,
    _limits_of_motion,
    _limits_of_bearing,
    _limits_of_baseline,
    _limits_of_work,
    _limits_of_outlook,
)

LIMIT_DEFINITIONS: tuple[LimitDefinition, ...] = tuple(
    LimitDefinition(
        id=name, default=default, unit=unit, low=low, high=high, source=source, meaning=meaning
    )
    for name, default, unit, (low, high), meaning, source in (
        row for table in TABLES for row in table.ROWS
    )
)

BY_ID: Mapping[str, LimitDefinition] = {limit.id: limit for limit in LIMIT_DEFINITIONS}

# Worse the smaller they are: hold lies below watch.
FALLING = ("coast_down_watch_ratio",)

# (first, second): first must not exceed second.
ORDERED: tuple[tuple[str, str], ...] = (
    *(
        (limit.id, limit.id.replace("_watch", "_hold"))
        for limit in LIMIT_DEFINITIONS
        if limit.id.replace("_watch", "_hold") in BY_ID
        and "_watch" in limit.id
        and limit.id not in FALLING
    ),
    *((limit_id.replace("_watch", "_hold"), limit_id) for limit_id in FALLING),
    ("depth_watch", "depth_present"),
    ("depth_present", "depth_hold"),
    ("minimum_turns", "recommended_turns"),
    ("minimum_recordings", "recommended_recordings"),
)
WHOLE = {
    "minimum_recordings",
    "recommended_recordings",
    "clipped_samples_hold",
    "minimum_guard_clearances",
}
