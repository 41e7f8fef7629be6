"""``accept JOB``: what a tired person gets wrong, one sentence each, and what still is judged."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from vibhealth.report import schema

Run = Callable[..., Any]


@pytest.fixture
def folder(run: Run, job: Any, tmp_path: Path) -> Path:
    """A job just begun, of the invented feeder."""
    place = tmp_path / "F3-2031"
    assert run("job", "new", job.card, place).code == 0
    return place


def refused(ended: Any, *words: str) -> None:
    assert ended.code == 2, ended.out
    assert ended.out == ""
    assert len(ended.err.strip().splitlines()) == 1, ended.err
    for word in words:
        assert word in ended.err


def put(job: Any, folder: Path, *, check: str = "1h", name: str = "clean") -> Path:
    source = job.folder / f"{name}.wav"
    for suffix in (".wav", ".toml"):
        shutil.copyfile(source.with_suffix(suffix), folder / "as-left" / check / f"{name}{suffix}")
    return folder / "as-left" / check / f"{name}.wav"


def test_a_job_just_begun_is_a_hold_that_says_what_is_missing(run: Run, folder: Path) -> None:
    ended = run("accept", folder, "--json")
    assert ended.code == 3
    document = json.loads(ended.out)
    jsonschema.validate(document, schema("assessment"))
    assert document["hold"] == "measure-again"
    assert document["job"]["check"] is None
    text = " ".join(document["reasons"])
    assert "NOT CHECKED" in text
    assert "There is no recording of the running machine" in text
    assert "The start was not recorded" in text


def test_a_half_filled_job_judges_what_is_there(run: Run, job: Any, folder: Path) -> None:
    put(job, folder)
    document = json.loads(run("accept", folder, "--json").out)
    by_id = {item["id"]: item for item in document["criteria"]}
    assert by_id["stroke-P1X"]["result"] == "pass"
    assert by_id["family-upper-outer-ring"]["result"] == "pass"
    assert by_id["recording-count"]["result"] == "hold"
    assert document["job"]["check"] == "1h"
    assert {item["moment"] for item in document["recordings"]} == {"1h"}


def test_no_such_job(run: Run, tmp_path: Path) -> None:
    refused(run("accept", tmp_path / "nothing"), "no such job", "vibhealth job new")


def test_neither_job_nor_card(run: Run, job: Any) -> None:
    refused(run("accept", "--after", job.clean), "give a job folder", "--card")


@pytest.mark.parametrize("option", ["--card", "--after", "--point"])
def test_a_job_brings_its_own_card_and_recordings(
    run: Run, job: Any, folder: Path, option: str
) -> None:
    given = {"--card": job.card, "--after": job.clean, "--point": "P1X"}[option]
    refused(run("accept", folder, option, given), option, "does not go with a job folder")


def test_an_unknown_check(run: Run, folder: Path) -> None:
    (folder / "as-left" / "2h").mkdir()
    refused(run("accept", folder), "as-left/2h", "no folder of a job", "1h")


def test_a_recording_of_a_point_that_the_card_lacks(run: Run, job: Any, folder: Path) -> None:
    sidecar = put(job, folder).with_suffix(".toml")
    sidecar.write_text(sidecar.read_text("utf-8").replace('"P1', '"P9'), "utf-8")
    refused(run("accept", folder), "P9X")


def test_a_torque_in_the_wrong_unit(run: Run, folder: Path) -> None:
    record = folder / "job.toml"
    text = record.read_text("utf-8")
    row = "[" + ", ".join(["88.5"] * 12) + "]"  # 120 N m, read off the other scale
    assert text.count("stages = [\n  [],") == 1
    record.write_text(text.replace("stages = [\n  [],", f"stages = [\n  {row},"), "utf-8")
    refused(run("accept", folder), "job.toml", "ft lb")


def test_times_that_contradict_each_other(run: Run, folder: Path) -> None:
    record = folder / "job.toml"
    text = record.read_text("utf-8")
    for key, day in (("rebuild_finished", 5), ("machine_started", 4)):
        text = text.replace(f'{key} = ""', f"{key} = 2031-03-0{day}T10:00:00+01:00", 1)
    record.write_text(text, "utf-8")
    refused(run("accept", folder), "job.toml", "rebuild_finished")


def test_temperatures_out_of_order(run: Run, folder: Path) -> None:
    record = folder / "job.toml"
    rows = "".join(
        f"\n[[temperature]]\nat = 2031-03-05T{hour}:00:00+01:00\nhousing_c = 40.0\n"
        for hour in (11, 10)
    )
    record.write_text(record.read_text("utf-8") + rows, "utf-8")
    refused(run("accept", folder), "job.toml", "temperature")


def test_the_same_recording_in_two_checks(run: Run, job: Any, folder: Path) -> None:
    put(job, folder, check="1h")
    put(job, folder, check="8h")
    document = json.loads(run("accept", folder, "--json").out)
    by_id = {item["id"]: item for item in document["criteria"]}
    assert by_id["recording-recorded-once"]["result"] == "hold"


def test_an_override_is_in_the_report(run: Run, folder: Path) -> None:
    record = folder / "job.toml"
    table = '[override]\nby = "B. Engineer"\nreason = "spare arrives tonight"\n'
    record.write_text(f"{record.read_text('utf-8')}\n{table}", "utf-8")
    ended = run("accept", folder)
    assert ended.code == 3
    assert "Overridden by B. Engineer: spare arrives tonight" in " ".join(ended.out.split())
