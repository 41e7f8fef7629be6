"""The examples run, and say what their walk-through says."""

import re
import runpy
import shlex
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.remembered import remembered_analyses
from vibhealth.recording import read_recording, read_sidecar

EXAMPLES = Path(__file__).parents[2] / "examples"
RECORDINGS = (*sorted(EXAMPLES.glob("*.flac")), EXAMPLES / "too-short.csv")
SCRIPTS = sorted(EXAMPLES.glob("[0-9]*.py"))
LARGEST_BYTES = 1_000_000
# One step of the file, in m/s^2: 24 bits over 50 g, or the third decimal of the table. What
# another rounding of the last bit could change; a hundredth more for adding up in floats.
STEP_M_S2 = {".flac": 1.01 * 50 * 9.80665 / 2**23, ".csv": 1.01e-3}
COMMANDS = re.findall(
    r"^vibhealth (.*)$", (EXAMPLES / "README.md").read_text("utf-8"), re.MULTILINE
)

SAYS = {
    "01_read_a_recording.py": "P1X: 26 s at 8000 Hz",
    "02_defect_orders.py": "BPFO   7.1188x  116.04 Hz",
    "03_search_one_recording.py": "outer ring       FOUND",
    "04_pass_or_hold.py": "PASS",
    "05_how_small_a_spall.py": "0.05 m/s2: not found",
    "06_read_a_baseline.py": "stroke 6.00 mm, from 3 recordings",
    "07_rebuild_early.py": "Order the spare; plan the rebuild for 24 May 2031",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("examples") / "copy"
    shutil.copytree(EXAMPLES, place, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(EXAMPLES.parent / "reference_spectra", place.parent / "reference_spectra")
    return place


@pytest.mark.parametrize("line", COMMANDS)
def test_the_walk_through(
    run: Callable[..., Any], folder: Path, monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    monkeypatch.chdir(folder)
    command, _, remark = line.partition("#")
    expected = int(remark.split("exit")[1]) if "exit" in remark else 0
    ended = run(*shlex.split(command))
    assert ended.code == expected, ended.out + ended.err
    assert "Traceback" not in ended.err
    if command.startswith("accept F3-2031"):
        assert ended.out.startswith("HOLD - MEASURE AGAIN")
    elif command.startswith("accept"):
        assert ended.out.startswith("HOLD - FIX" if expected else "PASS")
        assert ("outer ring" in ended.out.splitlines()[0]) is bool(expected)


def test_the_walk_through_shows_every_kind_of_use() -> None:
    assert {line.split()[0] for line in COMMANDS} == {
        "card", "plan", "inspect", "job", "accept", "frequencies", "analyze", "simulate",
        "compare", "baseline", "history", "outlook",
    }  # fmt: skip


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda script: str(script.name))
def test_scripts_run(
    script: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", [str(script)])
    with remembered_analyses():
        runpy.run_path(str(script), run_name="__main__")
    assert SAYS[script.name] in capsys.readouterr().out


def test_every_script_and_file_stands_in_the_walk_through() -> None:
    readme = (EXAMPLES / "README.md").read_text("utf-8")
    assert set(SAYS) == {script.name for script in SCRIPTS}
    for path in (*RECORDINGS, *SCRIPTS):
        assert f"`{path.name}`" in readme


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: str(path.name))
def test_recordings_are_small_and_say_that_they_are_invented(path: Path) -> None:
    assert path.stat().st_size <= LARGEST_BYTES
    sidecar = read_sidecar(path)
    assert sidecar is not None
    assert sidecar.common["remarks"].startswith("INVENTED by simulation")


def test_the_recordings_are_what_the_script_makes(tmp_path: Path) -> None:
    made = runpy.run_path(str(EXAMPLES / "make_recordings.py"))
    made["make"](tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {
        path.with_suffix(suffix).name for path in RECORDINGS for suffix in (path.suffix, ".toml")
    }
    for path in RECORDINGS:
        (kept,), (again,) = (read_recording(place) for place in (path, tmp_path / path.name))
        assert abs(kept.samples - again.samples).max() <= STEP_M_S2[path.suffix]
