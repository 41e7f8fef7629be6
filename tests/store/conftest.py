"""Makes the samples of the campaigns importable, and an open history for each test."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from vibhealth.store import History

sys.path.insert(0, str(Path(__file__).parents[2]))


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Where the history of a test lies."""
    return tmp_path / "history.sqlite"


@pytest.fixture
def history(place: Path) -> Iterator[History]:
    """A new, empty history."""
    with History.open(place, create=True) as opened:
        yield opened
