"""The check list: stable ids, phases in the order of time, plain words."""

import re

import pytest

from vibhealth.job import DUE, ITEM_BY_ID, ITEMS, JobItem, Phase, items_of
from vibhealth.model import Hold, Moment

# What hands and eyes must confirm because vibration does not, or only later.
STEPS = {
    *("oil", "storage", "seats", "seals", "lowering", "bolts", "sealant", "drive shaft", "guard"),
    *("locating stop", "shipping braces", "isolators", "rotation", "first start", "as found"),
    *("bearings", "eccentric weights", "motor"),
}


def test_ids_are_unique_and_plain() -> None:
    assert len(ITEM_BY_ID) == len(ITEMS)
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name) for name in ITEM_BY_ID)


def test_the_order_is_that_of_the_phases() -> None:
    phases = [list(Phase).index(item.phase) for item in ITEMS]
    assert phases == sorted(phases)
    assert [item for phase in Phase for item in items_of(phase)] == list(ITEMS)
    assert all(items_of(phase) for phase in Phase)


def test_every_step_is_asked_about() -> None:
    assert {item.step for item in ITEMS} == STEPS


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.id)
def test_an_item_is_a_question_with_a_reason(item: JobItem) -> None:
    assert item.question.endswith("?")
    assert item.why.endswith(".")
    assert len(item.question) < 130


def test_later_checks_carry_their_moment() -> None:
    later = {Phase(moment.value): moment for moment in DUE}
    assert {item.moment for item in ITEMS} == {None, *later.values()}
    assert all(item.moment is later.get(item.phase) for item in ITEMS)
    assert Moment.RUN_UP not in DUE


def test_no_later_check_is_about_steps_before_the_start() -> None:
    assert all(
        item.no_means is not Hold.STOP_NOW
        for phase in (Phase.AS_FOUND, Phase.STRIP, Phase.BUILD)
        for item in items_of(phase)
    )
