"""Lives of past units from the record of rebuilds."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from vibhealth.model import Damage, OpenedUnit, Rebuild, RebuildReason
from vibhealth.outlook.unit_lives import UnitLives, unit_lives

START = datetime(2030, 1, 1, 8, tzinfo=UTC)


def rebuild(
    day: float, counter: float | None = None, reason: RebuildReason = RebuildReason.FAILED
) -> Rebuild:
    at = START + timedelta(days=day)
    return Rebuild(machine="F3", at=at, reason=reason, by="T", running_hours_h=counter)


def opened(day: float, damage: Damage) -> OpenedUnit:
    at = START + timedelta(days=day)
    return OpenedUnit(
        machine="F3", removed_at=at, bearing="upper", element=None, damage=damage, by="W"
    )


def lives(rebuilds: list[Rebuild], found: tuple[OpenedUnit, ...] = (), **more: Any) -> UnitLives:
    facts: dict[str, Any] = {"as_of": START + timedelta(days=1000), "hours_per_day": 20.0}
    return unit_lives(rebuilds, found, **facts | more)


def test_the_hour_counter_goes_before_the_days() -> None:
    found = lives([rebuild(0, 1000.0), rebuild(400, 9000.0)], hours_now=11_000.0)
    assert found.failed_h == (8000.0,)
    assert found.age_h == 2000.0


def test_without_a_counter_days_and_usual_hours_count() -> None:
    found = lives([rebuild(0), rebuild(400, 9000.0)])
    assert list(found.failed_h) == pytest.approx([8000.0])
    assert found.age_h == pytest.approx(600 * 20.0)


def test_a_counter_that_falls_is_not_used_and_said() -> None:
    found = lives([rebuild(0, 9000.0), rebuild(400, 100.0)])
    assert list(found.failed_h) == pytest.approx([8000.0])
    assert any("did not rise between 01 Jan 2030 and 05 Feb 2031" in r for r in found.remarks)


def test_nothing_is_made_up_without_counter_and_usual_hours() -> None:
    found = lives([rebuild(0), rebuild(400)], hours_per_day=None)
    assert found.failed_h == found.running_on_h == ()
    assert found.age_h is None
    assert any("maintenance.running_hours_per_day" in r for r in found.remarks)


@pytest.mark.parametrize(
    ("reason", "damages", "failed"),
    [
        (RebuildReason.FAILED, (), True),
        (RebuildReason.FAILED, (Damage.NONE,), True),
        (RebuildReason.PLANNED, (), False),
        (RebuildReason.PLANNED, (Damage.NONE,), False),
        (RebuildReason.PLANNED, (Damage.SUBSURFACE_FATIGUE,), True),
        (RebuildReason.CONDITION, (Damage.NONE, Damage.ABRASIVE_WEAR), True),
        (RebuildReason.CONDITION, (Damage.NONE,), False),
        (RebuildReason.UNKNOWN, (Damage.SUBSURFACE_FATIGUE,), True),
    ],
)
def test_damage_found_makes_a_failure(
    reason: RebuildReason, damages: tuple[Damage, ...], failed: bool
) -> None:
    found = lives(
        [rebuild(0, 0.0), rebuild(400, 8000.0, reason)], tuple(opened(400, d) for d in damages)
    )
    assert found.failed_h == ((8000.0,) if failed else ())
    assert found.running_on_h == (() if failed else (8000.0,))
    assert not any("never opened" in r for r in found.remarks)


@pytest.mark.parametrize("reason", [RebuildReason.UNKNOWN, RebuildReason.CONDITION])
def test_a_unit_never_opened_counts_as_not_failed_and_that_is_said(reason: RebuildReason) -> None:
    other_day = (opened(399, Damage.SUBSURFACE_FATIGUE),)
    found = lives([rebuild(0, 0.0), rebuild(400, 8000.0, reason)], other_day)
    assert found.running_on_h == (8000.0,)
    assert any("05 Feb 2031 was never opened" in r for r in found.remarks)


def test_the_first_unit_has_no_known_start() -> None:
    found = lives([rebuild(400, 8000.0)])
    assert found.failed_h == found.running_on_h == ()
    assert "before the first rebuild" in found.remarks[0]


def test_order_of_entry_does_not_matter_and_later_rebuilds_do_not_count() -> None:
    three = [rebuild(0, 0.0), rebuild(400, 8000.0), rebuild(1200, 30_000.0)]
    found = lives(three[::-1], hours_now=20_000.0)
    assert found.failed_h == (8000.0,)
    assert found.age_h == 12_000.0


def test_no_rebuild_no_age() -> None:
    found = lives([])
    assert found.age_h is None
    assert found.remarks == ("no rebuild is on record",)


def test_a_finding_belongs_to_the_rebuild_of_its_day() -> None:
    ended = rebuild(400, 8000.0, RebuildReason.PLANNED)
    found = lives([rebuild(0, 0.0), ended], (opened(400.3, Damage.ABRASIVE_WEAR),))
    assert found.failed_h == (8000.0,)


def test_a_finding_without_a_rebuild_is_said_and_does_not_count() -> None:
    ended = rebuild(400, 8000.0, RebuildReason.PLANNED)
    found = lives([rebuild(0, 0.0), ended], (opened(390, Damage.ABRASIVE_WEAR),))
    assert found.running_on_h == (8000.0,)
    assert any("removed on 26 Jan 2031, belongs to no rebuild" in r for r in found.remarks)


def test_a_rebuild_noted_twice_on_one_day_is_one() -> None:
    """By hand without counter, and by a job six hours later: no unit of six hours failed."""
    twice = [rebuild(0, 0.0), rebuild(400), rebuild(400.25, 8000.0, RebuildReason.PLANNED)]
    found = lives(twice)
    assert found.failed_h == (8000.0,)
    assert found.running_on_h == ()
    assert any("2 rebuilds are noted on 05 Feb 2031 and count as one" in r for r in found.remarks)


def test_a_counter_that_rises_faster_than_time_is_not_believed() -> None:
    found = lives([rebuild(0, 0.0), rebuild(400, 80_000.0)])
    assert list(found.failed_h) == pytest.approx([8000.0])
    assert any("rose by more than 24 h a day" in r for r in found.remarks)
    assert lives([rebuild(0, 0.0), rebuild(400, 9600.0)]).failed_h == (9600.0,)
