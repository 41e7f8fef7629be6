"""``vibhealth plan``: to the terminal, to a file, as JSON; refusals in one sentence."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibhealth.card import card_template

Run = Callable[..., Any]


@pytest.fixture
def card(tmp_path: Path) -> Path:
    path = tmp_path / "F3.toml"
    path.write_text(card_template(), encoding="utf-8")
    return path


def test_the_sheet_goes_to_the_terminal(run: Run, card: Path) -> None:
    ended = run("plan", card)
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.startswith("Recording plan: Deck feeder F3 (F3)\n")


def test_json_goes_to_the_terminal(run: Run, card: Path) -> None:
    ended = run("plan", card, "--json")
    assert ended.code == 0
    facts = json.loads(ended.out)
    assert (facts["machine_id"], facts["card"]) == ("F3", str(card))


@pytest.mark.parametrize(
    ("name", "start"), [("p.txt", "Recording plan"), ("p.html", "<!DOCTYPE html>")]
)
def test_a_file_of_either_kind(run: Run, card: Path, tmp_path: Path, name: str, start: str) -> None:
    target = tmp_path / name
    ended = run("plan", card, "--output", target)
    assert (ended.code, ended.out) == (0, "")
    assert ended.err == f"{target} written\n"
    written = target.read_text("utf-8")
    assert written.startswith(start)
    again = run("plan", card, "--output", target)
    assert again.code == 2
    assert "exists already" in again.err
    assert run("plan", card, "--output", target, "--overwrite").code == 0
    assert target.read_text("utf-8") == written


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--output", "plan.pdf"), "cannot write plan.pdf: a plan is written as .txt or .html"),
        (("--output", "plan"), "cannot write plan: a plan is written as .txt or .html"),
        (("--json", "--output", "plan.txt"), "give either --json or --output, not both"),
        (("--output", "nowhere/plan.txt"), "folder nowhere does not exist"),
    ],
)
def test_refusals(run: Run, card: Path, options: tuple[str, ...], message: str) -> None:
    ended = run("plan", card, *options)
    assert (ended.code, ended.out) == (2, "")
    assert message in ended.err
    assert len(ended.err.splitlines()) == 1


def test_a_card_without_points_is_refused(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "bare.toml"
    path.write_text(
        'schema_version = 1\n[machine]\nid = "F3"\nnominal_speed_rpm = 978.0\n', encoding="utf-8"
    )
    ended = run("plan", path)
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.startswith(f"vibhealth: {path}: a plan needs at least one [[point]]")
    assert len(ended.err.splitlines()) == 1


def test_a_card_that_is_not_there(run: Run, tmp_path: Path) -> None:
    ended = run("plan", tmp_path / "none.toml")
    assert ended.code == 2
    assert "none.toml" in ended.err
