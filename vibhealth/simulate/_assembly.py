"""All contributions to a recording, steady or with a start and a stop, point by point."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.errors import SettingsError
from vibhealth.model import LoadCase
from vibhealth.simulate._fault_strikes import (
    contact_strikes,
    grit_strikes,
    guard_contacts,
    hits_of_every_turn,
    rub_window,
)
from vibhealth.simulate._lines import coupling_modulation, gear_mesh, inverter_lines
from vibhealth.simulate._loading import load_direction_turns
from vibhealth.simulate._machine import Machine, Point
from vibhealth.simulate._motion import working_motion
from vibhealth.simulate._noise import mains_pick_up, rolling_noise, sensor_noise
from vibhealth.simulate._response import add_strikes, lower_resonances
from vibhealth.simulate._run import Run, Stream, rng_of
from vibhealth.simulate._strikes import BearingMotion, StrikeTrain, defect_strikes
from vibhealth.simulate._surroundings import guard_strikes, material_strikes
from vibhealth.simulate.recording import BearingTruth, DefectTruth
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["add_defects", "add_fault", "add_surroundings", "bearing_truth", "running"]

# Where a guard, a stop or the deck is struck the structure answers lower than at the bearing
# (common practice, no source).
_GUARD_LOWERING = 0.6
_DECK_LOWERING = 0.7
_STOP_LOWERING = 0.45


def bearing_truth(motion: BearingMotion) -> BearingTruth:
    """Orders of a bearing as they were."""
    orders = motion.realised_orders()
    kinematic = defect_orders(motion.bearing).cage
    return BearingTruth(
        name=motion.bearing.name, orders=orders, slip_percent=100 * (1 - orders.cage / kinematic)
    )


def running(run: Run) -> NDArray[np.float64]:
    """Working motion, rolling noise and sensor noise of all points."""
    settings, time_s = run.settings, run.time_s
    highest_hz = _highest_for_gear(float(run.shaft_hz.max()), settings)
    samples = np.empty((len(run.machine.points), time_s.size))
    for index, point in enumerate(run.machine.points):
        row = samples[index]
        row[:] = _motion(run, point, index)
        modulation, passage = _rolling(tuple(run.motions.values()), point, run.turns, settings)
        noise = rolling_noise(time_s.size, settings, rng_of(settings, Stream.ROLLING, index))
        if run.swings:
            noise *= run.relative_speed  # rolling speed, common practice, no source
            passage *= run.relative_speed**2
        row += modulation * noise * point.noise_share
        row += passage * point.noise_share
        row += sensor_noise(time_s.size, settings, rng_of(settings, Stream.SENSOR, index))
        row += mains_pick_up(time_s, settings, rng_of(settings, Stream.MAINS, index))
        lines = inverter_lines(time_s, settings, rng_of(settings, Stream.INVERTER, index))
        row += lines if run.powered is None else run.powered * lines
        mesh = gear_mesh(run.turns, highest_hz, settings, rng_of(settings, Stream.GEAR, index))
        row += mesh * run.relative_speed if run.swings else mesh
    return samples


def _motion(run: Run, point: Point, index: int) -> NDArray[np.float64]:
    """Motion of the body or of what stands beside it: 1x, harmonics, contact, rocking."""
    _, phase_turns = run.machine.first_order(point, run.settings)
    motion = working_motion(
        run.turns,
        run.first_order_amplitude(point),
        phase_turns,
        run.settings_at(point),
        rng_of(run.settings, Stream.MOTION, index),
        with_first_order=not run.swings,
    )
    if run.swings:
        motion += run.held_back(point).acceleration
    elif run.gap_m() is not None:
        motion += run.held_back(point).acceleration - run.body(point).acceleration
    if run.settings.fault.wobble > 0:
        motion += run.wobble(point, index)
    return motion


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
        if settings.fault.ring_distortion > 0:
            modulation += _distorted_ring(motion, turns, settings) / len(motions)
        if case is LoadCase.UNKNOWN:
            continue
        load = load_direction_turns(case, turns)
        facing = np.cos(2 * np.pi * (load - point.sensor_turns))
        if case is not LoadCase.STATIONARY:
            modulation += settings.noise_modulation * facing / len(motions)
        below = motion.bearing.element_count * (load - motion.cage.at(turns))
        passage += settings.passage_m_s2 * facing * np.cos(2 * np.pi * below)
    return modulation, passage


def _distorted_ring(
    motion: BearingMotion, turns: NDArray[np.float64], settings: SimulationSettings
) -> NDArray[np.float64]:
    """Elements that pass an oval outer ring, tight twice per turn of the load."""
    passing = np.cos(2 * np.pi * motion.outer_passes(turns))
    tight = 0.5 * (1 + np.cos(4 * np.pi * turns))
    return np.asarray(settings.fault.ring_distortion * tight * passing, dtype=np.float64)


def add_defects(
    samples: NDArray[np.float64], run: Run, defects: Sequence[Defect], struck: Sequence[str]
) -> list[DefectTruth]:
    """Add the strikes of each defect in its bearing, in place."""
    machine, settings = run.machine, run.settings
    sensors = np.array([point.sensor_turns for point in machine.points])
    truths = []
    for index, (defect, name) in enumerate(zip(defects, struck, strict=True)):
        rng = rng_of(settings, Stream.DEFECT, index)
        train = defect_strikes(defect, run.motions[name], sensors, settings, rng)
        train = _with_gains(_slower(train, run), machine, name)
        add_strikes(
            samples, settings.sampling_rate_hz, train, settings.resonances, defect.impact_m_s2
        )
        truths.append(
            DefectTruth(
                bearing=name,
                defect=defect,
                strike_times_s=train.times_s,
                strengths=train.strengths,
            )
        )
    return truths


def add_surroundings(samples: NDArray[np.float64], run: Run) -> None:
    """Add guard rattle and falling material, in place."""
    settings, shaft = run.settings, run.shaft
    if settings.rattle_m_s2 > 0:
        train = guard_strikes(samples.shape[0], shaft, rng_of(settings, Stream.GUARD))
        lower = lower_resonances(settings.resonances, _GUARD_LOWERING)
        train = _with_gains(_slower(train, run), run.machine)
        add_strikes(samples, settings.sampling_rate_hz, train, lower, settings.rattle_m_s2)
    if settings.material_strikes_per_second > 0:
        rng = rng_of(settings, Stream.MATERIAL)
        train = material_strikes(samples.shape[0], shaft.duration_s, settings, rng)
        lower = lower_resonances(settings.resonances, _DECK_LOWERING)
        size_m_s2 = settings.material_strike_m_s2
        add_strikes(samples, settings.sampling_rate_hz, train, lower, size_m_s2)


def add_fault(samples: NDArray[np.float64], run: Run) -> NDArray[np.float64]:
    """Add contacts, hits, grit and rub of the settings' fault, in place.

    Returns the times of the strikes on the guard.
    """
    settings, fault = run.settings, run.settings.fault
    if fault.rub_m_s2_rms > 0:
        _add_rub(samples, run)
    if fault.hits_per_turn > 0 and fault.hit_m_s2 > 0:
        rng = rng_of(settings, Stream.HITS)
        train = _slower(
            hits_of_every_turn(fault.hits_per_turn, _place(run, 0), run.shaft, rng), run
        )
        _strike(samples, run, train, _GUARD_LOWERING, fault.hit_m_s2)
    if fault.grit_per_second > 0:
        rng = rng_of(settings, Stream.GRIT)
        train = grit_strikes(samples.shape[0], fault.grit_per_second, run.shaft.duration_s, rng)
        _strike(samples, run, _slower(train, run), 1.0, fault.grit_m_s2)
    _add_stop(samples, run)
    return _add_guard(samples, run)


def _add_rub(samples: NDArray[np.float64], run: Run) -> None:
    settings, fault = run.settings, run.settings.fault
    rng = rng_of(settings, Stream.RUB)
    window = rub_window(run.turns, fault.rub_share_of_turn, _place(run, 1))
    window = window * np.minimum(run.relative_speed, 1.0)
    louder = replace(settings, oil_noise_g_rms=0.1)
    for index, point in enumerate(run.machine.points):
        noise = rolling_noise(run.time_s.size, louder, rng)
        noise *= fault.rub_m_s2_rms / max(float(np.std(noise)), 1e-30)
        samples[index] += point.strike_gain() * window * noise


def _add_stop(samples: NDArray[np.float64], run: Run) -> None:
    fault, gap_m = run.settings.fault, run.gap_m()
    if gap_m is None or fault.stop_m_s2 == 0:
        return
    motion, rate_hz = run.body(Point(name="body", direction="x")), run.settings.sampling_rate_hz
    rng = rng_of(run.settings, Stream.STOP)
    train = contact_strikes(motion.displacement, motion.velocity, gap_m, rate_hz, rng)
    _strike(samples, run, _over_working_velocity(train, run), _STOP_LOWERING, fault.stop_m_s2)


def _add_guard(samples: NDArray[np.float64], run: Run) -> NDArray[np.float64]:
    fault = run.settings.fault
    if fault.guard_clearance_mm is None:
        return np.zeros(0)
    clearance, rate_hz = (
        (_place(run, 2), 1e-3 * fault.guard_clearance_mm),
        run.settings.sampling_rate_hz,
    )
    rng = rng_of(run.settings, Stream.GUARD, 1)
    train = guard_contacts(run.body_along("x"), run.body_along("y"), clearance, rate_hz, rng)
    train = _over_working_velocity(train, run)
    _strike(samples, run, train, _GUARD_LOWERING, fault.guard_m_s2)
    return train.times_s


def _place(run: Run, index: int) -> float:
    """Where around the turn something sits on this machine, 0 to 1."""
    return float(rng_of(run.settings, Stream.PLACE, index).random())


def _over_working_velocity(train: StrikeTrain, run: Run) -> StrikeTrain:
    """Strengths in m/s over the largest velocity along x at the working speed."""
    working = run.amplitude_m("x") * 2 * np.pi * run.shaft.steady_hz
    return replace(train, strengths=train.strengths / max(working, 1e-12))


def _strike(
    samples: NDArray[np.float64], run: Run, train: StrikeTrain, lowering: float, size_m_s2: float
) -> None:
    lower = lower_resonances(run.settings.resonances, lowering)
    train = _with_gains(train, run.machine)
    add_strikes(samples, run.settings.sampling_rate_hz, train, lower, size_m_s2)


def _slower(train: StrikeTrain, run: Run) -> StrikeTrain:
    """Strikes of a starting or stopping shaft: weak as its load is, with the speed squared."""
    if not run.swings:
        return train
    speed = run.shaft.relative_speed_at(train.times_s)
    return replace(train, strengths=speed**2 * train.strengths)


def _with_gains(train: StrikeTrain, machine: Machine, bearing: str | None = None) -> StrikeTrain:
    gains = np.array([[point.strike_gain(bearing)] for point in machine.points])
    return StrikeTrain(times_s=train.times_s, strengths=gains * train.strengths)
