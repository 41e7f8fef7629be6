"""Whatever is typed into the template: a card that can be used, or sentences of our own."""

import random
import re
from pathlib import Path

import pytest

from vibhealth.card import card_template, read_card
from vibhealth.errors import CardError

VALUES = (
    *("-1", "0", "1e308", "1e-308", "nan", "-inf", "1" * 30, "9" * 400, "true", "3.5"),
    *('"x"', '""', '"\\u0000"', '"é"', "[]", "{}", "[[1]]", '[1, "a"]', "{ a = 1 }"),
    *("1979-05-27", "07:32:00", "1979-05-27T07:32:00Z"),
)
KEY = re.compile(r"^(# )?([a-z_0-9]+ = )")
LIBRARY_WORDS = re.compile("Input should|Value error|type=|pydantic")


def damaged(seed: int) -> str:
    """The template with one to three keys given a value that may be absurd."""
    chance = random.Random(seed)  # noqa: S311  # damage, not secrets
    lines = card_template().splitlines()
    keys = [number for number, line in enumerate(lines) if KEY.match(line)]
    for number in chance.sample(keys, chance.randint(1, 3)):
        found = KEY.match(lines[number])
        assert found is not None
        lines[number] = found[2] + chance.choice(VALUES)
    return "\n".join(lines)


def test_a_damaged_card_is_read_or_refused_in_our_words(tmp_path: Path) -> None:
    path, outcomes = tmp_path / "card.toml", set()
    for seed in range(400):
        path.write_text(damaged(seed), "utf-8")
        try:
            card = read_card(path)
        except CardError as refusal:
            outcomes.add("refused")
            for line in str(refusal).splitlines():
                assert line.startswith(f"{path}: ")
                assert not LIBRARY_WORDS.search(line)
        else:
            outcomes.add("read")
            assert len(card.rolling_bearings()) == 1
    assert outcomes == {"refused", "read"}


@pytest.mark.parametrize("value", ["1e-7", "1e10"])
def test_sizes_that_no_machine_has_are_refused(tmp_path: Path, value: str) -> None:
    path = tmp_path / "card.toml"
    path.write_text(
        card_template().replace("body_mass_kg = 820.0", f"body_mass_kg = {value}"), "utf-8"
    )
    with pytest.raises(
        CardError, match=r"exciter\.body_mass_kg: must lie between 1e-06 and 1e\+09, found"
    ):
        read_card(path)
