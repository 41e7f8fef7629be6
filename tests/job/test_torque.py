"""Torque sheets against the card: bolts, stages, and a unit that was mixed up."""

from collections.abc import Callable

import pytest

from vibhealth.card import BoltGroup, MachineCard
from vibhealth.errors import JobError
from vibhealth.job import FT_LB_NM, JobRecord, bolt_group_ids

Make = Callable[..., JobRecord]

# N m per ft lbf from the exact foot, avoirdupois pound and standard gravity (NIST SP 811, B.8).
EXACT = 0.3048 * 0.45359237 * 9.80665
FRESH = "stages = [\n  [],\n  [],\n  [],\n]"


def stages(*rows: list[float]) -> tuple[str, str]:
    return FRESH, f"stages = {[list(row) for row in rows]}"


def test_the_foot_pound_is_the_exact_one() -> None:
    assert pytest.approx(EXACT, rel=1e-15) == FT_LB_NM


def test_torques_as_the_card_says_are_accepted(record: Make) -> None:
    found = record(stages([120.0] * 12, [280.0] * 12, [400.0] * 12))
    assert found.torque["exciter-flange"].stages[2] == (400.0,) * 12


def test_the_same_in_foot_pounds(record: Make) -> None:
    found = record(stages([88.5] * 12, [206.5] * 12, [295.0] * 12), ('"N m"    ', '"ft lb"  '))
    assert found.torque["exciter-flange"].unit == "ft lb"


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([[120.0] * 11], r"stages\[1\]: must give a torque for each of the 12 bolts of the card, found \"11 torques\""),
        ([[120.0] * 12, [280.0] * 13], r"stages\[2\]: must give .*, found \"13 torques\""),
        ([[], [], [], [400.0] * 12], r"stages: must have a row for each of the card's 3 stages, not more, found \"4 rows\""),
        ([[120.0] * 12, [280.0] * 11 + [28.0]], r"stages\[2\]\[12\]: is implausible for this stage \(the card says 280 N m\); put it right, found 28"),
        ([[], [], [295.0] * 12], r"stages\[3\]: looks like ft lb, not N m \(the card says 400 N m\); put the unit right, or the figures, found 295"),
        ([[120.0] * 12, [0.0] * 12], r"stages\[2\]\[1\]: must be above 0"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(record: Make, rows: list[list[float]], sentence: str) -> None:
    with pytest.raises(JobError, match=r"torque\.exciter-flange\." + sentence):
        record(stages(*rows))


def test_newton_metres_written_as_foot_pounds_are_recognised(record: Make) -> None:
    sentence = r"stages\[3\]: looks like N m, not ft lb \(the card says 295 ft lb\)"
    with pytest.raises(JobError, match=sentence):
        record(stages([], [], [400.0] * 12), ('"N m"    ', '"ft lb"  '))


@pytest.mark.parametrize("torque", [300.0, 380.0, 420.0])
def test_an_honest_wrong_torque_can_be_recorded(record: Make, torque: float) -> None:
    assert record(stages([], [], [torque] * 12)).torque["exciter-flange"].stages[2][0] == torque


def test_one_bolt_at_three_quarters_does_not_look_like_another_unit(record: Make) -> None:
    found = record(stages([], [], [295.0] + [400.0] * 11))
    assert found.torque["exciter-flange"].stages[2][:2] == (295.0, 400.0)


def test_groups_of_the_same_short_name_get_numbers() -> None:
    def group(name: str) -> BoltGroup:
        return BoltGroup(name=name, count=4, torque_stages_nm=(10.0,))

    card = MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {"id": "F3", "nominal_speed_rpm": 978.0},
            "bolt_group": [group("Motor feet"), group("motor-feet"), group("--"), group("ÄÖ 2")],
        }
    )
    assert list(bolt_group_ids(card)) == ["motor-feet", "motor-feet-2", "bolts", "2"]
