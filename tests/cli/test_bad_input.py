"""Bad input ends in one sentence on stderr and exit code 2, never in a traceback."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.io.wavfile

Write = Callable[[Path], Path]


def one_sentence(ended: Any, words: str) -> None:
    assert ended.code == 2, ended.out + ended.err
    assert ended.out == ""
    assert ended.err.startswith("vibhealth: ")
    assert len(ended.err.splitlines()) == 1
    assert "Traceback" not in ended.err
    assert words in ended.err


def _text(name: str, content: str) -> Write:
    def write(folder: Path) -> Path:
        (folder / name).write_text(content, "utf-8")
        return folder / name

    return write


def _wav(samples: list[float]) -> Write:
    def write(folder: Path) -> Path:
        path = folder / "made.wav"
        scipy.io.wavfile.write(path, 8000, np.array(samples, dtype=np.float32))
        return path

    return write


def _truncated(folder: Path) -> Path:
    path = _wav([0.0] * 4000)(folder)
    path.write_bytes(path.read_bytes()[:9000])
    return path


FILES: dict[str, tuple[Write, str]] = {
    "missing": (lambda folder: folder / "nowhere.wav", "no such file"),
    "directory": (lambda folder: folder, "is a folder, not a recording"),
    "text called wav": (_text("notes.wav", "not sound\n" * 9), "holds plain text"),
    "truncated": (_truncated, "the file is cut short"),
    "empty": (_text("empty.wav", ""), "is empty (0 bytes)"),
    "one sample": (_wav([0.5]), "holds 1 sample"),
    "ten samples": (_wav([0.5, -0.5] * 5), "must hold at least 16 values"),
    "not a number": (_wav([0.0] * 99 + [float("nan")]), "holds nan at index 99"),
    "letters": (_text("a.csv", "time [s],a\n0,1\n0.1,x\n0.2,3\n"), "'x' is no number"),
    "ragged": (_text("a.csv", "time [s],a\n0,1\n0.1,2,3\n0.2,3\n"), "line 3 has 3 cells"),
    "two time columns": (
        _text("a.csv", "time,time [s],a\n0,0,1\n0.1,0.1,2\n0.2,0.2,3\n"),
        "both look like time",
    ),
    "time runs back": (
        _text("a.csv", "time [s],a\n0,1\n0.1,2\n0.05,3\n0.2,4\n"),
        "runs backwards at line 4",
    ),
}


@pytest.mark.parametrize("command", ["inspect", "analyze", "accept"])
@pytest.mark.parametrize("fault", FILES)
def test_unusable_files(
    run: Callable[..., Any], job: Any, tmp_path: Path, fault: str, command: str
) -> None:
    write, words = FILES[fault]
    path = write(tmp_path)
    before = ["--after"] if command == "accept" else []
    ended = run(command, *before, path, "--card", job.card)
    one_sentence(ended, words)
    assert str(path) in ended.err


@pytest.mark.parametrize("command", ["inspect", "accept"])
def test_silence_is_hold_and_not_judged(
    run: Callable[..., Any], job: Any, tmp_path: Path, command: str
) -> None:
    path = _wav([0.0] * 26 * 8000)(tmp_path)
    before = ["--after"] if command == "accept" else []
    ended = run(command, *before, path, "--card", job.card)
    assert ended.code == 3, ended.err
    assert "PASS" not in ended.out.splitlines()[0]
    assert "not judged" in ended.out.lower()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--rate", "-1"), "rate_hz must be a finite number above 0"),
        (("--speed-rpm", "0"), "--speed-rpm must be a finite number above 0"),
        (("--point", "P9Z"), "no point is named 'P9Z'"),
        (("--channel", "7"), "channel 7 is wanted, but the file has 2 channels"),
        (("--channel", "0"), "channel must be a whole number from 1 on"),
        (("--rate", "9000"), "a sampling rate of 9000 Hz is given"),
        (("--tachometer-channel", "1"), "as vibration and as tachometer"),
    ],
)
def test_options_that_break_a_rule(
    run: Callable[..., Any], job: Any, arguments: tuple[str, ...], words: str
) -> None:
    one_sentence(run("analyze", job.clean, "--card", job.card, *arguments), words)


def test_unknown_card_key(run: Callable[..., Any], job: Any, tmp_path: Path) -> None:
    card = tmp_path / "card.toml"
    card.write_text(job.card.read_text("utf-8").replace("element_count", "elements_count"))
    for command in (("card", "check"), ("frequencies",)):
        ended = run(*command, card)
        assert ended.code == 2
        assert "bearing[1].elements_count" in ended.err
        assert "is not a known key" in ended.err
        assert "did you mean 'element_count'?" in ended.err
        assert all(line.startswith(("vibhealth: ", str(card))) for line in ended.err.splitlines())


GEOMETRY = ("--elements", 20, "--element-diameter-mm", 26, "--pitch-diameter-mm", 160)


def test_impossible_geometry(run: Callable[..., Any]) -> None:
    one_sentence(run("frequencies", *GEOMETRY), "20 elements of 26 mm overlap")


def test_frequencies_need_a_card_or_a_whole_geometry(run: Callable[..., Any], job: Any) -> None:
    one_sentence(run("frequencies"), "give a card, or all of --elements")
    one_sentence(run("frequencies", job.card, *GEOMETRY), "not both")
    fitting = ("--elements", 17, *GEOMETRY[2:])
    one_sentence(run("frequencies", *fitting), "give the shaft speed with --speed-rpm")
    slip = ("--slip-percent", "9")
    one_sentence(run("frequencies", job.card, *slip), "slip_percent must lie")


def test_before_and_after_the_same(run: Callable[..., Any], job: Any) -> None:
    files = ("--before", job.clean, "--after", job.clean)
    one_sentence(run("accept", "--card", job.card, *files), "same recording is given as before")


def test_after_is_needed(run: Callable[..., Any], job: Any) -> None:
    one_sentence(run("accept", "--card", job.card, "--before", job.found), "with --after")


def test_a_channel_without_a_point_is_no_evidence(
    run: Callable[..., Any], job: Any, tmp_path: Path
) -> None:
    path = _text("a.csv", "time [s],a,b,c\n" + "0,1,2,3\n0.1,1,2,3\n")(tmp_path)
    ended = run("accept", "--card", job.card, "--after", path, "--channel", 3)
    one_sentence(ended, "channel 3 belongs to no point of")


@pytest.mark.parametrize("command", ["analyze", "accept"])
@pytest.mark.parametrize(
    ("taken", "words"),
    [("report.html", "exists already"), ("", "is a file; give the name of a folder")],
)
def test_outputs_are_refused_before_the_work(
    run: Callable[..., Any], job: Any, tmp_path: Path, *, command: str, taken: str, words: str
) -> None:
    # The recording does not exist: had the work begun, the sentence would be about it.
    output = tmp_path / "out"
    if taken:
        name = "recording.html" if command == "analyze" else taken
        output.mkdir()
        (output / name).write_text("mine")
    else:
        output.write_text("mine")
    before = ["--after"] if command == "accept" else []
    ended = run(command, *before, tmp_path / "no.wav", "--card", job.card, "--output", output)
    one_sentence(ended, words)


def test_a_folder_that_cannot_be_written(
    run: Callable[..., Any], job: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The refusal of the system is put in its place: a superuser may write anywhere.
    monkeypatch.setattr("os.access", lambda _path, mode, **_options: not mode & os.W_OK)
    arguments = ("--after", job.clean, "--card", job.card, "--output", tmp_path / "new" / "er")
    one_sentence(run("accept", *arguments), "no permission to write")


def test_files_are_kept_without_overwrite(
    run: Callable[..., Any], job: Any, tmp_path: Path
) -> None:
    kept = tmp_path / "kept.toml"
    kept.write_text("mine")
    one_sentence(run("card", "new", kept), "exists already")
    assert kept.read_text() == "mine"
    made = ("--card", job.card, "--clean", "--seconds", 1)
    one_sentence(run("simulate", job.clean, *made), "exists already")
    demo = tmp_path / "demo"
    demo.mkdir()
    (demo / "F3.toml").write_text("mine")
    one_sentence(run("demo", demo), "exists already")
    assert run("card", "new", kept, "--overwrite").code == 0
    assert kept.read_text() != "mine"


def test_simulate_wants_a_defect_or_none(run: Callable[..., Any], job: Any) -> None:
    for choice in ((), ("--clean", "--element", "cage")):
        ended = run("simulate", "a.wav", "--card", job.card, *choice)
        one_sentence(ended, "give either --element")
    wrong = ("--element", "cage", "--bearing", "lower")
    ended = run("simulate", "a.wav", "--card", job.card, *wrong)
    one_sentence(ended, "'lower'")
