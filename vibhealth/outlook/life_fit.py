"""Slope and scale of how long units last, from lives that ended and lives that went on."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from vibhealth.errors import InputError
from vibhealth.outlook.life_distribution import LifeDistribution

__all__ = ["LEAST_FAILURES", "LifeFit", "fit_lives"]

LEAST_FAILURES = 3
# 80 % quantile of chi-square with one degree of freedom, halved: drop of the log likelihood.
DROP_80 = 1.6424 / 2
LOWEST_SLOPE, HIGHEST_SLOPE = 0.05, 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeFit:
    """A fitted distribution with 80 % intervals, or why there is none."""

    life: LifeDistribution | None
    slope_interval: tuple[float, float] | None
    scale_interval_h: tuple[float, float] | None
    n_failed: int
    n_running_on: int
    reason: str = ""


def fit_lives(failed_h: Sequence[float], running_on_h: Sequence[float] = ()) -> LifeFit:
    """Maximum likelihood with right censoring, intervals by the profile of the likelihood.

    Parameters
    ----------
    failed_h : sequence of float
        Lives in hours that ended in a failure, above 0.
    running_on_h : sequence of float
        Ages of units that had not failed when they were taken out, or still run; above 0.

    Returns
    -------
    LifeFit
        Without a distribution where fewer than three failed, or all failed at one age.

    Raises
    ------
    InputError
        If a life is not a number above 0.

    Notes
    -----
    J. F. Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed., 2003, ch. 5 (from
    memory): slope from sum(t^b ln t)/sum(t^b) - 1/b = mean(ln t of the failed), scale from
    sum(t^b)/n_failed.
    """
    failed, on = np.asarray(failed_h, dtype=float), np.asarray(running_on_h, dtype=float)
    every = np.concatenate([failed, on])
    bad = every[~(np.isfinite(every) & (every > 0))]
    if len(bad):
        msg = f"a life must be a number of hours above 0, got {bad[0]:g} among them"
        raise InputError(msg)
    reason = _too_little(failed)
    if reason:
        return LifeFit(
            life=None,
            slope_interval=None,
            scale_interval_h=None,
            n_failed=len(failed),
            n_running_on=len(on),
            reason=reason,
        )
    unit = float(np.exp(np.log(failed).mean()))  # powers of hours overflow, ratios do not
    log_every, log_failed = np.log(every / unit), np.log(failed / unit)

    def scale_of(slope: float) -> float:
        return float((np.exp(slope * log_every).sum() / len(failed)) ** (1 / slope))

    def likelihood(slope: float, log_scale: float) -> float:
        z = np.exp(slope * (log_every - log_scale)).sum()
        return float(
            len(failed) * (math.log(slope) - slope * log_scale) + (slope - 1) * log_failed.sum() - z
        )

    def score(slope: float) -> float:
        power = np.exp(slope * (log_every - log_every.max()))
        return float((power * log_every).sum() / power.sum() - 1 / slope - log_failed.mean())

    if score(HIGHEST_SLOPE) <= 0:
        return LifeFit(
            life=None,
            slope_interval=None,
            scale_interval_h=None,
            n_failed=len(failed),
            n_running_on=len(on),
            reason="the failed units reached nearly the same age, closer than a slope of 60",
        )
    slope = float(brentq(score, LOWEST_SLOPE, HIGHEST_SLOPE))
    best = likelihood(slope, math.log(scale_of(slope)))
    of_slope = _interval(lambda b: likelihood(b, math.log(scale_of(b))) - best + DROP_80,
                         slope, LOWEST_SLOPE, HIGHEST_SLOPE)  # fmt: skip

    def best_at_scale(log_scale: float) -> float:
        grid = np.geomspace(max(slope / 6, LOWEST_SLOPE), min(slope * 6, HIGHEST_SLOPE), 200)
        return max(likelihood(float(b), log_scale) for b in grid) - best + DROP_80

    middle = math.log(scale_of(slope))
    low, high = _interval(best_at_scale, middle, middle - 6.0, middle + 6.0)
    return LifeFit(
        life=LifeDistribution(slope=slope, scale_h=scale_of(slope) * unit),
        slope_interval=of_slope,
        scale_interval_h=(unit * math.exp(low), unit * math.exp(high)),
        n_failed=len(failed),
        n_running_on=len(on),
    )


def _too_little(failed: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> str:
    if len(failed) < LEAST_FAILURES:
        return f"{len(failed)} failed units are on record, {LEAST_FAILURES} are needed"
    if np.ptp(np.log(failed)) < 1e-6:
        return "all failed units reached the same age, which no distribution can be read from"
    return ""


def _interval(
    above: Callable[[float], float], middle: float, lowest: float, highest: float
) -> tuple[float, float]:
    """Where the likelihood has dropped by what 80 % confidence allows, on either side."""
    low = lowest if above(lowest) > 0 else float(brentq(above, lowest, middle))
    high = highest if above(highest) > 0 else float(brentq(above, middle, highest))
    return low, high
