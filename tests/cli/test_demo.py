"""The demo: the whole job on an invented machine, shorter than its default."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from vibhealth.card import card_template
from vibhealth.cli._demo_job import STAGES, demo_card

SECONDS = 26  # 422 turns: above the 400 that are judged


def test_the_card_is_the_template_with_a_lower_band() -> None:
    template, card = card_template().splitlines(), demo_card().splitlines()
    assert len(template) == len(card)
    changed = [new for old, new in zip(template, card, strict=True) if old != new]
    assert [line.partition("#")[0].strip() for line in changed] == [
        "bearing_band_hz = [1000.0, 5000.0]"
    ]


def test_demo_passes_the_clean_rebuild_and_holds_the_other(
    run: Callable[..., Any], tmp_path: Path
) -> None:
    folder = tmp_path / "new" / "demo"
    ended = run("demo", folder, "--seconds", SECONDS)
    assert ended.code == 0, ended.err
    lines = ended.out.splitlines()
    assert "INVENTED" in lines[0]
    verdicts = {name: line for line in lines for name in STAGES if line.startswith(f"{name}: ")}
    assert verdicts["as-left-clean"].startswith("as-left-clean: PASS")
    assert verdicts["as-left-faulty"].startswith("as-left-faulty: HOLD - FIX")
    assert "outer ring" in verdicts["as-left-faulty"]
    for report in ("report-clean", "report-faulty"):
        assert str(folder / report / "report.html") in lines[-1]
        assert (folder / report / "report.html").is_file()
        assert list((folder / report / "figures").glob("*.png"))
    document = json.loads((folder / "report-faulty" / "report.json").read_text("utf-8"))
    assert document["hold"] == "fix"
    for stage in STAGES:
        assert "INVENTED" in (folder / stage / "steady.toml").read_text("utf-8")
    again = run("demo", folder, "--seconds", SECONDS)
    assert again.code == 2
    assert "F3.toml exists already" in again.err
