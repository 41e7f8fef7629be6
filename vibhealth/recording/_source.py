"""What every reader hands over: channels that can be loaded, and what the file says of itself."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vibhealth.units import STANDARD_GRAVITY_M_S2

__all__ = ["FileUnit", "SampleSource", "as_clause", "file_unit"]

# Units that a header or an array file may state, with the factor to m/s^2 or to volts.
_ACCELERATION = {
    "g": STANDARD_GRAVITY_M_S2,
    "mg": 1e-3 * STANDARD_GRAVITY_M_S2,
    **dict.fromkeys(
        ("m/s2", "m/s^2", "m/s²", "m/s**2", "m/s/s", "m s-2", "m s^-2", "ms-2", "ms^-2"), 1.0
    ),
}
_VOLTAGE = {"V": 1.0, "mV": 1e-3}
_OTHER = frozenset(("mm/s", "m/s", "cm/s", "in/s", "ips", "um", "µm", "μm", "mm", "mil", "in"))
_OTHER_QUANTITIES = frozenset(("°C", "degC", "C", "rpm", "r/min", "1/min", "A", "Pa", "bar", "N"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FileUnit:
    """A unit stated inside the file for one channel; ``scale`` leads to m/s^2 or volts."""

    text: str
    place: str
    kind: Literal["acceleration", "voltage", "counts", "other"]
    scale: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleSource:
    """An opened recording before calibration.

    ``load`` takes 1-based channels and returns float64 of shape
    ``(len(channels), n_samples)``. ``converter_limit`` is the largest positive
    value of an integer audio format (full scale is 1), None for all others.
    """

    n_channels: int
    load: Callable[[tuple[int, ...]], NDArray[np.float64]]
    is_audio: bool = False
    sampling_rate_hz: float | None = None
    rate_tolerance_hz: float = 0.0
    rate_place: str = ""
    converter_limit: float | None = None
    channel_units: tuple[FileUnit | None, ...] = ()
    remarks: tuple[tuple[str, str], ...] = ()

    def unit_of(self, channel: int) -> FileUnit | None:
        """Unit that the file states for a 1-based channel."""
        return self.channel_units[channel - 1] if self.channel_units else None


def as_clause(reason: object) -> str:
    """Message of another library as a part of one sentence."""
    return " ".join(str(reason).split()).rstrip(".").replace(". ", ", ") or type(reason).__name__


def file_unit(text: str, *, place: str) -> FileUnit | None:
    """Unit of a text such as ``m/s2``; None when the text is not a known unit."""
    if text in _ACCELERATION:
        return FileUnit(text=text, place=place, kind="acceleration", scale=_ACCELERATION[text])
    if text in _VOLTAGE:
        return FileUnit(text=text, place=place, kind="voltage", scale=_VOLTAGE[text])
    if text == "counts":
        return FileUnit(text=text, place=place, kind="counts")
    if text in _OTHER or text in _OTHER_QUANTITIES:
        return FileUnit(text=text, place=place, kind="other")
    return None
