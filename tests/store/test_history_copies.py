"""Backups open and hold everything; exports are in one order and whole."""

import csv
import json
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from tests.benchmark.history_store import DESCRIPTORS, FAMILIES, sample_recording
from tests.store.store_samples import REBUILD, VERDICT
from vibhealth.errors import OutputError, StoreError
from vibhealth.store import History, backup_history, check_integrity, export_csv, export_json


@pytest.fixture
def filled(history: History) -> History:
    with history.transaction():
        history.add_recordings(sample_recording(number, "screen b") for number in (4, 2))
        history.add_recording(replace(sample_recording(1, "screen a"), descriptors=()))
        history.add_recording(sample_recording(9, "screen a"))
        history.add_verdict(VERDICT)
        history.add_rebuild(REBUILD)
        history.withdraw("recording", 4, by="x", reason="y")
    return history


class TestBackup:
    def test_the_copy_is_a_history_with_everything(self, filled: History, tmp_path: Path) -> None:
        target = backup_history(filled, tmp_path / "copy.sqlite")
        with History.open(target) as copy:
            assert check_integrity(copy).is_sound
            for machine in filled.machines():
                assert copy.recordings(machine) == filled.recordings(machine)
                assert copy.verdicts(machine) == filled.verdicts(machine)
                assert copy.withdrawals(machine) == filled.withdrawals(machine)
            assert copy.add_rebuild(replace(REBUILD, machine="screen c")).added
        assert filled.rebuilds("screen c") == ()
        assert len(list(tmp_path.iterdir())) == 2

    def test_an_existing_file_only_if_asked(self, filled: History, tmp_path: Path) -> None:
        target = tmp_path / "copy.sqlite"
        target.write_text("mine", "utf-8")
        with pytest.raises(OutputError, match="exists already: name another, or ask"):
            backup_history(filled, target)
        assert target.read_text("utf-8") == "mine"
        backup_history(filled, target, overwrite=True)
        History.open(target).close()

    def test_refused_places(self, filled: History, tmp_path: Path) -> None:
        with pytest.raises(StoreError, match="the history itself"):
            backup_history(filled, filled.path, overwrite=True)
        with pytest.raises(OutputError, match="this is a folder"):
            backup_history(filled, tmp_path)
        with pytest.raises(OutputError, match="cannot be written"):
            backup_history(filled, tmp_path / "no" / "copy.sqlite")

    def test_a_backup_that_fails_leaves_the_old_one(
        self, filled: History, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        target = backup_history(filled, tmp_path / "copy.sqlite")
        before = target.read_bytes()

        def fail(*_: object) -> None:
            raise sqlite3.DatabaseError

        monkeypatch.setattr("vibhealth.store.backup._verify", fail)
        with pytest.raises(sqlite3.DatabaseError):
            backup_history(filled, target, overwrite=True)
        assert target.read_bytes() == before
        assert len(list(tmp_path.iterdir())) == 2

    def test_a_damaged_history_gives_no_backup(self, filled: History, tmp_path: Path) -> None:
        filled.close()
        content = bytearray(filled.path.read_bytes())
        page = content.index(b"level-5") // 4096 * 4096
        content[page : page + 8] = b"\xff" * 8  # its head
        filled.path.write_bytes(content)
        with History.open(filled.path) as damaged, pytest.raises(StoreError, match="not sound"):
            backup_history(damaged, tmp_path / "copy.sqlite")
        assert [path.name for path in tmp_path.iterdir()] == [filled.path.name]


class TestCsv:
    def test_one_line_for_each_descriptor_in_order(self, filled: History, tmp_path: Path) -> None:
        path = export_csv(filled, tmp_path / "out.csv")
        with path.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
        assert len(rows) == 1 + 2 * DESCRIPTORS
        keys = [(row["machine"], row["recorded_at"], row["descriptor_id"]) for row in rows]
        assert keys[0] == ("screen a", "2020-01-01T01:00:00.000000+00:00", "")
        assert [machine for machine, *_ in keys[1:]] == ["screen b"] * 2 * DESCRIPTORS
        ids = [descriptor.id for descriptor in sample_recording(2).descriptors]
        assert len(set(ids)) == DESCRIPTORS
        assert [key[2] for key in keys[1:]] == ids * 2
        assert keys[1][1] < keys[-1][1]
        expected = sample_recording(2).descriptors[3]
        assert float(rows[4]["value"]) == expected.value
        assert rows[4]["title"] == expected.title

    def test_the_same_history_gives_the_same_bytes(self, filled: History, tmp_path: Path) -> None:
        for export in (export_csv, export_json):
            first, second = (export(filled, tmp_path / f"{export.__name__}{k}") for k in (1, 2))
            assert first.read_bytes() == second.read_bytes()
            assert b"\r" not in first.read_bytes()

    def test_an_existing_file_only_if_asked(self, filled: History, tmp_path: Path) -> None:
        for export in (export_csv, export_json):
            target = tmp_path / "out"
            target.write_text("mine", "utf-8")
            with pytest.raises(OutputError, match="exists already"):
                export(filled, target)
            export(filled, target, overwrite=True)
            assert target.read_text("utf-8") != "mine"


def test_json_holds_everything_withdrawn_entries_too(filled: History, tmp_path: Path) -> None:
    document = json.loads(export_json(filled, tmp_path / "out.json").read_text("utf-8"))
    assert document["layout"] == 2
    assert [entry["id"] for entry in document["recording"]] == [3, 4, 1, 2]
    assert len(document["recording"][1]["descriptor"]) == DESCRIPTORS
    assert len(document["recording"][1]["family"]) == FAMILIES
    (verdict,) = document["verdict"]
    assert verdict["reasons"] == list(VERDICT.reasons)
    assert verdict["named"] == [list(pair) for pair in VERDICT.named]
    assert [row["sha256"] for row in verdict["verdict_recording"]] == list(VERDICT.recordings)
    assert document["rebuild"][0]["by"] == REBUILD.by
    assert document["withdrawal"][0]["entry_id"] == 4
    assert document["withdrawal"][0]["added_at"].endswith("+00:00")


def test_json_of_an_empty_history(history: History, tmp_path: Path) -> None:
    document = json.loads(export_json(history, tmp_path / "out.json").read_text("utf-8"))
    assert document["recording"] == document["withdrawal"] == []
