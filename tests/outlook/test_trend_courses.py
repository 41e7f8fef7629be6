"""Trends, visits, states, steps, dates and signs, from invented readings."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from tests.benchmark.degradation import (
    CARD,
    SHAPES,
    START,
    history_of,
    read_history,
    recording_at,
    recordings_of,
)
from vibhealth.model import (
    Element,
    HistoryRecording,
    HistoryVerdict,
    Rebuild,
    RebuildReason,
    Sign,
    Trend,
)
from vibhealth.outlook.condition import condition_of
from vibhealth.outlook.trend import family_trend, level_trend, machine_trends

WEEK = 7.0


def readings(
    values: Sequence[float], *, is_level: bool = True, every: float = WEEK, first_day: float = 0.0
) -> list[HistoryRecording]:
    return [
        recording_at(
            first_day + every * n, value, is_level=is_level, number=n + int(100 * first_day)
        )
        for n, value in enumerate(values)
    ]


def growing(n: int, rate: float = 0.01, start: float = 1.0) -> list[float]:
    return [start * float(np.exp(rate * WEEK * k)) for k in range(n)]


def rebuild(day: float, **changes: Any) -> Rebuild:
    facts: dict[str, Any] = {
        "machine": "F3",
        "at": START + timedelta(days=day),
        "reason": RebuildReason.PLANNED,
        "by": "T. Technician",
    }
    return Rebuild(**facts | changes)


def outer(recordings: list[HistoryRecording], rebuilds: Sequence[Rebuild] = ()) -> Trend:
    return family_trend(recordings, CARD, rebuilds, bearing="upper", element=Element.OUTER_RING)


def sign_of(trends: Sequence[Trend], day: float, **more: Any) -> Sign:
    return condition_of(trends, CARD, as_of=START + timedelta(days=day), **more).sign


def test_the_slope_is_that_of_the_logarithm_per_day() -> None:
    trend = level_trend(readings(growing(12)), CARD)
    assert trend.slope_per_day == pytest.approx(0.01, rel=1e-6)
    assert trend.course == "rising"
    assert "+35 % in 30 days" in trend.sentence


def test_a_clean_growth_is_dated_where_it_reaches_its_action_level() -> None:
    trend = level_trend(readings(growing(12)), CARD)
    first = np.median(growing(5))
    truth = (START + timedelta(days=float(np.log(2.5 * first) / 0.01))).date()
    assert trend.action_level == pytest.approx(2.5 * first)
    assert trend.crossing.earliest is not None
    assert trend.crossing.latest is not None
    assert trend.crossing.earliest <= truth <= trend.crossing.latest


def test_five_visits_are_not_enough_and_six_are() -> None:
    five, six = (level_trend(readings(growing(n)), CARD) for n in (5, 6))
    assert five.course == "not-enough-history"
    assert "5 visits in the same state, 6 are needed" in five.crossing.withheld_because
    assert "not enough" not in six.crossing.withheld_because


def test_six_visits_in_twenty_days_are_not_enough() -> None:
    trend = level_trend(readings(growing(6), every=4.0), CARD)
    assert "cover 20 days, 21 are needed" in trend.crossing.withheld_because


def test_no_date_lies_further_ahead_than_the_growth_was_watched() -> None:
    trend = level_trend(readings(growing(8, rate=0.002)), CARD)
    assert trend.crossing.latest is None
    assert "further than the growth was watched" in trend.crossing.withheld_because


def test_a_jump_alone_gives_no_date() -> None:
    trend = level_trend(readings([1.0, 1.02, 0.98, 1.01, 0.99, 1.0, 1.5, 1.52, 1.49, 1.51]), CARD)
    assert trend.crossing.earliest is None


def test_repeats_of_one_day_are_one_visit() -> None:
    repeats = [
        replace(
            recording_at(WEEK * n + k / 100, 1.0 + k, is_level=True, number=10 * n + k), id=None
        )
        for n in range(4)
        for k in range(3)
    ]
    trend = level_trend(repeats, CARD)
    assert [p.n_recordings for p in trend.points] == [3] * 4
    assert [p.value for p in trend.points] == [2.0] * 4


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"load": "loaded"}, "load loaded, the others empty"),
        ({"shaft_frequency_hz": 15.0}, "another speed"),
        ({"shaft_frequency_hz": None}, "another speed"),
        ({"temperature_c": 20.0}, "25 °C colder than the others"),
        ({"unusable_because": "clipping"}, "clipping"),
        ({"moment": "run-up"}, "start or stop"),
        ({"unit": "counts"}, "not calibrated like the others"),
    ],
)
def test_another_state_is_shown_and_not_fitted(change: dict[str, Any], words: str) -> None:
    rows = readings(growing(9))
    rows[4] = replace(rows[4], **change)
    trend = level_trend(rows, CARD)
    assert trend.points[4].left_out_because == words
    assert sum(not p.left_out_because for p in trend.points) == 8
    assert "1 visit in another state left out" in trend.state


def test_a_recording_without_a_date_stands_in_no_trend() -> None:
    rows = readings(growing(9))
    rows[3] = replace(rows[3], recorded_at=None)
    assert len(level_trend(rows, CARD).points) == 8


def test_a_rebuild_begins_a_new_trend_and_shows_its_step() -> None:
    before, after = readings(growing(8, start=2.0)), readings([1.0] * 8, first_day=60.0)
    trend = level_trend([*before, *after], CARD, [rebuild(57.0)])
    assert trend.course == "no-trend"
    (step,) = trend.steps
    assert step.ratio is not None
    assert step.ratio_interval is not None
    assert step.ratio == pytest.approx(1 / (2.0 * np.exp(0.01 * WEEK * 6)), rel=1e-6)
    assert step.ratio_interval[0] < step.ratio < step.ratio_interval[1]


def test_the_first_day_after_a_rebuild_is_shown_and_not_fitted() -> None:
    rows = readings([3.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0])
    trend = level_trend(rows, CARD, [rebuild(-0.2)])
    assert "still settling" in trend.points[0].left_out_because
    assert trend.action_level == pytest.approx(2.5)


def test_masked_recordings_say_nothing_of_a_family_and_still_give_a_level() -> None:
    rows = [replace(r, masked="hits at 1x") for r in readings(growing(8))]
    assert all(p.left_out_because.startswith("masked") for p in outer(rows).points)
    assert all(not p.left_out_because for p in level_trend(rows, CARD).points)


def test_a_depth_carries_its_own_interval_and_a_level_its_scatter() -> None:
    depth = outer(readings([0.2] * 6, is_level=False)).points[0]
    assert depth.low == pytest.approx(0.16)
    assert depth.high == pytest.approx(0.25)
    values = [1.0, 1.2, 1.0, 1.2, 1.0, 1.2]
    point = level_trend(readings(values), CARD).points[0]
    sigma = 1.4826 * np.log(1.2) / np.sqrt(2)
    assert point.high == pytest.approx(np.exp(1.2816 * sigma))


def test_one_loud_reading_is_no_sign_and_asks_to_be_confirmed() -> None:
    trends = [outer(readings([0.04] * 7 + [0.4], is_level=False))]
    found = condition_of(trends, CARD, as_of=START + timedelta(days=50))
    assert found.sign is Sign.NONE
    assert found.needs_confirming
    assert "record again now" in found.reasons[0]


@pytest.mark.parametrize(
    ("last", "sign"),
    [
        ([0.04, 0.04], Sign.NONE),
        ([0.16, 0.16], Sign.EARLY),
        ([0.16, 0.04], Sign.NONE),
        ([0.29, 0.31], Sign.EARLY),
        ([0.31, 0.31], Sign.CLEAR),
        ([0.95, 0.95], Sign.STOP),
    ],
)
def test_two_of_the_last_three_visits_make_a_sign(last: list[float], sign: Sign) -> None:
    trends = [outer(readings([0.04] * 6 + last, is_level=False))]
    assert sign_of(trends, 50) is sign


def test_a_level_that_stands_high_without_rising_is_early_not_clear() -> None:
    flat = level_trend(readings([1.0] * 5 + [2.6] * 3), CARD)
    assert sign_of([flat], 50) in {Sign.EARLY, Sign.CLEAR}
    assert sign_of([flat], 50) is (Sign.CLEAR if flat.course == "rising" else Sign.EARLY)


def test_silence_longer_than_the_warning_time_is_not_known() -> None:
    trends = [level_trend(readings([1.0] * 8), CARD)]
    assert sign_of(trends, 49 + 29) is Sign.NONE
    assert sign_of(trends, 49 + 31) is Sign.NOT_KNOWN


def test_a_sign_does_not_fade_with_silence() -> None:
    trends = [outer(readings([0.04] * 6 + [0.4, 0.4], is_level=False))]
    assert sign_of(trends, 300) is Sign.CLEAR


def test_a_rebuild_clears_the_sign_and_nothing_is_known_until_recorded() -> None:
    damaged = [outer(readings([0.04] * 6 + [0.4, 0.4], is_level=False), [rebuild(50.0)])]
    assert sign_of(damaged, 55, rebuilds=[rebuild(50.0)]) is Sign.NOT_KNOWN


def verdict(day: float, hold: str | None) -> HistoryVerdict:
    return HistoryVerdict(
        machine="F3",
        verdict="HOLD" if hold else "PASS",
        hold=hold,
        headline="Stop: metallic knocking",
        reasons=(),
        check="1h",
        decided_on=START + timedelta(days=day),
        job_sha256="",
        recordings=(),
        named=(),
        override=None,
        tool_version="0",
    )


def test_stop_now_counts_until_a_later_verdict_or_a_rebuild() -> None:
    trends = [level_trend(readings([1.0] * 8), CARD)]
    stop, later = verdict(45, "stop-now"), verdict(46, None)
    assert sign_of(trends, 50, verdicts=[stop]) is Sign.STOP
    assert sign_of(trends, 50, verdicts=[stop, later]) is Sign.NONE
    assert sign_of(trends, 40, verdicts=[stop]) is Sign.NONE


def test_machine_trends_name_the_families_that_were_seen() -> None:
    quiet = machine_trends(readings([1.0] * 8), CARD)
    assert [t.element for t in quiet] == [None]
    seen = machine_trends(readings([0.04] * 6 + [0.2, 0.2], is_level=False), CARD)
    assert [t.element for t in seen] == [None, Element.OUTER_RING]


def test_twenty_thousand_visits_are_gathered_and_read_in_good_time() -> None:
    begin = datetime(2020, 1, 1, tzinfo=UTC)
    rows = readings([1.0 + 0.05 * (n % 7) for n in range(50)])
    many = [
        replace(rows[n % 50], recorded_at=begin + timedelta(hours=13 * n), sha256=f"{n:064x}")
        for n in range(4000)
    ]
    trend = level_trend(many, CARD)
    assert len(trend.points) == 4000
    assert trend.course == "no-trend"


def test_ranges_hold_the_truth_and_quiet_histories_give_no_clear_sign() -> None:
    """A small part of the campaign `degradation`; the bounds are its own, at 1 in 1,000."""
    held, given = 0, 0
    for seed in range(1, 31):
        history = history_of(SHAPES[0], seed)
        rows = recordings_of(history)
        now = [r for r, day in zip(rows, history.days, strict=True) if day <= 0.8 * history.reached]
        crossing = read_history(now, is_level=history.is_level)[0].crossing
        if crossing.earliest is None or crossing.latest is None:
            continue
        truth = (START + timedelta(days=history.reached)).date()
        given, held = given + 1, held + (crossing.earliest <= truth <= crossing.latest)
    assert given >= 10
    assert held >= 0.5 * given
    for seed in range(1, 6):
        history = history_of("none", seed)
        _, sign = read_history(recordings_of(history), is_level=history.is_level)
        assert sign in {Sign.NONE, Sign.EARLY}
