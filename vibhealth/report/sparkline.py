"""A course in one line of text."""

import math
from collections.abc import Sequence

__all__ = ["sparkline"]

BLOCKS = "▁▂▃▄▅▆▇█"


def sparkline(values: Sequence[float | None], *, width: int = 40) -> str:
    """Values as blocks whose height is the logarithm, from the smallest to the largest.

    Parameters
    ----------
    values : sequence of float or None
        Above 0, in the order of time; None (a reading that was left out) becomes a dot.
    width : int
        The last so many are shown.

    Returns
    -------
    str

    Examples
    --------
    >>> sparkline([1, 2, None, 4, 8])
    '▁▃·▆█'
    """
    shown = list(values)[-width:]
    logs = [math.log(v) for v in shown if v is not None and v > 0]
    if not logs:
        return "·" * len(shown)
    low, span = min(logs), max(logs) - min(logs)
    return "".join(
        "·"
        if v is None or v <= 0
        else BLOCKS[round((math.log(v) - low) / span * 7) if span > 1e-9 else 3]
        for v in shown
    )
