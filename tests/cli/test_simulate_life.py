"""``vibhealth simulate --until-failure``: a folder of recordings, and the truth."""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibhealth.card import card_template
from vibhealth.recording import read_recording

Run = Callable[..., Any]


@pytest.fixture
def made(tmp_path: Path) -> tuple[object, ...]:
    card = tmp_path / "F3.toml"
    card.write_text(card_template(), "utf-8")
    quick = ("--seconds", 1, "--rate", 8000)
    return ("--card", card, "--element", "outer-ring", *quick)


def test_recordings_sidecars_and_truth_agree(
    run: Run, made: tuple[object, ...], tmp_path: Path
) -> None:
    life = ("--until-failure", 5, "--interval-days", 3, "--start-time", "2031-02-01T06:00:00")
    ended = run("simulate", tmp_path / "life", *made, *life)
    assert ended.code == 0
    assert "5 INVENTED recordings" in ended.err
    paths = sorted((tmp_path / "life").glob("*.wav"))
    assert [path.name for path in paths] == [f"F3-00{n}.wav" for n in range(1, 6)]
    rows = list(csv.DictReader((tmp_path / "life/truth.csv").read_text("utf-8").splitlines()))
    assert [row["index"] for row in rows] == list("12345")
    assert [row["damaged"] for row in rows] == ["no"] * 2 + ["yes"] * 3
    assert {row["origin"] for row in rows} == {"INVENTED"}
    assert float(rows[-1]["impact_m_s2"]) == pytest.approx(20.0, rel=0.5)
    assert rows[1]["recorded_at"] == "2031-02-04T06:00:00+00:00"
    for path, row in zip(paths, rows, strict=True):
        recording = read_recording(path)[0]
        assert recording.start_time is not None
        assert recording.start_time.isoformat() == row["recorded_at"]
        assert recording.running_hours_h == float(row["running_hours_h"])
        assert recording.temperature_c == pytest.approx(48.0, abs=3.0)
        said = dict(recording.remarks)
        assert said["load"] == "empty"
        assert "INVENTED" in said["remarks"]
        assert recording.duration_s == 1.0
    assert run("simulate", tmp_path / "life", *made, *life).code == 2  # nothing is replaced


def test_facts_and_form_hold_for_all(run: Run, made: tuple[object, ...], tmp_path: Path) -> None:
    given = ("--until-failure", 3, "--form", "flac", "--temperature-c", 60, "--load", "loaded")
    size = ("--impact-m-s2", 5, "--full-scale-g", 100)
    assert run("simulate", tmp_path / "life", *made, *given, *size).code == 0
    paths = sorted((tmp_path / "life").glob("*.flac"))
    assert len(paths) == 3
    read = [read_recording(path)[0] for path in paths]
    assert {item.temperature_c for item in read} == {60.0}
    assert {dict(item.remarks)["load"] for item in read} == {"loaded"}
    last = (tmp_path / "life/truth.csv").read_text("utf-8").splitlines()[-1]
    assert float(last.split(",")[3]) == pytest.approx(5.0, rel=0.5)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--until-failure", 5, "--clean"), "--clean cannot be given with --until-failure"),
        (("--until-failure", 5, "--start", 2), "--start cannot be given with --until-failure"),
        (("--until-failure", 5, "--stop", 2), "--stop cannot be given with --until-failure"),
        (("--until-failure", 5, "--fault", "too-dry"), "--fault cannot be given with"),
        (("--until-failure", 2), "n_recordings must lie between 3 and 999, got 2"),
        (("--interval-days", 7), "--interval-days needs --until-failure"),
        (("--until-failure", 5, "--seconds", 0), "duration_s must lie in"),
    ],
)
def test_what_does_not_fit_a_life_is_refused_before_anything_is_written(
    run: Run, made: tuple[object, ...], tmp_path: Path, options: tuple[object, ...], words: str
) -> None:
    ended = run("simulate", tmp_path / "life", *made, *options)
    assert ended.code == 2
    assert words in ended.err
    assert ended.err.count("\n") == 1
    assert not (tmp_path / "life").exists()
