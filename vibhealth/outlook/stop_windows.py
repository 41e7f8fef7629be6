"""Planned stops: the chance of not reaching each in order, and what waiting for it costs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from scipy.integrate import trapezoid

from vibhealth.model import Window
from vibhealth.outlook.age_replacement import Costs

__all__ = ["Stops", "in_words", "stop_windows"]

N_STEPS = 200
# Costs closer than this share of a planned rebuild are as good as equal (common practice, no source).
AS_GOOD = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """The planned stops still to come, and a remark on those that are past."""

    windows: tuple[Window, ...]
    remark: str


def stop_windows(  # noqa: PLR0913 - what is known, each by its name
    days: Sequence[date],
    risk: Callable[[date], float | None],
    *,
    as_of: date,
    costs: Costs | None,
    cost_rate_per_day: float | None,
    is_at_action_level: bool = False,
) -> Stops:
    """Every planned stop with its risk and, where costs are known, its expected cost.

    Parameters
    ----------
    days : sequence of date
        Of the stops, in any order; those before ``as_of`` are past.
    risk : callable
        Chance of failing before a day, as `risk_before` gives it.
    as_of : date
        The day that is asked for.
    costs : Costs or None
        Of a rebuild.
    cost_rate_per_day : float or None
        What a unit costs per day in the long run; what a day of further use is worth.
    is_at_action_level : bool
        Whether the risk is one of failing only, since the action level is reached.

    Returns
    -------
    Stops
        ``expected_cost`` is over that of the cheapest stop; ``is_cheapest`` marks the earliest of
        those that cost within 2 % of a planned rebuild as little.

    Notes
    -----
    Rebuilding at t costs F(t) unplanned + R(t) planned, and saves the long-run cost of the days
    in use until then: F Cu + R Cp - g E[min(T, t)], whose minimum is the policy of least cost
    per day where g is that cost (renewal reward; Barlow and Proschan, 1965, ch. 4, from memory).
    """
    coming = sorted({day for day in days if day >= as_of})
    past = len(set(days)) - len(coming)
    remark = f"{past} stop{'s' * (past != 1)} on the card already past" if past else ""
    risks = [risk(day) for day in coming]
    spent = [
        None
        if costs is None or cost_rate_per_day is None or chance is None
        else _cost(day, risk, as_of, costs, cost_rate_per_day)
        for day, chance in zip(coming, risks, strict=True)
    ]
    known = [value for value in spent if value is not None]
    least = min(known, default=None)
    tolerance = AS_GOOD * costs.planned if costs else 0.0
    cheapest = next(
        (i for i, v in enumerate(spent) if v is not None and least is not None
         and v <= least + tolerance), None
    )  # fmt: skip
    windows = tuple(
        Window(
            name=f"stop of {day:%d %b %Y}",
            at=day,
            probability_before=chance,
            expected_cost=None if value is None or least is None else value - least,
            is_cheapest=place == cheapest,
            sentence=_sentence(chance, is_at_action_level=is_at_action_level),
        )
        for place, (day, chance, value) in enumerate(zip(coming, risks, spent, strict=True))
    )
    return Stops(windows=windows, remark=remark)


def in_words(chance: float) -> str:
    """A chance as people say it.

    >>> in_words(0.083), in_words(0.0004), in_words(0.7)
    ('about 1 in 12', 'below 1 in 100', 'about 7 in 10')
    """
    if chance < 0.01:
        return "below 1 in 100"
    if chance >= 0.95:
        return "above 95 in 100"
    if chance < 0.3:
        return f"about 1 in {round(1 / chance)}"
    return f"about {round(10 * chance)} in 10"


def _cost(
    day: date, risk: Callable[[date], float | None], as_of: date, costs: Costs, per_day: float
) -> float:
    """Expected cost of a rebuild on a day, less what the days in use until then are worth."""
    grid = np.unique(np.linspace(0, (day - as_of).days, N_STEPS).astype(int))
    failed = [risk(as_of + timedelta(days=int(k))) or 0.0 for k in grid]
    in_use = float(trapezoid([1 - chance for chance in failed], grid))
    spent = failed[-1] * costs.unplanned_in_full + (1 - failed[-1]) * costs.planned_in_full
    return spent - per_day * in_use


def _sentence(chance: float | None, *, is_at_action_level: bool) -> str:
    if chance is None:
        return "not known: neither the age of the unit nor its condition says anything"
    event = "fails" if is_at_action_level else "fails or reaches its action level"
    return f"chance {in_words(chance)} that it {event} before"
