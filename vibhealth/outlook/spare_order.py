"""When to order the spare: apart from the decision to rebuild, and usually earlier."""

import math
from collections.abc import Callable
from datetime import date, timedelta

from vibhealth.card.maintenance import Maintenance
from vibhealth.model import Sign, SpareAdvice

__all__ = ["spare_advice", "spare_arrives"]

HORIZON_DAYS = 5 * 365
# A sign is reason enough to order, whatever the chance of failing before delivery is put at.
ORDER_AT = {Sign.EARLY: "an early sign", Sign.CLEAR: "a clear sign", Sign.STOP: "a sign to stop"}


def spare_arrives(maintenance: Maintenance, *, as_of: date) -> date | None:
    """Day on which a spare is there if it is ordered now.

    Parameters
    ----------
    maintenance : Maintenance
        Whether one is on the shelf, and its lead time.
    as_of : date
        The day that is asked for.

    Returns
    -------
    date or None
        None where the lead time is not known.
    """
    if maintenance.spare_on_shelf:
        return as_of
    lead = maintenance.spare_lead_time_days
    return None if lead is None else as_of + timedelta(days=math.ceil(lead))


def spare_advice(
    risk: Callable[[date], float | None],
    maintenance: Maintenance,
    *,
    as_of: date,
    sign: Sign = Sign.NONE,
    needed_by: date | None = None,
) -> SpareAdvice:
    """Order so early that the spare is there when the risk passes the limit; at a sign, now.

    Parameters
    ----------
    risk : callable
        Chance of failing before a day, never falling with the day; None where not known.
    maintenance : Maintenance
        Whether a spare is on the shelf, its lead time, the accepted risk.
    as_of : date
        The day that is asked for.
    sign : Sign
        What the condition says; from an early sign on the spare is ordered at once.
    needed_by : date, optional
        Of the rebuild that is planned.

    Returns
    -------
    SpareAdvice
        ``order_by`` is the day of order, not before ``as_of``; None where there is nothing to
        order or nothing is known.
    """
    if maintenance.spare_on_shelf:
        return _advice("a spare unit is on the shelf: nothing to order, look after its storage")
    if sign in ORDER_AT:
        limit = maintenance.risk_limit
        passed = _first_day(risk, limit, as_of)
        reasons = (f"there is {ORDER_AT[sign]}", *([_passes(passed, limit)] if passed else []))
        return _now(reasons, maintenance.spare_lead_time_days, as_of)
    return _in_time(risk, maintenance, as_of, needed_by)


def _in_time(
    risk: Callable[[date], float | None],
    maintenance: Maintenance,
    as_of: date,
    needed_by: date | None,
) -> SpareAdvice:
    """Without a sign: so early that it is there for the rebuild, or when the risk passes its limit."""
    lead, limit = maintenance.spare_lead_time_days, maintenance.risk_limit
    if lead is None:
        return _advice(
            "no order date: maintenance.spare_lead_time_days is not on the card"
            + ("" if maintenance.spare_on_shelf is False else ", nor whether a spare is there")
        )
    if risk(as_of + timedelta(days=1)) is None:
        return _advice("no order date: neither the age of the unit nor its condition is known")
    passed = _first_day(risk, limit, as_of)
    if needed_by is not None and (passed is None or needed_by <= passed):
        because = f"the rebuild is planned for {needed_by:%d %b %Y}"
        return _order_for(needed_by, because, lead, as_of)
    if passed is None:
        return _advice(
            f"no order needed yet: the risk stays below its limit of {_percent(limit)} for five years"
        )
    return _order_for(passed, _passes(passed, limit), lead, as_of)


def _order_for(day: date, because: str, lead: float, as_of: date) -> SpareAdvice:
    """So early that it is there on a day; now, if that is past already."""
    order = day - timedelta(days=math.ceil(lead))
    if order <= as_of:
        return _now((because,), lead, as_of)
    sentence = f"order by {order:%d %b %Y}: {because}, less {lead:g} days of delivery"
    return SpareAdvice(order_by=order, is_due=False, sentence=sentence)


def _now(reasons: tuple[str, ...], lead: float | None, as_of: date) -> SpareAdvice:
    words = (*reasons, *([] if lead is None else [f"delivery takes {lead:g} days"]))
    return SpareAdvice(order_by=as_of, is_due=True, sentence=f"order now: {', '.join(words)}")


def _passes(day: date, limit: float) -> str:
    return f"the risk passes its limit of {_percent(limit)} about {day:%d %b %Y}"


def _percent(share: float) -> str:
    return f"{100 * share:g} %"


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
