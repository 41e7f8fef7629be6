"""A job folder on disk with the card of the invented feeder, and its record with changes."""

from collections.abc import Callable
from pathlib import Path

import pytest

from vibhealth.card import card_template
from vibhealth.job import JobRecord, new_job, read_job

Change = tuple[str, str]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A fresh job folder, nothing answered."""
    card = tmp_path / "F3.toml"
    card.write_text(card_template(), "utf-8")
    new_job(card, tmp_path / "job")
    return tmp_path / "job"


@pytest.fixture
def record(job: Path) -> Callable[..., JobRecord]:
    """Exchange (old, new) texts of the fresh record, append lines, and read it."""

    def make(*changes: Change, append: str = "") -> JobRecord:
        path = job / "job.toml"
        text = path.read_text("utf-8")
        for old, new in changes:
            assert text.count(old) == 1, f"{old!r} must stand once in the record"
            text = text.replace(old, new)
        path.write_text(text + append, "utf-8")
        return read_job(job)

    return make
