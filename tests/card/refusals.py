"""How a card is refused: the lines of its message."""

import re
from collections.abc import Callable

import pytest

from vibhealth.card import MachineCard
from vibhealth.errors import CardError

Make = Callable[..., MachineCard]


def refused(card: Make, *changes: tuple[str, str]) -> list[str]:
    """Lines of the refusal, each without the path that all of them start with."""
    with pytest.raises(CardError) as caught:
        card(*changes)
    lines = str(caught.value).splitlines()
    assert all(re.match(r".*card\.toml: ", line) for line in lines)
    return [line.partition("card.toml: ")[2] for line in lines]
