"""What the criteria look at: analyses by stage, the card, the limits in force."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath

from vibhealth.acceptance.references import PointReference
from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.quality_cable import CableLook
from vibhealth.job import JobRecord
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    Moment,
    Orbit,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    TransientAnalysis,
)

__all__ = [
    "Evidence",
    "graded",
    "is_crosswise",
    "is_on_body",
    "label",
    "not_judged",
    "passed",
    "point_of",
    "worst",
]

RANK = {
    CriterionResult.PASS: 0,
    CriterionResult.WATCH: 1,
    CriterionResult.NOT_JUDGED: 2,
    CriterionResult.HOLD: 3,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Everything the decision rests on.

    ``after`` holds the as-left recordings on the moving body that are judged, ``elsewhere``
    those on base or motor; ``earlier`` the as-left ones of checks before this one. ``cables``
    says for files of ``after`` (by path) what hits in one of their channels alone.
    """

    card: MachineCard
    limits: Limits
    before: tuple[RecordingAnalysis, ...]
    after: tuple[RecordingAnalysis, ...]
    pair: tuple[QualityFinding, ...]
    orbits: tuple[Orbit, ...]
    elsewhere: tuple[RecordingAnalysis, ...] = ()
    earlier: tuple[RecordingAnalysis, ...] = ()
    transients: tuple[TransientAnalysis, ...] = ()
    cables: tuple[tuple[str, CableLook], ...] = ()
    job: JobRecord | None = None
    moment: Moment | None = None
    references: tuple[PointReference, ...] = ()

    @property
    def compared(self) -> tuple[RecordingAnalysis, ...]:
        """As-found recordings to compare with: not those of a loaded machine, which are rougher."""
        return tuple(a for a in self.before if dict(a.recording.remarks).get("load") != "loaded")

    def reference_of(self, point: str) -> PointReference | None:
        """The baseline of a point, where it may be compared with."""
        return next((r for r in self.references if r.point == point and r.is_comparable), None)

    @property
    def points(self) -> tuple[str, ...]:
        """Measurement points of the as-left recordings, in order of appearance."""
        return tuple(dict.fromkeys(point_of(analysis) for analysis in self.after))


def is_on_body(card: MachineCard, recording: Recording) -> bool:
    """Whether the sensor moves with the body; a point that the card does not know does."""
    return card.is_on_body(recording.point)


def is_crosswise(card: MachineCard, recording: Recording) -> bool:
    """Whether the body is not meant to move along a recording's direction."""
    exciter, direction = card.exciter, recording.direction
    return direction == "z" if exciter is None else exciter.is_crosswise(direction)


def point_of(analysis: RecordingAnalysis) -> str:
    """Name of the measurement point, or its channel where it has none."""
    recording = analysis.recording
    return recording.point or f"channel {recording.channel}"


def label(analysis: RecordingAnalysis) -> str:
    """Folder, file name and point: names alone repeat from job to job."""
    folder, name = ("", *PurePath(analysis.recording.path).parts)[-2:]
    return f"{f'{folder}/' if folder.strip('/') else ''}{name} ({point_of(analysis)})"


def worst(results: Iterable[CriterionResult]) -> CriterionResult:
    """The worst result; hold beats not judged beats watch beats pass.

    >>> worst([CriterionResult.PASS, CriterionResult.NOT_JUDGED, CriterionResult.WATCH]).value
    'not-judged'
    """
    return max(results, key=lambda result: RANK[result], default=CriterionResult.PASS)


def graded(value: float, watch: float, hold: float) -> CriterionResult:
    """Grade a value that is worse the larger it is; a limit itself still belongs below it.

    What is no number is no pass.

    >>> graded(10.0, 10.0, 15.0).value, graded(10.1, 10.0, 15.0).value, graded(16, 10, 15).value
    ('pass', 'watch', 'hold')
    """
    if value <= watch:
        return CriterionResult.PASS
    return CriterionResult.WATCH if value <= hold else CriterionResult.HOLD


def passed(  # noqa: PLR0913 (one criterion)
    id_: str,
    group: Group,
    title: str,
    *,
    value: float | str | None = None,
    unit: str = "",
    limit: float | str | None = None,
    limit_source: str = "",
    detail: str = "",
) -> Criterion:
    """A criterion that passes."""
    return Criterion(
        id=id_,
        group=group,
        title=title,
        result=CriterionResult.PASS,
        value=value,
        unit=unit,
        limit=limit,
        limit_source=limit_source,
        advice="",
        detail=detail,
    )


def not_judged(  # noqa: PLR0913 (one criterion)
    id_: str,
    group: Group,
    title: str,
    *,
    reason: str,
    advice: str,
    limit: float | str | None = None,
    unit: str = "",
    limit_source: str = "",
) -> Criterion:
    """A criterion that could not be judged: measure again."""
    return Criterion(
        id=id_,
        group=group,
        title=title,
        result=CriterionResult.NOT_JUDGED,
        value=None,
        unit=unit,
        limit=limit,
        limit_source=limit_source,
        advice=advice,
        hold=Hold.MEASURE_AGAIN,
        reason=reason,
    )
