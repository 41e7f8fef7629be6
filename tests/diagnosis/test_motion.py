"""Working motion and orbit of recordings whose motion is known in closed form."""

import math
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis import motion
from vibhealth.diagnosis.motion import motion_of, orbit_of, shaft_phase_of
from vibhealth.errors import InputError, RecordingError
from vibhealth.model import Recording, Stage
from vibhealth.signal import AngleRecord, HarmonicFit
from vibhealth.units import STANDARD_GRAVITY_M_S2

RATE_HZ, SHAFT_HZ = 3200.0, 16.3
T = np.arange(int(12 * RATE_HZ)) / RATE_HZ  # 196 turns
AMPLITUDE = 5 * STANDARD_GRAVITY_M_S2
# Resampling to equal angles keeps lines to -90 dB (3e-5); its phase from demodulation is exact
# for a steady sinusoid but for the harmonics, which a frequency given wrong by 0.1 % lets through
# its window by 1e-3 of their size.
STEADY = 1e-4


def recording(samples: NDArray[np.float64], **fields: Any) -> Recording:
    settings_: dict[str, Any] = {"unit": "m/s2", "path": "as-left/f3.wav", "sha256": "0"}
    return Recording(samples=samples, sampling_rate_hz=RATE_HZ, **(settings_ | fields))


def wandering_turns(wander: float, period_s: float) -> NDArray[np.float64]:
    swing = wander * period_s / (2 * np.pi) * (1.0 - np.cos(2 * np.pi * T / period_s))
    return np.asarray(SHAFT_HZ * (T + swing))


def motion_samples(turns: NDArray[np.float64]) -> NDArray[np.float64]:
    x = AMPLITUDE * np.cos(2 * np.pi * turns + 0.7) + 3.0
    for order, amplitude in ((2.0, 1.2), (3.0, 0.5), (10.0, 0.3), (0.5, 0.2), (2.5, 0.1)):
        x += amplitude * np.cos(2 * np.pi * order * turns + order)
    return np.asarray(x)


def test_steady_motion_in_closed_form() -> None:
    """Stroke 2 * 5 g / (2 pi 16.3)^2 = 9.349 mm; harmonics 1.2, 0.5, 0.3; half orders 0.2, 0.1."""
    found = motion_of(recording(motion_samples(SHAFT_HZ * T)), shaft_frequency_hz=1.001 * SHAFT_HZ)
    assert found.amplitude_1x == pytest.approx(AMPLITUDE, rel=STEADY)
    assert found.phase_1x_rad == pytest.approx(0.7, abs=1e-3)
    assert found.unit == "m/s2"
    expected = 1e3 * 2 * 5 * 9.80665 / (2 * math.pi * 16.3) ** 2
    assert expected == pytest.approx(9.349, abs=5e-4)
    assert found.stroke_mm == pytest.approx(expected, rel=STEADY)
    lines = {line.order: line for line in found.harmonics + found.half_orders}
    assert list(lines) == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 0.5, 1.5, 2.5]
    known = {2.0: 1.2, 3.0: 0.5, 10.0: 0.3, 0.5: 0.2, 2.5: 0.1}
    for order, line in lines.items():
        amplitude = known.get(order, 0.0)
        assert line.amplitude_m_s2 == pytest.approx(amplitude, abs=AMPLITUDE * STEADY)
        assert line.relative_to_first == pytest.approx(amplitude / AMPLITUDE, abs=STEADY)
    ratio = math.sqrt(1.2**2 + 0.5**2 + 0.3**2) / AMPLITUDE
    assert found.harmonic_ratio == pytest.approx(ratio, abs=STEADY)
    assert found.half_order_ratio == pytest.approx(0.2 / AMPLITUDE, abs=STEADY)


@pytest.mark.parametrize(("wander", "period_s"), [(0.01, 10.0), (0.01, 5.0), (0.003, 3.0)])
def test_a_wandering_speed_costs_no_amplitude(wander: float, period_s: float) -> None:
    """1 % wander smears 10x over 3 Hz; along the shaft angle it stays within 1 %, 1x within 0.1 %.

    A fit at one frequency would lose nearly all of 1x: the angle swings by
    f wander T / (2 pi) = 0.26 turns to either side.
    """
    x = motion_samples(wandering_turns(wander, period_s))
    found = motion_of(recording(x), shaft_frequency_hz=SHAFT_HZ)
    assert found.amplitude_1x == pytest.approx(AMPLITUDE, rel=1e-3)
    lines = {line.order: line.amplitude_m_s2 for line in found.harmonics}
    assert lines[2.0] == pytest.approx(1.2, rel=0.01)
    assert lines[10.0] == pytest.approx(0.3, rel=0.03)  # ten times the error of the phase


def test_noise_alone_is_no_half_order() -> None:
    """Limit: three times the floor, exp(-9) for each of three orders: 0.04 % per recording."""
    for seed in range(8):
        noise = np.random.default_rng(seed).standard_normal(T.size)
        x = AMPLITUDE * np.cos(2 * np.pi * SHAFT_HZ * T) + 2.0 * noise
        found = motion_of(recording(x), shaft_frequency_hz=SHAFT_HZ)
        assert found.half_order_ratio == 0.0
        assert found.harmonic_ratio > 0.0


def test_a_half_order_in_noise_is_freed_of_its_floor() -> None:
    """Mean of a^2 less floor over 12 records is the true a^2, 0.3^2, each with the sd 2 a s.

    s = sigma sqrt(2 / n) is the sd of each component of a fitted amplitude.
    """
    squares = []
    for seed in range(12):
        noise = np.random.default_rng(100 + seed).standard_normal(T.size)
        x = AMPLITUDE * np.cos(2 * np.pi * SHAFT_HZ * T) + 0.3 * np.cos(np.pi * SHAFT_HZ * T)
        found = motion_of(recording(x + 4.0 * noise), shaft_frequency_hz=SHAFT_HZ)
        squares.append(found.half_orders[0].amplitude_m_s2 ** 2)
    sigma = 4.0 * math.sqrt(2.0 / T.size)  # of each component of a fitted amplitude
    assert np.mean(squares) == pytest.approx(0.3**2, abs=4 * 2 * 0.3 * sigma / math.sqrt(12))


def test_the_floor_in_closed_form() -> None:
    """An impulse h in the middle of n samples has the flat Hann density 2 h^2 / (rate 3n/8).

    Read as noise (median over ln 2), its mean squared amplitude in a fit over n samples is
    2 density / turns = 4 h^2 / (3/8 n^2 ln 2). A half order of four times that root keeps
    sqrt(16 - 1) of it, one of 2.9 times reads 0.
    """
    n, height = 64 * 100, 10.0
    samples = np.zeros(n)
    samples[n // 2] = height
    nothing = HarmonicFit(
        fundamental_hz=1.0,
        orders=np.array([1.0]),
        amplitude=np.zeros(1),
        phase_rad=np.zeros(1),
        offset=0.0,
        residual_rms=0.0,
    )
    floor = math.sqrt(4 * height**2 / (0.375 * n**2 * math.log(2.0)))
    freed = motion._above_floor(
        AngleRecord(samples=samples, samples_per_turn=64, start_turns=0.0),
        nothing,
        floor * np.array([4.0, 2.9, 3.1]),
    )
    expected = floor * np.sqrt([15.0, 0.0, 3.1**2 - 1])
    np.testing.assert_allclose(freed, expected, rtol=1e-6)


def test_counts_have_no_stroke() -> None:
    x = motion_samples(SHAFT_HZ * T)
    plain = motion_of(recording(x), shaft_frequency_hz=SHAFT_HZ)
    found = motion_of(recording(x / 100.0, unit="counts"), shaft_frequency_hz=SHAFT_HZ)
    assert found.stroke_mm is None
    assert found.unit == "counts"
    assert found.amplitude_1x == pytest.approx(AMPLITUDE / 100.0, rel=STEADY)
    assert found.harmonic_ratio == pytest.approx(plain.harmonic_ratio, rel=1e-9)


def test_a_given_angle_is_the_reference_of_the_phase() -> None:
    turns = wandering_turns(0.01, 5.0) + 3.25
    x = motion_samples(turns)
    found = motion_of(recording(x), shaft_frequency_hz=SHAFT_HZ, shaft_phase_turns=turns)
    assert found.phase_1x_rad == pytest.approx(0.7, abs=1e-4)
    assert found.harmonics[8].amplitude_m_s2 == pytest.approx(0.3, abs=AMPLITUDE * STEADY)


def test_without_a_motion_that_stands_out_the_speed_counts_as_constant() -> None:
    """1x of 0.05 in noise of 1: the line is found 0.2 % beside the given frequency.

    The frequency of a sinusoid in noise is known to sqrt(6) sigma rate / (pi A n^1.5) = 6.6e-3 Hz.
    """
    noise = np.random.default_rng(1).standard_normal(T.size)
    x = 0.05 * np.cos(2 * np.pi * SHAFT_HZ * T) + noise
    turns = shaft_phase_of(x, RATE_HZ, shaft_frequency_hz=1.002 * SHAFT_HZ)
    assert np.ptp(np.diff(turns)) < 1e-12
    assert (turns[-1] - turns[0]) / (T[-1] - T[0]) == pytest.approx(SHAFT_HZ, abs=4 * 6.6e-3)
    found = motion_of(recording(x), shaft_frequency_hz=1.002 * SHAFT_HZ)
    assert found.amplitude_1x == pytest.approx(0.05, abs=4 * math.sqrt(2.0 / T.size))


def test_motion_refusals() -> None:
    x = motion_samples(SHAFT_HZ * T)
    with pytest.raises(
        InputError, match=re.escape("the working motion needs 20 turns, a record of")
    ):
        motion_of(recording(x[:3200]), shaft_frequency_hz=SHAFT_HZ)
    with pytest.raises(
        InputError,
        match=re.escape("a sampling rate of 3200 Hz is too low to read 10.5 times 200 Hz; record"),
    ):
        motion_of(recording(x), shaft_frequency_hz=200.0)
    with pytest.raises(InputError, match=re.escape("shaft_frequency_hz must be a finite number")):
        motion_of(recording(x), shaft_frequency_hz=0.0)
    with pytest.raises(RecordingError, match=re.escape("as-left/f3.wav shows no motion at 1x")):
        motion_of(recording(np.zeros(T.size)), shaft_frequency_hz=SHAFT_HZ)


def pair(
    major_mm: float, minor_mm: float, tilt_deg: float, sense: int, **fields: Any
) -> tuple[Recording, Recording]:
    """Accelerations of an ellipse with given half axes, tilted, turned through in one sense."""
    omega, angle = 2 * np.pi * SHAFT_HZ, 2 * np.pi * SHAFT_HZ * T + 0.9
    along, across = major_mm * np.cos(angle), sense * minor_mm * np.sin(angle)
    tilt = math.radians(tilt_deg)
    scale = -(omega**2) * 1e-3
    x = scale * (along * math.cos(tilt) - across * math.sin(tilt))
    y = scale * (along * math.sin(tilt) + across * math.cos(tilt))
    return (
        recording(x, point="P1X", stage=Stage.AS_LEFT, channel=1, **fields),
        recording(y, stage=Stage.AS_LEFT, channel=2, **fields),
    )


@settings(max_examples=8, deadline=None)
@given(
    minor_mm=st.floats(0.5, 2.5),
    tilt_deg=st.floats(-89.0, 89.0),
    sense=st.sampled_from([-1, 1]),
)
def test_orbit_of_an_ellipse(minor_mm: float, tilt_deg: float, sense: int) -> None:
    """Axes are whole axes (twice the half axes); the tilt of a near circle is less certain."""
    orbit = orbit_of(*pair(3.0, minor_mm, tilt_deg, sense), SHAFT_HZ)
    assert orbit.major_mm == pytest.approx(6.0, rel=2 * STEADY)
    assert orbit.minor_mm == pytest.approx(2 * minor_mm, rel=1e-3)
    assert orbit.tilt_deg == pytest.approx(tilt_deg, abs=0.05)
    assert orbit.direction == ("counter-clockwise" if sense > 0 else "clockwise")


def test_the_curve_lies_on_the_ellipse_and_turns_as_said() -> None:
    orbit = orbit_of(*pair(3.0, 2.0, 0.0, 1), SHAFT_HZ)
    x, y = orbit.curve_x_mm, orbit.curve_y_mm
    assert x.size == y.size == 181
    np.testing.assert_allclose((x / 3.0) ** 2 + (y / 2.0) ** 2, 1.0, rtol=1e-3)
    np.testing.assert_allclose([x[0], y[0]], [x[-1], y[-1]], atol=1e-9)
    area = 0.5 * np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])  # positive: counter-clockwise
    assert area == pytest.approx(math.pi * 3.0 * 2.0, rel=1e-3)
    assert (orbit.stage, orbit.points) == ("as-left", ("P1X", "channel 2"))
    assert orbit.path == "as-left/f3.wav"


def test_a_straight_stroke_has_no_sense() -> None:
    orbit = orbit_of(*pair(3.0, 0.1, 45.0, 1), SHAFT_HZ)
    assert orbit.direction == "line"
    assert orbit.tilt_deg == pytest.approx(45.0, abs=0.05)
    assert orbit_of(*pair(3.0, 0.2, 45.0, -1), SHAFT_HZ).direction == "clockwise"


def test_a_motion_along_y_alone_is_followed_by_y() -> None:
    """x holds only noise: its own phase would be useless."""
    x, y = pair(3.0, 0.0, 90.0, 1)
    noise = np.random.default_rng(3).standard_normal(T.size)
    orbit = orbit_of(recording(x.samples + noise, point="P1X"), y, SHAFT_HZ)
    assert orbit.major_mm == pytest.approx(6.0, rel=1e-3)
    assert orbit.direction == "line"
    assert abs(orbit.tilt_deg) == pytest.approx(90.0, abs=0.1)


def test_orbit_refusals() -> None:
    x, y = pair(3.0, 2.0, 0.0, 1)
    with pytest.raises(
        InputError, match=re.escape("an orbit needs two channels recorded together")
    ):
        orbit_of(x, recording(y.samples, path="other.wav"), SHAFT_HZ)
    with pytest.raises(InputError, match=re.escape("f3.wav (38400 samples) and as-left/f3.wav (9")):
        orbit_of(x, recording(y.samples[:9000]), SHAFT_HZ)
    with pytest.raises(InputError, match=re.escape("an orbit in mm needs calibrated channels")):
        orbit_of(x, recording(y.samples, unit="counts"), SHAFT_HZ)
    slower = Recording(
        samples=y.samples, sampling_rate_hz=1600.0, unit="m/s2", path=x.path, sha256="0"
    )
    with pytest.raises(InputError, match=re.escape("differ in sampling rate: 3200 and 1600 Hz")):
        orbit_of(x, slower, SHAFT_HZ)
    silent = recording(np.zeros(T.size))
    with pytest.raises(RecordingError, match=re.escape("shows no motion at 1x of 16.3 Hz")):
        orbit_of(silent, silent, SHAFT_HZ)
