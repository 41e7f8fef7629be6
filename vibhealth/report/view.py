"""One view of the assessment: every number rounded, worded and compared; renderers only arrange."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Group,
    Improvement,
    Orbit,
    Verdict,
)
from vibhealth.report._wording import (
    GROUP_TITLES,
    HOLD_WORDS,
    MARKS,
    NOT_MEASURED,
    Mark,
    clean,
    comparison,
    number,
    quantity,
    sentences,
)
from vibhealth.acceptance import CAUTIONS
from vibhealth.report.recording_view import Fact, RecordingView, analysis_view

__all__ = [
    "CriterionRow",
    "GroupView",
    "ImprovementRow",
    "OrbitRow",
    "ReportView",
    "SettingRow",
    "report_view",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionRow:
    """One line of the decision."""

    mark: Mark
    title: str
    value: str
    limit: str
    comparison: str
    limit_source: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupView:
    """The criteria of one group, in the order given."""

    title: str
    rows: tuple[CriterionRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImprovementRow:
    """As found to as left for one quantity."""

    title: str
    before: str
    after: str
    change: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrbitRow:
    """Ellipse of the working motion in one plane."""

    stage: str
    points: str
    axes: str
    tilt: str
    direction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow:
    """One setting in force and where it comes from."""

    name: str
    value: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportView:
    """Everything a renderer prints; nothing left to round, word or order."""

    machine: str
    machine_facts: tuple[Fact, ...]
    verdict: str
    mark: Mark
    headline: str
    scope: str
    reasons: tuple[str, ...]
    next_action: str
    check_at: str
    criteria_summary: str
    groups: tuple[GroupView, ...]
    improvements: tuple[ImprovementRow, ...]
    orbits: tuple[OrbitRow, ...]
    recordings: tuple[RecordingView, ...]
    cautions: tuple[str, ...]
    settings: tuple[SettingRow, ...]
    generated_at: str
    version: str


def report_view(assessment: Assessment, *, generated_at: str, version: str) -> ReportView:
    """Word an assessment for printing.

    Parameters
    ----------
    assessment : Assessment
        What the acceptance decided.
    generated_at : str
        Date and time of the report, as printed; given, so that the same
        assessment gives the same bytes.
    version : str
        Version of the program, as printed.

    Returns
    -------
    ReportView
        All text. The headline, the reasons, the scope and every sentence on
        what would have been seen come from the assessment as they are.
    """
    machine = assessment.machine
    return ReportView(
        machine=clean(machine.get("name") or machine.get("id") or "machine not named"),
        machine_facts=tuple(
            Fact(label=clean(name).replace("_", " ").replace(".", ", "), value=value)
            for name, value in _leaves(machine)
        ),
        verdict=_verdict(assessment),
        mark=MARKS[_VERDICT_RESULTS[assessment.verdict]],
        headline=clean(assessment.headline),
        scope=clean(assessment.scope),
        reasons=tuple(clean(reason) for reason in assessment.reasons),
        next_action=clean(assessment.next_step.action),
        check_at=clean(assessment.next_step.check_at),
        criteria_summary=_criteria_summary(assessment.criteria),
        groups=_groups(assessment.criteria),
        improvements=tuple(_improvement(item) for item in assessment.improvements),
        orbits=tuple(_orbit(item) for item in assessment.orbits),
        recordings=tuple(analysis_view(item) for item in assessment.recordings),
        cautions=tuple(dict.fromkeys([*map(clean, assessment.cautions), *CAUTIONS])),
        settings=tuple(_settings(assessment.settings)),
        generated_at=clean(generated_at),
        version=clean(version),
    )


_VERDICT_RESULTS = {Verdict.PASS: CriterionResult.PASS, Verdict.HOLD: CriterionResult.HOLD}


def _verdict(assessment: Assessment) -> str:
    if assessment.hold is None:
        return assessment.verdict.value
    return f"{assessment.verdict.value} · {HOLD_WORDS[assessment.hold]}"


def _criteria_summary(criteria: tuple[Criterion, ...]) -> str:
    if not criteria:
        return "nothing was judged"
    counts = ", ".join(
        f"{sum(item.result is result for item in criteria)} {mark.word}"
        for result, mark in MARKS.items()
    )
    return f"{len(criteria)} criteria: {counts}"


def _groups(criteria: tuple[Criterion, ...]) -> tuple[GroupView, ...]:
    rows = {
        group: tuple(_criterion(item) for item in criteria if item.group is group)
        for group in Group
    }
    return tuple(
        GroupView(title=GROUP_TITLES[group], rows=found) for group, found in rows.items() if found
    )


def _criterion(item: Criterion) -> CriterionRow:
    return CriterionRow(
        mark=MARKS[item.result],
        title=clean(item.title),
        value=quantity(item.value, item.unit),
        limit="none" if item.limit is None else quantity(item.limit, item.unit),
        comparison=comparison(item.value, item.limit, item.unit),
        limit_source=clean(item.limit_source) or "no source stated",
        said=_said(item),
    )


def _said(item: Criterion) -> str:
    """Reason and advice belong to a line that does not pass; its detail stands always."""
    if item.result is CriterionResult.PASS:
        return sentences(clean(item.detail))
    return sentences(*map(clean, (item.reason, item.detail, item.advice)))


def _improvement(item: Improvement) -> ImprovementRow:
    after = quantity(item.after, item.unit)
    return ImprovementRow(
        title=clean(item.title),
        before=quantity(item.before, item.unit),
        after=f"below {after}" if item.at_least else after,
        change=_change(item),
        detail=clean(item.detail),
    )


def _change(item: Improvement) -> str:
    """Words for the change; with a detection limit as the after value it is a lower bound."""
    size = number(abs(item.improvement_db))
    if size == NOT_MEASURED:
        return size
    if item.improvement_db < 0:
        return f"{'at most ' if item.at_least else ''}{size} dB worse"
    if size == "0" and not item.at_least:
        return "unchanged (0 dB)"
    return f"{'at least ' if item.at_least else ''}{size} dB better"


def _orbit(item: Orbit) -> OrbitRow:
    return OrbitRow(
        stage=clean(item.stage).replace("-", " "),
        points=" and ".join(clean(point) for point in item.points),
        axes=f"{number(item.major_mm)} × {quantity(item.minor_mm, 'mm')}",
        tilt=quantity(item.tilt_deg, "deg"),
        direction=clean(item.direction),
    )


def _settings(settings: Mapping[str, Any]) -> Iterator[SettingRow]:
    """Rows of every setting; a mapping that holds ``value`` is one setting with its source."""
    for name, value in settings.items():
        if isinstance(value, Mapping) and "value" in value:
            yield SettingRow(
                name=clean(name).replace("_", " "),
                value=_setting_value(value["value"], str(value.get("unit", ""))),
                source=clean(value.get("source", "no source stated")),
            )
        elif isinstance(value, Mapping):
            for row in _settings(value):
                yield SettingRow(
                    name=f"{clean(name).replace('_', ' ')}, {row.name}",
                    value=row.value,
                    source=row.source,
                )
        else:
            yield SettingRow(
                name=clean(name).replace("_", " "),
                value=_setting_value(value, ""),
                source="no source stated",
            )


def _leaves(mapping: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    for name, value in mapping.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, f"{prefix}{name}.")
        elif isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value):
            numbered = {str(place): item for place, item in enumerate(value, start=1)}
            yield from _leaves(numbered, f"{prefix}{name}.")
        else:
            yield f"{prefix}{name}", _setting_value(value, "")


def _setting_value(value: Any, unit: str) -> str:
    """Settings are printed in full, not rounded: somebody may want to repeat the run."""
    if value is None:
        return "not set"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return clean(f"{value:.10g} {unit}").rstrip()
    if isinstance(value, list | tuple):
        return ", ".join(_setting_value(item, unit) for item in value) or "none"
    return clean(f"{value} {unit}").rstrip()
