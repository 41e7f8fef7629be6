"""The tables of a card that describe machine, exciter, work by hand and analysis."""

import itertools
from typing import Annotated, Any, Literal

from pydantic import Field, Strict, model_validator

from vibhealth.card._types import (
    Band,
    CardModel,
    Faults,
    NonNegative,
    Number,
    Percent,
    Positive,
    Text,
    Whole,
)

__all__ = ["Analysis", "BoltGroup", "Exciter", "Guard", "Machine", "Oil", "Stroke"]


class Machine(CardModel):
    """``[machine]``: which machine, how it is driven, how fast it should turn."""

    id: Text
    name: Text
    site: Text | None = None
    drive: Literal["direct", "soft-start", "inverter"] | None = None
    shaft: Literal["vertical", "horizontal"] | None = None
    nominal_speed_rpm: Annotated[Positive, Field(le=100_000)]
    speed_tolerance_percent: Annotated[Number, Field(gt=0, le=20)] = 3.0
    temperature_limit_c: Annotated[Number, Field(gt=0, le=200)] | None = None
    sisters: tuple[Text, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _named_by_its_id(cls, table: Any) -> Any:
        if isinstance(table, dict) and "name" not in table and "id" in table:
            return {**table, "name": table["id"]}
        return table


class Stroke(CardModel):
    """``stroke_mm``: peak-to-peak stroke at the points, per axis in mm."""

    x: Positive | None = None
    y: Positive | None = None
    z: Positive | None = None

    @model_validator(mode="after")
    def _has_an_axis(self) -> "Stroke":
        if self.x is None and self.y is None and self.z is None:
            msg = "must give at least one of x, y, z"
            raise ValueError(msg)
        return self

    def along(self, direction: str | None) -> float | None:
        """Stroke in mm along x, y or z.

        Parameters
        ----------
        direction : str or None
            A point's direction; only ``"x"``, ``"y"`` and ``"z"`` name an axis.

        Returns
        -------
        float or None
            None where the card states no stroke for it.
        """
        return dict(self.axes()).get(direction or "")

    def axes(self) -> tuple[tuple[str, float], ...]:
        """The axes with a stated stroke, as (axis, peak-to-peak mm)."""
        pairs = (("x", self.x), ("y", self.y), ("z", self.z))
        return tuple((axis, value) for axis, value in pairs if value is not None)


class Exciter(CardModel):
    """``[exciter]``: the motion this machine makes on purpose."""

    stroke_mm: Stroke | None = None
    stroke_tolerance_percent: Percent = 10.0
    orbit_direction: Literal["clockwise", "counter-clockwise"] | None = None
    body_mass_kg: Positive | None = None
    unbalance_kg_m: Positive | None = None
    shafts: Literal[1, 2] = 1
    isolator_frequency_hz: Positive | None = None
    orbit_tilt_deg: Annotated[Number, Field(ge=-90, le=90)] | None = None
    run_up_s: Positive | None = None
    coast_down_s: Positive | None = None
    swing_ratio: Annotated[Positive, Field(ge=1)] | None = None

    def is_crosswise(self, direction: str | None) -> bool:
        """Whether a direction is none of those in which the body is meant to move.

        Parameters
        ----------
        direction : str or None
            A point's direction.

        Returns
        -------
        bool
            Along the shaft always; of two shafts that turn against each other also across the
            line of motion, where a stroke is stated along that line alone.
        """
        if direction == "z":
            return True
        other = {"x": "y", "y": "x"}.get(direction or "")
        if self.shafts != 2 or self.stroke_mm is None or other is None:
            return False
        along = self.stroke_mm.along
        return along(direction) is None and along(other) is not None


class Oil(CardModel):
    """``[oil]``: what lubricates the unit; viscosity and cleanliness serve the rating life."""

    grade: Text | None = None
    viscosity_40c_mm2_s: Positive | None = None
    viscosity_100c_mm2_s: Positive | None = None
    operating_temperature_c: Annotated[Number, Field(gt=0, le=200)] | None = None
    # Names of ISO 281:2007, table of the contamination factor (from memory).
    cleanliness: (
        Literal[
            "extreme-cleanliness",
            "high-cleanliness",
            "normal-cleanliness",
            "slight-contamination",
            "typical-contamination",
            "severe-contamination",
            "very-severe-contamination",
        ]
        | None
    ) = None
    volume_l: Positive | None = None
    change_interval_h: Positive | None = None

    @model_validator(mode="after")
    def _thins_when_hot(self) -> "Oil":
        cold, hot = self.viscosity_40c_mm2_s, self.viscosity_100c_mm2_s
        if cold is not None and hot is not None and hot >= cold:
            rule = f"must be below viscosity_40c_mm2_s ({cold:g}), since oil thins when hot"
            raise Faults([(("viscosity_100c_mm2_s",), rule, hot)])
        return self


class BoltGroup(CardModel):
    """``[[bolt_group]]``: bolts that are tightened together, and the stages to do it in."""

    name: Text
    count: Annotated[Whole, Field(ge=1)]
    thread: Text | None = None
    grade: Text | None = None
    lubrication: Literal["dry", "oiled"] | None = None
    torque_stages_nm: Annotated[tuple[Positive, ...], Field(min_length=1)]
    single_use: Annotated[bool, Strict()] = False
    recheck_after_h: Positive | None = None

    @model_validator(mode="after")
    def _stages_rise(self) -> "BoltGroup":
        stages = self.torque_stages_nm
        if any(later < earlier for earlier, later in itertools.pairwise(stages)):
            rule = "must not fall from one stage to the next"
            raise Faults([(("torque_stages_nm",), rule, list(stages))])
        return self


class Guard(CardModel):
    """``[guard]``: the gap to be kept between moving and standing parts."""

    clearance_mm: NonNegative
    position: Text | None = None


class Analysis(CardModel):
    """``[analysis]``: where the bearing is listened to, and how far its cage may slip."""

    # 1 to 10 kHz: common practice, no source.
    bearing_band_hz: Band = (1000.0, 10000.0)
    envelope_band_hz: Band | None = None
    slip_percent: Annotated[Number, Field(ge=0, le=5)] = 1.5

    @property
    def trend_band_hz(self) -> tuple[float, float]:
        """The fixed demodulation band for trends: ``envelope_band_hz``, else the bearing band."""
        return self.envelope_band_hz or self.bearing_band_hz
