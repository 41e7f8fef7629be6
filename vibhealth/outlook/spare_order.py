"""When to order the spare: apart from the decision to rebuild, and usually earlier."""

import math
from collections.abc import Callable
from datetime import date, timedelta

from vibhealth.card.maintenance import Maintenance
from vibhealth.model import SpareAdvice

__all__ = ["spare_advice"]

HORIZON_DAYS = 5 * 365


def spare_advice(
    risk: Callable[[date], float | None], maintenance: Maintenance, *, as_of: date
) -> SpareAdvice:
    """Order so early that the spare is there when the risk passes the limit.

    Parameters
    ----------
    risk : callable
        Chance of failing before a day, never falling with the day; None where not known.
    maintenance : Maintenance
        Whether a spare is on the shelf, its lead time, the accepted risk.
    as_of : date
        The day that is asked for.

    Returns
    -------
    SpareAdvice
        ``order_by`` is the day of order, not before ``as_of``; None where there is nothing to
        order or nothing is known.
    """
    if maintenance.spare_on_shelf:
        return _advice("a spare unit is on the shelf: nothing to order, look after its storage")
    lead = maintenance.spare_lead_time_days
    if lead is None:
        return _advice(
            "no order date: maintenance.spare_lead_time_days is not on the card"
            + ("" if maintenance.spare_on_shelf is False else ", nor whether a spare is there")
        )
    if risk(as_of + timedelta(days=1)) is None:
        return _advice("no order date: neither the age of the unit nor its condition is known")
    limit = maintenance.risk_limit
    passed = _first_day(risk, limit, as_of)
    if passed is None:
        return _advice(f"no order needed yet: the risk stays below {limit:.0%} for five years")
    order = passed - timedelta(days=math.ceil(lead))
    if order <= as_of:
        return SpareAdvice(
            order_by=as_of,
            is_due=True,
            sentence=f"order now: the risk passes {limit:.0%} about {passed:%d %b %Y} and delivery "
            f"takes {lead:g} days",
        )
    return SpareAdvice(
        order_by=order,
        is_due=False,
        sentence=f"order by {order:%d %b %Y}: the risk passes {limit:.0%} about "
        f"{passed:%d %b %Y}, less {lead:g} days of delivery",
    )


def _advice(sentence: str) -> SpareAdvice:
    return SpareAdvice(order_by=None, is_due=False, sentence=sentence)


def _first_day(risk: Callable[[date], float | None], limit: float, as_of: date) -> date | None:
    """First day on which the risk is above the limit, by bisection; None within the horizon."""
    low, high = 0, HORIZON_DAYS
    if (risk(as_of + timedelta(days=high)) or 0.0) <= limit:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if (risk(as_of + timedelta(days=middle)) or 0.0) > limit:
            high = middle
        else:
            low = middle
    return as_of + timedelta(days=high)
