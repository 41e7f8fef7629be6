"""Replacing at an age: what it costs per hour, at which age it costs least, and when never."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from vibhealth.errors import InputError
from vibhealth.outlook.life_distribution import LifeDistribution

__all__ = ["AgePolicy", "Costs", "best_age", "cost_rate"]

# Less than this share saved over running to failure is nothing gained: costs and lives are
# never known so well (common practice, no source).
LEAST_SAVING = 0.02
# Ages up to this many characteristic lives are looked at: a later one is never.
LATEST_AGE_IN_SCALES = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Whole cost of a planned and of an unplanned rebuild, in one currency.

    ``early_failure_share`` of rebuilds, planned or not, soon fail of the rebuild itself and cost
    an unplanned one more.

    Raises
    ------
    InputError
        If a cost is not above 0 or the share not within 0 to below 1.
    """

    planned: float
    unplanned: float
    early_failure_share: float = 0.0

    def __post_init__(self) -> None:
        is_cost = all(math.isfinite(c) and c > 0 for c in (self.planned, self.unplanned))
        if not (is_cost and 0 <= self.early_failure_share < 1):
            msg = (
                "costs must be above 0 and the share of early failures at least 0 and below 1, got "
                f"{self.planned}, {self.unplanned} and {self.early_failure_share}"
            )
            raise InputError(msg)

    @property
    def planned_in_full(self) -> float:
        """With the early failures that a planned rebuild brings with it."""
        return self.planned + self.early_failure_share * self.unplanned

    @property
    def unplanned_in_full(self) -> float:
        """With the early failures that an unplanned rebuild brings with it."""
        return self.unplanned * (1 + self.early_failure_share)


@dataclass(frozen=True, slots=True, kw_only=True)
class AgePolicy:
    """The best age to replace at, None where it saves nothing, and the cost per hour."""

    age_h: float | None
    cost_rate: float
    cost_rate_to_failure: float

    @property
    def ratio(self) -> float:
        """Cost per hour over that of running to failure, at most 1."""
        return self.cost_rate / self.cost_rate_to_failure


def cost_rate(
    age: float, survival: Callable[[float], float], *, planned: float, unplanned: float
) -> float:
    """Long-run cost per unit of age when replacing at an age, for any distribution of life.

    Parameters
    ----------
    age : float
        Above 0, in the unit that ``survival`` takes.
    survival : callable
        Share that reaches an age.
    planned, unplanned : float
        Cost of a planned and an unplanned replacement.

    Returns
    -------
    float
        (planned R + unplanned F) / integral of R from 0 to ``age``.

    Notes
    -----
    R. E. Barlow, F. Proschan, Mathematical Theory of Reliability, 1965, ch. 4 (from memory).

    Examples
    --------
    A life spread evenly over 0 to 40 000 km, replaced at 20 000 km (Jardine and Tsang):

    >>> round(cost_rate(20e3, lambda km: 1 - km / 40e3, planned=100, unplanned=200), 4)
    0.01
    """
    reached = survival(age)
    in_use = quad(survival, 0.0, age, limit=200)[0]
    return float((planned * reached + unplanned * (1 - reached)) / in_use)


def best_age(life: LifeDistribution, costs: Costs) -> AgePolicy:
    """Age at which planned replacement costs least, and what that saves.

    Parameters
    ----------
    life : LifeDistribution
        How long units last.
    costs : Costs
        Planned and unplanned, early failures included.

    Returns
    -------
    AgePolicy
        ``age_h`` is None where units do not age (slope 1 or below), where an unplanned rebuild
        costs no more, or where less than 2 % is saved: then going early gains nothing.
    """
    planned, unplanned = costs.planned_in_full, costs.unplanned_in_full
    to_failure = unplanned / life.mean_h()
    never = AgePolicy(age_h=None, cost_rate=to_failure, cost_rate_to_failure=to_failure)
    if life.slope <= 1 or unplanned <= planned:
        return never

    def rate(log_age: float) -> float:
        age = float(np.exp(log_age))
        reached = life.survival(age)
        return (planned * reached + unplanned * (1 - reached)) / life.mean_up_to_h(age)

    bounds = np.log((1e-3 * life.scale_h, LATEST_AGE_IN_SCALES * life.scale_h))
    found = minimize_scalar(rate, bounds=bounds, method="bounded", options={"xatol": 1e-9})
    if found.fun > (1 - LEAST_SAVING) * to_failure:
        return never
    return AgePolicy(
        age_h=float(np.exp(found.x)), cost_rate=float(found.fun), cost_rate_to_failure=to_failure
    )
