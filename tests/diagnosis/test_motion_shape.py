"""Shape of the motion against signals whose shape is known in closed form."""

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.motion_shape import one_sidedness, shape_of
from vibhealth.errors import InputError
from vibhealth.model import Recording

RATE_HZ, SHAFT_HZ, SECONDS = 2000.0, 16.3, 30.0
TIME_S = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ
TURN = 2 * np.pi * SHAFT_HZ * TIME_S


def recorded(acceleration: NDArray[np.float64]) -> Recording:
    return Recording(
        samples=acceleration, sampling_rate_hz=RATE_HZ, unit="m/s2", path="f3.wav", sha256=""
    )


def test_a_pure_sinusoid_has_no_shape() -> None:
    shape = shape_of(recorded(30 * np.cos(TURN + 0.4)), shaft_frequency_hz=SHAFT_HZ)
    assert abs(shape.one_sidedness) < 1e-6
    assert shape.beat_percent < 1e-3
    assert shape.wobble_ratio < 1e-4
    assert shape.third_order_ratio < 1e-6


@pytest.mark.parametrize("share", [0.02, 0.05, 0.1])
@pytest.mark.parametrize("side", [1, -1])
def test_a_second_harmonic_in_phase_is_one_sided(share: float, side: int) -> None:
    """-(cos + s cos2) reaches 1 - s above and 1 + s below: -s of its half travel, up to s = 1/4."""
    acceleration = 30 * (np.cos(TURN) + side * 4 * share * np.cos(2 * TURN))
    shape = shape_of(recorded(acceleration), shaft_frequency_hz=SHAFT_HZ)
    assert shape.one_sidedness == pytest.approx(-side * share, abs=1e-4)


def test_odd_harmonics_are_never_one_sided() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        harmonics = np.zeros(7, dtype=complex)
        harmonics[::2] = rng.standard_normal(4) + 1j * rng.standard_normal(4)
        assert abs(one_sidedness(harmonics)) < 1e-9


@pytest.mark.parametrize("depth", [0.03, 0.1, 0.2])
def test_a_beat_is_read_as_its_change(depth: float) -> None:
    """Of 1 + d cos, 5 and 95 % lie at +- d cos(0.05 pi): a random phase's arcsine law."""
    acceleration = 30 * (1 + depth * np.cos(2 * np.pi * 0.3 * TIME_S)) * np.cos(TURN)
    shape = shape_of(recorded(acceleration), shaft_frequency_hz=SHAFT_HZ)
    expected = 200 * depth * np.cos(0.05 * np.pi)
    assert shape.beat_percent == pytest.approx(expected, rel=0.08)


def test_a_speed_that_wanders_is_no_beat() -> None:
    """The stroke of an unbalanced body stays; its acceleration follows the speed squared."""
    turns = SHAFT_HZ * TIME_S + 0.3 * np.sin(2 * np.pi * 0.1 * TIME_S)
    speed = np.gradient(turns, TIME_S) / SHAFT_HZ
    shape = shape_of(recorded(30 * speed**2 * np.cos(2 * np.pi * turns)), shaft_frequency_hz=16.3)
    assert shape.beat_percent < 0.5


@pytest.mark.parametrize("ratio", [0.02, 0.1])
def test_a_slow_swing_counts_as_displacement(ratio: float) -> None:
    """3 Hz of the same stroke has (3 / 16.3)^2 of the acceleration."""
    slow = ratio * (3.0 / SHAFT_HZ) ** 2 * np.cos(2 * np.pi * 3.0 * TIME_S)
    shape = shape_of(recorded(30 * (np.cos(TURN) + slow)), shaft_frequency_hz=SHAFT_HZ)
    assert shape.wobble_ratio == pytest.approx(ratio, rel=0.05)


@pytest.mark.parametrize("order", [1 / 3, 2 / 3])
def test_a_third_order_is_read_over_1x_and_noise_is_none(order: float) -> None:
    noise = 0.3 * np.random.default_rng(2).standard_normal(TIME_S.size)
    motion = 30 * np.cos(TURN) + noise
    assert shape_of(recorded(motion), shaft_frequency_hz=SHAFT_HZ).third_order_ratio == 0.0
    motion = motion + 30 * 0.05 * np.cos(order * TURN + 1.0)
    found = shape_of(recorded(motion), shaft_frequency_hz=SHAFT_HZ).third_order_ratio
    assert found == pytest.approx(0.05, rel=0.05)


def test_the_scale_does_not_matter() -> None:
    rng = np.random.default_rng(3)
    motion = np.cos(TURN) + 0.1 * np.cos(2 * TURN) + 0.01 * rng.standard_normal(TIME_S.size)
    first = shape_of(recorded(motion), shaft_frequency_hz=SHAFT_HZ)
    second = shape_of(recorded(25 * motion), shaft_frequency_hz=SHAFT_HZ)
    assert first.one_sidedness == pytest.approx(second.one_sidedness, abs=1e-9)
    assert first.wobble_ratio == pytest.approx(second.wobble_ratio, rel=1e-6)


def test_too_few_turns_are_refused() -> None:
    with pytest.raises(InputError, match="needs 100 turns"):
        shape_of(recorded(np.cos(TURN[:4000])), shaft_frequency_hz=SHAFT_HZ)
