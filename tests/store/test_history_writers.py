"""Several writers lose nothing; a killed one leaves what it acknowledged and nothing by halves."""

import subprocess
from pathlib import Path

import pytest

from tests.benchmark.history_store import killed_writers, several_writers


def test_eight_processes_write_at_once(place: Path) -> None:
    """All start on a file that none of them finds."""
    found = several_writers(place, writers=8, each=6)
    assert found["failed"] == 0
    assert found["rows_found"] == found["rows_expected"] == 48
    assert found["is_sound"]


def test_twelve_killed_writers(place: Path) -> None:
    found = killed_writers(place, kills=12, at_once=3, latest_s=0.05)
    assert found["kills"] == 12
    assert found["acknowledged"] >= 36
    assert found["not_opened"] == found["lost"] == found["unsound"] == 0


def test_a_lost_row_would_be_counted(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The count of the campaign can fail: a writer that acknowledges what it did not store."""
    code = "import time; print(5, flush=True); time.sleep(60)"
    real = subprocess.Popen

    def liar(command: list[str], **options: object) -> object:
        return real([*command[:2], code], **options)  # type: ignore[call-overload]

    monkeypatch.setattr("tests.benchmark.history_store.subprocess.Popen", liar)
    found = killed_writers(place, kills=1, at_once=1, latest_s=0.0)
    assert found["lost"] == 6
