"""What the diagnosis finds and what the acceptance decides: plain, frozen values.

A result that could not be computed is a value with a reason, never a missing row.
"""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from vibhealth.model.bearing import Element
from vibhealth.model.motion import Motion, MotionShape, Orbit
from vibhealth.model.pattern import PointPattern
from vibhealth.model.recording import Recording
from vibhealth.model.reference import ReferenceUse
from vibhealth.model.transient import TransientAnalysis

__all__ = [
    "Assessment",
    "BandChoice",
    "CageSpeed",
    "Criterion",
    "CriterionResult",
    "Descriptor",
    "Disturbance",
    "EnvelopeCurve",
    "FamilyFinding",
    "Group",
    "Hold",
    "Improvement",
    "MachineCheck",
    "NextStep",
    "QualityFinding",
    "RecordingAnalysis",
    "Release",
    "SensitivityFinding",
    "SpectrumCurve",
    "Speed",
    "Verdict",
]


class CriterionResult(StrEnum):
    """Outcome of one criterion; not judged is never good."""

    PASS = "pass"
    WATCH = "watch"
    HOLD = "hold"
    NOT_JUDGED = "not-judged"


class Verdict(StrEnum):
    """The answer."""

    PASS = "PASS"
    HOLD = "HOLD"


class Hold(StrEnum):
    """Which of the three kinds of HOLD, most urgent first."""

    STOP_NOW = "stop-now"
    MEASURE_AGAIN = "measure-again"
    FIX = "fix"


class Group(StrEnum):
    """Groups of criteria, in the order of the report."""

    JOB = "job"
    RECORDING = "recording"
    STATE = "state"
    MOTION = "motion"
    START_AND_STOP = "start-and-stop"
    BEARING = "bearing"
    SENSITIVITY = "sensitivity"
    STABILITY = "stability"
    IMPROVEMENT = "improvement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Speed:
    """Shaft speed of one recording, how it was found and how far to trust it.

    ``shaft_frequency_hz`` is None when no speed was found; ``detail`` says why.
    ``variation_percent`` is the peak-to-peak variation within the recording over
    the mean, None when it could not be measured.
    """

    shaft_frequency_hz: float | None
    variation_percent: float | None
    source: Literal["tachometer", "recording", "given", "card", "none"]
    detail: str
    uncertainty_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityFinding:
    """One check whether the recording can be judged at all."""

    id: str
    title: str
    result: CriterionResult
    detail: str
    advice: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Descriptor:
    """One number that describes a recording, with unit and band."""

    id: str
    title: str
    value: float
    unit: str
    band_hz: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BandChoice:
    """The demodulation band in which a family was read, and on which record."""

    low_hz: float
    high_hz: float
    whitened: bool
    detector: Literal["squared", "limited"]
    role: Literal["found", "card"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyFinding:
    """One defect family of one bearing in one recording.

    ``order`` and ``frequency_hz`` are those of the first centre line as found;
    ``depth`` (as recorded) and ``depth_whitened`` are modulation depths;
    ``impact_m_s2`` is None for a recording without calibration.
    ``present`` means significant and of at least the size that names an element.
    ``sideband_evidence`` tells in words what the side bands say; ``evidence`` is the
    detection statistic. The intervals hold the true size in 90 of 100 cases; None
    where the size was not found worth one. ``pattern`` tells one mark on a ring from
    marks at every element spacing, empty where the recording cannot tell.
    """

    bearing: str
    element: Element
    order: float
    frequency_hz: float
    slip_percent: float
    false_alarm_probability: float
    depth: float
    depth_whitened: float
    impact_m_s2: float | None
    band_hz: tuple[float, float]
    result: CriterionResult
    present: bool
    ambiguous_with: tuple[str, ...] = ()
    blind_spot: bool = False
    line_to_floor_db: tuple[float, ...] = ()
    sideband_evidence: str = ""
    detail: str = ""
    evidence: float = 0.0
    depth_interval: tuple[float, float] | None = None
    impact_interval_m_s2: tuple[float, float] | None = None
    pattern: Literal["", "single-mark", "marks-at-every-element"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CageSpeed:
    """The one cage speed that the families of a bearing agree on.

    ``order`` lies in [``low``, ``high``] in 95 of 100 cases; ``slip_percent`` is its
    deviation from pure rolling; ``elements`` are the families that carry the estimate.
    """

    bearing: str
    order: float
    low: float
    high: float
    slip_percent: float
    elements: tuple[Element, ...]
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """Something else in the recording that strikes or hums and may hide a bearing.

    ``background_rise`` is how many times hard hits at random lift the mean power that a bearing
    must stand out of, limited as in the search; a depth is as many times smaller. 1 for the
    other two, of which it is not measured.
    """

    id: Literal["material-strikes", "strikes-at-1x", "lines-fixed-in-hz"]
    title: str
    value: float
    unit: str
    detail: str
    advice: str = ""
    background_rise: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitivityFinding:
    """The smallest defect of one element that this recording could have shown.

    Of ``n_trials`` seeded defects of this size at least the share ``probability`` is
    found: significant and of at least watch size.
    """

    bearing: str
    element: Element
    detectable_depth: float
    detectable_impact_m_s2: float | None
    probability: float
    method: str = ""
    n_trials: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectrumCurve:
    """A curve for figures and CSV; ``order`` is None when no speed is known."""

    kind: Literal["acceleration", "velocity", "displacement", "psd"]
    unit: str
    frequency_hz: NDArray[np.float64]
    order: NDArray[np.float64] | None
    values: NDArray[np.float64]
    line_spacing_hz: float
    n_averages: int
    window: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvelopeCurve:
    """A squared envelope spectrum in orders, in units of its mean squared envelope.

    ``depth`` holds modulation depth per line (2|E(f)|/N over the mean squared
    envelope), ``floor`` the local median floor of the same quantity.
    """

    label: str
    band: BandChoice
    order: NDArray[np.float64]
    depth: NDArray[np.float64]
    floor: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingAnalysis:
    """Everything found in one recording of one point."""

    recording: Recording
    speed: Speed
    quality: tuple[QualityFinding, ...]
    descriptors: tuple[Descriptor, ...]
    motion: Motion | None
    families: tuple[FamilyFinding, ...]
    families_not_judged: str  # empty, or why no family could be judged
    sensitivity: tuple[SensitivityFinding, ...]
    spectra: tuple[SpectrumCurve, ...]
    envelopes: tuple[EnvelopeCurve, ...]
    waveform_time_s: NDArray[np.float64]
    waveform: NDArray[np.float64]
    cage_speeds: tuple[CageSpeed, ...] = ()
    disturbances: tuple[Disturbance, ...] = ()
    masked: str = ""  # empty, or what hides the bearing in this recording
    shape: MotionShape | None = None
    pattern: PointPattern | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineCheck:
    """A step of the rebuild that may have gone wrong, and how to see it at the machine.

    ``seen_by_vibration`` says how well vibration alone can tell this mistake.
    """

    step: str
    mistake: str
    check: str
    seen_by_vibration: Literal["well", "fairly", "poorly"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One line of the decision: value, limit, where the limit comes from."""

    id: str
    group: Group
    title: str
    result: CriterionResult
    value: float | str | None
    unit: str
    limit: float | str | None
    limit_source: str
    advice: str
    hold: Hold | None = None  # which kind of HOLD this line causes when it does not pass
    reason: str = ""  # the sentence for the technician when it does not pass
    detail: str = ""
    checks: tuple[MachineCheck, ...] = ()  # what to look at, most likely first


@dataclass(frozen=True, slots=True, kw_only=True)
class Improvement:
    """As-found to as-left for one quantity, in dB (positive: better now).

    ``interval_db`` holds the true improvement of a family in 90 of 100 cases; of a level it is
    the range from recording to recording. None where one of both has no interval.
    """

    title: str
    before: float
    after: float
    unit: str
    improvement_db: float
    at_least: bool = False  # the after value is a detection limit, not a reading
    detail: str = ""
    interval_db: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What to do now, where to look first, and when to check again (``check_at`` in words)."""

    action: str
    check_at: str
    checks: tuple[MachineCheck, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """Who answers for running on against a HOLD; ``is_valid`` whether that counts."""

    by: str
    reason: str
    at: datetime | None
    is_valid: bool
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The whole answer for a set of recordings.

    ``scope`` is the sentence that says what the verdict rests on;
    ``settings`` lists every limit in force with its source.
    """

    machine: dict[str, Any]
    verdict: Verdict
    hold: Hold | None
    headline: str
    scope: str
    reasons: tuple[str, ...]
    next_step: NextStep
    criteria: tuple[Criterion, ...]
    recordings: tuple[RecordingAnalysis, ...]
    improvements: tuple[Improvement, ...]
    orbits: tuple[Orbit, ...]
    cautions: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)
    transients: tuple[TransientAnalysis, ...] = ()
    job: dict[str, Any] | None = None
    override: Release | None = None
    references: tuple[ReferenceUse, ...] = ()
