"""What a rebuild changed: the last visits before it against the first after it."""

import math
from collections.abc import Sequence
from itertools import product

import numpy as np

from vibhealth.model import Rebuild, TrendPoint, TrendStep

__all__ = ["trend_steps"]

# Visits on either side: enough for a median, few enough that growth does not blur the step.
N_SIDE = 3


def trend_steps(points: Sequence[TrendPoint], rebuilds: Sequence[Rebuild]) -> tuple[TrendStep, ...]:
    """One step per rebuild, in the order of time.

    Parameters
    ----------
    points : sequence of TrendPoint
        In the order of time; those left out are not compared.
    rebuilds : sequence of Rebuild
        Of the same machine, in any order.

    Returns
    -------
    tuple of TrendStep
        ``ratio`` is the median of all ratios after over before (Hodges and Lehmann, Ann. Math.
        Stat. 34, 1963, 598-611, of the logarithms, from memory). Its interval is their 10 to
        90 % range, from two visits on either side on.
    """
    ordered = sorted(rebuilds, key=lambda rebuild: rebuild.at)
    edges = [None, *(rebuild.at for rebuild in ordered), None]
    used = [p for p in points if not p.left_out_because]
    steps = []
    for place, rebuild in enumerate(ordered, start=1):
        start, end = edges[place - 1], edges[place + 1]
        before = [p.value for p in used if p.at < rebuild.at and (start is None or p.at >= start)]
        after = [p.value for p in used if p.at >= rebuild.at and (end is None or p.at < end)]
        steps.append(_step(rebuild, before[-N_SIDE:], after[:N_SIDE]))
    return tuple(steps)


def _step(rebuild: Rebuild, before: list[float], after: list[float]) -> TrendStep:
    ratios = np.array([math.log(b / a) for a, b in product(before, after)])
    wide = len(before) >= 2 and len(after) >= 2
    return TrendStep(
        at=rebuild.at,
        before=float(np.median(before)) if before else None,
        after=float(np.median(after)) if after else None,
        ratio=float(np.exp(np.median(ratios))) if len(ratios) else None,
        ratio_interval=_range(ratios) if wide else None,
    )


def _range(ratios: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> tuple[float, float]:
    low, high = np.exp(np.quantile(ratios, (0.1, 0.9)))
    return float(low), float(high)
