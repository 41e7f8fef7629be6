"""`vibhealth history`: jobs, undated files, damage, and what does not exist."""

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Job, Run
from vibhealth.store import History


@pytest.fixture
def new_job(run: Run, job: Job, tmp_path: Path) -> Path:
    """A job with one recording an hour after the start."""
    folder = tmp_path / "F3-2031"
    assert run("job", "new", job.card, folder).code == 0
    for suffix in (".wav", ".toml"):
        shutil.copyfile(job.clean.with_suffix(suffix), folder / "as-left" / "1h" / f"a{suffix}")
    return folder


def test_a_job_is_kept_with_its_verdict_and_its_stages(
    new_job: Path, run: Run, tmp_path: Path
) -> None:
    store = tmp_path / "h.sqlite"
    ended = run("history", "add", new_job, "--store", store)
    assert ended.code == 0, ended.err
    assert "HOLD" in ended.err
    with History.open(store) as history:
        kept = history.recordings("F3")
        (verdict,) = history.verdicts("F3")
    assert {(r.stage, r.moment) for r in kept} == {("as-left", "1h")}
    assert verdict.verdict == "HOLD"
    assert verdict.check == "1h"
    assert set(verdict.recordings) == {r.sha256 for r in kept}
    again = run("history", "add", new_job, "--store", store)
    assert "0 added" in again.out
    with History.open(store) as history:
        assert len(history.verdicts("F3")) == 1
        assert len(history.recordings("F3")) == len(kept)


def test_a_recording_without_a_date_is_kept_and_said_to_stand_in_no_trend(
    job: Job, run: Run, tmp_path: Path
) -> None:
    bare = Path(shutil.copy(job.clean, tmp_path / "bare.wav"))  # without its sidecar
    store = tmp_path / "h.sqlite"
    ended = run("history", "add", bare, "--card", job.card, "--point", "P1X", "--unit", "m/s2",
                "--store", store)  # fmt: skip
    assert ended.code == 0, ended.err
    assert "1 added" in ended.out
    assert "1 without a date" in ended.err
    assert "--at" in ended.err
    no_trend = run("trend", job.card, "--store", store)
    assert no_trend.code == 2
    assert "no dated recording of F3" in no_trend.err
    page = run("outlook", job.card, "--store", store)
    assert page.code == 0
    assert "NOT KNOWN" in page.out
    assert "1 recording without a date stands in no trend" in page.out


@pytest.mark.parametrize("entry", ["r7", "b7", "v7", "o7", "q1", "r"])
def test_what_does_not_exist_cannot_be_withdrawn(entry: str, run: Run, tmp_path: Path) -> None:
    store = tmp_path / "h.sqlite"
    History.open(store, create=True).close()
    before = store.read_bytes()
    ended = run("history", "withdraw", entry, "--by", "E", "--reason", "wrong", "--store", store)
    assert ended.code == 2
    assert (entry in ended.err) or f"number {entry[1:]}" in ended.err
    assert len(ended.err.strip().splitlines()) == 1
    assert store.read_bytes() == before


def test_check_names_the_damage_and_nothing_is_shown_as_sound(run: Run, tmp_path: Path) -> None:
    store = tmp_path / "h.sqlite"
    with History.open(store, create=True):
        pass
    noted = run("history", "rebuild", "F3", "--at", "2031-03-05", "--reason", "failed",
                "--by", "T. Technician", "--store", store)  # fmt: skip
    assert noted.code == 0, noted.err
    assert run("history", "check", "--store", store).code == 0
    content = store.read_bytes()
    store.write_bytes(content.replace(b"T. Technician", b"T. Tachnician", 1))
    ended = run("history", "check", "--store", store)
    assert ended.code == 2
    assert "rebuild number 1 is not as it was written" in ended.out + ended.err
    assert "Traceback" not in ended.err


def test_a_wrong_card_names_the_machines_that_are_known(job: Job, run: Run, tmp_path: Path) -> None:
    store = tmp_path / "h.sqlite"
    History.open(store, create=True).close()
    ended = run("history", "hits", job.card, "--store", store)
    assert ended.code == 2
    assert "it is empty" in ended.err


def test_a_fleet_with_a_quiet_machine_and_one_without_history(
    job: Job, run: Run, tmp_path: Path
) -> None:
    store, other = tmp_path / "h.sqlite", tmp_path / "F4.toml"
    other.write_text(job.card.read_text("utf-8").replace('id = "F3"', 'id = "F4"', 1), "utf-8")
    added = run("history", "add", job.clean, "--card", job.card, "--store", store)
    assert added.code == 0, added.err
    ended = run("outlook", other, job.card, "--store", store, "--as-of", "2031-03-06", "--json")
    assert ended.code == 0, ended.err
    found = {m["machine"]: m["sign"] for m in json.loads(ended.out)["machines"]}
    assert list(found.items()) == [("F4", "not-known"), ("F3", "no-sign")]
