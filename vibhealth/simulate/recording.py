"""The result of a simulation: samples, and the truth behind them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.model import DefectOrders
from vibhealth.simulate.course import Course
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = [
    "BearingTruth",
    "CourseTruth",
    "DefectTruth",
    "SimulatedRecording",
    "SimulationTruth",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingTruth:
    """Orders of one bearing as they were on average, slip included."""

    name: str
    orders: DefectOrders
    slip_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectTruth:
    """When and how strongly a simulated defect struck.

    ``strike_times_s`` has shape (n_strikes,), in the time of the recording;
    ``strengths`` has shape (n_points, n_strikes), 1 being a peak of the defect's
    impact at that point.
    """

    bearing: str
    defect: Defect
    strike_times_s: NDArray[np.float64]
    strengths: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseTruth:
    """How the body swung while it started or stopped.

    ``peak_swing_mm`` and ``steady_amplitude_mm`` are zero to peak, one value per point;
    ``guard_strike_times_s`` has shape (n_strikes,).
    """

    course: Course
    isolator_frequency_hz: float
    damping_ratio: float
    peak_swing_mm: tuple[float, ...]
    steady_amplitude_mm: tuple[float, ...]
    guard_strike_times_s: NDArray[np.float64]

    @property
    def swing_ratios(self) -> tuple[float, ...]:
        """Largest displacement over the amplitude at working speed, per point."""
        pairs = zip(self.peak_swing_mm, self.steady_amplitude_mm, strict=True)
        return tuple(swing / steady for swing, steady in pairs)


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationTruth:
    """What really happened.

    ``shaft_turns`` and ``shaft_frequency_hz`` have shape (n_samples,); ``course`` is None
    for a machine that runs throughout.
    """

    mean_shaft_frequency_hz: float
    shaft_turns: NDArray[np.float64]
    shaft_frequency_hz: NDArray[np.float64]
    bearings: tuple[BearingTruth, ...]
    defects: tuple[DefectTruth, ...]
    course: CourseTruth | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedRecording:
    """Acceleration of all points of an invented machine.

    Attributes
    ----------
    samples : ndarray of float64, shape (n_points, n_samples)
        In m/s^2.
    sampling_rate_hz : float
    points, directions : tuple of str
        Name and direction of each row of ``samples``.
    settings : SimulationSettings
    truth : SimulationTruth
    fault : str
        Name of the mistake, empty where none was asked for by name.
    """

    samples: NDArray[np.float64]
    sampling_rate_hz: float
    points: tuple[str, ...]
    directions: tuple[str, ...]
    settings: SimulationSettings
    truth: SimulationTruth
    fault: str = ""
