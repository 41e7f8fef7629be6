"""Where a job stands, in figures, words and JSON."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from vibhealth.card import read_card
from vibhealth.job import (
    ITEM_BY_ID,
    JobStatus,
    Phase,
    filled_record,
    job_files,
    job_status,
    read_job,
    status_dict,
    status_text,
)

STARTED = datetime(2031, 3, 5, 12, tzinfo=UTC)
Stand = Callable[..., JobStatus]


@pytest.fixture
def stand(job: Path) -> Stand:
    """Status some hours after the start, of the invented record."""

    def make(hours: float, *, recorded: tuple[str, ...] = (), **options: object) -> JobStatus:
        text = filled_record(read_card(job / "F3.toml"), by="B", at=STARTED, **options)  # type: ignore[arg-type]
        (job / "job.toml").write_text(text, "utf-8")
        for name in recorded:
            (job / name).write_bytes(b"")
        now = STARTED + timedelta(hours=hours)
        return job_status(read_job(job), job_files(job), now=now)

    return make


def three(folder: str) -> tuple[str, ...]:
    return tuple(f"{folder}/{name}.wav" for name in "abc")


def test_a_fresh_job_is_all_open(job: Path) -> None:
    status = job_status(read_job(job), job_files(job), now=STARTED)
    assert list(status.open) == list(Phase)
    assert status.checks == ()
    assert set(status.recordings.values()) == {0}
    text = status_text(status)
    assert "Open questions: 64" in text
    assert "as-left/run-up: none" in text
    assert "Open in AS FOUND, before the rebuild: 1; answer with: vibhealth job ask" in text


def test_checks_count_from_the_start(stand: Stand) -> None:
    status = stand(9, until=Phase.HOUR_1, recorded=(*three("as-left/1h"), "as-found/a.wav"))
    assert [(check.moment.value, check.overdue_h, check.is_done) for check in status.checks] == [
        ("1h", 8.0, True),
        ("8h", 1.0, False),
        ("24h", -15.0, False),
        ("7d", -159.0, False),
    ]
    text = status_text(status)
    assert "Check of 8h: 2031-03-05 20:00+00:00 (overdue by 60 min); record into as-left/8h" in text
    assert "Check of 24h: 2031-03-06 12:00+00:00 (in 15 h); record into as-left/24h" in text
    assert "Check of 1h" not in text
    assert "as-left/1h: 3" in text
    assert "Not recorded yet: run-up; record it into as-left/run-up" in text


def test_answered_but_not_recorded_is_not_done(stand: Stand) -> None:
    assert [check.is_done for check in stand(200).checks] == [False] * 4


def test_all_done(stand: Stand) -> None:
    checks = [name for moment in ("1h", "8h", "24h", "7d") for name in three(f"as-left/{moment}")]
    recorded = (*checks, "as-left/run-up/a.wav", "as-left/coast-down/a.wav")
    status = stand(200, recorded=recorded)
    assert status.open == {}
    assert status_text(status).endswith(
        "Next:\n  Nothing: every question is answered and every check recorded.\n"
    )


def test_one_recording_of_a_check_is_too_few_and_loose_ones_are_of_the_first(stand: Stand) -> None:
    few = stand(2, until=Phase.HOUR_1, recorded=("as-left/1h/a.wav",))
    assert not few.checks[0].is_done
    loose = stand(2, until=Phase.HOUR_1, recorded=three("as-left"))
    assert loose.checks[0].is_done


def test_what_was_answered_no_comes_first(stand: Stand) -> None:
    status = stand(1, until=Phase.START, no={"seals-new": "lip folded", "no-smoke": ""})
    assert [no.item.id for no in status.answered_no] == ["seals-new", "no-smoke"]
    text = status_text(status)
    assert f"fix: {ITEM_BY_ID['seals-new'].question} (B 2031-03-05 09:00+00:00): lip folded" in text
    assert f"STOP NOW: {ITEM_BY_ID['no-smoke'].question}" in text
    assert text.split("Next:\n")[1].startswith("  Stop, lock out, find the cause")


def test_one_that_can_wait_is_no_stop(stand: Stand) -> None:
    status = stand(1, until=Phase.START, no={"seals-new": ""})
    assert 'Next:\n  Put right what was answered "no"' in status_text(status)


def test_local_times_are_compared_as_local(job: Path) -> None:
    local = STARTED.replace(tzinfo=None)
    text = filled_record(read_card(job / "F3.toml"), by="B", at=local, until=Phase.START)
    (job / "job.toml").write_text(text, "utf-8")
    status = job_status(read_job(job), (), now=STARTED + timedelta(hours=3))
    assert status.checks[0].overdue_h == 2.0


def test_the_plain_values_are_json(stand: Stand) -> None:
    values = json.loads(json.dumps(status_dict(stand(9, until=Phase.START, no={"no-knock": "x"}))))
    assert values["schema_version"] == 1
    assert values["open_count"] == sum(len(texts) for texts in values["open"].values()) == 7
    assert values["answered_no"][0]["means"] == "stop-now"
    assert values["checks"][1] == {
        "moment": "8h",
        "due": "2031-03-05T20:00:00+00:00",
        "overdue_h": 1.0,
        "done": False,
    }
