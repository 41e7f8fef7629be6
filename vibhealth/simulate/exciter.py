"""The invented exciter: one function from card, defects and settings to samples."""

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import LoadCase, RollingBearing
from vibhealth.simulate._lines import coupling_modulation, gear_mesh, inverter_lines
from vibhealth.simulate._loading import load_direction_turns
from vibhealth.simulate._machine import Machine, Point, machine_of
from vibhealth.simulate._motion import working_motion
from vibhealth.simulate._noise import mains_pick_up, rolling_noise, sensor_noise
from vibhealth.simulate._response import add_strikes, lower_resonances
from vibhealth.simulate._shaft import ShaftAngle, make_cage_angle, make_shaft_angle
from vibhealth.simulate._strikes import BearingMotion, StrikeTrain, defect_strikes
from vibhealth.simulate._surroundings import clipped, guard_strikes, make_gap, material_strikes
from vibhealth.simulate.recording import (
    BearingTruth,
    DefectTruth,
    SimulatedRecording,
    SimulationTruth,
)
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["simulate"]

# Where a guard or the deck is struck the structure answers lower than at the bearing
# (common practice, no source).
_GUARD_LOWERING = 0.6
_DECK_LOWERING = 0.7


class _Stream(IntEnum):
    """Random streams, one per contribution, so that each can change alone."""

    SPEED = 0
    CAGE = 1
    DEFECT = 2
    MOTION = 3
    ROLLING = 4
    SENSOR = 5
    MAINS = 6
    MATERIAL = 7
    GUARD = 8
    GAP = 9
    INVERTER = 10
    GEAR = 11


def simulate(
    card: MachineCard,
    *,
    defects: Sequence[Defect] = (),
    settings: SimulationSettings | None = None,
) -> SimulatedRecording:
    """Recording of an invented machine with the chosen defects, or clean.

    The shaft turns with a wandering speed, the cage slips and walks; every
    strike of a defect is placed where an element meets it, as strong as the
    load at that place of the load zone and the way to the sensor make it, and
    answered by decaying sines placed between the samples.

    Parameters
    ----------
    card : MachineCard
        Nominal speed, stroke, orbit direction, bearings with their load case,
        measurement points.
    defects : sequence of Defect
        None for a healthy machine; several may be given, of one bearing or more.
    settings : SimulationSettings or None
        None for the defaults.

    Returns
    -------
    SimulatedRecording
        Samples in m/s^2, shape (n_points, n_samples), with the truth.

    Raises
    ------
    SettingsError
        If a defect names a bearing that the card does not have, a bearing of
        unknown load case, or a rolling element of unknown order; or if a gear
        meshes at or above half the sampling rate.

    References
    ----------
    .. [1] P. D. McFadden and J. D. Smith, "Model for the vibration produced by a
       single point defect in a rolling element bearing", Journal of Sound and
       Vibration 96(1), 1984, 69-82.
    .. [2] J. Antoni and R. B. Randall, "A stochastic model for simulation and
       diagnostics of rolling element bearings with localized faults", Journal of
       Vibration and Acoustics 125(3), 2003, 282-289 (random slip).
    """
    settings = settings or SimulationSettings()
    machine = machine_of(card)
    struck = [machine.bearing_of(defect).name for defect in defects]
    gap = make_gap(settings, _rng(settings, _Stream.GAP))
    n_samples = settings.n_samples + gap.length
    time_s = np.arange(n_samples) / settings.sampling_rate_hz
    shaft = make_shaft_angle(
        machine.shaft_frequency_hz(settings),
        n_samples / settings.sampling_rate_hz,
        settings.speed_wander_percent,
        _rng(settings, _Stream.SPEED),
    )
    motions = {
        bearing.name: _bearing_motion(bearing, index, shaft, settings)
        for index, bearing in enumerate(machine.bearings)
    }
    samples = _running(machine, tuple(motions.values()), shaft, time_s, settings)
    truths = _add_defects(samples, machine, defects, [motions[name] for name in struck], settings)
    _add_surroundings(samples, machine, shaft, settings)
    return SimulatedRecording(
        samples=clipped(gap.close(samples), settings),
        sampling_rate_hz=settings.sampling_rate_hz,
        points=tuple(point.name for point in machine.points),
        directions=tuple(point.direction for point in machine.points),
        settings=settings,
        truth=SimulationTruth(
            mean_shaft_frequency_hz=machine.shaft_frequency_hz(settings),
            shaft_turns=gap.close(shaft.turns_at(time_s)),
            shaft_frequency_hz=gap.close(shaft.frequency_at(time_s)),
            bearings=tuple(_bearing_truth(motion) for motion in motions.values()),
            defects=tuple(gap.close_strikes(truth, settings.sampling_rate_hz) for truth in truths),
        ),
    )


def _rng(settings: SimulationSettings, stream: _Stream, index: int = 0) -> np.random.Generator:
    return np.random.default_rng([settings.seed, stream, index])


def _bearing_motion(
    bearing: RollingBearing, index: int, shaft: ShaftAngle, settings: SimulationSettings
) -> BearingMotion:
    order = defect_orders(bearing).cage * (1 - 0.01 * settings.cage_slip_percent)
    margin_turns = 2.0
    ends = shaft.turns_at(np.array([0.0, shaft.duration_s]))
    cage = make_cage_angle(
        order,
        bearing.element_count,
        settings.slip_walk_percent,
        (float(ends[0]) - margin_turns, float(ends[1]) + margin_turns),
        _rng(settings, _Stream.CAGE, index),
    )
    return BearingMotion(
        bearing=bearing, cage=cage, shaft=shaft, slip_percent=settings.cage_slip_percent
    )


def _bearing_truth(motion: BearingMotion) -> BearingTruth:
    orders = motion.realised_orders()
    kinematic = defect_orders(motion.bearing).cage
    return BearingTruth(
        name=motion.bearing.name, orders=orders, slip_percent=100 * (1 - orders.cage / kinematic)
    )


def _running(
    machine: Machine,
    motions: Sequence[BearingMotion],
    shaft: ShaftAngle,
    time_s: NDArray[np.float64],
    settings: SimulationSettings,
) -> NDArray[np.float64]:
    """Working motion, rolling noise and sensor noise of all points."""
    turns = shaft.turns_at(time_s)
    shaft_hz = shaft.frequency_at(time_s)
    relative_speed = shaft_hz / machine.shaft_frequency_hz(settings)
    highest_hz = _highest_for_gear(float(shaft_hz.max()), settings)
    samples = np.empty((len(machine.points), time_s.size))
    for index, point in enumerate(machine.points):
        row = samples[index]
        row[:] = working_motion(
            turns,
            machine.first_order_m_s2(point.direction, settings) * relative_speed**2,
            machine.first_order_phase_turns(point.direction),
            settings,
            _rng(settings, _Stream.MOTION, index),
        )
        modulation, passage = _rolling(motions, point, turns, settings)
        noise = rolling_noise(time_s.size, settings, _rng(settings, _Stream.ROLLING, index))
        row += modulation * noise
        row += passage
        row += sensor_noise(time_s.size, settings, _rng(settings, _Stream.SENSOR, index))
        row += mains_pick_up(time_s, settings, _rng(settings, _Stream.MAINS, index))
        row += inverter_lines(time_s, settings, _rng(settings, _Stream.INVERTER, index))
        row += gear_mesh(turns, highest_hz, settings, _rng(settings, _Stream.GEAR, index))
    return samples


def _highest_for_gear(shaft_hz: float, settings: SimulationSettings) -> float:
    """Highest shaft frequency, refused where the mesh would leave the recorded range."""
    mesh_hz = settings.gear_teeth * shaft_hz
    if mesh_hz >= settings.sampling_rate_hz / 2:
        msg = (
            f"gear_teeth must mesh below half the sampling rate ({settings.sampling_rate_hz / 2:g} "
            f"Hz), got {settings.gear_teeth} teeth at {mesh_hz:.6g} Hz: raise sampling_rate_hz"
        )
        raise SettingsError(msg)
    return shaft_hz


def _rolling(
    motions: Sequence[BearingMotion],
    point: Point,
    turns: NDArray[np.float64],
    settings: SimulationSettings,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Modulation of the rolling noise, and the passage of elements below the load.

    Elements pass the load vector at ``Z |load - cage|`` and push along it; a
    fixed sensor sees that force turn, so a turning load shows the inner ring's
    order plus and minus 1x, a stationary one the outer ring's order.
    """
    modulation, passage = 1.0 + coupling_modulation(turns, settings), np.zeros(turns.size)
    for motion in motions:
        case = motion.bearing.load_case
        seen = settings.passage_modulation * np.cos(2 * np.pi * motion.outer_passes(turns))
        modulation += seen / len(motions)
        if case is LoadCase.UNKNOWN:
            continue
        load = load_direction_turns(case, turns)
        facing = np.cos(2 * np.pi * (load - point.sensor_turns))
        if case is not LoadCase.STATIONARY:
            modulation += settings.noise_modulation * facing / len(motions)
        below = motion.bearing.element_count * (load - motion.cage.at(turns))
        passage += settings.passage_m_s2 * facing * np.cos(2 * np.pi * below)
    return modulation, passage


def _add_defects(
    samples: NDArray[np.float64],
    machine: Machine,
    defects: Sequence[Defect],
    motions: Sequence[BearingMotion],
    settings: SimulationSettings,
) -> list[DefectTruth]:
    sensors = np.array([point.sensor_turns for point in machine.points])
    truths = []
    for index, (defect, motion) in enumerate(zip(defects, motions, strict=True)):
        rng = _rng(settings, _Stream.DEFECT, index)
        train = defect_strikes(defect, motion, sensors, settings, rng)
        train = _with_gains(train, machine, motion.bearing.name)
        add_strikes(
            samples, settings.sampling_rate_hz, train, settings.resonances, defect.impact_m_s2
        )
        truths.append(
            DefectTruth(
                bearing=motion.bearing.name,
                defect=defect,
                strike_times_s=train.times_s,
                strengths=train.strengths,
            )
        )
    return truths


def _add_surroundings(
    samples: NDArray[np.float64],
    machine: Machine,
    shaft: ShaftAngle,
    settings: SimulationSettings,
) -> None:
    if settings.rattle_m_s2 > 0:
        train = guard_strikes(samples.shape[0], shaft, _rng(settings, _Stream.GUARD))
        lower = lower_resonances(settings.resonances, _GUARD_LOWERING)
        train = _with_gains(train, machine)
        add_strikes(samples, settings.sampling_rate_hz, train, lower, settings.rattle_m_s2)
    if settings.material_strikes_per_second > 0:
        rng = _rng(settings, _Stream.MATERIAL)
        train = material_strikes(samples.shape[0], shaft.duration_s, settings, rng)
        lower = lower_resonances(settings.resonances, _DECK_LOWERING)
        size_m_s2 = settings.material_strike_m_s2
        add_strikes(samples, settings.sampling_rate_hz, train, lower, size_m_s2)


def _with_gains(train: StrikeTrain, machine: Machine, bearing: str | None = None) -> StrikeTrain:
    gains = np.array([[point.strike_gain(bearing)] for point in machine.points])
    return StrikeTrain(times_s=train.times_s, strengths=gains * train.strengths)
