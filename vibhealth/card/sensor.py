"""``[[sensor]]`` and ``[[point]]``: what converts the motion, and where it is read."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from vibhealth.card._types import Band, CardModel, Faults, Location, Positive, Text, Whole
from vibhealth.model import Calibration
from vibhealth.units import STANDARD_GRAVITY_M_S2, g_to_m_s2

__all__ = ["Point", "Sensor"]


class Sensor(CardModel):
    """One accelerometer; at most one way of calibration."""

    name: Text
    serial: Text | None = None
    sensitivity_mv_per_g: Positive | None = None
    sensitivity_mv_per_m_s2: Positive | None = None
    full_scale_v: Positive | None = None
    full_scale_g: Positive | None = None
    unit: Literal["g", "m/s2"] | None = None
    range_g: Positive | None = None
    usable_hz: Band | None = None
    mount: Literal["stud", "adhesive", "magnet", "hand-held"] | None = None

    @model_validator(mode="after")
    def _one_way_of_calibration(self) -> "Sensor":
        ways = ("sensitivity_mv_per_g", "sensitivity_mv_per_m_s2", "full_scale_g", "unit")
        given = [way for way in ways if getattr(self, way) is not None]
        sensitive = [way for way in given if way.startswith("sensitivity")]
        faults: list[tuple[Location, str, object]] = []
        if len(given) > 1:
            rule = f"must give one way of calibration only, one of {', '.join(ways)}"
            faults.append(((), rule, " and ".join(given)))
        elif sensitive and self.full_scale_v is None:
            rule = f"is required with {sensitive[0]}: the voltage of a full-scale sample"
            faults.append((("full_scale_v",), rule, None))
        elif self.full_scale_v is not None and not sensitive:
            rule = "needs sensitivity_mv_per_g or sensitivity_mv_per_m_s2 beside it"
            faults.append((("full_scale_v",), rule, self.full_scale_v))
        if faults:
            raise Faults(faults)
        return self

    @property
    def range_m_s2(self) -> float | None:
        """Largest acceleration the sensor can follow, m/s^2."""
        return None if self.range_g is None else g_to_m_s2(self.range_g)

    def calibration(self) -> Calibration | None:
        """How file values become m/s^2; None where the card gives no calibration.

        Returns
        -------
        Calibration or None
            ``scale_m_s2`` per full scale of an integer file, or per unit of a file
            that is already in units.
        """
        volts = self.full_scale_v
        if self.unit is not None:
            scale = STANDARD_GRAVITY_M_S2 if self.unit == "g" else 1.0
            return self._calibration(scale, f"values in {self.unit}")
        if self.full_scale_g is not None:
            scale = g_to_m_s2(self.full_scale_g)
            return self._calibration(scale, f"full scale {self.full_scale_g:g} g")
        if volts is not None and self.sensitivity_mv_per_g is not None:
            scale = g_to_m_s2(1000 * volts / self.sensitivity_mv_per_g)
            text = f"{self.sensitivity_mv_per_g:g} mV/g, full scale {volts:g} V"
            return self._calibration(scale, text)
        if volts is not None and self.sensitivity_mv_per_m_s2 is not None:
            scale = 1000 * volts / self.sensitivity_mv_per_m_s2
            text = f"{self.sensitivity_mv_per_m_s2:g} mV per m/s^2, full scale {volts:g} V"
            return self._calibration(scale, text)
        return None

    def _calibration(self, scale_m_s2: float, text: str) -> Calibration:
        return Calibration(
            scale_m_s2=scale_m_s2, source=f"machine card, sensor {self.name}: {text}"
        )


class Point(CardModel):
    """One measurement point: a place, a direction, a sensor and its channel."""

    name: Text
    direction: Text
    sensor: Text
    channel: Annotated[Whole, Field(ge=1)] = 1
    position: Text | None = None
    mounted_on: Literal["body", "base", "motor"] = "body"
    bearings: tuple[Text, ...] = ()
