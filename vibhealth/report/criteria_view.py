"""Criteria and sensitivity, worded: one row each, in groups, with the source of every limit."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite

from vibhealth.acceptance import most_sensitive
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    RecordingAnalysis,
    SensitivityFinding,
    Stage,
)
from vibhealth.report._wording import (
    GROUP_TITLES,
    MARKS,
    Mark,
    clean,
    comparison,
    counted,
    number,
    quantity,
    sensitivity_sentence,
    sentences,
    short_source,
)

__all__ = [
    "CriterionRow",
    "GroupView",
    "SensitivityRow",
    "criteria_summary",
    "group_views",
    "is_blind",
    "limit_sources",
    "open_rows",
    "sensitivity_rows",
]

MEASURED_UNITS = frozenset({"", "1", "%", "percent", "dB", "m/s2"})  # known to two digits
VALUE_COLUMNS = 28  # a longer text is a sentence and gets a line of its own


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
    exception: str
    sentence: str


def criteria_summary(criteria: tuple[Criterion, ...]) -> str:
    """How many criteria hold, were not judged, are to be watched, passed."""
    if not criteria:
        return "nothing was judged"
    noun = "criterion" if len(criteria) == 1 else "criteria"
    return f"{len(criteria)} {noun}: {counted(item.result for item in criteria)}"


def limit_sources(criteria: tuple[Criterion, ...]) -> tuple[str, ...]:
    """Every source once, as it comes up."""
    return tuple(dict.fromkeys(_source(item) for group in Group for item in criteria
                               if item.group is group))  # fmt: skip


def _source(item: Criterion) -> str:
    return clean(item.limit_source) or "no source stated"


def group_views(criteria: tuple[Criterion, ...], sources: tuple[str, ...]) -> tuple[GroupView, ...]:
    """Criteria by group, in the order of the groups; empty groups are left out."""
    rows = {
        group: tuple(_criterion(item, sources) for item in criteria if item.group is group)
        for group in Group
    }
    return tuple(
        GroupView(title=GROUP_TITLES[group], rows=found) for group, found in rows.items() if found
    )


def open_rows(groups: tuple[GroupView, ...]) -> tuple[CriterionRow, ...]:
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
    value, source = quantity(_rounded(item), item.unit), _source(item)
    is_text = isinstance(item.value, str)
    is_sentence = is_text and (len(value) > VALUE_COLUMNS or value.endswith("."))
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


def _rounded(item: Criterion) -> float | str | None:
    """A measured size with two digits, unless that puts it on the other side of its limit."""
    value, limit = item.value, item.limit
    if not isinstance(value, float) or item.unit not in MEASURED_UNITS or not isfinite(value):
        return value
    rounded = float(f"{value:.2g}")
    if isinstance(limit, float) and _side(rounded, limit) != _side(value, limit):
        return value
    return rounded


def _side(value: float, limit: float) -> int:
    return (value > limit) - (value < limit)


def sensitivity_rows(recordings: tuple[RecordingAnalysis, ...]) -> Iterator[SensitivityRow]:
    """Best as-left recording per bearing and element, worst first: a fault need be seen once."""
    left = [item for item in recordings if item.recording.stage is not Stage.AS_FOUND]
    for analysis, finding in most_sensitive(left):
        recording = analysis.recording
        is_found = isfinite(finding.detectable_depth)
        yield SensitivityRow(
            bearing=clean(finding.bearing),
            element=finding.element.words,
            depth=number(finding.detectable_depth, digits=2) if is_found else "",
            impact=""
            if finding.detectable_impact_m_s2 is None
            else quantity(finding.detectable_impact_m_s2, "m/s2", digits=2),
            point=clean(recording.point) if recording.point else f"channel {recording.channel}",
            chance=_chance(finding),
            exception="not on the shaft's lines: blind spot" if is_blind(analysis, finding) else "",
            sentence=sensitivity_sentence(finding),
        )


def _chance(finding: SensitivityFinding) -> str:
    of = f" of {finding.n_trials}" if finding.n_trials else ""
    return f"{quantity(100 * finding.probability, 'percent')}{of}"


def is_blind(analysis: RecordingAnalysis, finding: SensitivityFinding) -> bool:
    """Whether this family can sit on a shaft line, where it hides whatever its size."""
    return any(
        family.blind_spot
        for family in analysis.families
        if (family.bearing, family.element) == (finding.bearing, finding.element)
    )


def _said(item: Criterion) -> str:
    """Reason and advice belong to a line that does not pass; its detail stands always."""
    if item.result is CriterionResult.PASS:
        return sentences(clean(item.detail))
    return sentences(*map(clean, (item.reason, item.detail, item.advice)))
