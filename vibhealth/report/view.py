"""One view of the assessment: every number rounded, worded and compared; renderers only arrange."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from vibhealth.acceptance import CAUTIONS
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Element,
    Group,
    Improvement,
    Orbit,
    RecordingAnalysis,
    SensitivityFinding,
    Stage,
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
    counted,
    number,
    quantity,
    sentences,
    short_source,
)
from vibhealth.report.recording_view import NO_SENSITIVITY, Fact, RecordingView, analysis_view

__all__ = [
    "CriterionRow",
    "GroupView",
    "ImprovementRow",
    "OrbitRow",
    "ReportView",
    "SensitivityRow",
    "SettingRow",
    "report_view",
]

VALUE_COLUMNS = 28  # a longer text is a sentence and gets a line of its own
LEAST_CHANGE_DB = 0.1  # about 1 %: no two recordings repeat more closely


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionRow:
    """One line of the decision.

    A value that is a sentence stands in ``sentence`` and leaves ``value`` empty;
    ``source_number`` is the number of ``limit_source`` in the list of the view;
    ``said`` is what belongs to the line in full, ``advice`` its last part alone.
    """

    mark: Mark
    title: str
    value: str
    sentence: str
    limit: str
    comparison: str
    limit_source: str
    source_short: str
    source_number: str
    said: str
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupView:
    """The criteria of one group, in the order given."""

    title: str
    rows: tuple[CriterionRow, ...]

    @property
    def is_recording(self) -> bool:
        """Whether these are the many checks of the recordings themselves."""
        return self.title == GROUP_TITLES[Group.RECORDING]

    @property
    def passed(self) -> tuple[CriterionRow, ...]:
        """Lines that pass."""
        return tuple(row for row in self.rows if row.mark == MARKS[CriterionResult.PASS])

    @property
    def open(self) -> tuple[CriterionRow, ...]:
        """Lines that hold, were not judged, or are to be watched."""
        return tuple(row for row in self.rows if row.mark != MARKS[CriterionResult.PASS])


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitivityRow:
    """The smallest fault of one element that the best of the as-left recordings could show."""

    bearing: str
    element: str
    depth: str
    impact: str
    point: str
    chance: str


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
    open_criteria: tuple[CriterionRow, ...]
    limit_sources: tuple[str, ...]
    sensitivity: tuple[SensitivityRow, ...]
    improvements: tuple[ImprovementRow, ...]
    orbits: tuple[OrbitRow, ...]
    recordings: tuple[RecordingView, ...]
    cautions: tuple[str, ...]
    settings: tuple[SettingRow, ...]
    generated_at: str
    version: str
    no_sensitivity: str = NO_SENSITIVITY

    @property
    def files(self) -> tuple[tuple[str, str], ...]:
        """Name and digest of every file once, though it may hold several points."""
        return tuple(dict.fromkeys((item.name, item.sha256) for item in self.recordings))


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
    sources = _sources(assessment.criteria)
    groups = _groups(assessment.criteria, sources)
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
        groups=groups,
        open_criteria=_open(groups),
        limit_sources=sources,
        sensitivity=tuple(_sensitivity(assessment.recordings)),
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
    noun = "criterion" if len(criteria) == 1 else "criteria"
    return f"{len(criteria)} {noun}: {counted(item.result for item in criteria)}"


def _sources(criteria: tuple[Criterion, ...]) -> tuple[str, ...]:
    """Every source once, as it comes up."""
    return tuple(dict.fromkeys(_source(item) for group in Group for item in criteria
                               if item.group is group))  # fmt: skip


def _source(item: Criterion) -> str:
    return clean(item.limit_source) or "no source stated"


def _groups(criteria: tuple[Criterion, ...], sources: tuple[str, ...]) -> tuple[GroupView, ...]:
    rows = {
        group: tuple(_criterion(item, sources) for item in criteria if item.group is group)
        for group in Group
    }
    return tuple(
        GroupView(title=GROUP_TITLES[group], rows=found) for group, found in rows.items() if found
    )


def _open(groups: tuple[GroupView, ...]) -> tuple[CriterionRow, ...]:
    """Lines that do not pass: what holds first, then what was not judged, then what to watch."""
    worst_first = (CriterionResult.HOLD, CriterionResult.NOT_JUDGED, CriterionResult.WATCH)
    return tuple(
        row
        for result in worst_first
        for group in groups
        for row in group.open
        if row.mark == MARKS[result]
    )


def _criterion(item: Criterion, sources: tuple[str, ...]) -> CriterionRow:
    value, source = quantity(item.value, item.unit), _source(item)
    is_sentence = isinstance(item.value, str) and len(value) > VALUE_COLUMNS
    return CriterionRow(
        mark=MARKS[item.result],
        title=clean(item.title),
        value="" if is_sentence else value,
        sentence=sentences(value) if is_sentence else "",
        limit="none" if item.limit is None else quantity(item.limit, item.unit),
        comparison=comparison(item.value, item.limit, item.unit),
        limit_source=source,
        source_short=short_source(source),
        source_number=str(sources.index(source) + 1),
        said=_said(item),
        advice="" if item.result is CriterionResult.PASS else clean(item.advice),
    )


def _sensitivity(recordings: tuple[RecordingAnalysis, ...]) -> Iterator[SensitivityRow]:
    """Best as-left recording per bearing and element: the fault need be seen only once."""
    best: dict[tuple[str, Element], tuple[RecordingAnalysis, SensitivityFinding]] = {}
    for analysis in recordings:
        if analysis.recording.stage is Stage.AS_FOUND:
            continue
        for finding in analysis.sensitivity:
            key = finding.bearing, finding.element
            if key not in best or finding.detectable_depth < best[key][1].detectable_depth:
                best[key] = analysis, finding
    for analysis, finding in best.values():
        recording = analysis.recording
        is_found = isfinite(finding.detectable_depth)
        yield SensitivityRow(
            bearing=clean(finding.bearing),
            element=finding.element.words,
            depth=number(finding.detectable_depth) if is_found else "",
            impact=""
            if finding.detectable_impact_m_s2 is None
            else quantity(finding.detectable_impact_m_s2, "m/s2"),
            point=clean(recording.point) if recording.point else f"channel {recording.channel}",
            chance=quantity(100 * finding.probability, "percent"),
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
    size = number(abs(item.improvement_db), digits=2)
    if size == NOT_MEASURED:
        return size
    if abs(item.improvement_db) < LEAST_CHANGE_DB and not item.at_least:
        return "unchanged"
    if item.improvement_db < 0:
        return f"{'at most ' if item.at_least else ''}{size} dB worse"
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
