"""One run of the invented machine: what turns, how the body moves, which random streams."""

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from vibhealth.bearing import defect_orders
from vibhealth.model import RollingBearing
from vibhealth.simulate._body import BodyMotion, stopped, swinging_motion, turning_motion
from vibhealth.simulate._machine import Machine, Point
from vibhealth.simulate._shaft import ShaftAngle, make_cage_angle
from vibhealth.simulate._strikes import BearingMotion
from vibhealth.simulate.settings import SimulationSettings

__all__ = ["Run", "Stream", "bearing_motions", "rng_of"]

# A contact is taken up over this share of the amplitude (common practice, no source).
_CONTACT_WIDTH = 0.06


class Stream(IntEnum):
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
    STOP = 12
    HITS = 13
    GRIT = 14
    RUB = 15
    WOBBLE = 16
    BEAT = 17
    PLACE = 18


# What stays from one recording of a machine to the next.
_OF_THE_MACHINE = (Stream.MOTION, Stream.PLACE)


def rng_of(settings: SimulationSettings, stream: Stream, index: int = 0) -> np.random.Generator:
    """Random numbers of one contribution."""
    is_of_machine = stream in _OF_THE_MACHINE and settings.machine_seed is not None
    seed = settings.machine_seed if is_of_machine else settings.seed
    return np.random.default_rng((int(seed or 0), stream, index))


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Shaft, bearings and time of a run, steady or with a start and a stop.

    ``powered`` is 1 where the motor is switched on, shape (n_samples,).
    """

    machine: Machine
    settings: SimulationSettings
    shaft: ShaftAngle
    motions: dict[str, BearingMotion]
    time_s: NDArray[np.float64]
    turns: NDArray[np.float64]
    shaft_hz: NDArray[np.float64]
    powered: NDArray[np.float64] | None = None

    @property
    def swings(self) -> bool:
        """Whether the shaft starts or stops in this run."""
        return self.shaft.can_rest

    @property
    def relative_speed(self) -> NDArray[np.float64]:
        """Shaft frequency over the working speed."""
        return self.shaft_hz / self.shaft.steady_hz

    def first_order_amplitude(self, point: Point) -> NDArray[np.float64]:
        """Amplitude of a point's 1x acceleration as the speed and a beat leave it."""
        amplitude, _ = self.machine.first_order(point, self.settings)
        return amplitude * self.relative_speed**2 * self.beat()

    def body(self, point: Point) -> BodyMotion:
        """1x motion of a point with nothing in its way."""
        amplitude, phase_turns = self.machine.first_order(point, self.settings)
        if not self.swings:
            grown = self.first_order_amplitude(point)
            return turning_motion(self.turns + phase_turns, self.shaft_hz, grown)
        motion = swinging_motion(
            self.turns + phase_turns,
            self.shaft_hz,
            (amplitude, self.shaft.steady_hz),
            self.machine.isolator(self.settings),
            self.settings.sampling_rate_hz,
        )
        beat = self.beat()
        return BodyMotion(
            displacement=beat * motion.displacement,
            velocity=beat * motion.velocity,
            acceleration=beat * motion.acceleration,
        )

    def body_along(self, direction: str) -> BodyMotion:
        """Motion of the body itself, measured or not, with what is in its way."""
        return self.held_back(Point(name="body", direction=direction))

    def held_back(self, point: Point) -> BodyMotion:
        """1x motion of a point, cut off where something stops the body."""
        motion = self.body(point)
        gap_m = self.gap_m()
        if gap_m is None or point.direction != "x" or point.mounted_on != "body":
            return motion
        width_m = _CONTACT_WIDTH * self.amplitude_m("x")
        return stopped(motion, gap_m, width_m, self.settings.fault.stop_softness)

    def gap_m(self) -> float | None:
        """Where something stops the body along +x, in m."""
        gap = self.settings.fault.stop_gap
        return None if gap is None else gap * self.amplitude_m("x")

    def amplitude_m(self, direction: str) -> float:
        """Displacement amplitude of the body at the working speed."""
        point = Point(name="body", direction=direction)
        amplitude, _ = self.machine.first_order(point, self.settings)
        return float(amplitude / (2 * np.pi * self.shaft.steady_hz) ** 2)

    def beat(self) -> NDArray[np.float64] | float:
        """Slow rise and fall of the 1x, 1 without one."""
        fault = self.settings.fault
        if fault.beat_depth == 0:
            return 1.0
        start = rng_of(self.settings, Stream.BEAT).random()
        wave = np.cos(2 * np.pi * (fault.beat_hz * self.time_s + start))
        return 1 + fault.beat_depth * wave

    def wobble(self, point: Point, index: int) -> NDArray[np.float64]:
        """Random rocking of the body at the isolator frequency, as acceleration in m/s^2."""
        pole = self.machine.isolator(self.settings).pole
        rng = rng_of(self.settings, Stream.WOBBLE, index)
        push = rng.standard_normal(self.time_s.size)
        decay = np.exp(pole / self.settings.sampling_rate_hz)
        state = lfilter([1.0], [1.0, -decay], push + 0j)
        rms = self.settings.fault.wobble * self.amplitude_m("x")
        rms *= 1.0 if point.mounted_on == "body" else 0.05
        acceleration = (pole**2 * state).imag * rms / max(float(np.std(state.imag)), 1e-30)
        return np.asarray(acceleration * np.minimum(self.relative_speed, 1.0), dtype=np.float64)

    def settings_at(self, point: Point) -> SimulationSettings:
        """Settings with the harmonics that the fault leaves at a point."""
        fault, ratios = self.settings.fault, list(self.settings.harmonic_ratios)
        is_axial = point.direction == "z"
        second = fault.axial_second_order_gain if is_axial else fault.second_order_gain
        if point.mounted_on == "base":
            second = 1.0
        if not ratios or (fault.harmonic_gain == 1 and second == 1):
            return self.settings
        ratios = [fault.harmonic_gain * ratio for ratio in ratios]
        ratios[0] *= second
        if is_axial and len(ratios) > 1:
            ratios[1] *= np.sqrt(second)
        return replace(self.settings, harmonic_ratios=tuple(min(ratio, 1.0) for ratio in ratios))


def bearing_motions(
    machine: Machine, shaft: ShaftAngle, settings: SimulationSettings
) -> dict[str, BearingMotion]:
    """Rings and cage of every bearing of the machine."""
    return {
        bearing.name: _bearing_motion(bearing, index, shaft, settings)
        for index, bearing in enumerate(machine.bearings)
    }


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
        rng_of(settings, Stream.CAGE, index),
    )
    return BearingMotion(
        bearing=bearing, cage=cage, shaft=shaft, slip_percent=settings.cage_slip_percent
    )
