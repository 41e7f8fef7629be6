"""Validation errors in the words of the card: key, rule, value found."""

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from vibhealth.card._types import Faults, Location, place
from vibhealth.card._words import nearest
from vibhealth.card.machine_card import MachineCard

__all__ = ["fault_lines", "found_text"]

RULES = {
    "missing": "is required",
    "string_type": "must be text in quotes",
    "string_too_short": "must not be empty",
    "string_too_long": "must have at most {max_length} characters",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "finite_number": "must be a finite number",
    "greater_than": "must be above {gt:g}",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than": "must be below {lt:g}",
    "less_than_equal": "must be at most {le:g}",
    "literal_error": "must be {expected}",
    "enum": "must be {expected}",
    "tuple_type": "must be a list in square brackets",
    "list_type": "must be a list in square brackets",
    "too_short": "must have at least {min_length} entries",
    "too_long": "must have at most {max_length} entries",
    "model_type": "must be a table of keys",
    "dict_type": "must be a table of keys",
    "datetime_type": "must be a date with a time, without quotes, such as 2031-03-05T13:00:00+01:00",
}
NOTHING = "nothing"
LONGEST_FOUND = 60


def fault_lines(
    error: ValidationError,
    table: Mapping[str, Any],
    *,
    model: type[BaseModel] = MachineCard,
) -> list[str]:
    """One sentence per fault: key, rule, value found.

    Parameters
    ----------
    error : ValidationError
        Of ``model``.
    table : mapping
        The file as parsed, to name the rows that the faults are in.
    model : type of BaseModel, optional
        What the table was to become; names the known keys.

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    for details in error.errors():
        broken = details.get("ctx", {}).get("error")
        if isinstance(broken, Faults):
            lines += [
                _line((*details["loc"], *where), rule, found_text(value), table)
                for where, rule, value in broken.faults
            ]
        else:
            lines.append(_single(details, table, model))
    return lines


def _single(details: ErrorDetails, table: Mapping[str, Any], model: type[BaseModel]) -> str:
    kind, location = details["type"], details["loc"]
    found = NOTHING if kind == "missing" else found_text(details["input"])
    if kind == "extra_forbidden":
        rule = f"is not a known key{nearest(str(location[-1]), _known_keys(location[:-1], model))}"
    elif kind == "value_error":
        rule = str(details["ctx"]["error"])
    elif kind in RULES:
        rule = RULES[kind].format(**details.get("ctx", {}))
    else:
        rule = details["msg"]
    return _line(location, rule, found, table)


def _line(location: Location, rule: str, found: str, table: Mapping[str, Any]) -> str:
    name = _row_name(location, table)
    if location[:1] == ("limits",) and location[2:] == ("value",):
        entry = table["limits"][location[1]]
        location = location if isinstance(entry, dict) else location[:2]  # a bare number
    return f"{place(location)}{name}: {rule}, found {found}"


def _row_name(location: Location, table: Mapping[str, Any]) -> str:
    """`` ("upper")`` for a fault inside a named row of a list of tables."""
    if len(location) < 2 or not isinstance(location[1], int):
        return ""
    rows = table.get(str(location[0]))
    row = rows[location[1]] if isinstance(rows, list) and location[1] < len(rows) else None
    name = row.get("name") if isinstance(row, dict) else None
    return f' ("{name}")' if isinstance(name, str) and location[2:] != ("name",) else ""


def found_text(value: object) -> str:
    """The value found, as a message shows it: quoted text, cut where long.

    Parameters
    ----------
    value : object
        As parsed from the file.

    Returns
    -------
    str

    Examples
    --------
    >>> found_text("dry"), found_text(None), found_text(True)
    ('"dry"', 'nothing', 'true')
    """
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, datetime | date | time):
        return f"the date or time {value.isoformat()}"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_FOUND else f"{text[:LONGEST_FOUND]}..."


def _known_keys(location: Location, model: type[BaseModel]) -> list[str]:
    """Keys allowed in the table at this location."""
    for step in location:
        if isinstance(step, int):
            continue
        fields = {field.alias or name: field for name, field in model.model_fields.items()}
        if step not in fields:
            break
        model = _table_model(fields[step].annotation) or model
    return [field.alias or name for name, field in model.model_fields.items()]


def _table_model(annotation: Any) -> type[BaseModel] | None:
    """The model inside ``X``, ``X | None``, ``tuple[X, ...]`` or ``dict[str, X]``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in get_args(annotation):
        if (model := _table_model(inner)) is not None:
            return model
    return None
