"""Orders stand still in the map however fast the speed changes."""

import re

import numpy as np
import pytest

from vibhealth.errors import InputError
from vibhealth.signal.order_map import LOWEST_DB, order_map

RATE_HZ = 500.0
TIME_S = np.arange(round(12 * RATE_HZ)) / RATE_HZ
SHAFT_HZ = np.clip(2.5 * (TIME_S - 2.0), 0, 20.0)
TURNS = np.cumsum(SHAFT_HZ) / RATE_HZ
# A window of 8 turns has a main lobe of half an order; between lines its Hann side lobes are
# below -31 dB.
LINE_DB, BETWEEN_DB = 0.3, -28.0
# Just after the start a window holds less than two turns, whose mean adds to 1x.
START_DB = 1.0


def column(level: np.ndarray, time_s: np.ndarray, at_s: float) -> np.ndarray:
    return np.asarray(level[:, int(np.argmin(np.abs(time_s - at_s)))])


def test_lines_keep_their_order_and_size_while_the_speed_rises() -> None:
    samples = np.sin(2 * np.pi * TURNS) + 0.1 * np.sin(2 * np.pi * 3.5 * TURNS)
    found = order_map(samples, RATE_HZ, course_time_s=TIME_S, course_shaft_frequency_hz=SHAFT_HZ)
    assert found.order[0] == 0.25
    assert found.order[-1] == 12.0
    assert found.level_db.shape == (found.order.size, found.time_s.size)
    assert found.level_db.max() == 0.0
    for at_s in (7.0, 9.0, 11.0):
        levels = column(found.level_db, found.time_s, at_s)
        first = levels[found.order == 1.0]
        assert first == pytest.approx(0.0, abs=START_DB)
        assert levels[found.order == 3.5] - first == pytest.approx(-20.0, abs=LINE_DB)
        away = (np.abs(found.order - 1) >= 0.75) & (np.abs(found.order - 3.5) >= 0.75)
        assert levels[away].max() < BETWEEN_DB


def test_standstill_and_what_lies_above_the_nyquist_frequency_is_empty() -> None:
    samples = np.sin(2 * np.pi * TURNS)
    found = order_map(
        samples,
        RATE_HZ,
        course_time_s=TIME_S,
        course_shaft_frequency_hz=SHAFT_HZ,
        highest_order=14.0,
    )
    assert (column(found.level_db, found.time_s, 1.0) == LOWEST_DB).all()
    last = column(found.level_db, found.time_s, 11.5)
    assert (last[found.order * 20.0 >= RATE_HZ / 2] == LOWEST_DB).all()


def test_silence_is_the_lowest_level() -> None:
    found = order_map(
        np.zeros(TIME_S.size), RATE_HZ, course_time_s=TIME_S, course_shaft_frequency_hz=SHAFT_HZ
    )
    assert (found.level_db == LOWEST_DB).all()


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"acceleration": np.zeros(3)}, "acceleration must hold at least 16 values"),
        ({"sampling_rate_hz": -1.0}, "sampling_rate_hz must be a finite number above 0"),
        ({"course_time_s": TIME_S[::-1]}, "a course of as many rising times as frequencies"),
        ({"course_time_s": TIME_S[:-1]}, "a course of as many rising times as frequencies"),
        ({"course_shaft_frequency_hz": SHAFT_HZ - 1}, "no speed below 0, got 12.0, 240 and -1 Hz"),
        ({"highest_order": 0.25}, "need highest_order above 0.25"),
        ({"n_times": 1}, "n_times of 2 or more"),
    ],
)
def test_refusals(changed: dict[str, object], message: str) -> None:
    arguments: dict[str, object] = {
        "acceleration": np.sin(2 * np.pi * TURNS),
        "sampling_rate_hz": RATE_HZ,
        "course_time_s": TIME_S,
        "course_shaft_frequency_hz": SHAFT_HZ,
    }
    with pytest.raises(InputError, match=re.escape(message)):
        order_map(**(arguments | changed))  # type: ignore[arg-type]
