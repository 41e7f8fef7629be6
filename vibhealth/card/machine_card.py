"""The whole machine card, with the rules that hold between its tables."""

from collections import Counter
from collections.abc import Iterable
from typing import Any, Literal, TypeVar

from pydantic import Field, PrivateAttr, field_validator, model_validator

from vibhealth.card._types import CardModel, Faults, Location, Text
from vibhealth.card._words import nearest
from vibhealth.card.bearing import Bearing
from vibhealth.card.limit_table import BY_ID
from vibhealth.card.limits import LimitEntry, Limits, limit_faults
from vibhealth.card.machine import Analysis, BoltGroup, Exciter, Guard, Machine, Oil
from vibhealth.card.maintenance import Maintenance
from vibhealth.card.sensor import Point, Sensor
from vibhealth.errors import CardError
from vibhealth.model import RollingBearing
from vibhealth.units import rpm_to_hz

__all__ = ["MachineCard"]

Named = TypeVar("Named", Bearing, Sensor, Point, BoltGroup)
Fault = tuple[Location, str, object]


class MachineCard(CardModel):
    """Everything the tool knows of one machine beforehand; made by `read_card`.

    ``exciter`` is None for an ordinary machine. TOML tables ``[[bearing]]``,
    ``[[sensor]]``, ``[[point]]`` and ``[[bolt_group]]`` are the attributes
    ``bearings``, ``sensors``, ``points`` and ``bolts``.
    """

    schema_version: Literal[1]
    machine: Machine
    exciter: Exciter | None = None
    bearings: tuple[Bearing, ...] = Field(default=(), alias="bearing")
    sensors: tuple[Sensor, ...] = Field(default=(), alias="sensor")
    points: tuple[Point, ...] = Field(default=(), alias="point")
    analysis: Analysis = Analysis()
    oil: Oil | None = None
    bolts: tuple[BoltGroup, ...] = Field(default=(), alias="bolt_group")
    guard: Guard | None = None
    maintenance: Maintenance | None = None
    limit_entries: dict[Text, LimitEntry] = Field(default_factory=dict, alias="limits")

    _path: str = PrivateAttr(default="")
    _sha256: str = PrivateAttr(default="")

    @field_validator("limit_entries", mode="before")
    @classmethod
    def _numbers_are_entries(cls, table: Any) -> Any:
        if not isinstance(table, dict):
            return table
        return {
            name: entry if isinstance(entry, dict | LimitEntry) else {"value": entry}
            for name, entry in table.items()
        }

    @model_validator(mode="after")
    def _tables_agree(self) -> "MachineCard":
        faults = [
            *_twice("bearing", self.bearings),
            *_twice("sensor", self.sensors),
            *_twice("point", self.points),
            *_twice("bolt_group", self.bolts),
            *self._point_faults(),
            *limit_faults(self.limit_entries, self.limits),
        ]
        if faults:
            raise Faults(faults)
        return self

    def _point_faults(self) -> list[Fault]:
        sensors = [sensor.name for sensor in self.sensors]
        bearings = [bearing.name for bearing in self.bearings]
        faults: list[Fault] = []
        for number, point in enumerate(self.points):
            if point.sensor not in sensors:
                rule = f"must name a [[sensor]] of this card{nearest(point.sensor, sensors)}"
                faults.append((("point", number, "sensor"), rule, point.sensor))
            for index, name in enumerate(point.bearings):
                if name not in bearings:
                    rule = f"must name a [[bearing]] of this card{nearest(name, bearings)}"
                    faults.append((("point", number, "bearings", index), rule, name))
        return faults

    @property
    def path(self) -> str:
        """The file as given to `read_card`."""
        return self._path

    @property
    def sha256(self) -> str:
        """Digest of the file's bytes."""
        return self._sha256

    @property
    def nominal_shaft_frequency_hz(self) -> float:
        """Nominal speed in revolutions per second."""
        return rpm_to_hz(self.machine.nominal_speed_rpm)

    @property
    def limits(self) -> Limits:
        """Limits in force: those of the card, those that follow from it, and defaults."""
        return Limits.in_force(self.limit_entries, card_name=self._path, derived=self._derived())

    def _derived(self) -> dict[str, tuple[float, str]]:
        """Defaults that other keys of the card decide."""
        derived: dict[str, tuple[float, str]] = {}
        tolerance = self.machine.speed_tolerance_percent
        if tolerance > 3.0:
            derived["speed_hold_percent"] = (tolerance, "card, machine.speed_tolerance_percent")
        if tolerance > 5.0:
            key = "baseline_speed_hold_percent"
            derived[key] = (tolerance, "card, machine.speed_tolerance_percent")
        exciter = self.exciter
        if exciter is not None and "stroke_tolerance_percent" in exciter.model_fields_set:
            stroke = exciter.stroke_tolerance_percent
            key = "exciter.stroke_tolerance_percent"
            derived["stroke_watch_percent"] = (stroke, f"card, {key}")
            derived["stroke_hold_percent"] = (1.5 * stroke, f"1.5 times card, {key}")
        derived |= self._derived_depths()
        if self.machine.temperature_limit_c is not None:
            limit = self.machine.temperature_limit_c
            derived["temperature_hold_c"] = (limit, "card, machine.temperature_limit_c")
        return derived

    def _derived_depths(self) -> dict[str, tuple[float, str]]:
        """Smaller depths never exceed a larger one that the card gives."""
        derived: dict[str, tuple[float, str]] = {}
        rising = ("depth_watch", "depth_present", "depth_hold")
        for position, key in enumerate(rising[:-1]):
            above = [k for k in rising[position + 1 :] if k in self.limit_entries]
            if key in self.limit_entries or not above:
                continue
            lowest = min(above, key=lambda k: self.limit_entries[k].value)
            value = self.limit_entries[lowest].value
            default = BY_ID[key].default
            if default is not None and value < default:
                derived[key] = (value, f"card, limits.{lowest}")
        watch = self.limit_entries.get("depth_watch")
        present = BY_ID["depth_present"].default
        if (
            watch
            and "depth_present" not in self.limit_entries
            and present
            and watch.value > present
        ):
            derived["depth_present"] = (watch.value, "card, limits.depth_watch")
        return derived

    def rolling_bearings(self) -> tuple[RollingBearing, ...]:
        """All bearings as the other layers know them, in the card's order.

        Returns
        -------
        tuple of RollingBearing
        """
        return tuple(bearing.rolling_bearing() for bearing in self.bearings)

    def bearings_at(self, point_name: str) -> tuple[RollingBearing, ...]:
        """Bearings heard at a point: those it lists, otherwise all.

        Parameters
        ----------
        point_name : str
            Name of a ``[[point]]``.

        Returns
        -------
        tuple of RollingBearing

        Raises
        ------
        CardError
            If the card has no such point.
        """
        heard = self.point(point_name).bearings
        return tuple(
            bearing for bearing in self.rolling_bearings() if not heard or bearing.name in heard
        )

    def sensor(self, name: str) -> Sensor:
        """The sensor of this name.

        Parameters
        ----------
        name : str
            Name of a ``[[sensor]]``.

        Returns
        -------
        Sensor

        Raises
        ------
        CardError
            If the card has no such sensor.
        """
        return self._named(name, self.sensors, "sensor")

    def is_on_body(self, point_name: str | None) -> bool:
        """Whether a point moves with the body; one that the card does not know does.

        Parameters
        ----------
        point_name : str or None
            Name of a ``[[point]]``, or any other.

        Returns
        -------
        bool
        """
        return all(p.mounted_on == "body" for p in self.points if p.name == point_name)

    def point(self, name: str) -> Point:
        """The measurement point of this name.

        Parameters
        ----------
        name : str
            Name of a ``[[point]]``.

        Returns
        -------
        Point

        Raises
        ------
        CardError
            If the card has no such point.
        """
        return self._named(name, self.points, "point")

    def _named(self, name: str, rows: tuple[Named, ...], table: str) -> Named:
        for row in rows:
            if row.name == name:
                return row
        hint = (
            nearest(name, [row.name for row in rows])
            if rows
            else f" (it has no [[{table}]]); write one on the card"
        )
        msg = f"{self._path or 'the card'}: no {table} is named {name!r}{hint}"
        raise CardError(msg)


def _twice(table: str, rows: Iterable[Bearing | Sensor | Point | BoltGroup]) -> list[Fault]:
    """A fault for each row whose name an earlier one has."""
    seen: Counter[str] = Counter()
    faults: list[Fault] = []
    for number, row in enumerate(rows):
        seen[row.name] += 1
        if seen[row.name] > 1:
            rule = f"must differ from the other [[{table}]] names"
            faults.append(((table, number, "name"), rule, row.name))
    return faults
