"""JSON with one line for each table that holds no further table."""

import json
from typing import Any

__all__ = ["compact"]


def compact(value: Any, level: int = 0) -> str:
    """JSON text of plain values, tables of tables indented, all others on one line."""
    nested = isinstance(value, dict) and any(
        isinstance(item, dict | list) and item for item in value.values()
    )
    is_share = isinstance(value, dict) and "interval_95" in value
    if not nested or is_share:
        return json.dumps(value)
    pad = " " * (level + 1)
    rows = (f"{pad}{json.dumps(key)}: {compact(item, level + 1)}" for key, item in value.items())
    return "{\n" + ",\n".join(rows) + "\n" + " " * level + "}"
