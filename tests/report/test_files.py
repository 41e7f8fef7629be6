"""Documents are written whole, or not at all."""

import os
import re
from pathlib import Path

import pytest

from vibhealth.errors import OutputError
from vibhealth.report import write_document, write_report_folder


def test_text_and_bytes_arrive_as_they_are(tmp_path: Path) -> None:
    path = write_document(tmp_path / "a.txt", "m/s²\r\n\n")
    assert path.read_bytes() == "m/s²\r\n\n".encode()
    assert write_document(str(tmp_path / "b.png"), b"\x89\n").read_bytes() == b"\x89\n"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.txt", "b.png"]


def test_an_existing_file_needs_overwrite(tmp_path: Path) -> None:
    path = write_document(tmp_path / "a.txt", "old")
    message = f"{path} exists already; give another name, or --overwrite to replace it"
    with pytest.raises(OutputError, match=re.escape(message)):
        write_document(path, "new")
    assert path.read_text("utf-8") == "old"
    write_document(path, "new", overwrite=True)
    assert path.read_text("utf-8") == "new"


def test_a_missing_folder_and_a_folder_as_target_are_refused(tmp_path: Path) -> None:
    missing = tmp_path / "none" / "a.txt"
    message = f"cannot write {missing}: folder {missing.parent} does not exist; create it first"
    with pytest.raises(OutputError, match=re.escape(message)):
        write_document(missing, "x")
    with pytest.raises(OutputError, match=re.escape("it is a folder; give the name of a file")):
        write_document(tmp_path, "x", overwrite=True)


def test_a_failure_half_way_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_document(tmp_path / "a.txt", "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    message = f"cannot write {path}: No space left on device; check the folder and its space"
    with pytest.raises(OutputError, match=re.escape(message)):
        write_document(path, "new", overwrite=True)
    assert path.read_text("utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_is_staged_before_anything_appears(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def second_fails(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) == 2:
            raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", second_fails)
    with pytest.raises(OutputError, match="Input/output error"):
        write_report_folder(tmp_path / "report", {"a.txt": "a", "b.txt": "b"})
    assert list((tmp_path / "report").iterdir()) == []


def test_a_folder_is_written_and_other_files_stay(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "report"
    written = write_report_folder(folder, {"a.txt": "a", "b.png": b"b"})
    assert written == (folder / "a.txt", folder / "b.png")
    (folder / "mine.txt").write_text("mine", "utf-8")
    with pytest.raises(OutputError, match="exists already"):
        write_report_folder(folder, {"c.txt": "c", "b.png": b"new"})
    assert not (folder / "c.txt").exists()
    write_report_folder(folder, {"b.png": b"new"}, overwrite=True)
    assert (folder / "b.png").read_bytes() == b"new"
    assert (folder / "mine.txt").read_text("utf-8") == "mine"


@pytest.mark.parametrize("name", ["../a.txt", "x/a.txt", "..", "", ".", "x\\a.txt", "/a.txt"])
def test_a_name_that_leaves_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    message = "a document name may not hold a folder part"
    with pytest.raises(OutputError, match=message):
        write_report_folder(tmp_path / "r", {name: "x"})
    assert list(tmp_path.iterdir()) == []


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "r").write_text("", "utf-8")
    with pytest.raises(OutputError, match=re.escape(f"cannot write {tmp_path / 'r'}")):
        write_report_folder(tmp_path / "r", {"a.txt": "x"})


@pytest.mark.skipif(os.name != "posix", reason="file modes are a matter of POSIX systems")
def test_the_file_is_as_readable_as_any_other(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("", "utf-8")
    path = write_document(tmp_path / "a.txt", "x")
    assert path.stat().st_mode == (tmp_path / "plain").stat().st_mode
