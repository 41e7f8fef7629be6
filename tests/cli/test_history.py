"""`vibhealth history` and `accept --store`: from the command line, on small invented recordings."""

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.cli.conftest import Job, Run
from vibhealth.store import History


@pytest.fixture(scope="module")
def filled(job: Job, run: Run, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A history with the clean recording of the shared job, and a rebuild."""
    store = tmp_path_factory.mktemp("history") / "h.sqlite"
    ended = run("history", "add", job.clean, "--card", job.card, "--store", store, "--load",
                "empty", "--at", "2031-03-06T10:00+01:00", "--point", "P1X")  # fmt: skip
    assert ended.code == 0, ended.err
    assert "1 added, 0 there already, 0 left out" in ended.out
    noted = run("history", "rebuild", "F3", "--at", "2031-03-05", "--reason", "failed",
                "--by", "T. Technician", "--running-hours", 40000, "--store", store)  # fmt: skip
    assert noted.code == 0, noted.err
    return store


@pytest.fixture
def store(filled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(filled, tmp_path / "h.sqlite"))


def test_what_was_added_is_kept_with_its_date_and_state(store: Path) -> None:
    with History.open(store) as history:
        (kept,) = history.recordings("F3")
    assert kept.point == "P1X"
    assert kept.load == "empty"
    assert kept.recorded_at == datetime(2031, 3, 5, 8, tzinfo=UTC)  # the sidecar goes before --at
    assert kept.families
    assert {d.id for d in kept.descriptors} >= {"bearing-band-block-median", "whole-rms"}


def test_the_same_recording_twice_changes_nothing(store: Path, job: Job, run: Run) -> None:
    before = store.read_bytes()
    again = run("history", "add", job.clean, "--card", job.card, "--store", store)
    assert "0 added, 1 there already" in again.out
    assert store.read_bytes() == before


def test_a_recording_of_another_machine_is_refused(
    store: Path, job: Job, run: Run, tmp_path: Path
) -> None:
    other = tmp_path / "F4.toml"
    text = job.card.read_text("utf-8").replace('id = "F3"', 'id = "F4"', 1)
    other.write_text(text, "utf-8")
    ended = run("history", "add", job.clean, "--card", other, "--store", store)
    assert ended.code == 2
    assert "in the history as one of machine F3" in ended.err


def test_a_folder_with_a_bad_file_keeps_the_good_ones(
    store: Path, job: Job, run: Run, tmp_path: Path
) -> None:
    folder = tmp_path / "old"
    folder.mkdir()
    shutil.copy(job.clean, folder / "a.wav")
    (folder / "b.wav").write_bytes(b"no sound")
    ended = run("history", "add", folder, "--card", job.card, "--store", store)
    assert ended.code == 2
    assert "0 added, 1 there already, 1 left out" in ended.out
    assert "b.wav" in ended.err
    assert "Traceback" not in ended.err


def test_list_show_and_json(store: Path, run: Run) -> None:
    assert "F3" in run("history", "list", "--store", store).out
    listed = run("history", "list", "F3", "--store", store).out
    assert "r1" in listed
    assert "b1" in listed
    assert listed.index("b1") < listed.index("r1")
    shown = json.loads(run("history", "show", "r1", "--store", store, "--json").out)
    assert shown["kind"] == "recording"
    assert shown["point"] == "P1X"
    assert "by" in run("history", "show", "b1", "--store", store).out


def test_opened_units_and_hits(store: Path, job: Job, run: Run) -> None:
    noted = run("history", "opened", "F3", "--removed", "2031-03-05", "--bearing", "upper",
                "--damage", "surface-initiated-fatigue", "--element", "outer-ring",
                "--by", "W. Workshop", "--store", store)  # fmt: skip
    assert noted.code == 0, noted.err
    found = run("history", "hits", job.card, "--store", store)
    assert "nothing recorded" in found.out
    assert "nothing can be concluded yet" in found.out


def test_withdraw_export_backup_check(store: Path, run: Run, tmp_path: Path) -> None:
    assert run("history", "check", "--store", store).code == 0
    assert run("history", "backup", tmp_path / "b.sqlite", "--store", store).code == 0
    assert run("history", "backup", tmp_path / "b.sqlite", "--store", store).code == 2
    gone = run("history", "withdraw", "r1", "--by", "E. Engineer", "--reason", "wrong machine",
               "--store", store)  # fmt: skip
    assert gone.code == 0, gone.err
    assert "r1" not in run("history", "list", "F3", "--store", store).out
    for name in ("x.csv", "x.json"):
        assert run("history", "export", tmp_path / name, "--store", store).code == 0
        assert (tmp_path / name).stat().st_size > 100
    assert "r1" in run("history", "list", "F3", "--store", tmp_path / "b.sqlite").out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("list", "F9"), "machine 'F9' is not in this history (it knows F3)"),
        (("show", "x1"), "names no entry"),
        (("show", "r99"), "there is no entry r99"),
        (("export", "x.txt"), "ends in .csv or .json"),
        (("rebuild", "F3", "--at", "5.3.2031", "--reason", "failed", "--by", "T"), "is no date"),
        (("rebuild", "F3", "--at", "3031-03-05", "--reason", "failed", "--by", "T"), "the year"),
        (("rebuild", "F3", "--at", "2031-03-05", "--reason", "failed", "--by", "?"), "the name"),
        (("opened", "F3", "--removed", "2031-03-05", "--bearing", "upper", "--damage", "spall",
          "--by", "W"), "is none of no-damage"),
        (("opened", "F3", "--removed", "2031-03-05", "--bearing", "upper", "--damage",
          "false-brinelling", "--by", "W"), "give --element"),
        (("opened", "F3", "--removed", "2031-04-05", "--bearing", "upper", "--damage",
          "no-damage", "--by", "W"), "no rebuild of F3 on 2031-04-05 (on record: 2031-03-05)"),
        (("rebuild", "F33", "--at", "2031-03-05", "--reason", "failed", "--by", "T"),
         "not in this history (it knows F3)"),
        (("add", "nosuch.wav", "--card", "nosuch.toml"), "nosuch.toml"),
    ],
)  # fmt: skip
def test_refusals_are_one_sentence(
    store: Path, run: Run, arguments: tuple[str, ...], words: str
) -> None:
    ended = run("history", *arguments, "--store", store)
    assert ended.code == 2
    assert words in ended.err
    assert "Traceback" not in ended.err
    assert len(ended.err.strip().splitlines()) == 1


def test_a_missing_or_foreign_file_is_no_history(run: Run, tmp_path: Path) -> None:
    assert run("history", "list", "--store", tmp_path / "none.sqlite").code == 2
    (tmp_path / "foreign.sqlite").write_text("not a database, long enough to be looked at" * 50)
    ended = run("history", "list", "--store", tmp_path / "foreign.sqlite")
    assert ended.code == 2
    assert "Traceback" not in ended.err


def test_accept_keeps_its_verdict_in_a_history(job: Job, run: Run, tmp_path: Path) -> None:
    store = tmp_path / "h.sqlite"
    ended = run("accept", "--card", job.card, "--after", job.clean, "--store", store)
    assert ended.code in {0, 3}
    assert "the verdict is kept" in ended.err
    with History.open(store) as history:
        (verdict,) = history.verdicts("F3")
        assert verdict.verdict == ("PASS" if ended.code == 0 else "HOLD")
        assert set(verdict.recordings) == {r.sha256 for r in history.recordings("F3")}
    again = run("accept", "--card", job.card, "--after", job.clean, "--store", store)
    assert "0 recordings" in again.err
    with History.open(store) as history:
        assert len(history.verdicts("F3")) == 1
