"""Counts with their exact intervals, and tables of what was named as what."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from scipy import stats

__all__ = ["confusion", "share"]

CONFIDENCE = 0.95


def share(count: int, trials: int) -> dict[str, Any]:
    """Count, rate, and the exact interval of the rate behind it.

    C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413.
    """
    if not 0 <= count <= trials:
        msg = f"count must lie in 0 to {trials}, got {count}"
        raise ValueError(msg)
    if trials == 0:
        return {"count": 0, "trials": 0, "rate": None, "interval_95": None}
    interval = stats.binomtest(count, trials).proportion_ci(CONFIDENCE, method="exact")
    return {
        "count": count,
        "trials": trials,
        "rate": round(count / trials, 5),
        "interval_95": [round(float(interval.low), 5), round(float(interval.high), 5)],
    }


def confusion(pairs: Iterable[tuple[str, str]]) -> dict[str, dict[str, int]]:
    """How often each truth was named as what: rows are truths."""
    rows: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for truth, named in pairs:
        rows[truth][named] += 1
    return {truth: dict(sorted(row.items())) for truth, row in sorted(rows.items())}
