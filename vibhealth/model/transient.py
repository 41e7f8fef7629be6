"""What a recording of a start or a stop shows: courses, swings, strikes."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vibhealth.model.recording import Recording

__all__ = [
    "MotionCurve",
    "RunSegment",
    "SpeedTimeMap",
    "Transient",
    "TransientAnalysis",
    "TransientStrike",
]

QUARTER = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSegment:
    """A stretch of a recording in which the machine does one thing; seconds from its start."""

    kind: Literal["standstill", "run-up", "steady", "coast-down"]
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TransientStrike:
    """A hard hit: when, how hard (peak in the unit of the samples), at which shaft frequency."""

    time_s: float
    size: float
    shaft_frequency_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Transient:
    """One run-up or coast-down.

    ``duration_s`` is the time to speed (first motion until 98 % of the steady speed), or the
    time from 98 % of the steady speed until the body has stopped moving; None where the
    recording does not hold all of it. ``missing`` says what could not be read and why. ``swing_ratio`` is the largest
    displacement while starting or stopping over the amplitude at steady speed, ``swing_mm`` the
    largest displacement itself (zero to peak), None without calibration. The isolator's
    natural frequency and damping ratio come from a fit to the free swing, None where it
    does not show. ``strikes`` are the hits that stand out of the background of the whole
    recording and do not go on at steady speed, None where they could not be looked for;
    ``steady_strikes_per_turn`` says how often
    such hits come while the speed is steady.
    """

    kind: Literal["run-up", "coast-down"]
    start_s: float
    end_s: float
    steady_frequency_hz: float | None
    duration_s: float | None
    swing_ratio: float | None
    swing_mm: float | None
    isolator_frequency_hz: float | None
    damping_ratio: float | None
    fit_detail: str
    strikes: tuple[TransientStrike, ...] | None
    steady_strikes_per_turn: float
    course_time_s: NDArray[np.float64]
    course_shaft_frequency_hz: NDArray[np.float64]
    detail: str = ""
    missing: str = ""

    @property
    def to_quarter_s(self) -> float | None:
        """Of a stop: seconds from 98 % of the steady speed down to a quarter of it.

        Unlike the time until the body stands still, the free swing on the isolators has no
        part in it. None for a start, and where the course does not reach that far.
        """
        if self.kind != "coast-down" or self.steady_frequency_hz is None:
            return None
        relative = self.course_shaft_frequency_hz / self.steady_frequency_hz
        reached = np.flatnonzero(relative <= QUARTER)
        if reached.size == 0 or reached[0] == 0:
            return None
        before, after = reached[0] - 1, reached[0]
        share = (relative[before] - QUARTER) / (relative[before] - relative[after])
        spacing_s = self.course_time_s[after] - self.course_time_s[before]
        return float(self.course_time_s[before] + share * spacing_s - self.course_time_s[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedTimeMap:
    """Spectrogram over shaft orders: ``level_db`` has shape (n_orders, n_times).

    Decibels of the acceleration amplitude, re the largest of the map.
    """

    time_s: NDArray[np.float64]
    order: NDArray[np.float64]
    level_db: NDArray[np.float64]
    shaft_frequency_hz: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionCurve:
    """Motion over the whole recording, for drawing.

    ``displacement_ratio`` is the displacement over its amplitude at steady speed,
    ``steady_amplitude_mm`` that amplitude, None without calibration. ``shaft_frequency_hz``
    is 0 at standstill.
    """

    time_s: NDArray[np.float64]
    displacement_ratio: NDArray[np.float64]
    steady_amplitude_mm: float | None
    shaft_frequency_hz: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TransientAnalysis:
    """Starts and stops in one recording of one point; ``not_judged`` says why there are none."""

    recording: Recording
    segments: tuple[RunSegment, ...]
    transients: tuple[Transient, ...]
    map: SpeedTimeMap | None
    not_judged: str = ""
    curve: MotionCurve | None = None
