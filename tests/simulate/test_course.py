"""Starts and stops of the shaft, and whole recordings of them."""

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate import (
    Course,
    Defect,
    MachineFault,
    SimulatedRecording,
    SimulationSettings,
    simulate,
    simulate_course,
)
from vibhealth.simulate._shaft import make_course_angle
from vibhealth.simulate.course import speed_share

CardMaker = Callable[..., MachineCard]

RATE_HZ = 12_800.0
FULL = Course(rest_s=2.0, run_up_s=3.0, steady_s=4.0, coast_down_s=6.0, rest_after_s=6.0)


def settings_of(**values: Any) -> SimulationSettings:
    resonances = SimulationSettings().resonances[:2]
    return SimulationSettings(sampling_rate_hz=RATE_HZ, resonances=resonances, **values)


def part(made: SimulatedRecording, start_s: float, end_s: float) -> NDArray[np.float64]:
    return made.samples[:, round(start_s * RATE_HZ) : round(end_s * RATE_HZ)]


def test_the_s_curve_is_half_way_up_at_half_its_time() -> None:
    time_s, share = speed_share(Course(rest_s=1.0, run_up_s=4.0, steady_s=2.0), 0.15, 0.5)
    assert np.interp(3.0, time_s, share) == pytest.approx(0.5, abs=1e-6)
    assert np.interp(2.0, time_s, share) == pytest.approx(0.25**2 * 2.5, abs=3e-3)
    assert np.all(share[time_s < 0.8] == 0)
    assert np.all(share[time_s > 5.2] == pytest.approx(1.0, abs=1e-12))
    assert np.all(np.diff(share) >= -1e-12)


def test_friction_stops_the_shaft_as_the_equation_says() -> None:
    course = Course(rest_s=0.0, run_up_s=0.0, steady_s=1.0, coast_down_s=10.0, rest_after_s=1.0)
    time_s, share = speed_share(course, 0.15, 0.5)
    # d share / d tau = -ln(1 + k) (share + 1 / k), away from the rounded corners; k = 1
    inside = (time_s > 1.5) & (time_s < 10.5)
    slope = np.gradient(share, time_s / 10.0)
    np.testing.assert_allclose(
        slope[inside], -np.log(2.0) * (share[inside] + 1.0), rtol=2e-3
    )  # rounding over 0.3 s adds (0.3 ln 2 / 10)^2 / 24 and less
    assert np.interp(11.4, time_s, share) == 0.0


def test_a_dwell_lengthens_the_run_up_by_itself() -> None:
    plain, dwelling = Course(run_up_s=4.0), Course(run_up_s=4.0, dwell_s=3.0)
    assert dwelling.duration_s == plain.duration_s + 3.0
    time_s, share = speed_share(dwelling, 0.15, 0.5)
    step_s = time_s[1] - time_s[0]
    near_s = step_s * np.count_nonzero(np.abs(share - 0.15) < 0.07 * 0.15)
    assert near_s > 2.5


def test_a_shaft_with_standstill_gives_times_back() -> None:
    shaft = make_course_angle(FULL, 20.0, 3.0, 0.2, np.random.default_rng(3))
    first, last = shaft.turns_at(np.array([0.0, FULL.duration_s]))
    turns = np.linspace(first + 0.5, last - 0.5, 50)
    np.testing.assert_allclose(shaft.turns_at(shaft.time_of(turns)), turns, atol=1e-6)
    never = shaft.time_of(np.array([first - 1.0, last + 1.0]))
    assert never[0] < 0
    assert never[1] > FULL.duration_s


def test_at_working_speed_the_stroke_is_that_of_the_card(make_card: CardMaker) -> None:
    made = simulate_course(
        make_card(), course=Course(rest_s=1.0, run_up_s=2.0, steady_s=20.0), settings=settings_of()
    )
    turns = made.truth.shaft_turns
    late = slice(round(13 * RATE_HZ), None)
    shaft_hz = np.mean(made.truth.shaft_frequency_hz[late])
    wave = 2 * np.mean(made.samples[:, late] * np.exp(-2j * np.pi * turns[late]), axis=1)
    stroke_mm = 2e3 * np.abs(wave) / (2 * np.pi * shaft_hz) ** 2
    # 0.15 % of wander, and what is left of the swing
    np.testing.assert_allclose(stroke_mm, [5.0, 4.0], rtol=5e-3)
    assert np.angle(wave[1] / wave[0]) == pytest.approx(-np.pi / 2, abs=5e-3)


def test_a_machine_at_rest_is_silent(make_card: CardMaker) -> None:
    made = simulate_course(
        make_card(),
        course=FULL,
        defects=[Defect(element=Element.OUTER_RING, impact_m_s2=5.0)],
        settings=settings_of(rattle_m_s2=20.0, inverter_hz=3000.0),
    )
    noise_m_s2 = 9.80665 * 0.0005
    assert np.std(part(made, 0.0, 1.8)) < 1.05 * noise_m_s2
    assert np.std(part(made, 6.0, 8.0)) > 100 * noise_m_s2
    struck_s = made.truth.defects[0].strike_times_s
    assert np.min(struck_s) > 1.8
    assert np.max(struck_s) < 15.2


def test_strikes_grow_with_the_square_of_the_speed(make_card: CardMaker) -> None:
    made = simulate_course(
        make_card("stationary"),
        course=Course(rest_s=1.0, run_up_s=6.0, steady_s=4.0),
        defects=[Defect(element=Element.OUTER_RING)],
        settings=settings_of(strike_scatter=0.0),
    )
    truth = made.truth.defects[0]
    speed = np.interp(
        truth.strike_times_s,
        np.arange(made.samples.shape[1]) / RATE_HZ,
        made.truth.shaft_frequency_hz,
    )
    relative = speed / made.truth.mean_shaft_frequency_hz
    full = truth.strengths[0] / relative**2
    np.testing.assert_allclose(full, full[-1], rtol=1e-3)


def test_truth_says_how_the_body_swung(make_card: CardMaker) -> None:
    card = make_card(
        exciter={"stroke_mm": {"x": 5.0, "y": 4.0}, "isolator_frequency_hz": 2.6},
    )
    made = simulate_course(card, course=FULL, settings=settings_of(isolator_damping_ratio=0.03))
    course = made.truth.course
    assert course is not None
    assert course.isolator_frequency_hz == 2.6
    assert course.damping_ratio == 0.03
    # 1199 instead of 1200 r/min with the same stroke
    assert course.steady_amplitude_mm == pytest.approx((2.5, 2.0), rel=1e-6)
    assert all(2.5 < ratio < 9.0 for ratio in course.swing_ratios)
    assert simulate(card, settings=settings_of(duration_s=1.0)).truth.course is None


def test_a_guard_is_struck_only_in_the_swing(make_card: CardMaker) -> None:
    fault = MachineFault(guard_clearance_mm=4.0, guard_m_s2=200.0)
    made = simulate_course(make_card(), course=FULL, settings=settings_of(fault=fault))
    clean = simulate_course(make_card(), course=FULL, settings=settings_of())
    assert made.truth.course is not None
    struck_s = made.truth.course.guard_strike_times_s
    assert struck_s.size >= 3
    in_start, in_stop = (struck_s > 2) & (struck_s < 6), struck_s > 9
    assert np.all(in_start | in_stop)
    assert np.any(in_start)
    assert np.any(in_stop)
    np.testing.assert_allclose(part(made, 7.0, 8.5), part(clean, 7.0, 8.5), atol=1e-9)
    assert np.max(np.abs(made.samples - clean.samples)) > 20.0


def test_a_wide_guard_is_never_struck(make_card: CardMaker) -> None:
    fault = MachineFault(guard_clearance_mm=60.0)
    made = simulate_course(make_card(), course=FULL, settings=settings_of(fault=fault))
    assert made.truth.course is not None
    assert made.truth.course.guard_strike_times_s.size == 0


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"rest_s": -1.0}, "rest_s must lie in [0, 3600], got -1.0"),
        ({"run_up_s": 0.0}, "run_up_s must be above 0 beside rest_s = 2, got 0"),
        ({"rest_after_s": 3.0}, "coast_down_s must be above 0 beside rest_after_s = 3, got 0"),
        (
            {"rest_s": 0.0, "run_up_s": 0.0, "steady_s": 0.0},
            "a course must last longer than 0 s, got 0 for each of its parts",
        ),
    ],
)
def test_impossible_courses_are_refused(values: dict[str, float], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        Course(**values)
