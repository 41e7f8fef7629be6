"""A recording of one measurement point, calibrated or honestly not."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Calibration", "Moment", "Recording", "SampleUnit", "Stage"]

SampleUnit = Literal["m/s2", "counts"]


class Stage(StrEnum):
    """Where in the rebuild a recording belongs."""

    AS_FOUND = "as-found"
    AS_LEFT = "as-left"
    UNSTATED = "unstated"


class Moment(StrEnum):
    """When in a stage a recording was made; the values are names of folders in a job."""

    RUN_UP = "run-up"
    HOUR_1 = "1h"
    HOUR_8 = "8h"
    HOUR_24 = "24h"
    DAY_7 = "7d"
    COAST_DOWN = "coast-down"


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """How file values become m/s^2: ``acceleration = file value * scale_m_s2``.

    ``scale_m_s2`` belongs to one unit of the *file*: for integer formats that
    is full scale (samples are read as -1 to 1), for float files the value 1.
    ``source`` says in words where it comes from, for the report.
    """

    scale_m_s2: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """Samples of one channel with everything needed to judge and to repeat.

    Attributes
    ----------
    samples : ndarray of float64, shape (n_samples,)
        Acceleration in m/s^2 when ``unit`` is ``"m/s2"``, otherwise file values.
    sampling_rate_hz : float
        Above 0.
    unit : {"m/s2", "counts"}
        ``"counts"`` means no calibration is known: nothing absolute is judged.
    path, sha256 : str
        Path as given, and digest of the whole file.
    channel, n_channels : int
        1-based channel in the file, and how many the file has.
    point, direction : str or None
        Measurement point name and direction from card or options.
    stage : Stage
    moment : Moment or None
        The check that the recording belongs to; None where nothing says so.
    calibration : Calibration or None
    full_scale : float or None
        Largest magnitude the converter can deliver, in the unit of ``samples``;
        None when the format has no such limit (float files, text).
    tachometer : ndarray or None
        Samples of the tachometer channel at the same rate, raw file values.
    start_time : datetime or None
        From the sidecar.
    temperature_c : float or None
        Housing temperature from the sidecar.
    running_hours_h : float or None
        The machine's hour counter at the recording, from the sidecar; at least 0.
    sidecar : dict-like tuple of (key, value) text pairs
        Remaining remarks of the sidecar for the report.
    """

    samples: NDArray[np.float64]
    sampling_rate_hz: float
    unit: SampleUnit
    path: str
    sha256: str
    channel: int = 1
    n_channels: int = 1
    point: str | None = None
    direction: str | None = None
    stage: Stage = Stage.UNSTATED
    moment: Moment | None = None
    calibration: Calibration | None = None
    full_scale: float | None = None
    sensor_range_m_s2: float | None = None
    sensor_usable_hz: tuple[float, float] | None = None
    tachometer: NDArray[np.float64] | None = None
    tachometer_pulses_per_turn: float = 1.0
    shaft_speed_rpm: float | None = None
    start_time: datetime | None = None
    temperature_c: float | None = None
    running_hours_h: float | None = None
    remarks: tuple[tuple[str, str], ...] = ()

    @property
    def duration_s(self) -> float:
        """Length of the recording in seconds."""
        return float(self.samples.shape[-1] / self.sampling_rate_hz)

    @property
    def is_calibrated(self) -> bool:
        """Whether ``samples`` are in m/s^2."""
        return self.unit == "m/s2"
