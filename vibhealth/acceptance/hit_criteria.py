"""Criteria of hard hits: once per turn (something is loose), at random on an empty machine."""

from collections.abc import Iterator

from vibhealth.acceptance._evidence import Evidence, graded, label
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Disturbance,
    Group,
    Hold,
    RecordingAnalysis,
)

__all__ = ["hit_criteria"]

# Share of the recordings (whatever the point) that must show the hits.
MAJORITY = 0.5
PRACTICE = "in at least half of the recordings; common practice, no source"

# Where no other channel of the file hears the hits, perhaps for its own noise.
DOUBTED = "Lock out, check mount, cable and connector of that sensor, and record again."

Found = tuple[RecordingAnalysis, Disturbance]


def hit_criteria(evidence: Evidence) -> list[Criterion]:
    """What hits every turn, and what hits at random though the machine is said to be empty."""
    return [*_each_turn(evidence), *_at_random(evidence)]


def _found(evidence: Evidence, kind: str) -> list[Found]:
    return [
        (analysis, item)
        for analysis in evidence.after
        for item in analysis.disturbances
        if item.id == kind
    ]


def _is_common(evidence: Evidence, found: list[Found]) -> bool:
    """Whether at least half of the recordings show it at one point or more."""
    files = {analysis.recording.path for analysis in evidence.after}
    shown = {analysis.recording.path for analysis, _ in found}
    return len(shown) >= MAJORITY * len(files)


def _each_turn(evidence: Evidence) -> Iterator[Criterion]:
    own = {(path, number) for path, look in evidence.cables for number in look.own_hits}
    found = [
        (analysis, item)
        for analysis, item in _found(evidence, "strikes-at-1x")
        if (analysis.recording.path, analysis.recording.channel) not in own
    ]
    if not found or evidence.card.exciter is None:
        return
    unsure = {(path, number) for path, look in evidence.cables for number in look.open_hits}
    sure = [(a, i) for a, i in found if (a.recording.path, a.recording.channel) not in unsure]
    analysis, item = max(sure or found, key=lambda pair: pair[1].value)
    bad = _is_common(evidence, found)
    kind = Hold.FIX if _is_common(evidence, sure) else Hold.MEASURE_AGAIN
    yield Criterion(
        id="hits-each-turn",
        group=Group.MOTION,
        title="Nothing hits once per turn",
        result=CriterionResult.HOLD if bad else CriterionResult.WATCH,
        value=item.value,
        unit=item.unit,
        limit="none",
        limit_source=PRACTICE,
        advice=item.advice if sure else f"{DOUBTED} Then: {item.advice}",
        hold=kind if bad else None,
        reason=f"Something hits every turn, {item.value:.0f} times as high as the noise, and may "
        f"hide the bearing ({label(analysis)})."
        if bad
        else "",
        detail=item.detail,
    )


def _is_stated_empty(evidence: Evidence, analysis: RecordingAnalysis) -> bool:
    """Whether recording or job say that there was no material on the machine."""
    stated = dict(analysis.recording.remarks).get("load")
    if stated is None and evidence.job is not None:
        stated = evidence.job.job.load or None
    return stated == "empty"


def _at_random(evidence: Evidence) -> Iterator[Criterion]:
    found = [
        (analysis, item)
        for analysis, item in _found(evidence, "material-strikes")
        if _is_stated_empty(evidence, analysis) and analysis.speed.shaft_frequency_hz
    ]
    if not found or not _is_common(evidence, found):
        return

    def per_100_turns(pair: Found) -> float:
        return 100 * pair[1].value / (pair[0].speed.shaft_frequency_hz or 1.0)

    worst = max(found, key=per_100_turns)
    value = per_100_turns(worst)
    hold = evidence.limits.value("random_hits_hold")
    result = graded(value, evidence.limits.value("random_hits_watch"), hold)
    bad = result is CriterionResult.HOLD
    yield Criterion(
        id="random-hits",
        group=Group.BEARING,
        title="No hard hits at random on the empty machine",
        result=result,
        value=value,
        unit="hits/100 turns",
        limit=hold,
        limit_source=evidence.limits.source("random_hits_hold"),
        advice="Stop, lock out. Is the machine really empty? If so look for grit or sealant in "
        "the oil (flush, filter, magnet plug), and for loose parts."
        if result is not CriterionResult.PASS
        else "",
        hold=Hold.FIX if bad else None,
        reason=f"{value:.0f} hard hits at random per 100 turns on an empty machine: "
        f"dirt in the bearing, or something loose ({label(worst[0])})."
        if bad
        else "",
    )
