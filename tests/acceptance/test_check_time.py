"""Recordings of a check against the time when it was due."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.check_time_criteria import check_time_criteria
from vibhealth.card import MachineCard
from vibhealth.job import JobFacts, JobRecord
from vibhealth.model import Criterion, Hold, Moment, RecordingAnalysis

Cards = Callable[..., MachineCard]
Make = Callable[..., RecordingAnalysis]

STARTED = datetime(2031, 3, 5, 6, 0, tzinfo=UTC)


def told(
    card: MachineCard,
    after: list[RecordingAnalysis],
    moment: Moment | None,
    started: datetime | None = STARTED,
) -> list[Criterion]:
    job = JobRecord(schema_version=1, job=JobFacts(machine_started=started))
    return check_time_criteria(
        Evidence(
            card=card, limits=card.limits, before=(), after=tuple(after), pair=(), orbits=(),
            job=job, moment=moment,
        )
    )  # fmt: skip


@pytest.mark.parametrize(
    ("moment", "hours", "result"),
    [
        (Moment.HOUR_1, 0.49, "hold"),
        (Moment.HOUR_1, 0.51, "pass"),
        (Moment.HOUR_8, 5.9, "hold"),
        (Moment.HOUR_8, 6.1, "pass"),
        (Moment.DAY_7, 7.0, "hold"),
        (Moment.DAY_7, 168.0, "pass"),
    ],
)
def test_a_check_is_not_done_before_it_is_due(
    make_card: Cards, make_analysis: Make, moment: Moment, hours: float, result: str
) -> None:
    at = STARTED + timedelta(hours=hours)
    after = [make_analysis(1, start_time=at), make_analysis(2, start_time=at + timedelta(days=9))]
    (found,) = told(make_card(), after, moment)
    assert found.result.value == result
    assert found.hold is (Hold.MEASURE_AGAIN if result == "hold" else None)


def test_without_a_clock_it_is_not_known(make_card: Cards, make_analysis: Make) -> None:
    dated = make_analysis(1, start_time=STARTED + timedelta(hours=1))
    (found,) = told(make_card(), [dated, make_analysis(2)], Moment.HOUR_1)
    assert found.result.value == "not-judged"
    naive = STARTED.replace(tzinfo=None)
    (found,) = told(make_card(), [dated], Moment.HOUR_1, naive)
    assert found.result.value == "not-judged"
    assert told(make_card(), [dated], Moment.HOUR_1, None) == []  # asked for in the record
    assert told(make_card(), [dated], None) == []
