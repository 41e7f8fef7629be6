"""What the history keeps: recordings with their descriptors, verdicts, rebuilds, opened units."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from vibhealth.model.bearing import Element
from vibhealth.model.results import CriterionResult, Descriptor

__all__ = [
    "INVENTED",
    "Damage",
    "HistoryFamily",
    "HistoryOverride",
    "HistoryRecording",
    "HistoryVerdict",
    "OpenedUnit",
    "Rebuild",
    "RebuildReason",
]


INVENTED = "invented"  # in place of a version: no tool has read it


class Damage(StrEnum):
    """What was found in an opened unit; failure modes of ISO 15243:2017 (from memory)."""

    NONE = "no-damage"
    SUBSURFACE_FATIGUE = "subsurface-initiated-fatigue"
    SURFACE_FATIGUE = "surface-initiated-fatigue"
    ABRASIVE_WEAR = "abrasive-wear"
    ADHESIVE_WEAR = "adhesive-wear"
    MOISTURE_CORROSION = "moisture-corrosion"
    FRETTING_CORROSION = "fretting-corrosion"
    FALSE_BRINELLING = "false-brinelling"
    EXCESSIVE_CURRENT_EROSION = "excessive-current-erosion"
    CURRENT_LEAKAGE_EROSION = "current-leakage-erosion"
    OVERLOAD_DEFORMATION = "overload-deformation"
    INDENTATIONS_FROM_PARTICLES = "indentations-from-particles"
    FORCED_FRACTURE = "forced-fracture"
    FATIGUE_FRACTURE = "fatigue-fracture"
    THERMAL_CRACKING = "thermal-cracking"


class RebuildReason(StrEnum):
    """Why a unit was taken out."""

    PLANNED = "planned"  # by age or at a planned stop, running well
    CONDITION = "condition"  # because recordings or people said so
    FAILED = "failed"  # it stopped the machine
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryFamily:
    """One defect family of one recording; sizes as in `FamilyFinding`.

    ``depth_interval`` is that of ``depth_whitened``, which decides.
    """

    bearing: str
    element: Element
    order: float
    frequency_hz: float
    false_alarm_probability: float
    depth: float
    depth_whitened: float
    depth_interval: tuple[float, float] | None
    impact_m_s2: float | None
    present: bool
    blind_spot: bool
    result: CriterionResult


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryRecording:
    """One channel of one file: when, in which state, what was read.

    ``recorded_at`` is aware of its time zone, None where nothing says when. ``load`` is
    "empty", "loaded" or "" (not stated). ``running_hours_h`` is the machine's hour counter.
    ``unusable_because`` is empty for a recording that may be judged, ``masked`` for one in which
    the bearings could be heard. ``id`` is the row, None before it is stored.
    """

    machine: str
    sha256: str
    channel: int
    path: str
    point: str | None
    direction: str | None
    stage: str
    moment: str | None
    recorded_at: datetime | None
    running_hours_h: float | None
    load: str
    temperature_c: float | None
    shaft_frequency_hz: float | None
    sampling_rate_hz: float
    duration_s: float
    unit: str
    unusable_because: str
    masked: str
    descriptors: tuple[Descriptor, ...]
    families: tuple[HistoryFamily, ...]
    card_sha256: str
    tool_version: str
    id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryOverride:
    """Who answered for running on against a HOLD."""

    by: str
    reason: str
    at: datetime | None
    is_valid: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryVerdict:
    """One verdict: what was said, on which recordings (SHA-256), and who overrode it.

    ``named`` are the families said to be damaged, as (bearing, element value).
    ``job_sha256`` is "" for a verdict on recordings alone.
    """

    machine: str
    verdict: str
    hold: str | None
    headline: str
    reasons: tuple[str, ...]
    check: str
    decided_on: datetime | None
    job_sha256: str
    recordings: tuple[str, ...]
    named: tuple[tuple[str, str], ...]
    override: HistoryOverride | None
    tool_version: str
    id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuild:
    """A unit was exchanged: when the new one started, and why the old one came out.

    ``running_hours_h`` is the machine's hour counter at that moment, None where not noted.
    """

    machine: str
    at: datetime
    reason: RebuildReason
    by: str
    unit_serial: str = ""
    bearing_designation: str = ""
    running_hours_h: float | None = None
    remark: str = ""
    id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedUnit:
    """What was found when the unit that came out at ``removed_at`` was opened.

    ``element`` is None where no bearing part was damaged. This is the label of the as-found
    recordings before that date.
    """

    machine: str
    removed_at: datetime
    bearing: str
    element: Element | None
    damage: Damage
    by: str
    opened_on: date | None = None
    remark: str = ""
    id: int | None = None
