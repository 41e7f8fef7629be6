"""What the simulation takes from a machine card: speed, motion, points, bearings."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import LoadCase, RollingBearing
from vibhealth.simulate._body import Isolator
from vibhealth.simulate.settings import Defect, SimulationSettings
from vibhealth.units import g_to_m_s2, rpm_to_hz, throw_factor

__all__ = ["Machine", "Point", "machine_of"]

# Share of the nominal speed at which a direct drive runs; common practice, no source.
_USUAL_SPEED_SHARE = 0.995
# Motion where the card states no stroke; common practice, no source.
_UNBALANCE_G = 0.05
_AXIAL_SHARE = 0.03
# Directions from the x direction in turns; a sensor along the shaft stands between x and y.
_SENSOR_TURNS = {"x": 0.0, "y": 0.25, "z": 0.125}
# Shares of a strike (common practice, no source): along the shaft, and at a point that
# the card gives to another bearing.
_AXIAL_STRIKE_SHARE = 0.6
_OTHER_BEARING_SHARE = 0.3
# Off the body (common practice, no source): what comes through isolators and drive shaft of
# strikes, of rolling noise, and of the working motion. The base moves mostly up and down.
_STRIKE_SHARES = {"body": 1.0, "base": 0.05, "motor": 0.15}
_NOISE_SHARES = {"body": 1.0, "base": 0.15, "motor": 0.6}
_MOTION_SHARES = {
    "base": {"x": 0.008, "y": 0.008, "z": 0.015},
    "motor": {"x": 0.04, "y": 0.04, "z": 0.02},
}
# Body on its isolators where neither card nor settings say (common practice: 2 to 5 Hz).
_USUAL_ISOLATOR_HZ = 3.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A measurement point, its direction, and the bearings it stands beside (none: all)."""

    name: str
    direction: str
    bearings: tuple[str, ...] = ()
    mounted_on: str = "body"

    @property
    def sensor_turns(self) -> float:
        """Where around the bearing the sensor stands, in turns from x."""
        return _SENSOR_TURNS[self.direction]

    def strike_gain(self, bearing: str | None = None) -> float:
        """Share of a strike (in a bearing, or anywhere for None) that arrives here."""
        is_near = bearing is None or not self.bearings or bearing in self.bearings
        along = _AXIAL_STRIKE_SHARE if self.direction == "z" else 1.0
        on_part = _STRIKE_SHARES[self.mounted_on]
        return on_part * along * (1.0 if is_near else _OTHER_BEARING_SHARE)

    @property
    def noise_share(self) -> float:
        """Share of the rolling noise that arrives here."""
        return _NOISE_SHARES[self.mounted_on]


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The facts of a card that a simulation needs."""

    nominal_speed_rpm: float
    stroke_mm: Mapping[str, float]
    is_clockwise: bool
    points: tuple[Point, ...]
    bearings: tuple[RollingBearing, ...]
    isolator_hz: float = _USUAL_ISOLATOR_HZ
    quarter_turns: float = 0.25  # by which y is behind x; another for a tilted orbit

    def isolator(self, settings: SimulationSettings) -> Isolator:
        """The body on its isolators, softer or stiffer by the fault."""
        given_hz = settings.isolator_frequency_hz
        return Isolator(
            frequency_hz=(given_hz or self.isolator_hz) * settings.fault.isolator_factor,
            damping_ratio=settings.isolator_damping_ratio,
        )

    def first_order(self, point: Point, settings: SimulationSettings) -> tuple[float, float]:
        """1x acceleration of a point: amplitude in m/s^2, phase against the shaft angle in turns."""
        fault = settings.fault
        if point.mounted_on != "body":
            return self._beside_the_body(point, settings)
        if fault.orbit_turn_deg == 0 or point.direction == "z":
            return self._own_axis(point.direction, settings)
        along_x, along_y = (self._phasor(axis, settings) for axis in ("x", "y"))
        turn = np.deg2rad(fault.orbit_turn_deg)
        if point.direction == "x":
            wave = np.cos(turn) * along_x - np.sin(turn) * along_y
        else:
            wave = np.sin(turn) * along_x + np.cos(turn) * along_y
        return float(abs(wave)), float(np.angle(wave) / (2 * np.pi))

    def _own_axis(self, direction: str, settings: SimulationSettings) -> tuple[float, float]:
        fault = settings.fault
        factor = fault.stroke_factor.get(direction, 1.0)
        factor *= fault.axial_gain if direction == "z" else 1.0
        phase_turns = self.first_order_phase_turns(direction)
        if fault.is_reversed and direction == "y":
            phase_turns += 0.5
        return factor * self.first_order_m_s2(direction, settings), phase_turns

    def _phasor(self, direction: str, settings: SimulationSettings) -> complex:
        amplitude, phase_turns = self._own_axis(direction, settings)
        return complex(amplitude * np.exp(2j * np.pi * phase_turns))

    def _beside_the_body(self, point: Point, settings: SimulationSettings) -> tuple[float, float]:
        """Motion of base or motor: a share of the good machine's radial motion."""
        fault = settings.fault
        gain = fault.base_gain if point.mounted_on == "base" else fault.motor_gain
        share = _MOTION_SHARES[point.mounted_on][point.direction]
        radial = max(self.first_order_m_s2(axis, settings) for axis in ("x", "y"))
        return gain * share * radial, self.first_order_phase_turns(point.direction)

    def speed_rpm(self, settings: SimulationSettings) -> float:
        """Mean speed of the simulation."""
        if settings.speed_rpm is not None:
            return settings.speed_rpm
        return _USUAL_SPEED_SHARE * self.nominal_speed_rpm

    def first_order_m_s2(self, direction: str, settings: SimulationSettings) -> float:
        """Amplitude of the 1x acceleration in a direction."""
        given = (settings.first_order_g or {}).get(direction)
        if given is not None:
            return g_to_m_s2(given)
        stroke_mm = self.stroke_mm.get(direction)
        if stroke_mm is None and direction == "z" and self.stroke_mm:
            stroke_mm = _AXIAL_SHARE * max(self.stroke_mm.values())
        if stroke_mm is None:
            return g_to_m_s2(_UNBALANCE_G)
        return g_to_m_s2(throw_factor(stroke_mm, self.speed_rpm(settings)))

    def first_order_phase_turns(self, direction: str) -> float:
        """Phase of the 1x acceleration against the shaft angle.

        The displacement is cos in x and, counter-clockwise on an orbit along the axes,
        sin in y; the acceleration is its opposite.
        """
        behind = -self.quarter_turns if direction == "y" else 0.0
        return 0.5 + (-behind if self.is_clockwise else behind)

    def bearing_of(self, defect: Defect) -> RollingBearing:
        """Bearing of a defect; the first one where it names none.

        Raises
        ------
        SettingsError
            If the machine has no such bearing, or its load case is unknown.
        """
        names = [bearing.name for bearing in self.bearings]
        if not names:
            msg = "a defect needs a [[bearing]] on the machine card, got none"
            raise SettingsError(msg)
        name = names[0] if defect.bearing is None else defect.bearing
        if name not in names:
            msg = f"bearing of a defect must be one of {', '.join(names)}, got {name!r}"
            raise SettingsError(msg)
        bearing = self.bearings[names.index(name)]
        if bearing.load_case is LoadCase.UNKNOWN:
            msg = (
                f"load_case of bearing {name!r} must be rotating, stationary or twice-per-turn "
                "to simulate a defect, got unknown: set it on the card"
            )
            raise SettingsError(msg)
        return bearing

    def shaft_frequency_hz(self, settings: SimulationSettings) -> float:
        """Mean shaft frequency of the simulation."""
        return rpm_to_hz(self.speed_rpm(settings))


def _quarter_turns(stroke_mm: Mapping[str, float], tilt_deg: float | None) -> float:
    r"""By how much of a turn y is behind x on an orbit of these strokes and this tilt.

    .. math:: \tan 2\vartheta = \frac{2 x y \cos \delta}{x^2 - y^2}

    (geometry of the ellipse).
    """
    if tilt_deg is None or not {"x", "y"} <= set(stroke_mm):
        return 0.25
    x, y = stroke_mm["x"], stroke_mm["y"]
    cosine = (x**2 - y**2) * np.tan(2 * np.deg2rad(tilt_deg)) / (2 * x * y)
    if abs(cosine) > 1:
        msg = (
            f"exciter.orbit_tilt_deg must fit stroke_mm x = {x:g}, y = {y:g}, got {tilt_deg:g}: "
            "no ellipse has these strokes and this tilt"
        )
        raise SettingsError(msg)
    return float(np.arccos(cosine) / (2 * np.pi))


def machine_of(card: MachineCard) -> Machine:
    """What a card says of the machine to simulate.

    Raises
    ------
    SettingsError
        If the card has no measurement point, or one whose direction is not x, y or z, or
        an orbit that no ellipse has.
    """
    if not card.points:
        msg = "a simulation needs a [[point]] on the machine card, got none"
        raise SettingsError(msg)
    for point in card.points:
        if point.direction not in _SENSOR_TURNS:
            msg = (
                f"direction of point {point.name!r} must be x, y or z to be simulated, "
                f"got {point.direction!r}"
            )
            raise SettingsError(msg)
    exciter = card.exciter
    stroke = exciter.stroke_mm if exciter is not None else None
    return Machine(
        nominal_speed_rpm=card.machine.nominal_speed_rpm,
        stroke_mm=dict(stroke.axes()) if stroke is not None else {},
        is_clockwise=exciter is not None and exciter.orbit_direction == "clockwise",
        points=tuple(
            Point(
                name=item.name,
                direction=item.direction,
                bearings=item.bearings,
                mounted_on=item.mounted_on,
            )
            for item in card.points
        ),
        bearings=tuple(card.rolling_bearings()),
        isolator_hz=(exciter and exciter.isolator_frequency_hz) or _USUAL_ISOLATOR_HZ,
        quarter_turns=_quarter_turns(
            dict(stroke.axes()) if stroke is not None else {},
            None if exciter is None else exciter.orbit_tilt_deg,
        ),
    )
