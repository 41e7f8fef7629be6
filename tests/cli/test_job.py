"""``vibhealth job``: new, ask and status from the command line."""

import io
import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibhealth.card import card_template
from vibhealth.job import read_job

Run = Callable[..., Any]
COMMANDS = ("job new", "job ask", "job status")


@pytest.fixture
def folder(run: Run, tmp_path: Path) -> Path:
    card = tmp_path / "F3.toml"
    card.write_text(card_template(), "utf-8")
    assert run("job", "new", card, tmp_path / "job").code == 0
    return tmp_path / "job"


def type_in(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_job_command_explains_itself(run: Run, command: str) -> None:
    ended = run(*command.split(), "--help")
    assert ended.code == 0
    assert f"vibhealth {command}" in ended.out
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    assert f"vibhealth {command}" in readme


def test_new_says_what_comes_next_and_refuses_a_used_folder(run: Run, folder: Path) -> None:
    ended = run("job", "new", folder / "F3.toml", folder.parent / "second")
    assert ended.code == 0
    assert "Next: record the machine as found" in ended.err
    ended = run("job", "new", folder / "F3.toml", folder)
    assert ended.code == 2
    assert (
        ended.err == f"vibhealth: {folder} is not empty; give a new folder, one for each rebuild\n"
    )


def test_ask_writes_answers_and_ends_with_what_is_open(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_in(monkeypatch, "y\n?\nn no bags\n")
    ended = run("job", "ask", folder, "--by", "Jörg")
    assert ended.code == 0
    assert f"62 open. Everything answered is in {folder / 'job.toml'}" in ended.out
    assert read_job(folder).answer("match-marked").by == "Jörg"


def test_ask_asks_who_answers(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    type_in(monkeypatch, "Ann\ny\nq\n")
    assert run("job", "ask", folder / "job.toml").code == 0
    assert read_job(folder).answer("as-found-recorded").by == "Ann"


def test_ask_from_a_phase_and_again(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_in(monkeypatch, "n\nq\n")
    run("job", "ask", folder, "--by", "A", "--from", "Pre-Start")
    assert read_job(folder).answer("isolators-level").answer == "no"
    type_in(monkeypatch, "y\nq\n")
    run("job", "ask", folder, "--by", "A", "--from", "pre-start", "--again")
    assert read_job(folder).answer("isolators-level").answer == "yes"
    ended = run("job", "ask", folder, "--by", "A", "--from", "monday")
    assert ended.code == 2
    assert "--from: no phase is named 'monday'; known are as-found, strip, build" in ended.err


def test_a_sign_to_stop_is_a_hold(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    type_in(monkeypatch, "now\nn loud clang\n")
    ended = run("job", "ask", folder, "--by", "A", "--from", "start")
    assert ended.code == 3
    assert "STOP NOW: press stop, lock out" in ended.out


def test_status_as_text_and_json(run: Run, folder: Path) -> None:
    ended = run("job", "status", folder)
    assert ended.code == 0
    assert "Open questions: 64" in ended.out
    values = json.loads(run("job", "status", folder / "job.toml", "--json").out)
    assert values["open_count"] == 64
    assert values["recordings"]["as-left/1h"] == 0


@pytest.mark.parametrize("command", ["ask", "status"])
def test_a_broken_record_is_one_sentence(run: Run, folder: Path, command: str) -> None:
    path = folder / "job.toml"
    path.write_text(path.read_text("utf-8").replace("[oil]", "[oli]"), "utf-8")
    ended = run("job", command, folder)
    assert ended.code == 2
    assert ended.err == (
        f"vibhealth: {path}: oli: is not a known key (did you mean 'oil'?), found a table\n"
    )


def test_a_stray_recording_is_one_sentence(run: Run, folder: Path) -> None:
    (folder / "p1.wav").write_bytes(b"")
    ended = run("job", "status", folder)
    assert ended.code == 2
    assert "p1.wav: lies outside the folders of a stage" in ended.err


def ask_process(folder: Path) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        [sys.executable, "-m", "vibhealth", "job", "ask", str(folder), "--by", "A"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONUTF8": "1"},
    )


def test_interrupted_it_leaves_cleanly(folder: Path) -> None:
    with ask_process(folder) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(b"y\n")
        process.stdin.flush()
        while b"noted" not in process.stdout.readline():
            pass
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        out, err = process.communicate()
    assert (process.returncode, err) == (0, b"")
    assert b"63 open." in out


def test_input_that_is_no_text_is_one_sentence(folder: Path) -> None:
    with ask_process(folder) as process:
        out, err = process.communicate(b"y\nn caf\xe9\n")
    assert process.returncode in {0, 2}
    assert b"Traceback" not in err + out
    assert b"UTF-8" in err + out
    assert read_job(folder).answer("match-marked").answer == "not checked"
