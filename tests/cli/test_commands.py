"""What each command prints and writes."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from vibhealth.cli._run import expand_lists
from vibhealth.report import schema


def test_accept_prints_the_verdict_first_and_talks_on_stderr(accepted: Any, job: Any) -> None:
    assert accepted.clean.out.startswith("PASS")
    assert accepted.clean.err == ""
    assert accepted.faulty.err == f"The report is {job.folder / 'report' / 'report.html'}\n"


def test_accept_json_keeps_the_contract(accepted: Any) -> None:
    document = json.loads(accepted.faulty.out)
    jsonschema.validate(document, schema("assessment"))
    assert (document["verdict"], document["hold"]) == ("HOLD", "fix")
    assert json.loads((accepted.report / "report.json").read_text("utf-8")) == document
    assert {entry["point"] for entry in document["recordings"]} == {"P1X"}


def test_accept_writes_html_and_figures(accepted: Any) -> None:
    html = (accepted.report / "report.html").read_text("utf-8")
    assert "outer ring" in html
    figures = sorted((accepted.report / "figures").glob("*.png"))
    assert len(figures) >= 3
    assert all(figure.read_bytes().startswith(b"\x89PNG") for figure in figures)


def test_lists_of_files_may_follow_one_option() -> None:
    given = ["accept", "--after", "a", "b", "c", "--before", "d", "--json"]
    assert expand_lists(given) == [
        "accept", "--after", "a", "--after", "b", "--after", "c", "--before", "d", "--json",
    ]  # fmt: skip
    assert expand_lists(["inspect", "a", "b"]) == ["inspect", "a", "b"]


def test_inspect_says_usable(run: Callable[..., Any], job: Any) -> None:
    ended = run("inspect", job.clean, "--card", job.card)
    assert ended.code == 0
    assert ended.out.startswith("USABLE.")
    assert "RECORDING P1X" in ended.out


def test_inspect_says_record_again_and_why(
    run: Callable[..., Any], job: Any, tmp_path: Path
) -> None:
    short = tmp_path / "short.wav"
    made = ("--card", job.card, "--clean", "--seconds", 4, "--rate", 8000)
    assert run("simulate", short, *made).code == 0
    ended = run("inspect", short, "--card", job.card, "--json")
    assert ended.code == 3
    document = json.loads(ended.out)
    assert document["usable"] is False
    assert "turns in 4 s" in document["record_again_because"][0]
    text = run("inspect", short, "--card", job.card)
    first_line = text.out.splitlines()[0]
    assert first_line.startswith("RECORD AGAIN because Only ")
    assert first_line.endswith("Record at least 62 s.")


def test_inspect_compares_several_recordings_of_one_point(
    run: Callable[..., Any], job: Any
) -> None:
    common = ("--card", job.card, "--point", "P1X", "--json")
    ended = run("inspect", job.clean, job.clean, *common)
    assert ended.code == 3
    document = json.loads(ended.out)
    results = {finding["id"]: finding["result"] for finding in document["together"]}
    assert results["recorded-once"] == "hold"
    assert results["fingerprint"] == results["level-course"] == "pass"
    assert [one["usable"] for one in document["recordings"]] == [True, True]
    page = run("inspect", job.found, job.clean, "--card", job.card, "--point", "P1X").out
    assert "Together:" in page


def test_inspect_says_that_axes_are_swapped(
    run: Callable[..., Any], job: Any, tmp_path: Path
) -> None:
    turned = tmp_path / "turned.toml"
    text = job.card.read_text("utf-8")
    assert 'orbit_direction = "counter-clockwise"' in text
    turned.write_text(text.replace('= "counter-clockwise"', '= "clockwise"'), "utf-8")
    ended = run("inspect", job.clean, "--card", turned)
    assert ended.code == 3
    assert "wrong way or axes are swapped" in ended.out.splitlines()[0]


def test_inspect_without_a_card_names_what_it_could_not_check(
    run: Callable[..., Any], job: Any
) -> None:
    ended = run("inspect", job.clean)
    assert ended.code == 0
    assert "Not checked: Long enough" in ended.out


def test_inspect_chooses_point_and_channel(run: Callable[..., Any], job: Any) -> None:
    for choice in (("--point", "P1Y"), ("--channel", "2")):
        document = json.loads(run("inspect", job.clean, "--card", job.card, "--json", *choice).out)
        assert (document["point"], document["channel"]) == ("P1Y", 2)


def test_analyze_prints_json_and_writes_the_folder(
    run: Callable[..., Any], job: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "out"
    arguments = ("--card", job.card, "--json", "--output", folder)
    ended = run("analyze", job.faulty, *arguments)
    assert ended.code == 0
    document = json.loads(ended.out)
    jsonschema.validate(document, schema("recording"))
    outer = next(item for item in document["families"] if item["element"] == "outer-ring")
    assert outer["present"]
    names = {path.name for path in folder.iterdir()}
    assert {"recording.html", "recording.json", "families.csv", "figures"} <= names
    again = run("analyze", job.faulty, *arguments)
    assert (again.code, again.out) == (2, "")


def test_card_check_and_frequencies_speak_of_the_same_orders(
    run: Callable[..., Any], job: Any
) -> None:
    check = json.loads(run("card", "check", job.card, "--json").out)
    table = json.loads(run("frequencies", job.card, "--json").out)
    assert check["bearings"] == table["bearings"]
    # 17 / 2 (1 - 26 / 160), the outer ring's order of the template.
    orders = {row["element"]: row["order"] for row in table["bearings"][0]["elements"]}
    assert orders["outer-ring"] == pytest.approx(7.11875, rel=1e-9)
    assert "BPFO" in run("card", "check", job.card).out


def test_frequencies_from_the_geometry_alone(run: Callable[..., Any]) -> None:
    geometry = ("--elements", 17, "--element-diameter-mm", 26, "--pitch-diameter-mm", 160)
    ended = run("frequencies", *geometry, "--speed-rpm", 60, "--load-case", "rotating", "--json")
    rows = {row["element"]: row for row in json.loads(ended.out)["elements"]}
    assert rows["outer-ring"]["frequency_hz"] == pytest.approx(7.11875, rel=1e-9)
    wide = run("frequencies", *geometry, "--speed-rpm", 60, "--slip-percent", 3, "--json")
    wider = {row["element"]: row for row in json.loads(wide.out)["elements"]}
    assert wider["outer-ring"]["order_low"] < rows["outer-ring"]["order_low"]


def test_slip_given_beside_a_card_wins(run: Callable[..., Any], job: Any) -> None:
    wide = json.loads(run("frequencies", job.card, "--slip-percent", 4, "--json").out)
    assert wide["slip_percent"] == 4


def test_simulate_is_the_same_each_time_and_says_invented(
    run: Callable[..., Any], job: Any, tmp_path: Path
) -> None:
    made = ("--card", job.card, "--clean", "--seconds", 1, "--rate", 8000)
    for name in ("a.flac", "b.flac"):
        ended = run("simulate", tmp_path / name, *made)
        assert ended.code == 0
        assert "INVENTED" in ended.err
    assert (tmp_path / "a.flac").read_bytes() == (tmp_path / "b.flac").read_bytes()
    assert "INVENTED by simulation" in (tmp_path / "a.toml").read_text("utf-8")
    assert run("simulate", tmp_path / "c.flac", *made, "--seed", 2).code == 0
    assert (tmp_path / "a.flac").read_bytes() != (tmp_path / "c.flac").read_bytes()
