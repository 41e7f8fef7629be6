"""SHA-256 of an entry's content, by which a changed row is found out."""

import hashlib
import json
from collections.abc import Sequence

__all__ = ["Cell", "content_digest", "seal_of"]

Cell = str | int | float | None


def content_digest(
    table: str,
    machine: str,
    row: Sequence[Cell],
    children: Sequence[Sequence[Sequence[Cell]]] = (),
) -> str:
    """Digest (64 hexadecimal digits) of one row and of the rows that are part of it.

    Parameters
    ----------
    table, machine : str
        Where the row belongs.
    row : sequence of str, int, float or None
        As stored, in the order of `vibhealth.store.schema.COLUMNS`.
    children : sequence of tables of rows
        In the order of `vibhealth.store.schema.CHILDREN`.

    Examples
    --------
    >>> content_digest("rebuild", "screen 1", ["a", 1.0])[:12]
    '818b8e1dd064'
    """
    canonical = json.dumps([table, machine, row, children], separators=(",", ":"))
    return hashlib.sha256(canonical.encode("ascii")).hexdigest()


def seal_of(digest: str, added_at: str) -> str:
    """Digest of content and time of adding together.

    >>> seal_of("a", "b") == seal_of("a", "c")
    False
    """
    return hashlib.sha256(f"{digest} {added_at}".encode()).hexdigest()
