"""What a caller asks of a file: the channels wanted, and overrides of what the file says."""

import math
from dataclasses import dataclass
from typing import Literal

from vibhealth._check import check_positive
from vibhealth.errors import InputError

__all__ = ["ChannelRequest", "ReadOptions"]


def _check_optional_positive(holder: object, names: tuple[str, ...]) -> None:
    """Refuse any of the named values that is set and not a finite number above 0."""
    for name in names:
        if (value := getattr(holder, name)) is not None:
            check_positive(value, name=name)


def _check_channel(value: object, *, name: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        msg = f"{name} must be a whole number from 1 on, got {value!r}"
        raise InputError(msg)


def _check_unit(value: str | None, allowed: tuple[str, ...]) -> None:
    if value is not None and value not in allowed:
        msg = f"unit must be one of {', '.join(allowed)}, got {value!r}"
        raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelRequest:
    """One channel wanted from a file, and what the machine card knows about it.

    Parameters
    ----------
    channel : int
        1-based channel in the file. In a table the time column does not count.
    point, direction : str, optional
        Measurement point and its direction.
    sensitivity_mv_per_g, sensitivity_mv_per_m_s2 : float, optional
        Sensor sensitivity, above 0, together with ``full_scale_v``.
    full_scale_v : float, optional
        Input voltage of the recorder at full scale (file value 1), above 0.
    full_scale_g : float, optional
        Acceleration in g at full scale (file value 1), above 0.
    unit : {"g", "m/s2"}, optional
        The file values already are in this unit.
    range_g : float, optional
        Measuring range of the sensor in g, above 0.
    usable_hz : tuple of float, optional
        Usable frequency band of the sensor, ``0 <= low < high``.
    source : str
        Words for the report: where these values come from.

    Raises
    ------
    InputError
        If a value is outside its range.
    """

    channel: int = 1
    point: str | None = None
    direction: str | None = None
    sensitivity_mv_per_g: float | None = None
    sensitivity_mv_per_m_s2: float | None = None
    full_scale_v: float | None = None
    full_scale_g: float | None = None
    unit: Literal["g", "m/s2"] | None = None
    range_g: float | None = None
    usable_hz: tuple[float, float] | None = None
    source: str = "options"

    def __post_init__(self) -> None:
        _check_channel(self.channel, name="channel")
        _check_unit(self.unit, ("g", "m/s2"))
        _check_optional_positive(
            self,
            (
                "sensitivity_mv_per_g",
                "sensitivity_mv_per_m_s2",
                "full_scale_v",
                "full_scale_g",
                "range_g",
            ),
        )
        if self.usable_hz is not None:
            low, high = self.usable_hz
            if not (0 <= low < high and math.isfinite(high)):
                msg = f"usable_hz must satisfy 0 <= low < high, got {self.usable_hz}"
                raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOptions:
    """Overrides given by the user, all optional; they win over sidecar and card.

    Parameters
    ----------
    rate_hz : float, optional
        Sampling rate in Hz, above 0; needed where the file states none.
    unit : {"g", "m/s2", "counts"}, optional
        Unit of the file values of all channels; ``"counts"`` switches any calibration off.
    full_scale_g, full_scale_v, sensitivity_mv_per_g : float, optional
        As in `ChannelRequest`, for all channels.
    tachometer_channel : int, optional
        1-based channel that carries the tachometer.
    tachometer_pulses_per_turn : float
        Above 0.
    variable : str, optional
        Name of the array inside an ``.npz`` or ``.mat`` file.
    time_column : str or int, optional
        Name or 1-based number of the time column of a table.
    resample : bool
        Resample unevenly spaced time stamps to an even spacing.

    Raises
    ------
    InputError
        If a value is outside its range.
    """

    rate_hz: float | None = None
    unit: Literal["g", "m/s2", "counts"] | None = None
    full_scale_g: float | None = None
    sensitivity_mv_per_g: float | None = None
    full_scale_v: float | None = None
    tachometer_channel: int | None = None
    tachometer_pulses_per_turn: float = 1.0
    variable: str | None = None
    time_column: str | int | None = None
    resample: bool = False

    def __post_init__(self) -> None:
        _check_unit(self.unit, ("g", "m/s2", "counts"))
        _check_optional_positive(
            self,
            (
                "rate_hz",
                "full_scale_g",
                "sensitivity_mv_per_g",
                "full_scale_v",
                "tachometer_pulses_per_turn",
            ),
        )
        if self.tachometer_channel is not None:
            _check_channel(self.tachometer_channel, name="tachometer_channel")
        if isinstance(self.time_column, int):
            _check_channel(self.time_column, name="time_column")
