"""Said against found: every kind of row, and what is suggested."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.benchmark.degradation import CARD, START, recording_at
from vibhealth.model import (
    Damage,
    Element,
    HistoryRecording,
    OpenedUnit,
    Rebuild,
    RebuildReason,
)
from vibhealth.outlook.hits import Hit, HitTable, hit_table

UNIT_DAYS = 100.0


def recordings(unit: int, depth: float) -> list[HistoryRecording]:
    return [
        recording_at(UNIT_DAYS * unit + day, depth, is_level=False, number=1000 * unit + int(day))
        for day in (70.0, 77.0, 84.0, 91.0)
    ]


def rebuild(number: int) -> Rebuild:
    return Rebuild(
        machine="F3",
        at=START + timedelta(days=UNIT_DAYS * number),
        reason=RebuildReason.PLANNED,
        by="T. Technician",
    )


def opened(
    unit: int, damage: Damage = Damage.SUBSURFACE_FATIGUE, element: Element | None = None
) -> OpenedUnit:
    return OpenedUnit(
        machine="F3",
        removed_at=START + timedelta(days=UNIT_DAYS * (unit + 1)),
        bearing="upper",
        element=element if damage is Damage.NONE else element or Element.OUTER_RING,
        damage=damage,
        by="W. Workshop",
    )


def table(depths: list[float], units: list[OpenedUnit]) -> HitTable:
    rows = [row for unit, depth in enumerate(depths) for row in recordings(unit, depth)]
    return hit_table(rows, [rebuild(n) for n in range(len(depths) + 1)], units, CARD.limits)


@pytest.mark.parametrize(
    ("depth", "unit", "hit"),
    [
        (0.4, opened(0), Hit.HIT),
        (0.4, opened(0, element=Element.CAGE), Hit.OTHER_ELEMENT),
        (0.2, opened(0), Hit.EARLY_ONLY),
        (0.04, opened(0), Hit.MISS),
        (0.4, opened(0, Damage.NONE), Hit.FALSE_ALARM),
        (0.04, opened(0, Damage.NONE), Hit.QUIET),
    ],
)
def test_kinds(depth: float, unit: OpenedUnit, hit: Hit) -> None:
    (row,) = table([depth], [unit]).rows
    assert row.hit is hit


def test_masked_and_unusable_recordings_say_nothing() -> None:
    rows = [replace(r, masked="hits at 1x") for r in recordings(0, 0.4)]
    found = hit_table(rows, [rebuild(0), rebuild(1)], [opened(0)], CARD.limits)
    assert found.rows[0].hit is Hit.NOT_COMPARABLE


def test_a_unit_is_judged_by_its_own_recordings_only() -> None:
    found = table([0.4, 0.04], [opened(0), opened(1, Damage.NONE)])
    assert [row.hit for row in found.rows] == [Hit.HIT, Hit.QUIET]


def test_few_opened_units_conclude_nothing() -> None:
    assert "nothing can be concluded yet, 5 are needed" in table([0.04], [opened(0)]).suggestions[0]


def test_misses_false_alarms_and_wrong_elements_name_where_to_look() -> None:
    units = [opened(0), opened(1), opened(2, Damage.NONE), opened(3, element=Element.CAGE),
             opened(4)]  # fmt: skip
    found = table([0.04, 0.2, 0.4, 0.4, 0.4], units)
    said = " ".join(found.suggestions)
    assert "1 missed and 1 seen as early only, at depths of 0.04 to 0.20" in said
    assert "1 false alarms: look at depth_hold (0.3)" in said
    assert "1 named another element" in said
    assert said.endswith("Nothing changes by itself: limits stand on the card, with their source.")
    assert dict(found.counts)["hit"] == 1
