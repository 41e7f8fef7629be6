"""The invented exciter from standstill to standstill: run-up, coast-down, and the swing."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vibhealth.card import MachineCard
from vibhealth.simulate._machine import Machine, machine_of
from vibhealth.simulate._recorded import recorded
from vibhealth.simulate._run import Run, Stream, bearing_motions, rng_of
from vibhealth.simulate._shaft import make_course_angle
from vibhealth.simulate._surroundings import make_gap
from vibhealth.simulate.course import Course
from vibhealth.simulate.recording import CourseTruth, SimulatedRecording
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["simulate_course"]


def simulate_course(
    card: MachineCard,
    *,
    course: Course,
    defects: Sequence[Defect] = (),
    settings: SimulationSettings | None = None,
) -> SimulatedRecording:
    r"""Recording of an invented machine that starts, runs, and perhaps stops.

    The body is a mass on isolators, one degree of freedom per axis, driven by the rotating
    unbalance :math:`e (\omega^2 \cos \varphi + \dot\omega \sin \varphi)`; at the working
    speed it moves by the card's stroke. Harmonics, rolling noise and strikes follow the
    shaft.

    Parameters
    ----------
    card : MachineCard
        As for `simulate`; ``exciter.isolator_frequency_hz`` is used where it is given.
    course : Course
        Standstill, run-up, steady running, coast-down, standstill.
    defects : sequence of Defect
        None for a healthy machine.
    settings : SimulationSettings or None
        None for the defaults; ``duration_s`` is that of the course.

    Returns
    -------
    SimulatedRecording
        Samples in m/s^2, shape (n_points, n_samples); ``truth.course`` says how the body
        swung.

    Raises
    ------
    SettingsError
        As `simulate`.
    """
    settings = replace(settings or SimulationSettings(), duration_s=course.duration_s)
    machine = machine_of(card)
    gap = make_gap(settings, rng_of(settings, Stream.GAP))
    run = _run_of(machine, course, settings)
    recording, guard_times_s = recorded(run, gap, defects)
    course_truth = _course_truth(run, course, guard_times_s)
    return replace(recording, truth=replace(recording.truth, course=course_truth))


def _run_of(machine: Machine, course: Course, settings: SimulationSettings) -> Run:
    rate_hz = settings.sampling_rate_hz
    time_s = np.arange(settings.n_samples) / rate_hz
    shaft = make_course_angle(
        course,
        machine.shaft_frequency_hz(settings),
        machine.isolator(settings).frequency_hz,
        settings.speed_wander_percent,
        rng_of(settings, Stream.SPEED),
    )
    rest_s, run_up_s, steady_s, _, _ = course.parts_s
    is_powered = (time_s >= rest_s) & (time_s < rest_s + run_up_s + steady_s)
    return Run(
        machine=machine,
        settings=settings,
        shaft=shaft,
        motions=bearing_motions(machine, shaft, settings),
        time_s=time_s,
        turns=shaft.turns_at(time_s),
        shaft_hz=shaft.frequency_at(time_s),
        powered=is_powered.astype(np.float64),
    )


def _course_truth(run: Run, course: Course, guard_times_s: np.ndarray) -> CourseTruth:
    isolator = run.machine.isolator(run.settings)
    swings = [float(np.max(np.abs(run.held_back(p).displacement))) for p in run.machine.points]
    steady = [
        run.machine.first_order(point, run.settings)[0] / (2 * np.pi * run.shaft.steady_hz) ** 2
        for point in run.machine.points
    ]
    return CourseTruth(
        course=course,
        isolator_frequency_hz=isolator.frequency_hz,
        damping_ratio=isolator.damping_ratio,
        peak_swing_mm=tuple(1e3 * swing for swing in swings),
        steady_amplitude_mm=tuple(1e3 * amplitude for amplitude in steady),
        guard_strike_times_s=guard_times_s,
    )
