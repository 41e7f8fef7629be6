"""What a row of the limit tables is, and the source that most of them share."""

__all__ = ["PRACTICE", "Rows"]

PRACTICE = "starting value, common practice, no source"

# id, default (None: not applied unless given), unit, allowed range, meaning, source
Rows = tuple[tuple[str, float | None, str, tuple[float, float], str, str], ...]
