"""The template passes its own check, explains every key, and its comments are true."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from vibhealth.card import LIMIT_DEFINITIONS, MachineCard, card_template, read_card

KEY = re.compile(r"^(?P<off># )?(?P<key>[a-z_0-9]+) = (?P<rest>.*)$")
HEADING = re.compile(r"^\[+(?P<table>[a-z_]+)\]+$")
# Ways that exclude each other: to try the first, the others must go.
EXCLUDES = {
    "orders": ("element_count", "element_diameter_mm", "pitch_diameter_mm", "contact_angle_deg"),
    "sensitivity_mv_per_m_s2": ("sensitivity_mv_per_g",),
    "full_scale_g": ("sensitivity_mv_per_g", "full_scale_v"),
    "unit": ("sensitivity_mv_per_g", "full_scale_v"),
}


def keys_of_template() -> list[tuple[int, str, str, bool]]:
    """(line number, table, key, is commented out) of every key in the template."""
    found, table = [], ""
    for number, line in enumerate(card_template().splitlines()):
        if heading := HEADING.match(line):
            table = heading["table"]
        elif key := KEY.match(line):
            found.append((number, table, key["key"], key["off"] is not None))
    return found


def tables(model: type[BaseModel], name: str = "") -> Iterator[tuple[str, str]]:
    """(table, key) of every field of the models, by their TOML names."""
    for field_name, field in model.model_fields.items():
        key = field.alias or field_name
        inner = table_model(field.annotation)
        if inner is None or key in {"stroke_mm", "orders"}:
            yield name, key
        elif key != "limits":
            yield from tables(inner, key)


def table_model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((model for arg in get_args(annotation) if (model := table_model(arg))), None)


def read(tmp_path: Path, text: str) -> MachineCard:
    path = tmp_path / "template.toml"
    path.write_text(text, "utf-8")
    return read_card(path)


def test_the_template_passes_its_own_check(tmp_path: Path) -> None:
    card = read(tmp_path, card_template())
    assert card.machine.name == "Deck feeder F3"
    assert len(card.rolling_bearings()) == 1


def test_every_field_appears_in_its_table() -> None:
    wanted = {*tables(MachineCard), *(("limits", limit.id) for limit in LIMIT_DEFINITIONS)}
    shown = {(table, key) for _, table, key, _ in keys_of_template()}
    assert wanted == shown
    assert len(wanted) > 80
    inline = card_template()
    for key in ("x", "y", "z"):
        assert re.search(rf"stroke_mm = \{{.*\b{key} = ", inline)
    for key in ("outer_ring", "inner_ring", "cage", "rolling_element"):
        assert re.search(rf"orders = \{{.*\b{key} = ", inline)


def test_every_key_is_explained_beside_it() -> None:
    lines = card_template().splitlines()
    for number, _, key, _ in keys_of_template():
        beside = "   #" in lines[number] or " # " in lines[number].removeprefix("# ")
        above = lines[number - 1].startswith("# ")
        assert beside or above, f"{key} has no explanation"


def test_defaults_of_the_limits_are_those_in_force(tmp_path: Path) -> None:
    template = card_template()
    for limit in LIMIT_DEFINITIONS:
        if limit.default is not None:
            shown = re.search(rf"^# {limit.id} = (.+)$", template, flags=re.MULTILINE)
            assert shown is not None
            assert float(shown[1]) == limit.default
    assert not read(tmp_path, template).limit_entries


COMMENTED = [(number, key) for number, _, key, off in keys_of_template() if off]


@pytest.mark.parametrize(("number", "key"), COMMENTED, ids=[key for _, key in COMMENTED])
def test_every_commented_key_works_when_its_mark_is_removed(
    tmp_path: Path, number: int, key: str
) -> None:
    """Removing "# " must give a card that is read, alternatives taken out first."""
    lines = card_template().splitlines()
    lines[number] = lines[number].removeprefix("# ")
    active = [(index, name) for index, _, name, off in keys_of_template() if not off]
    for index, name in active:
        if name == key or name in EXCLUDES.get(key, ()):
            lines[index] = ""
    card = read(tmp_path, "\n".join(lines))
    assert card.machine.id == "F3"
