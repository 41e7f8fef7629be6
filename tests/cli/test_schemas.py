"""What ``plan`` and ``job status`` print as JSON keeps its schema, and any damage breaks it."""

import copy
import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from vibhealth.card import card_template, read_card
from vibhealth.job import Phase, filled_record
from vibhealth.report import schema

Run = Callable[..., Any]
Place = tuple[str | int, ...]
# An ordinary machine: no exciter, no bearing, a sensor of which nothing but its name is known.
ORDINARY = """schema_version = 1
machine = { id = "M1", nominal_speed_rpm = 1500.0 }
[[sensor]]
name = "A1"
[[point]]
name = "P1"
direction = "radial"
sensor = "A1"
"""


@pytest.fixture(scope="module")
def plan(run: Run, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Plan of deck feeder F3."""
    return planned(run, tmp_path_factory.mktemp("plan"), card_template())


@pytest.fixture(scope="module")
def folder(run: Run, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new job of deck feeder F3."""
    place = tmp_path_factory.mktemp("status")
    (place / "F3.toml").write_text(card_template(), "utf-8")
    assert run("job", "new", place / "F3.toml", place / "job").code == 0
    return place / "job"


@pytest.fixture(scope="module")
def fresh(run: Run, folder: Path) -> dict[str, Any]:
    """Status of a job of which nothing is done."""
    return standing(run, folder)


@pytest.fixture(scope="module")
def status(run: Run, folder: Path, fresh: dict[str, Any]) -> dict[str, Any]:
    """Status of the same job, started, two answers no, a file right below as-left."""
    assert fresh["checks"] == []
    text = filled_record(
        read_card(folder / "F3.toml"),
        by="B",
        at=datetime(2031, 3, 5, 12, tzinfo=UTC),
        until=Phase.START,
        no={"no-knock": "clang", "isolators-level": ""},
    )
    (folder / "job.toml").write_text(text, "utf-8")
    (folder / "as-left" / "p1.wav").write_bytes(b"")
    return standing(run, folder)


def planned(run: Run, place: Path, card: str) -> dict[str, Any]:
    (place / "card.toml").write_text(card, "utf-8")
    return printed(run("plan", place / "card.toml", "--json"))


def standing(run: Run, folder: Path) -> dict[str, Any]:
    return printed(run("job", "status", folder, "--json"))


def printed(ended: Any) -> dict[str, Any]:
    assert (ended.code, ended.err) == (0, "")
    document: dict[str, Any] = json.loads(ended.out)
    return document


def is_valid(document: object, name: str) -> bool:
    return jsonschema.Draft202012Validator(schema(name)).is_valid(document)


def objects(value: Any, place: Place = ()) -> Iterator[Place]:
    """Places of all objects in a document, the whole first."""
    if isinstance(value, dict):
        yield place
    if isinstance(value, dict | list):
        for key, item in value.items() if isinstance(value, dict) else enumerate(value):
            yield from objects(item, (*place, key))


def at(document: Any, place: Place) -> Any:
    for step in place:
        document = document[step]
    return document


def test_a_plan_keeps_its_schema(run: Run, plan: dict[str, Any], tmp_path: Path) -> None:
    jsonschema.validate(plan, schema("plan"))
    ordinary = planned(run, tmp_path, ORDINARY)
    jsonschema.validate(ordinary, schema("plan"))
    known = {key for key, value in ordinary["sensors"][0].items() if value is not None}
    assert (ordinary["swing"], known) == (None, {"name"})


def test_a_status_keeps_its_schema(fresh: dict[str, Any], status: dict[str, Any]) -> None:
    jsonschema.validate(fresh, schema("job-status"))
    assert list(fresh["open"]) == sorted(Phase)
    jsonschema.validate(status, schema("job-status"))
    assert {no["means"] for no in status["answered_no"]} == {"stop-now", "fix"}
    assert status["recordings"]["as-left"] == 1
    assert len(status["checks"]) == 4


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("schema_version",), 2),
        (("card_sha256",), "abc"),
        (("nominal_speed_rpm",), "978"),
        (("nominal_speed_rpm",), 0),
        (("settings", "seconds"), 70.5),
        (("settings", "bearing_band_hz"), [1000.0]),
        (("points",), []),
        (("points", 0, "mounted_on"), "wall"),
        (("points", 0, "sitting"), 0),
        (("sensors", 0, "mount"), "tape"),
        (("sensors", 0, "usable_hz"), 1.0),
        (("swing", "low_mm"), None),
        (("steps", 0, "recordings"), -1),
        (("steps", 0, "folder"), None),
        (("bearings", 0, "rows", 0, "element"), "ball"),
        (("bearings", 0, "rows", 0, "side_bands", 0, "strength"), "faint"),
        (("write_down", 0, "needed_for_decision"), "yes"),
        (("cautions",), []),
    ],
)
def test_a_damaged_plan_is_refused(plan: dict[str, Any], path: Place, value: object) -> None:
    refuse_damage(plan, "plan", path, value)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("schema_version",), "1"),
        (("open_count",), 1.5),
        (("open", "1h"), []),
        (("answered_no", 0, "means"), "hold"),
        (("answered_no", 0, "at"), "yesterday"),
        (("recordings", "as-found"), -1),
        (("checks", 0, "moment"), "run-up"),
        (("checks", 0, "due"), "2031-03-05"),
        (("checks", 0, "overdue_h"), None),
        (("checks", 0, "done"), 1),
        (("next",), []),
    ],
)
def test_a_damaged_status_is_refused(status: dict[str, Any], path: Place, value: object) -> None:
    refuse_damage(status, "job-status", path, value)


def refuse_damage(document: dict[str, Any], name: str, path: Place, value: object) -> None:
    altered = copy.deepcopy(document)
    assert is_valid(altered, name)
    assert at(altered, path) != value
    at(altered, path[:-1])[path[-1]] = value
    assert not is_valid(altered, name)


@pytest.mark.parametrize("name", ["plan", "job-status"])
def test_no_key_may_be_missing_and_none_may_be_added(
    name: str, plan: dict[str, Any], status: dict[str, Any]
) -> None:
    """Of a status, phases with nothing open are left out, and so is a folder without files."""
    document = {"plan": plan, "job-status": status}[name]
    for place in objects(document):
        altered = copy.deepcopy(document)
        at(altered, place)["surprise"] = 1
        assert not is_valid(altered, name), place
        for key in at(document, place):
            altered = copy.deepcopy(document)
            del at(altered, place)[key]
            may_lack = place == ("open",) or (*place, key) == ("recordings", "as-left")
            assert is_valid(altered, name) is may_lack, (*place, key)
