"""Shaft and cage angles: a speed that wanders, a cage that slips. Angles in turns."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator, PPoly

from vibhealth.simulate.course import Course, speed_share

__all__ = ["CageAngle", "ShaftAngle", "make_cage_angle", "make_course_angle", "make_shaft_angle"]

_MARGIN_S = 0.5  # the shaft turns on beyond both ends, for strikes displaced across them
_KNOT_SPACING_S = 0.25
_WANDER_MEMORY_S = 8.0  # time constant of the pull back to the mean speed
_HUNTING_HZ = 0.37  # slow hunting of a drive; not a fraction of any mains frequency
_KNOTS_PER_SPACING = 4  # so that the walk between two strikes is hardly smoothed
_NEWTON_STEPS = 4  # from 0.1 % to round-off, each step squares the error
_SLOWEST_NEWTON_HZ = 0.5  # below, a start or stop is read off the grid
_COURSE_GRID_S = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftAngle:
    """Shaft angle as an analytic function of time: the integral of a spline of speed.

    ``steady_hz`` is the working speed, ``can_rest`` says whether the shaft stands at times.
    """

    frequency: PPoly
    turns: PPoly
    start_turns: float
    duration_s: float
    steady_hz: float
    can_rest: bool = False

    def frequency_at(self, time_s: NDArray[Any]) -> NDArray[np.float64]:
        """Shaft frequency in Hz at the given times."""
        return np.asarray(self.frequency(time_s), dtype=np.float64)

    def turns_at(self, time_s: NDArray[Any]) -> NDArray[np.float64]:
        """Shaft angle in turns at the given times."""
        return np.asarray(self.turns(time_s), dtype=np.float64) + self.start_turns

    def time_of(self, turns: NDArray[np.float64]) -> NDArray[np.float64]:
        """Times in seconds at which the shaft has the given angles (Newton's method).

        Angles that a shaft with standstill never has come before or after the recording.
        """
        if self.can_rest:
            return self._time_with_rest(turns)
        grid_s = np.linspace(-_MARGIN_S, self.duration_s + _MARGIN_S, 4096)
        time_s = np.interp(turns, self.turns_at(grid_s), grid_s)
        for _ in range(_NEWTON_STEPS):
            time_s -= (self.turns_at(time_s) - turns) / self.frequency_at(time_s)
        return time_s

    def relative_speed_at(self, time_s: NDArray[Any]) -> NDArray[np.float64]:
        """Shaft frequency over the working speed."""
        return self.frequency_at(time_s) / self.steady_hz

    def _time_with_rest(self, turns: NDArray[np.float64]) -> NDArray[np.float64]:
        count = int(np.ceil((self.duration_s + 2 * _MARGIN_S) / _COURSE_GRID_S)) + 1
        grid_s = np.linspace(-_MARGIN_S, self.duration_s + _MARGIN_S, count)
        grid_turns = np.maximum.accumulate(self.turns_at(grid_s))
        never_s = (-_MARGIN_S, self.duration_s + _MARGIN_S)
        time_s = np.interp(turns, grid_turns, grid_s, left=never_s[0], right=never_s[1])
        is_moving = self.frequency_at(time_s) > _SLOWEST_NEWTON_HZ
        is_moving &= (turns >= grid_turns[0]) & (turns <= grid_turns[-1])
        moving_s = time_s[is_moving]
        for _ in range(_NEWTON_STEPS):
            away = self.turns_at(moving_s) - turns[is_moving]
            moving_s -= away / np.maximum(self.frequency_at(moving_s), _SLOWEST_NEWTON_HZ)
        time_s[is_moving] = moving_s
        return time_s


def make_shaft_angle(
    mean_frequency_hz: float,
    duration_s: float,
    wander_percent: float,
    rng: np.random.Generator,
) -> ShaftAngle:
    """Shaft angle with exactly this mean frequency and peak-to-peak wander."""
    n_knots = max(8, int(np.ceil((duration_s + 2 * _MARGIN_S) / _KNOT_SPACING_S)) + 1)
    knots_s = np.linspace(-_MARGIN_S, duration_s + _MARGIN_S, n_knots)
    shape = CubicSpline(knots_s, _walk(knots_s, rng))
    inside_s = np.linspace(0.0, duration_s, 4 * n_knots)
    mean = float(shape.integrate(0.0, duration_s)) / duration_s
    scale = 0.01 * wander_percent / float(np.ptp(shape(inside_s)))
    relative = 1.0 + scale * (shape(knots_s) - mean)
    frequency = CubicSpline(knots_s, mean_frequency_hz * relative)
    turns = frequency.antiderivative()
    return ShaftAngle(
        frequency=frequency,
        turns=turns,
        start_turns=float(rng.random()) - float(turns(0.0)),
        duration_s=duration_s,
        steady_hz=mean_frequency_hz,
    )


def make_course_angle(
    course: Course,
    steady_hz: float,
    isolator_hz: float,
    wander_percent: float,
    rng: np.random.Generator,
) -> ShaftAngle:
    """Shaft angle from standstill to standstill, wandering around the working speed."""
    wandering = make_shaft_angle(1.0, course.duration_s, wander_percent, rng)
    knots_s, share = speed_share(course, isolator_hz / steady_hz, _MARGIN_S)
    # Monotone between its knots: never below standstill, whatever the corners.
    frequency = PchipInterpolator(knots_s, steady_hz * share * wandering.frequency_at(knots_s))
    turns = frequency.antiderivative()
    return ShaftAngle(
        frequency=frequency,
        turns=turns,
        start_turns=float(rng.random()) - float(turns(0.0)),
        duration_s=course.duration_s,
        steady_hz=steady_hz,
        can_rest=True,
    )


def _walk(knots_s: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Random walk pulled back to zero (Ornstein-Uhlenbeck), unit variance, and hunting."""
    keep = np.exp(-(knots_s[1] - knots_s[0]) / _WANDER_MEMORY_S)
    steps = rng.standard_normal(knots_s.size)
    walk = np.empty(knots_s.size)
    walk[0] = steps[0]
    for index in range(1, knots_s.size):
        walk[index] = keep * walk[index - 1] + np.sqrt(1 - keep**2) * steps[index]
    phase = 2 * np.pi * rng.random()
    return walk + 0.5 * np.sin(2 * np.pi * _HUNTING_HZ * knots_s + phase)


@dataclass(frozen=True, slots=True, kw_only=True)
class CageAngle:
    """Cage angle as a piecewise linear function of the shaft angle."""

    shaft_turns: NDArray[np.float64]
    cage_turns: NDArray[np.float64]

    def at(self, shaft_turns: NDArray[np.float64]) -> NDArray[np.float64]:
        """Cage angle in turns at the given shaft angles."""
        return np.interp(shaft_turns, self.shaft_turns, self.cage_turns)


def make_cage_angle(
    order: float,
    element_count: int,
    walk_percent: float,
    shaft_span_turns: tuple[float, float],
    rng: np.random.Generator,
) -> CageAngle:
    """Cage that turns at ``order`` and walks by a percentage of each element spacing.

    At each of a few knots per element that passes the fixed ring the cage gains
    or loses a normal random fraction of the spacing.
    """
    first, last = shaft_span_turns
    knots_per_turn = order * element_count * _KNOTS_PER_SPACING
    n_knots = int(np.ceil((last - first) * knots_per_turn)) + 2
    knots = first + np.arange(n_knots) / knots_per_turn
    gain = 0.01 * walk_percent / element_count / np.sqrt(_KNOTS_PER_SPACING)
    gains = gain * rng.standard_normal(n_knots)
    return CageAngle(
        shaft_turns=knots,
        cage_turns=rng.random() + order * (knots - first) + np.cumsum(gains),
    )
