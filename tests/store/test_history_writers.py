"""Several writers lose nothing; a killed one leaves what it acknowledged and nothing by halves."""

import os
from pathlib import Path

import pytest

from tests.benchmark import history_store
from tests.benchmark.history_store import killed_writers, several_writers
from vibhealth.store import History

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")


def test_eight_processes_write_at_once(place: Path) -> None:
    """All start on a file that none of them finds."""
    found = several_writers(place, writers=8, each=6)
    assert found["failed"] == 0
    assert found["rows_found"] == found["rows_expected"] == 48
    assert found["is_sound"]


@needs_fork
def test_twelve_killed_writers(place: Path) -> None:
    found = killed_writers(place, kills=12, at_once=3, latest_s=0.1)
    assert found["kills"] == 12
    assert found["acknowledged"] >= 36
    assert found["not_opened"] == found["lost"] == found["unsound"] == 0


@needs_fork
def test_a_lost_row_would_be_counted(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The count of the campaign can fail: a writer that acknowledges what it did not store."""
    code = history_store.CODE.replace(
        "{call}",
        "from tests.benchmark import history_store\n"
        "history_store.History.add_recordings = lambda self, recordings: None\n{call}",
    )
    monkeypatch.setattr(history_store, "CODE", code)
    found = killed_writers(place, kills=1, at_once=1, latest_s=0.0)
    assert found["lost"] >= history_store.KILL_BATCH


def test_figures_of_a_small_history(place: Path) -> None:
    """What the campaign times is there to be read; limits far above what it takes."""
    figures = history_store.of_size(place, 200)
    assert figures["recordings"] == 200
    seconds = {name: value for name, value in figures.items() if name.endswith("_s")}
    assert len(seconds) == 17
    assert max(seconds.values()) < 30.0
    with History.open(place) as history:
        assert len(history.recordings(history_store.LONG_MACHINE)) == 40
        assert len(history.recordings(history_store.SERIES_MACHINE)) == 2
        assert len(history.recordings("screen new")) == 9
