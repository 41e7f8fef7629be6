"""The body on its isolators against closed forms: steady state, swing, free decay, contact."""

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.simulate._body import Isolator, stopped, swinging_motion, turning_motion
from vibhealth.simulate._shaft import ShaftAngle, make_course_angle
from vibhealth.simulate.course import Course

Samples = NDArray[np.float64]

RATE_HZ = 2000.0
SHAFT_HZ = 20.0
OMEGA = 2 * np.pi * SHAFT_HZ
# The force is linear between samples: relative error of a harmonic (omega step)^2 / 12.
FOH_ERROR = (OMEGA / RATE_HZ) ** 2 / 12
# Swing of the published ranges is that of other start and stop curves: a tenth either way.
CURVE_SHARE = 0.1


def swing(course: Course, isolator: Isolator) -> tuple[ShaftAngle, Samples, Samples]:
    """Shaft, times and displacement over the steady amplitude."""
    shaft = make_course_angle(
        course, SHAFT_HZ, isolator.frequency_hz, 0.0, np.random.default_rng(1)
    )
    time_s = np.arange(round(course.duration_s * RATE_HZ)) / RATE_HZ
    motion = swinging_motion(
        shaft.turns_at(time_s), shaft.frequency_at(time_s), (OMEGA**2, SHAFT_HZ), isolator, RATE_HZ
    )
    return shaft, time_s, motion.displacement


def test_a_body_at_speed_from_the_first_sample_moves_steadily() -> None:
    time_s = np.arange(4000) / RATE_HZ
    motion = swinging_motion(
        SHAFT_HZ * time_s + 0.2,
        np.full(4000, SHAFT_HZ),
        (3.0, SHAFT_HZ),
        Isolator(frequency_hz=3.0, damping_ratio=0.05),
        RATE_HZ,
    )
    for values, amplitude in (
        (motion.acceleration, 3.0),
        (motion.velocity, 3.0 / OMEGA),
        (motion.displacement, 3.0 / OMEGA**2),
    ):
        wave = 2 * np.mean(values * np.exp(-1j * OMEGA * time_s))
        assert abs(wave) == pytest.approx(amplitude, rel=3 * FOH_ERROR)
        rest = values - (wave * np.exp(1j * OMEGA * time_s)).real
        # no transient but the free swing that an error of the velocity leaves, omega / omega_0
        assert np.max(np.abs(rest)) < 2 * (SHAFT_HZ / 3.0) * FOH_ERROR * amplitude


def test_the_isolators_delay_the_steady_motion_as_theory_says() -> None:
    ratio, damping = 3.0 / SHAFT_HZ, 0.1
    time_s = np.arange(4000) / RATE_HZ
    motion = swinging_motion(
        SHAFT_HZ * time_s,
        np.full(4000, SHAFT_HZ),
        (1.0, SHAFT_HZ),
        Isolator(frequency_hz=3.0, damping_ratio=damping),
        RATE_HZ,
    )
    phase = np.angle(np.mean(motion.acceleration * np.exp(-1j * OMEGA * time_s)))
    # acceleration = force / (1 - r^2 - 2 i zeta r), r = natural over shaft frequency
    expected = -np.angle(complex(1 - ratio**2, -2 * damping * ratio))
    assert phase == pytest.approx(expected, abs=5 * FOH_ERROR)


@pytest.mark.parametrize(
    ("course", "low", "high"),
    [
        (Course(rest_s=1.0, run_up_s=0.5, steady_s=2.0), 2.0, 2.8),
        (Course(rest_s=1.0, run_up_s=1.0, steady_s=2.0), 2.5, 3.3),
        (Course(rest_s=1.0, run_up_s=3.0, steady_s=2.0), 3.1, 5.2),
        (Course(rest_s=1.0, run_up_s=10.0, steady_s=2.0), 3.9, 8.1),
        (
            Course(rest_s=0.0, run_up_s=0.0, steady_s=1.0, coast_down_s=10.0, rest_after_s=2.0),
            3.0,
            6.7,
        ),
        (
            Course(rest_s=0.0, run_up_s=0.0, steady_s=1.0, coast_down_s=30.0, rest_after_s=2.0),
            3.9,
            10.5,
        ),
    ],
    ids=["0.5 s", "1 s", "3 s", "10 s", "coast 10 s", "coast 30 s"],
)
def test_swing_ratios_lie_where_the_one_degree_of_freedom_model_puts_them(
    course: Course, low: float, high: float
) -> None:
    """Ranges of isolators of 2.5 to 3.5 Hz with 2 to 10 % damping, common practice."""
    ratios = [
        np.max(np.abs(swing(course, Isolator(frequency_hz=f, damping_ratio=z))[2]))
        for f in (2.5, 3.5)
        for z in (0.02, 0.1)
    ]
    assert low * (1 - CURVE_SHARE) <= min(ratios)
    assert max(ratios) <= high * (1 + CURVE_SHARE)
    assert max(ratios) - min(ratios) > 0.3  # damping and frequency matter


def test_a_slow_start_that_dwells_nears_the_resonance_peak() -> None:
    damping = 0.05
    isolator = Isolator(frequency_hz=3.0, damping_ratio=damping)
    quick = swing(Course(rest_s=1.0, run_up_s=3.0, steady_s=2.0), isolator)[2]
    dwelling = swing(Course(rest_s=1.0, run_up_s=3.0, steady_s=2.0, dwell_s=30.0), isolator)[2]
    at_peak = 1 / (2 * damping)  # over the amplitude far above resonance
    assert np.max(np.abs(dwelling)) == pytest.approx(at_peak, rel=0.06)
    assert np.max(np.abs(quick)) < 0.6 * at_peak


def test_after_the_stop_the_body_swings_freely() -> None:
    isolator = Isolator(frequency_hz=3.0, damping_ratio=0.04)
    course = Course(rest_s=0.0, run_up_s=0.0, steady_s=1.0, coast_down_s=4.0, rest_after_s=8.0)
    _, time_s, displacement = swing(course, isolator)
    free = displacement[time_s > 5.5]
    crossings = np.flatnonzero((free[:-1] < 0) & (free[1:] >= 0))
    place = crossings - free[crossings] / (free[crossings + 1] - free[crossings])
    period_s = np.mean(np.diff(place)) / RATE_HZ
    damped_hz = 3.0 * np.sqrt(1 - 0.04**2)
    assert 1 / period_s == pytest.approx(damped_hz, rel=1e-3)
    peaks = [np.max(free[a:b]) for a, b in itertools.pairwise(crossings)]
    decrement = np.mean(np.diff(np.log(peaks)))
    # the logarithmic decrement; peaks are read between samples to (omega step)^2 / 2
    assert -decrement == pytest.approx(2 * np.pi * 0.04 / np.sqrt(1 - 0.04**2), rel=1e-2)


def test_at_rest_nothing_moves_and_no_joint_jumps() -> None:
    isolator = Isolator(frequency_hz=3.0, damping_ratio=0.05)
    course = Course(rest_s=3.0, run_up_s=3.0, steady_s=3.0, coast_down_s=5.0, rest_after_s=20.0)
    shaft, time_s, displacement = swing(course, isolator)
    assert np.all(displacement[time_s < 2.8] == 0.0)
    assert np.max(np.abs(displacement[-1000:])) < 1e-5  # 15 s of e^(-0.94 t) from some 5
    largest_step = np.max(np.abs(displacement)) * OMEGA / RATE_HZ
    assert np.max(np.abs(np.diff(displacement))) <= largest_step
    speed = shaft.frequency_at(time_s)
    steepest = 1.5 * SHAFT_HZ / 3.0 / RATE_HZ  # of the S curve, 3/2 of its mean
    assert np.max(np.abs(np.diff(speed))) <= 1.2 * steepest
    assert np.min(speed) >= 0


def test_acceleration_is_the_second_derivative_through_the_start() -> None:
    isolator = Isolator(frequency_hz=3.0, damping_ratio=0.05)
    shaft = make_course_angle(
        Course(rest_s=1.0, run_up_s=2.0, steady_s=1.0), SHAFT_HZ, 3.0, 0.0, np.random.default_rng(2)
    )
    time_s = np.arange(8000) / RATE_HZ
    motion = swinging_motion(
        shaft.turns_at(time_s), shaft.frequency_at(time_s), (OMEGA**2, SHAFT_HZ), isolator, RATE_HZ
    )
    second = np.gradient(np.gradient(motion.displacement, 1 / RATE_HZ), 1 / RATE_HZ)
    # of the steady wave the double central difference keeps sinc^2: (omega step)^2 / 3 is lost
    tolerance = 2 * (OMEGA / RATE_HZ) ** 2 / 3 * OMEGA**2
    assert np.max(np.abs(second - motion.acceleration)[4:-4]) < tolerance


def test_a_stop_cuts_one_side_and_pushes_once_per_turn() -> None:
    rate_hz, turns = 20_000.0, np.arange(20_000) / 1000.0
    motion = turning_motion(turns, np.full(turns.size, 20.0), np.full(turns.size, OMEGA**2))
    cut = stopped(motion, gap=0.5, width=0.05, softness=0.2)
    assert np.max(cut.displacement) == pytest.approx(0.5 + 0.2 * 0.5, abs=0.01)
    assert np.min(cut.displacement) == pytest.approx(-1.0, abs=1e-6)
    velocity = np.gradient(cut.displacement, 1 / rate_hz)
    assert np.max(np.abs(velocity - cut.velocity)[2:-2]) < 0.01 * OMEGA
    acceleration = np.gradient(cut.velocity, 1 / rate_hz)
    assert np.max(np.abs(acceleration - cut.acceleration)[2:-2]) < 0.02 * OMEGA**2
    # pushes back where it meets and leaves the stop, twice the 1x and more: -g'' v^2
    assert np.min(cut.acceleration) < -2 * OMEGA**2


def test_a_stop_out_of_reach_changes_nothing() -> None:
    turns = np.arange(1000) / 100.0
    motion = turning_motion(turns, np.full(1000, 20.0), np.full(1000, 1.0))
    far = stopped(motion, gap=100 / OMEGA**2, width=0.05 / OMEGA**2, softness=0.0)
    np.testing.assert_allclose(far.acceleration, motion.acceleration, atol=1e-12)
