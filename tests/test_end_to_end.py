"""From files to the verdict: a small invented machine, judged through the command line.

All recordings are invented by the package's own simulation, so this holds that the parts
work together; it is no proof that the method works on real machines.
"""

import io
import json
import os
import re
from collections.abc import Iterator
from contextlib import chdir, redirect_stderr, redirect_stdout
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

# Before numpy is loaded: on a busy machine the threads of its algebra wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import jsonschema
import pytest

from vibhealth.card import card_template, read_card
from vibhealth.cli import main
from vibhealth.model import Element
from vibhealth.report import schema
from vibhealth.simulate import Defect, Resonance, SimulationSettings, simulate, write_simulated
from vibhealth.units import STANDARD_GRAVITY_M_S2, throw_factor

RATE_HZ, DURATION_S = 8000.0, 26.0  # 422 turns: above the 400 that are judged
STROKE_MM = 9.4  # 5 g at 1x
IMPACT_M_S2 = 0.49  # a hundredth of that motion
OUTER_RING_ORDER = 7.11875  # 17 / 2 (1 - 26 / 160)
SLIP_RANGE = 0.015  # relative; the card's slip_percent


@pytest.fixture(autouse=True, scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Away from the baselines of the folder that the tests are run from."""
    with chdir(tmp_path_factory.mktemp("working-folder")):
        yield


def _card(path: Path, load_case: str = "rotating") -> Path:
    text = card_template()
    for old, new in (
        ("[1000.0, 10000.0]     # Hz, low", "[1000.0, 3900.0]     # Hz, low"),
        ("{ x = 6.0, y = 6.0 }  ", f"{{ x = {STROKE_MM}, y = {STROKE_MM} }}  "),
        ('load_case = "rotating"', f'load_case = "{load_case}"'),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(text, "utf-8")
    return path


def _record(path: Path, card: Path, seed: int, day: int, impact_m_s2: float | None) -> Path:
    settings = SimulationSettings(
        duration_s=DURATION_S,
        sampling_rate_hz=RATE_HZ,
        seed=seed,
        resonances=(Resonance(frequency_hz=2800.0),),
    )
    element = Element.OUTER_RING
    defects = [Defect(element=element, impact_m_s2=impact_m_s2)] if impact_m_s2 else []
    simulated = simulate(read_card(card), defects=defects, settings=settings)
    start_time = datetime(2031, 3, day, 8, 0, tzinfo=UTC)
    facts = {"start_time": start_time, "temperature_c": 50.0, "load": "empty"}
    return write_simulated(path, simulated, sidecar=facts)


def _run(*arguments: object) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as end:
        main([str(argument) for argument in arguments])
    assert isinstance(end.value.code, int)
    return int(end.value.code), out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("job")
    card = _card(place / "F3.toml")
    _record(place / "found.wav", card, seed=11, day=3, impact_m_s2=4.0)
    _record(place / "clean.wav", card, seed=12, day=5, impact_m_s2=None)
    _record(place / "spalled.wav", card, seed=13, day=5, impact_m_s2=IMPACT_M_S2)
    return place


def _accept(folder: Path, after: str, *more: object) -> tuple[int, str, str]:
    card = folder / "F3.toml"
    return _run("accept", "--card", card, "--after", folder / after, "--point", "P1X", *more)


def test_the_defect_is_a_hundredth_of_the_working_motion(folder: Path) -> None:
    card = read_card(folder / "F3.toml")
    motion_g = throw_factor(STROKE_MM, card.machine.nominal_speed_rpm)
    assert motion_g == pytest.approx(5.0, rel=0.01)
    assert IMPACT_M_S2 / STANDARD_GRAVITY_M_S2 / motion_g == pytest.approx(0.01, rel=0.02)


def test_a_clean_rebuild_passes_in_every_format(folder: Path) -> None:
    report = folder / "report"
    before = ("--before", folder / "found.wav")
    code, text, talk = _accept(folder, "clean.wav", *before, "--output", report)
    assert code == 0, text
    assert text.splitlines()[0].startswith("PASS")
    first, second = talk.splitlines()
    assert first == f"The report is {report / 'report.html'}"
    kept = report / "reference_spectra" / "F3" / "P1X" / "candidate-1"
    assert second.startswith(f"Kept as candidate for a reference: {kept}. ")
    document = json.loads((report / "report.json").read_text("utf-8"))
    jsonschema.validate(document, schema("assessment"))
    assert (document["verdict"], document["hold"]) == ("PASS", None)
    left = [entry for entry in document["recordings"] if entry["stage"] == "as-left"]
    assert [entry["point"] for entry in left] == ["P1X"]
    assert not any(family["present"] for family in left[0]["families"])
    assert left[0]["sensitivity"]
    assert document["improvements"]
    html = (report / "report.html").read_text("utf-8")
    assert re.search(r"https?://", html) is None
    assert "INVENTED" in html
    figures = list((report / "figures").iterdir())
    assert figures
    assert html.count("data:image/png;base64,") == len(figures)


def _outer_ring(document: dict[str, Any]) -> dict[str, Any]:
    present = [item for item in document["recordings"][0]["families"] if item["present"]]
    assert [item["element"] for item in present] == ["outer-ring"]
    family: dict[str, Any] = present[0]
    return family


@pytest.fixture(scope="module")
def spalled(folder: Path) -> tuple[int, str, str]:
    """How the acceptance of the spalled one ended."""
    return _accept(folder, "spalled.wav", "--json")


def test_a_small_spall_under_a_large_motion_is_held_and_named(
    spalled: tuple[int, str, str],
) -> None:
    code, text, _ = spalled
    document = json.loads(text)
    jsonschema.validate(document, schema("assessment"))
    assert (code, document["verdict"], document["hold"]) == (3, "HOLD", "fix")
    assert "outer ring" in document["reasons"][0]
    family = _outer_ring(document)
    assert family["order"] == pytest.approx(OUTER_RING_ORDER, rel=SLIP_RANGE)


def test_a_wrong_load_case_does_not_move_the_order(folder: Path, tmp_path: Path) -> None:
    card = _card(tmp_path / "stationary.toml", load_case="stationary")
    spalled = folder / "spalled.wav"
    code, text, _ = _run("accept", "--card", card, "--after", spalled, "--point", "P1X", "--json")
    document = json.loads(text)
    assert (code, document["hold"]) == (3, "fix")
    present = [item for item in document["recordings"][0]["families"] if item["present"]]
    strongest = max(present, key=lambda item: item["depth_whitened"])
    assert strongest["order"] == pytest.approx(OUTER_RING_ORDER, rel=SLIP_RANGE)
    assert strongest["element"] == "outer-ring"


def test_the_same_input_gives_the_same_bytes(folder: Path, spalled: tuple[int, str, str]) -> None:
    assert _accept(folder, "spalled.wav", "--json") == spalled


def test_inputs_are_left_as_they_were(folder: Path) -> None:
    before = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    _run("inspect", folder / "clean.wav", "--card", folder / "F3.toml")
    assert {path: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before
