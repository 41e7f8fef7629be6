"""What a baseline is: how a point reads when the machine is good, and under which conditions."""

import math
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from vibhealth.model import Element, Moment, PatternKind

__all__ = [
    "Baseline",
    "Conditions",
    "FamilyReading",
    "FamilyStatistic",
    "OrbitReading",
    "Range",
    "Scalar",
    "SourceRecording",
    "SpectrumStatistic",
    "Status",
    "is_same_band",
]


class Status(StrEnum):
    """Whether somebody answers for a baseline."""

    KNOWN_GOOD = "known-good"
    CANDIDATE = "candidate"


BandHz = tuple[float, float] | None


def is_same_band(one: BandHz, two: BandHz, *, tolerance: float) -> bool:
    """Whether what was read in two bands may be compared: none at all, or edges that agree.

    >>> is_same_band((1000.0, 5000.0), (1000.0, 5050.0), tolerance=0.02), is_same_band(
    ...     None, (1000.0, 5000.0), tolerance=0.02
    ... )
    (True, False)
    """
    if one is None or two is None:
        return one == two
    return all(abs(a / b - 1) <= tolerance for a, b in zip(one, two, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Lowest and highest value of a condition among the recordings."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Midway between both."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """State of the machine and means of measurement; what is not known is None or empty."""

    shaft_frequency_hz: Range
    sampling_rate_hz: float
    unit: str
    temperature_c: Range | None = None
    load: str = ""
    direction: str = ""
    sensor: str = ""
    mount: str = ""
    bearings: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceRecording:
    """One recording that went into a baseline."""

    name: str
    sha256: str
    duration_s: float
    shaft_frequency_hz: float
    start_time: datetime | None = None
    temperature_c: float | None = None
    moment: Moment | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scalar:
    """One level or motion value over the recordings; None where a recording gives none.

    Statistics are those of the logarithm, since levels scatter by factors.
    """

    id: str
    title: str
    unit: str
    values: tuple[float | None, ...]
    band_hz: tuple[float, float] | None = None

    @property
    def found(self) -> tuple[float, ...]:
        """Values above 0."""
        return tuple(value for value in self.values if value is not None and value > 0)

    @property
    def mean(self) -> float | None:
        """Geometric mean."""
        found = self.found
        return math.exp(math.fsum(map(math.log, found)) / len(found)) if found else None

    @property
    def spread_db(self) -> float | None:
        """Standard deviation of ``20 log10``; None with fewer than two values."""
        found = self.found
        if len(found) < 2:
            return None
        return float(np.std(20 * np.log10(found), ddof=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyReading:
    """A defect family in one recording of the baseline (``recording`` counts from 1)."""

    recording: int
    order: float
    slip_percent: float
    false_alarm_probability: float
    depth: float
    depth_whitened: float
    impact_m_s2: float | None
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyStatistic:
    """A defect family over the recordings; its size where there is none is that of the noise."""

    bearing: str
    element: Element
    readings: tuple[FamilyReading, ...]

    @property
    def depth_whitened(self) -> float:
        """Geometric mean of the whitened depths."""
        depths = [max(reading.depth_whitened, 1e-6) for reading in self.readings]
        return math.exp(math.fsum(map(math.log, depths)) / len(depths))


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectrumStatistic:
    """A spectrum on the grid of orders: geometric mean over the recordings, and their spread.

    Attributes
    ----------
    order, amplitude : ndarray, shape (n_lines,)
        As in `vibhealth.model.PatternSpectrum`.
    above_floor_db : ndarray, shape (n_lines,)
        Mean of each line over its local floor.
    spread_db : ndarray or None, shape (n_lines,)
        Standard deviation of ``above_floor_db``; None of a single recording.
    n_averages : float
        Independent values per line in the shortest recording.
    """

    kind: PatternKind
    unit: str
    order: NDArray[np.float64]
    amplitude: NDArray[np.float64]
    above_floor_db: NDArray[np.float64]
    spread_db: NDArray[np.float64] | None
    n_averages: float
    n_recordings: int
    band_hz: tuple[float, float] | None = None

    @property
    def floor(self) -> NDArray[np.float64]:
        """What noise alone gave, in the unit of ``amplitude``."""
        floor: NDArray[np.float64] = self.amplitude / 10 ** (self.above_floor_db / 20)
        return floor


@dataclass(frozen=True, slots=True, kw_only=True)
class OrbitReading:
    """Ellipse of the 1x motion in the plane of two points, median over the recordings."""

    points: tuple[str, str]
    major_mm: float
    minor_mm: float
    tilt_deg: float
    direction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """How one measurement point reads when the machine is good.

    ``flags`` says in words what speaks against it and was accepted all the same;
    ``note`` why. ``digest`` is that of its files, empty before it is stored.
    """

    machine_id: str
    machine_name: str
    point: str
    status: Status
    made_at: datetime
    accepted_by: str
    note: str
    flags: tuple[str, ...]
    conditions: Conditions
    recordings: tuple[SourceRecording, ...]
    scalars: tuple[Scalar, ...]
    families: tuple[FamilyStatistic, ...]
    spectra: tuple[SpectrumStatistic, ...]
    harmonics_db: NDArray[np.float64]
    bands_centre_hz: NDArray[np.float64]
    bands_db: NDArray[np.float64]
    bands_spread_db: NDArray[np.float64] | None = None
    orbit: OrbitReading | None = None
    detectable_depths: tuple[tuple[str, Element, float], ...] = ()
    label: str = ""
    version: int = 0
    digest: str = ""
    path: str = ""

    @property
    def n_recordings(self) -> int:
        """Recordings that it was made from."""
        return len(self.recordings)

    @property
    def name(self) -> str:
        """Machine, point and version in words.

        For a candidate, which has no version that counts, "candidate" stands before it.
        """
        kind = "candidate" if self.status is Status.CANDIDATE else "version"
        return f"{self.machine_id}, {self.point}, {kind} {self.version}"

    def scalar(self, id_: str) -> Scalar | None:
        """The level of an id, None where it was not measured."""
        return next((item for item in self.scalars if item.id == id_), None)

    def spectrum(self, kind: PatternKind) -> SpectrumStatistic | None:
        """The spectrum of a kind, None where there is none."""
        return next((item for item in self.spectra if item.kind == kind), None)

    def family(self, bearing: str, element: Element) -> FamilyStatistic | None:
        """The family of an element, None where it was not searched."""
        wanted = (bearing, element)
        return next((i for i in self.families if (i.bearing, i.element) == wanted), None)
