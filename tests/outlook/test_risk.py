"""Chance of failing before a day, by age and by condition."""

import math
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from vibhealth.model import CrossingRange, Sign
from vibhealth.outlook.life_distribution import LifeDistribution
from vibhealth.outlook.risk import Unit, risk_before

NOW = date(2031, 3, 1)
LIFE = LifeDistribution(slope=2.0, scale_h=1000.0)
RANGE = CrossingRange(
    earliest=NOW + timedelta(days=20),
    latest=NOW + timedelta(days=60),
    withheld_because="",
    quantiles=(
        (0.1, NOW + timedelta(days=20)),
        (0.5, NOW + timedelta(days=35)),
        (0.9, NOW + timedelta(days=60)),
    ),
)


def unit(**changes: Any) -> Unit:
    facts: dict[str, Any] = {
        "life": LIFE,
        "age_h": 500.0,
        "hours_per_day": 10.0,
        "sign": Sign.NONE,
        "crossing": None,
        "heard_days_ago": 5.0,
        "warning_days": 30.0,
        "detection_share": 0.8,
    }
    return Unit(**facts | changes)


def chance(days: int, **changes: Any) -> float:
    found = risk_before(unit(**changes), as_of=NOW)(NOW + timedelta(days=days))
    assert found is not None
    return found


def by_age(hours: float) -> float:
    return 1 - math.exp(0.25 - ((500.0 + hours) / 1000.0) ** 2)


def test_a_quiet_recording_counts_by_bayes() -> None:
    covered = by_age(250.0)
    nothing_shown = 1 - 0.8 * covered
    assert chance(10) == pytest.approx(0.2 * by_age(100.0) / nothing_shown)
    assert chance(25) == pytest.approx(0.2 * covered / nothing_shown)
    assert chance(40) == pytest.approx((by_age(400.0) - 0.8 * covered) / nothing_shown)


def test_a_recording_that_shows_nothing_ahead_leaves_the_age() -> None:
    for days in (3, 40):
        assert chance(days, detection_share=0.0) == pytest.approx(by_age(10.0 * days))
        assert chance(days, heard_days_ago=30.0) == pytest.approx(by_age(10.0 * days))
        assert chance(days, heard_days_ago=400.0) == pytest.approx(by_age(10.0 * days))
        assert chance(days, sign=Sign.NOT_KNOWN) == pytest.approx(by_age(10.0 * days))


def test_the_older_the_recording_the_less_its_silence_is_worth() -> None:
    risks = [chance(40, heard_days_ago=float(ago)) for ago in (0, 8, 15, 22, 30)]
    assert all(newer < older for newer, older in pairwise(risks))


@pytest.mark.parametrize("crossing", [None, RANGE])
@pytest.mark.parametrize("life", [None, LIFE])
@pytest.mark.parametrize("sign", list(Sign))
def test_the_risk_never_falls_with_the_date(
    sign: Sign, life: LifeDistribution | None, crossing: CrossingRange | None
) -> None:
    risk = risk_before(unit(sign=sign, life=life, crossing=crossing), as_of=NOW)
    found = [risk(NOW + timedelta(days=k)) for k in range(-3, 200)]
    if life is None and sign in {Sign.NONE, Sign.NOT_KNOWN}:
        assert set(found) == {None}
        return
    values = np.array(found, dtype=float)
    assert (values[:4] == 0).all()
    assert (np.diff(values) >= -1e-12).all()
    assert 0.5 < values[-1] <= 1


@pytest.mark.parametrize("days", [1, 10, 60])
@pytest.mark.parametrize("life", [None, LIFE])
def test_each_sign_is_more_urgent_than_the_one_before(
    days: int, life: LifeDistribution | None
) -> None:
    early, clear, stop = (
        chance(days, sign=sign, life=life) for sign in (Sign.EARLY, Sign.CLEAR, Sign.STOP)
    )
    assert early < clear < stop
    assert chance(days) < early


def test_a_sign_without_dates_uses_shares_of_the_warning_time() -> None:
    for ago, further in ((0.0, 30), (5.0, 25), (29.0, 1)):  # counted from the last recording
        for sign, means in ((Sign.EARLY, 1), (Sign.CLEAR, 3), (Sign.STOP, 10)):
            found = chance(further, sign=sign, life=None, heard_days_ago=ago)
            assert found == pytest.approx(1 - math.exp(-means))


def test_the_older_a_sign_the_higher_the_risk() -> None:
    for sign in (Sign.EARLY, Sign.CLEAR, Sign.STOP):
        risks = [chance(5, sign=sign, heard_days_ago=float(ago)) for ago in (0, 8, 15, 30)]
        assert all(newer < older for newer, older in pairwise(risks))


def test_the_date_range_is_met() -> None:
    for days, share in ((20, 0.1), (35, 0.5), (60, 0.9), (100, 1.0)):
        found = chance(days, sign=Sign.EARLY, life=None, crossing=RANGE)
        assert found == pytest.approx(share)


def test_at_the_action_level_a_range_of_reaching_it_says_nothing_of_failing() -> None:
    assert chance(20, sign=Sign.CLEAR, crossing=RANGE) == chance(20, sign=Sign.CLEAR)


def test_a_range_that_is_partly_past_counts_as_reached_by_its_share() -> None:
    ago = timedelta(days=40)
    past = replace(RANGE, quantiles=tuple((share, day - ago) for share, day in RANGE.quantiles))
    assert chance(20, sign=Sign.EARLY, life=None, crossing=past) == pytest.approx(0.9)
    assert 0.5 < chance(1, sign=Sign.EARLY, life=None, crossing=past) < 0.9
    gone = replace(RANGE, quantiles=tuple((p, d - 2 * ago) for p, d in RANGE.quantiles))
    assert chance(1, sign=Sign.EARLY, life=None, crossing=gone) >= 0.9


def test_the_age_counts_where_it_is_worse_than_the_range() -> None:
    assert chance(10, sign=Sign.EARLY, crossing=RANGE, age_h=3000.0) > 0.4
    assert chance(10, sign=Sign.EARLY, crossing=RANGE, age_h=3000.0, life=None) == pytest.approx(
        0.05
    )


def test_stop_does_not_wait_for_the_range() -> None:
    found = chance(3, sign=Sign.STOP, crossing=RANGE, life=None, heard_days_ago=0.0)
    assert found == pytest.approx(1 - math.exp(-1))


@pytest.mark.parametrize("missing", ["life", "age_h", "hours_per_day"])
@pytest.mark.parametrize("sign", [Sign.NONE, Sign.NOT_KNOWN])
def test_neither_age_nor_sign_gives_no_figure(missing: str, sign: Sign) -> None:
    risk = risk_before(unit(**{missing: None, "sign": sign}), as_of=NOW)
    assert risk(NOW + timedelta(days=30)) is None
