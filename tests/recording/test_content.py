"""Files that are no recording at all: one sentence each."""

import gzip
import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

Refused = Callable[..., str]


def zip_of(name: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(zipfile.ZipInfo(name), "x")  # dated 1980: the bytes name the test
    return stream.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "text"),
    [
        ("a.wav", b"", "is empty (0 bytes)"),
        ("a.csv", b"", "is empty (0 bytes)"),
        ("a.wav", b"0.1\n0.2\n", "is named .wav but holds plain text"),
        ("a.npy", b"0.1\n0.2\n", "is named .npy but holds plain text"),
        ("a.toml", b"x = 1\n", "is named .toml but holds plain text"),
        ("a.wav", gzip.compress(b"0.1\n", mtime=0), "is named .wav but is compressed with gzip"),
        ("a.wav", b"<!DOCTYPE html><html></html>", "is a web page or XML file"),
        ("a.csv", b"\xef\xbb\xbf\n  <html>\n", "is a web page or XML file"),
        ("a.wav", b"\x00\x01\x02\x03" * 9, "is in no known format (starts with b'\\x00\\x01"),
        ("a.wav", b"RIFF\x00\x00\x00\x00AVI " + bytes(20), "is in no known format"),
        ("a.wav", b"ID3\x04" + bytes(50), "compressed with loss (MP3 or Ogg)"),
        ("a.wav", b"\xff\xfb\x90\x00" + bytes(50), "compressed with loss (MP3 or Ogg)"),
        ("a.xlsx", zip_of("xl/workbook.xml"), "is a zip archive or office file"),
        ("a.npz", zip_of("a.npy")[:40], "is a damaged or cut-short zip archive"),
        ("a.mat", b"MATLAB 7.3 MAT-file, " + bytes(600), "is a MATLAB 7.3 (HDF5) file"),
        ("a.mat", b"\x89HDF\r\n\x1a\n" + bytes(60), "is a MATLAB 7.3 (HDF5) file"),
        (
            "a.csv.gz",
            gzip.compress(b"0.1\n" * 99, mtime=0)[:-9],
            "gzip data is damaged or cut short",
        ),
        ("a.csv", b"# only\n\n  \n# remarks\n", "holds no lines of numbers"),
    ],
)
def test_what_is_no_recording_is_refused(
    tmp_path: Path, refused: Refused, name: str, content: bytes, text: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    refused(path, text)


def test_a_folder_is_refused(tmp_path: Path, refused: Refused) -> None:
    refused(tmp_path, "is a folder, not a recording")


def test_a_device_is_refused(refused: Refused) -> None:
    refused(Path(os.devnull), "is not an ordinary file")


def test_a_missing_file_names_its_like(tmp_path: Path, refused: Refused) -> None:
    (tmp_path / "P1X-8h.wav").write_bytes(b"x")
    (tmp_path / "zzz.txt").write_bytes(b"x")
    message = refused(tmp_path / "P1X_8h.wav", "no such file; similar names there: P1X-8h.wav")
    assert "zzz" not in message


def test_a_missing_file_without_its_like(tmp_path: Path, refused: Refused) -> None:
    refused(tmp_path / "P1X.wav", "no such file; check the path")
    refused(tmp_path / "no" / "P1X.wav", f"no such file, and no folder {tmp_path / 'no'} either")


def test_an_unreadable_file_is_refused(
    tmp_path: Path, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"x")

    def fail(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", fail)
    refused(path, "cannot be opened (Permission denied)")


def test_a_medium_that_fails_while_reading_is_refused(
    tmp_path: Path, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.csv"
    path.write_text("0.1\n0.2\n")

    def fail(_: Path) -> bytes:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Path, "read_bytes", fail)
    refused(path, "Input/output error")


def test_a_recording_beyond_memory_is_refused(
    tmp_path: Path, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.npy"
    np.save(path, np.zeros(9))

    def fail(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(np, "load", fail)
    refused(path, "it does not fit into memory")
