"""The demo: two whole jobs on an invented machine, shorter than its default."""

import json
from collections.abc import Callable
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import Any

import pytest

from vibhealth.card import card_template
from vibhealth.cli._demo_job import FILLED_IN, JOBS, demo_card
from vibhealth.report import images

SECONDS, TURNS = 9, 140  # 146 turns at 978 r/min
EVERY_SHEET = images._assessment_sheets  # their number costs time; tests/report has them all
LIMIT = f'{{ value = {TURNS}, source = "short recordings of a test" }}'


def short_card() -> str:
    """The demo's card, but 140 turns are enough to be judged: what costs time is the length."""
    text = demo_card()
    assert text.count("\n[limits]\n") == 1
    limits = f"\n[limits]\nminimum_turns = {LIMIT}\nrecommended_turns = {LIMIT}\n"
    return text.replace("\n[limits]\n", limits)


def test_the_card_is_the_template_with_a_lower_band_and_its_examples_filled_in() -> None:
    template, card = card_template().splitlines(), demo_card().splitlines()
    assert len(template) == len(card)
    changed = [pair for pair in zip(template, card, strict=True) if pair[0] != pair[1]]
    filled = [new for old, new in changed if old == f"# {new}"]
    assert [line.split(" = ")[0] for line in filled] == list(FILLED_IN)
    (band,) = [new for old, new in changed if old != f"# {new}"]
    assert band.partition("#")[0].strip() == "bearing_band_hz = [1000.0, 5000.0]"


def test_demo_passes_the_good_rebuild_and_holds_the_bad_one(
    run: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_module("vibhealth.cli.demo"), "demo_card", short_card)
    monkeypatch.setattr(images, "_assessment_sheets", lambda *a: islice(EVERY_SHEET(*a), 2))
    folder = tmp_path / "new" / "demo"
    ended = run("demo", folder, "--seconds", SECONDS)
    assert ended.code == 0, ended.err
    lines = ended.out.splitlines()
    assert "INVENTED" in lines[0]
    verdicts = {name: line for line in lines for name in JOBS if line.startswith(f"{name}: ")}
    assert verdicts["job-good"].startswith("job-good: PASS")
    assert verdicts["job-bad"].startswith("job-bad: HOLD - FIX")
    assert "outer ring" in verdicts["job-bad"] or "inner ring" in verdicts["job-bad"]
    assert (
        "Four weeks before the rebuild: Early sign: order the spare; plan the rebuild" in ended.out
    )
    assert (folder / "outlook" / "outlook.html").is_file()
    for name in JOBS:
        report = folder / name / "report"
        assert f"  Report: {report / 'report.html'}" in lines
        assert (report / "report.html").is_file()
        assert list((report / "figures").glob("*.png"))
        assert (folder / name / "job.toml").read_text("utf-8").startswith("# INVENTED")
        for sidecar in (folder / name).glob("as-*/**/*.toml"):
            assert "INVENTED" in sidecar.read_text("utf-8")
    document = json.loads((folder / "job-bad" / "report" / "report.json").read_text("utf-8"))
    assert document["hold"] == "fix"
    assert document["job"]["check"] == "1h"
    assert {"lowering", "storage"} & {item["step"] for item in document["next"]["checks"]}
    assert {item["moment"] for item in document["starts_and_stops"]} == {"run-up", "coast-down"}
    status = run("job", "status", folder / "job-good")
    assert status.code == 0
    again = run("demo", folder, "--seconds", SECONDS)
    assert again.code == 2
    assert "F3.toml exists already" in again.err
