"""One view of the assessment: every number rounded, worded and compared; renderers only arrange."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from vibhealth.acceptance import CAUTIONS
from vibhealth.model import (
    Assessment,
    CriterionResult,
    Improvement,
    Orbit,
    ReferenceRank,
    ReferenceUse,
    Verdict,
)
from vibhealth.report._wording import (
    HOLD_WORDS,
    MARKS,
    NOT_MEASURED,
    Mark,
    clean,
    number,
    quantity,
)
from vibhealth.report.criteria_view import (
    CriterionRow,
    GroupView,
    SensitivityRow,
    criteria_summary,
    group_views,
    limit_sources,
    open_rows,
    sensitivity_rows,
)
from vibhealth.report.job_view import (
    CheckRow,
    TransientRow,
    check_rows,
    job_rows,
    override_words,
    transient_rows,
)
from vibhealth.report.recording_view import NO_SENSITIVITY, Fact, RecordingView, analysis_view

__all__ = [
    "ImprovementRow",
    "OrbitRow",
    "ReferenceRow",
    "ReportView",
    "SettingRow",
    "report_view",
]

LEAST_CHANGE_DB = 0.1  # about 1 %: no two recordings repeat more closely


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
class ReferenceRow:
    """What the recordings of a point were compared with."""

    point: str
    rank: str
    name: str
    made: str
    accepted_by: str
    recordings: str
    conditions: str
    digest: str

    @property
    def sentence(self) -> str:
        """In one line, without the point."""
        who = f", accepted by {self.accepted_by}" if self.accepted_by else ""
        return f"{self.rank} {self.name} of {self.made}{who} ({self.recordings})"


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
    checks: tuple[CheckRow, ...] = ()
    override: str = ""
    job: tuple[Fact, ...] = ()
    transients: tuple[TransientRow, ...] = ()
    references: tuple[ReferenceRow, ...] = ()

    @property
    def compared_with(self) -> str:
        """References in one line each, points that share a wording together; empty without."""
        told = [f"{row.point}: {row.sentence}" for row in self.references]
        return "\n".join(told)

    @property
    def open_title(self) -> str:
        """What stands over the criteria that do not pass; on a PASS nothing holds."""
        watch = MARKS[CriterionResult.WATCH]
        only_watch = all(row.mark == watch for row in self.open_criteria)
        return "What to watch" if only_watch else "What holds, what to watch"

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
    sources = limit_sources(assessment.criteria)
    groups = group_views(assessment.criteria, sources)
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
        criteria_summary=criteria_summary(assessment.criteria),
        groups=groups,
        open_criteria=open_rows(groups),
        limit_sources=sources,
        sensitivity=tuple(sensitivity_rows(assessment.recordings)),
        improvements=tuple(_improvement(item) for item in assessment.improvements),
        orbits=tuple(_orbit(item) for item in assessment.orbits),
        recordings=tuple(analysis_view(item) for item in assessment.recordings),
        cautions=tuple(dict.fromkeys([*map(clean, assessment.cautions), *CAUTIONS])),
        settings=tuple(_settings(assessment.settings)),
        generated_at=clean(generated_at),
        version=clean(version),
        checks=check_rows(assessment.next_step.checks),
        override=override_words(assessment.override),
        job=job_rows(assessment.job),
        transients=tuple(transient_rows(assessment.transients)),
        references=tuple(_references(assessment.references)),
    )


_VERDICT_RESULTS = {Verdict.PASS: CriterionResult.PASS, Verdict.HOLD: CriterionResult.HOLD}


def _verdict(assessment: Assessment) -> str:
    if assessment.hold is None:
        return assessment.verdict.value
    return f"{assessment.verdict.value} · {HOLD_WORDS[assessment.hold]}"


def _improvement(item: Improvement) -> ImprovementRow:
    after = quantity(item.after, item.unit, digits=2)
    return ImprovementRow(
        title=clean(item.title),
        before=quantity(item.before, item.unit, digits=2),
        after=f"below {after}" if item.at_least else after,
        change=_change(item),
        detail=clean(item.detail),
    )


def _change(item: Improvement) -> str:
    """Words for the change; with a detection limit as the after value it is a lower bound."""
    size = number(abs(item.improvement_db), digits=2)
    if size == NOT_MEASURED:
        return size
    words = _change_words(item, size)
    if item.interval_db is None or item.at_least:
        return words
    low, high = (f"{edge:+.0f}".replace("+0", "0").replace("-0", "0") for edge in item.interval_db)
    return f"{words} ({low} to {high} dB)"


def _change_words(item: Improvement, size: str) -> str:
    if abs(item.improvement_db) < LEAST_CHANGE_DB and not item.at_least:
        return "unchanged"
    if item.improvement_db < 0:
        return f"{'at most ' if item.at_least else ''}{size} dB worse"
    return f"{'at least ' if item.at_least else ''}{size} dB better"


RANK_WORDS = {
    ReferenceRank.KNOWN_GOOD: "known-good reference",
    ReferenceRank.SISTER: "healthy sister",
}


def _references(uses: Sequence[ReferenceUse]) -> Iterator[ReferenceRow]:
    """Baselines that were compared with, or could not be."""
    for use in uses:
        if use.rank not in RANK_WORDS:
            continue
        refused = "" if use.is_fair else "NOT COMPARED, "
        widened = (
            f"limits of levels times {use.widening_ratio:g}" if use.widening_ratio != 1.0 else ""
        )
        yield ReferenceRow(
            point=clean(use.point),
            rank=f"{refused}{RANK_WORDS[use.rank]}",
            name=clean(use.name),
            made=clean(use.made_at[:10]),
            accepted_by=clean(use.accepted_by),
            recordings=f"{use.n_recordings} recording{'s' * (use.n_recordings != 1)}",
            conditions=clean("; ".join(filter(None, [*use.conditions, widened]))),
            digest=clean(use.digest),
        )


def _orbit(item: Orbit) -> OrbitRow:
    return OrbitRow(
        stage=clean(item.stage).replace("-", " "),
        points=" and ".join(clean(point) for point in item.points),
        axes=f"{number(item.major_mm)} × {quantity(item.minor_mm, 'mm')}",
        tilt=quantity(item.tilt_deg, "deg", digits=2),
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
