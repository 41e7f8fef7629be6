"""A small invented job on disk, made once, and a way to run the command line in-process."""

import io
import os
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

# Before numpy is loaded: on a busy machine the threads of its algebra wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest

from tests.remembered import remembered_analyses
from vibhealth.card import card_template
from vibhealth.cli import main

# 26 s at 978 r/min are 422 turns: above the 400 that are judged.
SECONDS, RATE_HZ = "26", "8000"


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str


Run = Callable[..., Ended]


@pytest.fixture(autouse=True)
def elsewhere(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test may see, or write into, the baselines of the folder that the tests are run from."""
    monkeypatch.chdir(tmp_path_factory.mktemp("working-folder"))


@pytest.fixture(autouse=True)
def small_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Figures of a third of the size, not laid out: these tests ask which there are, not how fine."""
    monkeypatch.setattr("vibhealth.report._style.PNG_DPI", 43)
    monkeypatch.setattr("vibhealth.report._style.LAYOUT", None)


@pytest.fixture(scope="session")
def run() -> Run:
    def run_command(*arguments: object) -> Ended:
        out, err = io.StringIO(), io.StringIO()
        with (
            remembered_analyses(),
            redirect_stdout(out),
            redirect_stderr(err),
            pytest.raises(SystemExit) as end,
        ):
            main([str(argument) for argument in arguments])
        assert isinstance(end.value.code, int)
        return Ended(code=int(end.value.code), out=out.getvalue(), err=err.getvalue())

    return run_command


@dataclass(frozen=True)
class Job:
    """Card and recordings of the invented feeder; two points in each recording."""

    folder: Path
    card: Path
    found: Path
    clean: Path
    faulty: Path


@pytest.fixture(scope="session")
def job(run: Run, tmp_path_factory: pytest.TempPathFactory) -> Job:
    folder = tmp_path_factory.mktemp("job")
    card = folder / "F3.toml"
    # A band that the low rate can hold: what costs time in a test is the rate.
    text = card_template()
    assert "bearing_band_hz = [1000.0, 10000.0]" in text
    card.write_text(text.replace("[1000.0, 10000.0]", "[1000.0, 3900.0]"), "utf-8")
    made = {}
    for name, seed, day, state in (
        ("found", 1, 3, ("--element", "outer-ring", "--impact-m-s2", "3")),
        ("clean", 2, 5, ("--clean",)),
        ("faulty", 3, 5, ("--element", "outer-ring", "--impact-m-s2", "1")),
    ):
        made[name] = folder / f"{name}.wav"
        common = ("--card", card, "--seconds", SECONDS, "--rate", RATE_HZ, "--seed", seed)
        facts = ("--start-time", f"2031-03-0{day}T08:00:00", "--temperature-c", "50")
        ended = run("simulate", made[name], *common, *state, *facts, "--load", "empty")
        assert ended.code == 0, ended.err
    return Job(folder=folder, card=card, **made)


@dataclass(frozen=True)
class Accepted:
    """The outcome of accept for both rebuilds, with the folder of the second report."""

    clean: Ended
    faulty: Ended
    report: Path


@pytest.fixture(scope="session")
def accepted(run: Run, job: Job) -> Accepted:
    report = job.folder / "report"
    common = ("accept", "--card", job.card, "--point", "P1X")
    return Accepted(
        clean=run(*common, "--before", job.found, "--after", job.clean),
        faulty=run(*common, "--after", job.faulty, "--json", "--output", report),
        report=report,
    )
