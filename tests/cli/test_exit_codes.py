"""0 PASS or done, 3 HOLD, 2 unusable input, 1 a bug, 130 interrupted."""

import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest

from vibhealth.cli._run import ExitCode, guarded
from vibhealth.errors import InputError


def _raising(error: BaseException) -> Callable[[], None]:
    def run() -> None:
        raise error

    return run


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (SystemExit(3), 3),
        (SystemExit(None), 0),
        (SystemExit("words"), 1),
        (InputError("wrong"), ExitCode.BAD_INPUT),
        (KeyboardInterrupt(), ExitCode.INTERRUPTED),
        (ZeroDivisionError("a bug"), ExitCode.BUG),
    ],
)
def test_code_of_each_ending(error: BaseException, code: int) -> None:
    assert guarded(_raising(error)) == code


def test_codes_are_the_documented_ones() -> None:
    assert {code.name: code.value for code in ExitCode} == {
        "DONE": 0,
        "BUG": 1,
        "BAD_INPUT": 2,
        "HOLD": 3,
        "INTERRUPTED": 130,
    }


def test_a_bug_shows_its_traceback_and_asks_for_a_report(
    run: Callable[..., Any], job: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("vibhealth.card.read_card", lambda _path: 1 / 0)
    ended = run("card", "check", job.card)
    assert ended.code == 1
    assert "ZeroDivisionError" in ended.err
    assert "please report it: vibhealth " in ended.err.splitlines()[-1]
    assert "Python 3." in ended.err.splitlines()[-1]


def test_pass_is_0_and_hold_is_3(accepted: Any) -> None:
    assert accepted.clean.code == 0
    assert accepted.faulty.code == 3


def test_a_reader_that_leaves_is_no_error(job: Any) -> None:
    source = (
        "import os, sys\n"
        "from vibhealth.cli import main\n"
        "read, write = os.pipe()\n"
        "os.close(read)\n"
        "os.dup2(write, 1)\n"
        f"main(['card', 'check', {str(job.card)!r}])\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", source], capture_output=True, text=True, check=False
    )
    assert (ended.returncode, ended.stderr) == (0, "")


def test_the_module_runs_as_a_program(job: Any) -> None:
    command = [sys.executable, "-m", "vibhealth", "frequencies", str(job.folder / "no.toml")]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ended.returncode == 2
    assert ended.stderr.startswith("vibhealth: ")
