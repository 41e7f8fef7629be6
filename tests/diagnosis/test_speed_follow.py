"""The shaft angle from weak harmonics, against the angle they were made with."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_comb import CombSpeed
from vibhealth.diagnosis.speed_field import SlowSignals
from vibhealth.diagnosis.speed_follow import follow_comb

Array = NDArray[np.float64]

RATE_HZ = 900.0
T = np.arange(round(40 * RATE_HZ)) / RATE_HZ
SPEED_HZ = 16.3


def turns_of(swing: float, period_s: float = 20.0) -> Array:
    rate = 2 * np.pi / period_s
    return np.asarray(SPEED_HZ * (T + swing / rate * np.sin(rate * T)))


def slow(record: Any, *, noise: float = 0.02) -> SlowSignals:
    rng = np.random.default_rng(0)
    both = np.stack([record, np.zeros(record.size)]) + noise * rng.standard_normal((2, T.size))
    return SlowSignals(samples=both, rate_hz=RATE_HZ)


def found(speed_hz: float = SPEED_HZ, *, uncertainty_percent: float = 0.1) -> CombSpeed:
    return CombSpeed(
        shaft_frequency_hz=speed_hz,
        false_speed_probability=1e-9,
        rival=0.0,
        uncertainty_percent=uncertainty_percent,
        doubt="",
        centre_s=np.array([20.0]),
        course_hz=np.array([speed_hz]),
    )


def error_turns(phase: Array | None, turns: Array) -> float:
    """Away from the first and last window, where the correction is held."""
    assert phase is not None
    inner = slice(500, -500)
    return float(np.std((phase - turns)[inner]))


@pytest.mark.parametrize("swing", [0.0, 0.003, 0.01, 0.02])
def test_a_swinging_speed_is_followed_from_its_mean(swing: float) -> None:
    """Up to 4 % peak to peak; noise alone leaves 2e-4 turns, the window rounds off the rest."""
    turns = turns_of(swing)
    record = sum(np.cos(2 * np.pi * k * turns + k) / k for k in range(1, 7))
    assert error_turns(follow_comb(slow(record), found()), turns) < 1e-3 + 0.1 * swing


def test_a_comb_a_third_of_a_per_cent_off_is_put_right() -> None:
    turns = turns_of(0.0)
    phase = follow_comb(slow(np.cos(2 * np.pi * turns)), found(1.003 * SPEED_HZ))
    assert error_turns(phase, turns) < 1e-3


def test_the_envelope_alone_serves() -> None:
    turns = turns_of(0.005)
    signals = slow(np.zeros(T.size)).samples
    signals[1] += 0.8 * np.cos(2 * np.pi * turns)
    phase = follow_comb(SlowSignals(samples=signals, rate_hz=RATE_HZ), found())
    assert error_turns(phase, turns) < 3e-3


def test_a_bearings_line_near_a_harmonic_does_not_pull() -> None:
    """Stronger than the seventh harmonic and 0.6 % from it."""
    turns = turns_of(0.003)
    record = sum(np.cos(2 * np.pi * k * turns + k) / k for k in range(1, 13))
    record = record + 0.5 * np.cos(2 * np.pi * 7.04 * turns)
    assert error_turns(follow_comb(slow(record), found()), turns) < 2e-3


def test_noise_is_not_followed() -> None:
    assert follow_comb(slow(np.zeros(T.size)), found()) is None


def test_a_line_that_is_not_at_the_comb_is_not_followed() -> None:
    """2 % off: nothing at the comb itself."""
    assert follow_comb(slow(np.cos(2 * np.pi * 1.02 * turns_of(0.0))), found()) is None


def test_a_motion_that_stops_is_not_followed() -> None:
    record = np.cos(2 * np.pi * turns_of(0.0)) * (np.abs(T - 20) > 3)
    assert follow_comb(slow(record), found()) is None


def test_too_short_a_record_is_not_followed() -> None:
    signals = slow(np.cos(2 * np.pi * turns_of(0.0))).samples[:, : round(15 / SPEED_HZ * RATE_HZ)]
    assert follow_comb(SlowSignals(samples=signals, rate_hz=RATE_HZ), found()) is None
