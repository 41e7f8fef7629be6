"""Strike instants and strengths of a defect, event by event in the angle domain."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders, orders_at_cage, ring_orders
from vibhealth.errors import SettingsError
from vibhealth.model import DefectOrders, Element, LoadCase, RollingBearing
from vibhealth.simulate._loading import load_direction_turns, load_weight, path_weight
from vibhealth.simulate._shaft import CageAngle, ShaftAngle
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["BearingMotion", "StrikeTrain", "defect_strikes"]

Angles = NDArray[np.float64]

# Common practice, no source: a strike on the inner raceway crosses one more contact on
# its way out; a cage touches its guiding land more softly than the bad pocket's element
# strikes in the load zone, and neither is as regular as a spall.
_INNER_RACEWAY_SHARE = 0.8
_LAND_SHARE = 0.6
_CAGE_SCATTER = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeTrain:
    """Strikes of one cause: times, and strengths per point (1 = the strongest possible)."""

    times_s: NDArray[np.float64]
    strengths: NDArray[np.float64]  # (n_points, n_strikes)


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingMotion:
    """Rings, cage and load of one bearing as functions of the shaft angle (all in turns)."""

    bearing: RollingBearing
    cage: CageAngle
    shaft: ShaftAngle
    slip_percent: float

    def outer(self, shaft_turns: Angles) -> Angles:
        """Angle of the outer ring."""
        return ring_orders(self.bearing)[1] * shaft_turns

    def inner(self, shaft_turns: Angles) -> Angles:
        """Angle of the inner ring."""
        return ring_orders(self.bearing)[0] * shaft_turns

    def outer_passes(self, shaft_turns: Angles) -> Angles:
        """Elements that have passed a mark of the outer ring, backwards if negative."""
        orders = self._mean_orders()
        per_turn = orders.outer_ring / abs(orders.cage - ring_orders(self.bearing)[1])
        return per_turn * (self.cage.at(shaft_turns) - self.outer(shaft_turns))

    def inner_passes(self, shaft_turns: Angles) -> Angles:
        """Elements that have passed a mark of the inner ring, backwards if negative."""
        orders = self._mean_orders()
        per_turn = orders.inner_ring / abs(orders.cage - ring_orders(self.bearing)[0])
        return per_turn * (self.cage.at(shaft_turns) - self.inner(shaft_turns))

    def element_strikes(self, shaft_turns: Angles) -> Angles:
        """Strikes of a mark on an element: two per turn of its spin, one per raceway."""
        orders = self._mean_orders()
        if orders.rolling_element is None:
            msg = (
                f"bearing {self.bearing.name!r} gives no order of the rolling element: "
                "state it, or the geometry, on the card"
            )
            raise SettingsError(msg)
        per_turn = 2 * orders.rolling_element / abs(orders.cage - ring_orders(self.bearing)[1])
        return per_turn * (self.cage.at(shaft_turns) - self.outer(shaft_turns))

    def realised_orders(self) -> DefectOrders:
        """Mean orders over the recording, slip and its random walk included."""
        ends = self.shaft.turns_at(np.array([0.0, self.shaft.duration_s]))
        cage = self.cage.at(ends)
        return orders_at_cage(self.bearing, float((cage[1] - cage[0]) / (ends[1] - ends[0])))

    def _mean_orders(self) -> DefectOrders:
        kinematic = defect_orders(self.bearing)
        return orders_at_cage(self.bearing, kinematic.cage * (1 - 0.01 * self.slip_percent))


def defect_strikes(
    defect: Defect,
    motion: BearingMotion,
    sensor_turns: NDArray[np.float64],
    settings: SimulationSettings,
    rng: np.random.Generator,
) -> StrikeTrain:
    """All strikes of a defect within the recording, with strengths per sensor."""
    build = {
        Element.OUTER_RING: _ring_strikes,
        Element.INNER_RING: _ring_strikes,
        Element.ROLLING_ELEMENT: _element_strikes,
        Element.CAGE: _cage_strikes,
    }[defect.element]
    angles, strengths = build(defect, motion, sensor_turns[:, np.newaxis], settings, rng)
    times_s = motion.shaft.time_of(angles)
    is_inside = (times_s >= 0) & (times_s < motion.shaft.duration_s)
    return StrikeTrain(times_s=times_s[is_inside], strengths=strengths[:, is_inside])


def _ring_strikes(
    defect: Defect,
    motion: BearingMotion,
    sensor_turns: Angles,
    settings: SimulationSettings,
    rng: np.random.Generator,
) -> tuple[Angles, Angles]:
    is_outer = defect.element is Element.OUTER_RING
    passes, ring = (
        (motion.outer_passes, motion.outer) if is_outer else (motion.inner_passes, motion.inner)
    )
    angles, _ = _crossings(passes, motion, settings.slip_jitter_percent, rng)
    n_marks = motion.bearing.element_count if defect.marks_at_every_element else 1
    strengths = np.zeros((sensor_turns.size, angles.size))
    for mark in range(n_marks):
        place = ring(angles) + defect.place_deg / 360 + mark / n_marks
        load = load_weight(motion.bearing.load_case, place, angles, settings.load_factor)
        strengths += load * path_weight(place, sensor_turns, settings.path_modulation)
    if n_marks > 1:  # all strike at once: their sum, not each, has the stated impact
        strengths /= np.max(strengths)
    return angles, strengths * _scatter(settings.strike_scatter, angles.size, rng)


def _element_strikes(
    defect: Defect,
    motion: BearingMotion,
    sensor_turns: Angles,
    settings: SimulationSettings,
    rng: np.random.Generator,
) -> tuple[Angles, Angles]:
    angles, numbers = _crossings(motion.element_strikes, motion, settings.slip_jitter_percent, rng)
    place = motion.cage.at(angles) + defect.place_deg / 360
    load = load_weight(motion.bearing.load_case, place, angles, settings.load_factor)
    raceway = np.where(numbers % 2 == 0, 1.0, _INNER_RACEWAY_SHARE)
    strengths = load * raceway * path_weight(place, sensor_turns, settings.path_modulation)
    return angles, strengths * _scatter(settings.strike_scatter, angles.size, rng)


def _cage_strikes(
    defect: Defect,
    motion: BearingMotion,
    sensor_turns: Angles,
    settings: SimulationSettings,
    rng: np.random.Generator,
) -> tuple[Angles, Angles]:
    """Bad pocket through the load zone (once per load against cage), and cage on its land."""
    case = motion.bearing.load_case
    start = defect.place_deg / 360

    def pocket_against_load(turns: Angles) -> Angles:
        return motion.cage.at(turns) + start - load_direction_turns(case, turns)

    def pocket_in_frame(turns: Angles) -> Angles:
        return motion.cage.at(turns) + start

    angles, _ = _crossings(pocket_against_load, motion, settings.slip_jitter_percent, rng)
    shares = np.ones(angles.size)
    if case is not LoadCase.STATIONARY:  # there both are one and the same event
        on_land, _ = _crossings(pocket_in_frame, motion, settings.slip_jitter_percent, rng)
        angles = np.concatenate([angles, on_land])
        shares = np.concatenate([shares, np.full(on_land.size, _LAND_SHARE)])
    place = motion.cage.at(angles) + start
    strengths = shares * path_weight(place, sensor_turns, settings.path_modulation)
    scatter = max(settings.strike_scatter, _CAGE_SCATTER)
    return angles, strengths * _scatter(scatter, angles.size, rng)


def _crossings(
    count: Callable[[Angles], Angles],
    motion: BearingMotion,
    jitter_percent: float,
    rng: np.random.Generator,
) -> tuple[Angles, NDArray[np.int64]]:
    """Shaft angles at which a count passes each whole number, displaced by the jitter.

    The cage is piecewise linear in the shaft angle and so is each count: the
    interpolation is exact.
    """
    knots = motion.cage.shaft_turns
    counts = count(knots)
    direction = 1.0 if counts[-1] > counts[0] else -1.0
    counts = np.maximum.accumulate(direction * counts)
    numbers = np.arange(int(np.ceil(counts[0])), int(np.floor(counts[-1])) + 1)
    displaced = numbers + 0.01 * jitter_percent * rng.standard_normal(numbers.size)
    return np.interp(displaced, counts, knots), numbers


def _scatter(scatter: float, size: int, rng: np.random.Generator) -> NDArray[np.float64]:
    return 1.0 - scatter * rng.random(size)
