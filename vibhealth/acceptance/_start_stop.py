"""A start or stop at one point, and lines of the decision on it."""

from collections.abc import Iterator
from dataclasses import dataclass

from vibhealth.acceptance._evidence import Evidence, is_on_body
from vibhealth.diagnosis.start_stop_inspection import WORDS
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    Hold,
    Stage,
    Transient,
    TransientAnalysis,
)

__all__ = ["PRACTICE", "Seen", "across", "line", "seen_at"]

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One run-up or coast-down at one point."""

    transient: Transient
    analysis: TransientAnalysis

    @property
    def point(self) -> str:
        """Measurement point, or its channel where it has none."""
        recording = self.analysis.recording
        return recording.point or f"channel {recording.channel}"

    @property
    def where(self) -> str:
        """Point, and whether it started or stopped."""
        return f"the {WORDS[self.transient.kind]} at {self.point}"


def seen_at(evidence: Evidence, stage: Stage) -> Iterator[Seen]:
    """Starts and stops of points on the moving body."""
    for analysis in evidence.transients:
        recording = analysis.recording
        if recording.stage is stage and is_on_body(evidence.card, recording):
            for transient in analysis.transients:
                yield Seen(transient=transient, analysis=analysis)


def across(seen: list[Seen]) -> list[Seen]:
    """Points across the shaft; all of them where there are no such points."""
    return [item for item in seen if item.analysis.recording.direction != "z"] or seen


def line(  # noqa: PLR0913 (one criterion)
    id_: str,
    title: str,
    *,
    result: CriterionResult = CriterionResult.PASS,
    value: float | str | None = None,
    unit: str = "",
    limit: float | str | None = None,
    source: str = "",
    advice: str = "",
    reason: str = "",
    detail: str = "",
) -> Criterion:
    return Criterion(
        id=id_,
        group=Group.START_AND_STOP,
        title=title,
        result=result,
        value=value,
        unit=unit,
        limit=limit,
        limit_source=source,
        advice=advice,
        hold=Hold.FIX if result is CriterionResult.HOLD else None,
        reason=reason,
        detail=detail,
    )
