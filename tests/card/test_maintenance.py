"""``[maintenance]``: what a planner cannot mean."""

import re
from pathlib import Path

import pytest

from vibhealth.card import card_template, read_card
from vibhealth.errors import CardError

COSTS = "# planned_cost = 18000.0", "# unplanned_cost = 90000.0"


def card_with(tmp_path: Path, planned: float, unplanned: float) -> Path:
    text = card_template()
    for line, value in zip(COSTS, (planned, unplanned), strict=True):
        assert line in text
        text = text.replace(line, f"{line[2:].split(' = ')[0]} = {value}", 1)
    path = tmp_path / "F3.toml"
    path.write_text(text, "utf-8")
    return path


def test_swapped_costs_are_refused_with_both_numbers(tmp_path: Path) -> None:
    path = card_with(tmp_path, 90_000.0, 18_000.0)
    words = "unplanned_cost: must not be below planned_cost (90000)"
    with pytest.raises(CardError, match=re.escape(words)) as raised:
        read_card(path)
    assert "18000" in str(raised.value)
    assert "swapped" in str(raised.value)


def test_equal_costs_are_possible(tmp_path: Path) -> None:
    found = read_card(card_with(tmp_path, 18_000.0, 18_000.0)).maintenance
    assert found is not None
    assert found.planned_cost == found.unplanned_cost == 18_000.0
