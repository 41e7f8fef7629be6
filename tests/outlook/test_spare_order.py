"""When to order the spare."""

from datetime import date, timedelta
from typing import Any

import pytest

from vibhealth.card.maintenance import Maintenance
from vibhealth.model import Sign, SpareAdvice
from vibhealth.outlook.spare_order import spare_advice

NOW = date(2031, 3, 1)


def rising(day: date) -> float:
    """One percent in ten days: above 10 % from the 101st day on."""
    return min(max((day - NOW).days, 0) / 1000, 1.0)


def advice(risk: Any = rising, sign: Sign = Sign.NONE, **plan: Any) -> SpareAdvice:
    return spare_advice(risk, Maintenance(**plan), as_of=NOW, sign=sign)


@pytest.mark.parametrize(("lead", "limit", "passed"), [(30.0, 0.1, 101), (30.5, 0.05, 51)])
def test_the_order_day_is_the_first_day_over_the_limit_less_delivery(
    lead: float, limit: float, passed: int
) -> None:
    found = advice(spare_lead_time_days=lead, risk_limit=limit)
    order = NOW + timedelta(days=passed - (30 if lead == 30 else 31))
    assert found.order_by == order
    assert not found.is_due
    assert f"order by {order:%d %b %Y}" in found.sentence
    assert f"{NOW + timedelta(days=passed):%d %b %Y}" in found.sentence


@pytest.mark.parametrize("lead", [101.0, 400.0])
def test_a_long_delivery_is_due_now(lead: float) -> None:
    found = advice(spare_lead_time_days=lead)
    assert found.order_by == NOW
    assert found.is_due
    assert found.sentence.startswith("order now")


def test_one_day_before_it_is_not_due() -> None:
    found = advice(spare_lead_time_days=100.0)
    assert (found.order_by, found.is_due) == (NOW + timedelta(days=1), False)


def test_a_spare_on_the_shelf_needs_no_order() -> None:
    found = advice(spare_on_shelf=True, spare_lead_time_days=400.0)
    assert (found.order_by, found.is_due) == (None, False)
    assert "on the shelf" in found.sentence


def test_an_unknown_delivery_time_is_asked_for() -> None:
    unknown, none = advice(), advice(spare_on_shelf=False)
    assert unknown.order_by is none.order_by is None
    assert "spare_lead_time_days is not on the card, nor whether" in unknown.sentence
    assert none.sentence.endswith("is not on the card")


def test_an_unknown_risk_gives_no_date() -> None:
    found = advice(lambda _day: None, spare_lead_time_days=30.0)
    assert found.order_by is None
    assert "neither the age" in found.sentence


def test_a_low_risk_needs_no_order_yet() -> None:
    found = advice(lambda _day: 0.09, spare_lead_time_days=30.0)
    assert (found.order_by, found.is_due) == (None, False)
    assert "stays below its limit of 10 %" in found.sentence


@pytest.mark.parametrize("sign", [Sign.EARLY, Sign.CLEAR, Sign.STOP])
def test_a_sign_orders_now_whatever_the_risk(sign: Sign) -> None:
    for plan in ({}, {"spare_lead_time_days": 30.0}, {"spare_on_shelf": False}):
        found = advice(lambda _day: 0.0, sign, **plan)
        assert (found.order_by, found.is_due) == (NOW, True)
        assert found.sentence.startswith("order now: there is a")
    assert "delivery takes 30 days" in advice(rising, sign, spare_lead_time_days=30.0).sentence
    assert advice(rising, sign, spare_on_shelf=True).order_by is None


def test_what_is_not_known_is_no_reason_to_order() -> None:
    assert not advice(rising, Sign.NOT_KNOWN, spare_lead_time_days=30.0).is_due
