"""A clean job record of deck feeder F3, and what the criteria say of changes to it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from vibhealth.acceptance.job_criteria import job_criteria
from vibhealth.card import MachineCard
from vibhealth.job import ITEMS, JobRecord
from vibhealth.model import Criterion, CriterionResult, Group, Hold, Moment

STARTED = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
TABLES: dict[str, Any] = {
    "schema_version": 1,
    "machine": {"id": "F3", "name": "Deck feeder F3", "nominal_speed_rpm": 978.0},
    "oil": {"grade": "ISO VG 220", "volume_l": 4.5},
    "guard": {"clearance_mm": 15.0},
    "bolt_group": [
        {
            "name": "exciter flange",
            "count": 4,
            "thread": "M20",
            "grade": "10.9",
            "lubrication": "dry",
            "torque_stages_nm": [120.0, 280.0, 400.0],
            "single_use": True,
        }
    ],
}


def _card(**changes: Any) -> MachineCard:
    return MachineCard.model_validate(TABLES | changes)


def _bolts(**changes: Any) -> MachineCard:
    return _card(bolt_group=[TABLES["bolt_group"][0] | changes])


def _log(*readings: tuple[float, float], ambient: float | None = 20.0) -> list[dict[str, Any]]:
    """Readings from (minutes after the start, housing in degrees)."""
    beside = {} if ambient is None else {"ambient_c": ambient}
    return [
        {"at": STARTED + timedelta(minutes=minutes), "housing_c": housing, **beside}
        for minutes, housing in readings
    ]


def _tables() -> dict[str, Any]:
    return {
        "schema_version": 1,
        "job": {
            "machine": "F3",
            "unit_serial": "U-17",
            "bearing_designation": "roller bearing, bore 100 mm",
            "rebuilt_by": "R. Fitter",
            "rebuild_finished": STARTED - timedelta(hours=1),
            "machine_started": STARTED,
            "load": "empty",
            "point_checked": "yes",
        },
        "check": {item.id: {"answer": "yes", "by": "N. Looker"} for item in ITEMS},
        "torque": {
            "exciter-flange": {
                "threads": "dry",
                "new_bolts": "yes",
                "repeat_pass": "yes",
                "stages": [[120.0] * 4, [280.0] * 4, [400.0] * 4],
            }
        },
        "oil": {"grade": "VG 220", "filled_l": 4.5},
        "clearance": {"guard_mm": [16.0, 17.0, 18.0, 16.5]},
        "temperature": _log((10, 40), (20, 50), (30, 55), (40, 57), (50, 57.5), (60, 58)),
    }


def _job(**changes: dict[str, Any] | list[Any] | None) -> JobRecord:
    tables = _tables()
    for name, change in changes.items():
        if isinstance(change, dict):
            tables[name] = {**tables.get(name, {}), **change}
        elif change is None:
            del tables[name]
        else:
            tables[name] = change
    return JobRecord.model_validate(tables)


def _judge(
    job: JobRecord | None = None,
    card: MachineCard | None = None,
    *,
    moment: Moment | None = Moment.HOUR_1,
    swing: float | None = None,
) -> list[Criterion]:
    card = card or _card()
    return job_criteria(job or _job(), card, card.limits, moment=moment, largest_swing_mm=swing)


def _one(criteria: list[Criterion], id_: str) -> Criterion:
    found = [item for item in criteria if item.id == id_]
    assert len(found) == 1, f"{id_} must stand once, got {len(found)}"
    return found[0]


def _bad(criteria: list[Criterion]) -> dict[str, tuple[str, str]]:
    """Everything that does not pass: id to (result, kind); and each says why."""
    bad = [item for item in criteria if item.result is not CriterionResult.PASS]
    for item in criteria:
        assert item.group is Group.JOB
        assert item.limit_source
    for item in bad:
        assert item.advice
        if item.result is CriterionResult.WATCH:
            assert item.hold is None
        else:
            assert item.reason
        if item.result is CriterionResult.NOT_JUDGED:
            assert (item.hold, item.value) == (Hold.MEASURE_AGAIN, None)
    return {item.id: (item.result.value, item.hold.value if item.hold else "") for item in bad}


@dataclass(frozen=True)
class Hands:
    """What a test of the work by hand needs."""

    card: Callable[..., MachineCard] = _card
    bolts: Callable[..., MachineCard] = _bolts
    job: Callable[..., JobRecord] = _job
    judge: Callable[..., list[Criterion]] = _judge
    one: Callable[[list[Criterion], str], Criterion] = _one
    bad: Callable[[list[Criterion]], dict[str, tuple[str, str]]] = _bad
    log: Callable[..., list[dict[str, Any]]] = _log


@pytest.fixture(scope="session")
def hands() -> Hands:
    """Cards, records, their judgement; a record is clean in every respect unless changed."""
    return Hands()
