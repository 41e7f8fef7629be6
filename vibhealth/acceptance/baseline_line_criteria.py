"""Lines that the reference does not show, whether a known family explains them or not."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from vibhealth.acceptance._evidence import Evidence, passed, point_of
from vibhealth.acceptance._words import in_how_many
from vibhealth.acceptance.combined_evidence import needed_to_agree
from vibhealth.acceptance.line_differences import (
    hold_distance_db,
    not_compared,
    reference_difference,
)
from vibhealth.acceptance.references import PointReference
from vibhealth.baseline import (
    LineDifference,
    RaisedLine,
    explain_order,
    raised_lines,
)
from vibhealth.model import Criterion, CriterionResult, Group, Hold, PatternKind

__all__ = ["baseline_line_criteria"]

# A line of the acceleration that holds this share of all that is not shaft orders is no trifle;
# from a tenth of it on it is told (common practice, no source).
RESIDUAL = "residual-rms"
RESIDUAL_HOLD, RESIDUAL_WATCH = 0.5, 0.1
MOST_TOLD = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class _Graded:
    """A raised line of a point with what it means."""

    line: RaisedLine
    reference: PointReference
    result: CriterionResult
    explained: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """A spectrum whose lines are compared."""

    kind: PatternKind
    id: str
    group: Group
    title: str
    where: str
    what: str


ENVELOPE = _Kind(
    kind="whitened-envelope-spectrum",
    id="lines-over-baseline",
    group=Group.BEARING,
    title="Lines of the envelope spectrum over the reference",
    where="the envelope spectrum",
    what="envelope-lines",
)
ACCELERATION = _Kind(
    kind="order-spectrum",
    id="order-lines-over-baseline",
    group=Group.BEARING,
    title="Lines of the acceleration over the reference, shaft orders aside",
    where="the acceleration",
    what="acceleration-lines",
)


def baseline_line_criteria(evidence: Evidence) -> list[Criterion]:
    """Raised lines of all points with a fair reference; nothing without one."""
    return [
        criterion for kind in (ENVELOPE, ACCELERATION) for criterion in _of_kind(evidence, kind)
    ]


def _of_kind(evidence: Evidence, kind: _Kind) -> Iterator[Criterion]:
    judged: list[_Graded] = []
    allowed: list[float] = []
    missing: list[str] = []
    for reference in evidence.references:
        differences = _differences(evidence, reference, kind.kind)
        if not differences:
            if reference.is_comparable:
                missing.append(reference.point)
            continue
        allowed += [float(d.allowed_db.min()) for d in differences]
        lines = raised_lines(differences, slip_percent=evidence.card.analysis.slip_percent)
        judged += [_graded(evidence, reference, kind, line) for line in lines]
    if missing:
        yield not_compared(evidence, kind.what, missing)
    if not allowed:
        return
    limits = evidence.limits
    apart_db = hold_distance_db(evidence.card)
    source = (
        f"{limits.source('baseline_line_hold_db')}; chance of a false line "
        f"{limits.value('baseline_false_alarm_probability'):g} per spectrum"
    )
    told = [item for item in judged if item.result is not CriterionResult.PASS]
    if not told:
        yield passed(
            kind.id,
            kind.group,
            kind.title,
            value=0.0,
            unit="dB",
            limit=min(allowed) + apart_db,
            limit_source=source,
            detail=_aside(judged),
        )
        return
    held = [item for item in told if item.result is CriterionResult.HOLD]
    first = max(held or told, key=lambda item: item.line.difference_db - item.line.allowed_db)
    bad = bool(held)
    yield Criterion(
        id=kind.id,
        group=kind.group,
        title=kind.title,
        result=first.result,
        value=first.line.difference_db,
        unit="dB",
        limit=first.line.allowed_db + apart_db,
        limit_source=source,
        advice=_advice(first),
        hold=Hold.FIX if bad else None,
        reason=f"{_sentence(kind, first)}." if bad else "",
        detail="; ".join(_short(item) for item in _farthest(told)),
    )


def _differences(
    evidence: Evidence, reference: PointReference, kind: PatternKind
) -> list[LineDifference]:
    return [
        difference
        for analysis in evidence.after
        if point_of(analysis) == reference.point
        if (difference := reference_difference(analysis, reference, kind, evidence.card))
    ]


def _graded(
    evidence: Evidence, reference: PointReference, kind: _Kind, line: RaisedLine
) -> _Graded:
    explained = explain_order(
        line.order,
        evidence.card.rolling_bearings(),
        slip_percent=evidence.card.analysis.slip_percent,
        found=[
            (family.bearing, family.element, family.order)
            for analysis in evidence.after
            for family in analysis.families
            if family.result is not CriterionResult.PASS
        ],
    )
    agrees = line.shown >= needed_to_agree(line.of)
    result = CriterionResult.PASS
    if agrees and not line.is_locked:
        result = _by_size(evidence, reference, kind, line)
    return _Graded(line=line, reference=reference, result=result, explained=explained)


def _by_size(
    evidence: Evidence, reference: PointReference, kind: _Kind, line: RaisedLine
) -> CriterionResult:
    """A line must be far above the reference and of a size that matters."""
    limits = evidence.limits
    if kind is ENVELOPE:
        size = line.amplitude
        watch, hold = limits.value("line_depth_watch"), limits.value("line_depth_hold")
    else:
        residual = reference.baseline.scalar(RESIDUAL) if reference.baseline else None
        if residual is None or residual.mean is None:
            return CriterionResult.WATCH
        size = line.amplitude / 2**0.5 / residual.mean
        watch, hold = RESIDUAL_WATCH, RESIDUAL_HOLD
    stated_db = limits.value("baseline_line_hold_db") * reference.widening
    hold_db = min(
        line.allowed_db + hold_distance_db(evidence.card), max(line.allowed_db, stated_db)
    )
    if size >= hold and line.difference_db >= hold_db:
        return CriterionResult.HOLD
    return CriterionResult.WATCH if size >= watch else CriterionResult.PASS


def _farthest(items: Sequence[_Graded]) -> list[_Graded]:
    order = sorted(items, key=lambda i: i.line.allowed_db - i.line.difference_db)
    return order[:MOST_TOLD]


def _short(item: _Graded) -> str:
    line = item.line
    return (
        f"{line.order:.2f} orders at {item.reference.point}: {line.difference_db:+.0f} dB"
        f"{in_how_many(line.shown, line.of)} ({item.explained or 'no known family'})"
    )


def _sentence(kind: _Kind, item: _Graded) -> str:
    line = item.line
    fits = f"; it fits {item.explained}" if item.explained else "; it fits no known family"
    return (
        f"A line at {line.order:.2f} orders ({line.frequency_hz:.1f} Hz) of {kind.where} at "
        f"{item.reference.point} is {line.difference_db:.0f} dB above {item.reference.words}"
        f"{in_how_many(line.shown, line.of)}{fits}"
    )


def _aside(items: Sequence[_Graded]) -> str:
    """What is raised and tells nothing of the bearing: shaft orders, trifles, single recordings."""
    if not items:
        return ""
    return f"raised, too small or no sign of a bearing: {'; '.join(_short(i) for i in _farthest(items))}"


def _advice(item: _Graded) -> str:
    if item.result is CriterionResult.HOLD:
        return (
            "Do not load the machine. Call the engineer. Look for what turns or strikes at this "
            "order: bearing, coupling, belt, fan, a neighbouring machine."
        )
    return "A new line: record again within a shift; it must not grow."
