"""Invented histories of one machine, asked for its outlook."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from tests.benchmark.degradation import CARD, START, recording_at
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import (
    HistoryRecording,
    HistoryVerdict,
    OpenedUnit,
    Outlook,
    Rebuild,
    RebuildReason,
)
from vibhealth.outlook.planner import Past, machine_outlook

__all__ = [
    "CLEAR", "EARLY", "PLAN", "QUIET", "START", "STOP", "TODAY", "asked", "asked_with", "readings",
    "rebuild",
    "unusable_from",
]  # fmt: skip

TODAY = (START + timedelta(days=115)).date()
PLAN: dict[str, Any] = {
    "running_hours_per_day": 20.0,
    "planned_cost": 10_000.0,
    "unplanned_cost": 60_000.0,
    "weibull_slope": 2.5,
    "characteristic_life_h": 12_000.0,
    "spare_lead_time_days": 40.0,
    "windows": tuple(TODAY + timedelta(days=k) for k in (15, 60, 150)),
}
QUIET = [0.04] * 12


def readings(depths: Sequence[float], every: float = 10.0) -> tuple[HistoryRecording, ...]:
    return tuple(
        recording_at(every * n, depth, is_level=False, number=n) for n, depth in enumerate(depths)
    )


def rebuild(day: float, counter: float | None = None) -> Rebuild:
    return Rebuild(
        machine="F3", at=START + timedelta(days=day), reason=RebuildReason.FAILED, by="T",
        running_hours_h=counter,
    )  # fmt: skip


def asked(
    depths: Sequence[float],
    *,
    as_of: date = TODAY,
    rebuilds: tuple[Rebuild, ...] = (rebuild(-5),),
    verdicts: tuple[HistoryVerdict, ...] = (),
    opened: tuple[OpenedUnit, ...] = (),
    **plan: Any,
) -> Outlook:
    facts = {key: value for key, value in (PLAN | plan).items() if value is not None}
    card = CARD.model_copy(update={"maintenance": Maintenance(**facts)})
    past = Past(recordings=readings(depths), rebuilds=rebuilds, verdicts=verdicts, opened=opened)
    return machine_outlook(card, past, as_of=as_of)


EARLY = [*QUIET[:10], 0.2, 0.21]
CLEAR = [*QUIET[:10], 0.35, 0.36]
STOP = [*QUIET[:10], 1.5, 1.5]


def unusable_from(depths: Sequence[float], first: int) -> tuple[HistoryRecording, ...]:
    return tuple(
        replace(r, unusable_because="not usable: only 302 turns in 10.1 s") if n >= first else r
        for n, r in enumerate(readings(depths))
    )


def asked_with(recordings: tuple[HistoryRecording, ...], **plan: Any) -> Outlook:
    facts = {key: value for key, value in (PLAN | plan).items() if value is not None}
    card = CARD.model_copy(update={"maintenance": Maintenance(**facts)})
    past = Past(recordings=recordings, rebuilds=(rebuild(-5),))
    return machine_outlook(card, past, as_of=TODAY)
