"""Criteria of what else is in the recordings: disturbances, and what they hide."""

from collections.abc import Sequence
from dataclasses import dataclass

from vibhealth.acceptance._evidence import Evidence, label, not_judged, point_of
from vibhealth.acceptance._words import and_list
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Disturbance,
    Group,
    RecordingAnalysis,
)

__all__ = ["MaskedWords", "masked_criteria", "masked_words"]

SOURCE = "seeded defects, detectable size in this recording; common practice, no source"
RECORD_AGAIN = "Put this right, then record again."


@dataclass(frozen=True, slots=True, kw_only=True)
class MaskedWords:
    """What hides the bearing in some recordings, and what to do about it."""

    reason: str
    advice: str


def masked_words(analyses: Sequence[RecordingAnalysis]) -> MaskedWords:
    """Reason and advice of the masked ones among these recordings; empty without one.

    The reason is that of the first; the advice every disturbance's, once.
    """
    masked = [analysis for analysis in analyses if analysis.masked]
    if not masked:
        return MaskedWords(reason="", advice="")
    advice = dict.fromkeys(d.advice for a in masked for d in a.disturbances if d.advice)
    why = masked[0].masked.rstrip(".")
    return MaskedWords(
        reason=f"{label(masked[0])}: {why[:1].lower()}{why[1:]}. What was not found there is "
        "not known to be absent.",
        advice=" ".join([*advice, RECORD_AGAIN]),
    )


def masked_criteria(evidence: Evidence) -> list[Criterion]:
    """Whether something hides the bearing, and what else strikes or hums; nothing without."""
    return [*_masked(evidence), *_disturbances(evidence)]


def _is_hidden(evidence: Evidence, point: str) -> bool:
    """Whether no recording of this point was both judged and not masked."""
    return not any(
        point_of(analysis) == point
        and not analysis.masked
        and not analysis.families_not_judged
        and analysis.families
        for analysis in evidence.after
    )


def _masked(evidence: Evidence) -> list[Criterion]:
    masked = [analysis for analysis in evidence.after if analysis.masked]
    if not masked:
        return []
    title = "What hides the bearing"
    hidden = [analysis for analysis in masked if _is_hidden(evidence, point_of(analysis))]
    if hidden:
        words = masked_words(hidden)
        return [
            not_judged(
                "masked",
                Group.BEARING,
                title,
                reason=words.reason,
                advice=words.advice,
                limit_source=SOURCE,
            )
        ]
    where = and_list([label(analysis) for analysis in masked])
    return [
        Criterion(
            id="masked",
            group=Group.BEARING,
            title=title,
            result=CriterionResult.WATCH,
            value=f"masked: {where}",
            unit="",
            limit=None,
            limit_source=SOURCE,
            advice=f"{where} shows nothing for certain; another recording of the point does. "
            f"{masked_words(masked).advice}",
            detail=masked[0].masked,
        )
    ]


def _disturbances(evidence: Evidence) -> list[Criterion]:
    """What strikes or hums in the as-left recordings, the strongest of each kind."""
    strongest: dict[str, tuple[RecordingAnalysis, Disturbance]] = {}
    for analysis in evidence.after:
        for item in analysis.disturbances:
            if item.id not in strongest or item.value > strongest[item.id][1].value:
                strongest[item.id] = analysis, item
    if not strongest:
        return []
    found = list(strongest.values())
    return [
        Criterion(
            id="disturbances",
            group=Group.BEARING,
            title="What else strikes or hums",
            result=CriterionResult.WATCH,
            value=" ".join(
                f"{item.title}, {label(analysis)}: {item.detail.rstrip('.')}."
                for analysis, item in found
            ),
            unit="",
            limit=None,
            limit_source="found in the recording; common practice, no source",
            advice=" ".join(dict.fromkeys(item.advice for _, item in found if item.advice)),
        )
    ]
