"""Recordings before and after that cannot be compared, or are one and the same."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.quality import check_pair
from vibhealth.model import Calibration, QualityFinding, Recording, Stage

Array = NDArray[np.float64]
START = datetime(2024, 3, 4, 8, 0, tzinfo=UTC)
Make = Callable[..., Recording]


@pytest.fixture
def make(recording: Callable[..., Recording]) -> Make:
    """A short recording of its own noise, file and time: number 0 first."""

    def one(number: int, **changes: Any) -> Recording:
        known: dict[str, Any] = {
            "path": f"{number}.wav",
            "sha256": f"{number:064x}",
            "point": "P1X",
            "start_time": START + timedelta(hours=number),
        }
        return recording(np.random.default_rng(number).standard_normal(64), **known | changes)

    return one


def by_id(before: list[Recording], after: list[Recording]) -> dict[str, QualityFinding]:
    return {finding.id: finding for finding in check_pair(before, after)}


def test_a_proper_pair_passes_in_a_fixed_order(make: Make) -> None:
    found = by_id([make(0), make(1)], [make(2), make(3)])
    assert list(found) == ["same-recording", "duplicates", "start-times", "set-up"]
    assert all(finding.result == "pass" and not finding.advice for finding in found.values())


@pytest.mark.parametrize("same", ["digest", "samples"])
def test_one_recording_as_before_and_after_holds(make: Make, same: str) -> None:
    first = make(0)
    twin = make(5, sha256=first.sha256) if same == "digest" else make(5, samples=first.samples)
    found = by_id([first], [make(4), twin])
    assert found["same-recording"].result == "hold"
    assert "0.wav (before) and 5.wav (after)" in found["same-recording"].detail
    assert found["duplicates"].result == "pass"


@pytest.mark.parametrize("stage", [0, 1])
def test_one_recording_twice_in_a_stage_holds(make: Make, stage: int) -> None:
    sides: tuple[list[Recording], list[Recording]] = ([make(0)], [make(9)])
    copy = replace(sides[stage][0], path="copy.wav", stage=Stage.AS_LEFT)
    sides[stage].append(copy)
    found = by_id(*sides)
    assert found["duplicates"].result == "hold"
    assert "copy.wav" in found["duplicates"].detail
    assert found["same-recording"].result == "pass"


def test_channels_of_one_file_are_different_recordings(make: Make) -> None:
    first = make(0, n_channels=2)
    second = make(1, sha256=first.sha256, channel=2, n_channels=2)
    assert by_id([first, second], [make(2)])["duplicates"].result == "pass"
    third = make(2, sha256=first.sha256, channel=2, n_channels=2)
    assert by_id([first, second], [third])["same-recording"].result == "hold"


def test_files_without_a_digest_are_not_the_same(make: Make) -> None:
    assert by_id([make(0, sha256="")], [make(1, sha256="")])["same-recording"].result == "pass"


@pytest.mark.parametrize(("lead_s", "expected"), [(1, "pass"), (0, "hold"), (-1, "hold")])
def test_after_must_begin_later_than_before(make: Make, lead_s: int, expected: str) -> None:
    before = [make(0), make(1, start_time=START)]
    after = [make(2), make(3, start_time=START + timedelta(seconds=lead_s))]
    assert by_id(before, after)["start-times"].result == expected


def test_start_times_are_not_judged_where_they_cannot_be(make: Make) -> None:
    naive = make(1, start_time=START.replace(tzinfo=None))
    for before, after, words in (
        ([make(0)], [make(1, start_time=None)], "start time of 1.wav is not known"),
        ([make(0)], [naive], "some have none"),
        ([], [make(1)], "no recording of one of the two stages"),
    ):
        finding = by_id(before, after)["start-times"]
        assert finding.result == "not-judged"
        assert words in finding.detail


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sampling_rate_hz": 12800.0}, "sampling rate in Hz at P1X: 6400.0 before, 12800.0 after"),
        ({"sensor_range_m_s2": None}, "sensor range in m/s2 at P1X"),
        ({"sensor_usable_hz": (1.0, 5000.0)}, "usable band of the sensor in Hz at P1X"),
        ({"calibration": Calibration(scale_m_s2=1.0, source="card")}, "calibration factor"),
        ({"unit": "counts"}, "unit at P1X: m/s2 before, counts after"),
        ({"remarks": (("mount", "magnet"),)}, "mount at P1X: stud before, magnet after"),
        ({"remarks": ()}, "mount at P1X: stud before, not stated after"),
    ],
)
def test_a_changed_set_up_is_watched_in_words(
    make: Make, changes: dict[str, Any], words: str
) -> None:
    before = make(0, remarks=(("mount", "stud"),))
    same = make(1, remarks=(("mount", "stud"),))
    assert by_id([before], [same])["set-up"].result == "pass"
    finding = by_id([before], [same, replace(same, **changes)])["set-up"]
    assert finding.result == "watch"
    assert words in finding.detail


def test_different_points_are_not_compared(make: Make) -> None:
    other = make(1, point="P1Y", sampling_rate_hz=12800.0)
    assert by_id([make(0)], [other])["set-up"].result == "pass"
