"""The line that dominates: where it lies, and whether it is 1x of the shaft."""

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.speed import find_speed
from vibhealth.diagnosis.speed_line import dominant_line_hz, has_harmonics
from vibhealth.model import Calibration, Recording

RATE_HZ = 2048.0
SHAFT_HZ = 20.3
SECONDS = 20.0
TIME_S = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
# Speed swinging by 3 % to either side at 0.1 Hz: the angle is its integral.
SWING_HZ = 0.1
WANDERING = SHAFT_HZ * TIME_S + 0.03 * SHAFT_HZ / (2 * np.pi * SWING_HZ) * np.sin(
    2 * np.pi * SWING_HZ * TIME_S
)


def recording(samples: NDArray[np.float64]) -> Recording:
    return Recording(
        samples=samples,
        sampling_rate_hz=RATE_HZ,
        unit="m/s2",
        path="made",
        sha256="",
        calibration=Calibration(scale_m_s2=1.0, source="made"),
    )


def motion(angle: NDArray[np.float64], *harmonics: float) -> NDArray[np.float64]:
    noise = 0.05 * np.random.default_rng(1).standard_normal(angle.size)
    return noise + sum(
        amplitude * np.cos(2 * np.pi * (number + 1) * angle + number)
        for number, amplitude in enumerate(harmonics)
    )


def test_a_lone_line_is_where_it_is() -> None:
    """Lines are a sixtieth of the shaft frequency apart; their weighted mean is much nearer."""
    found = dominant_line_hz(recording(motion(SHAFT_HZ * TIME_S, 1.0)), 19.5)
    assert found == pytest.approx(SHAFT_HZ, rel=2e-3)


def test_two_lines_of_equal_velocity_dominate_nothing() -> None:
    """Twice the order needs twice the acceleration for the same velocity: each holds half at most,
    less what the noise has."""
    assert dominant_line_hz(recording(motion(SHAFT_HZ * TIME_S, 1.0, 2.2)), 20.0) != pytest.approx(
        SHAFT_HZ, rel=0.01
    )
    assert dominant_line_hz(recording(motion(SHAFT_HZ * TIME_S, 1.0, 2.0)), 20.0) is None


def test_a_harmonic_that_keeps_to_the_phase_confirms_and_a_stranger_does_not() -> None:
    angle = WANDERING
    assert has_harmonics(motion(angle, 1.0, 0.1), angle)
    assert has_harmonics(motion(angle, 1.0, 0.0, 0.1), angle)
    assert not has_harmonics(motion(angle, 1.0), angle)
    # A line 0.3 % beside the second harmonic: 1.2 turns off in 400.
    stranger = motion(angle, 1.0) + 0.1 * np.cos(2 * np.pi * 2 * 1.003 * angle)
    assert not has_harmonics(stranger, angle)
    assert not has_harmonics(motion(angle[:1000], 1.0, 0.1), angle[:1000])


def test_where_the_comb_is_not_followed_the_confirmed_line_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("vibhealth.diagnosis.speed.follow_comb", lambda _slow, _found: None)
    track = find_speed(
        recording(motion(WANDERING, 1.0, 0.1, 0.05)),
        nominal_hz=20.0,
        tolerance_percent=10.0,
        is_exciter=False,
    )
    assert track.speed.source == "recording"
    assert "dominates" in track.speed.detail
    assert track.phase_turns is not None
    error = track.phase_turns - WANDERING
    inner = slice(int(RATE_HZ), -int(RATE_HZ))
    # A hundredth of a turn at the hundredth order is one turn; strikes of a bearing lie below 20.
    assert np.ptp(error[inner]) < 0.005
    assert track.speed.variation_percent == pytest.approx(6.0, rel=0.05)


@pytest.mark.parametrize(
    ("harmonics", "nominal_hz"),
    [((1.0,), 20.0), ((1.0, 0.1), 23.0)],
)
def test_an_unconfirmed_line_and_one_outside_the_tolerance_are_not_followed(
    harmonics: tuple[float, ...], nominal_hz: float
) -> None:
    track = find_speed(
        recording(motion(SHAFT_HZ * TIME_S, *harmonics)),
        nominal_hz=nominal_hz,
        tolerance_percent=3.0,
        is_exciter=False,
    )
    assert "dominates" not in track.speed.detail
