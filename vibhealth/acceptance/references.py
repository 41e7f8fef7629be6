"""Which reference the recordings of a point are compared with: the best there is, and how fairly."""

from collections.abc import Sequence
from dataclasses import dataclass

from vibhealth.baseline import (
    Baseline,
    ConditionFinding,
    ConditionLimits,
    Status,
    compare_conditions,
    conditions_of,
)
from vibhealth.card import Limits, MachineCard
from vibhealth.errors import BaselineError
from vibhealth.model import CriterionResult, RecordingAnalysis, ReferenceRank, ReferenceUse

__all__ = ["PointReference", "condition_limits", "find_references", "rank_of", "reference_use"]

RANKS = tuple(ReferenceRank)
REFUSED = CriterionResult.NOT_JUDGED


@dataclass(frozen=True, slots=True, kw_only=True)
class PointReference:
    """The reference of one point.

    ``level_widening`` is the factor on limits of levels (sister, other sensor), ``widening`` that
    on all other ratios (sister).
    """

    point: str
    rank: ReferenceRank
    baseline: Baseline | None = None
    conditions: tuple[ConditionFinding, ...] = ()
    widening: float = 1.0
    level_widening: float = 1.0

    @property
    def is_fair(self) -> bool:
        """Whether no condition forbids the comparison."""
        return all(finding.result is not REFUSED for finding in self.conditions)

    @property
    def is_comparable(self) -> bool:
        """Whether there is a baseline, and a fair comparison with it."""
        return self.baseline is not None and self.is_fair

    @property
    def words(self) -> str:
        """The reference in words."""
        if self.baseline is None:
            return "the card's own values"
        if self.rank is ReferenceRank.SISTER:
            return f"the healthy sister {self.baseline.machine_id}"
        return "the known-good reference"


def find_references(
    analyses: Sequence[RecordingAnalysis],
    *,
    card: MachineCard,
    baselines: Sequence[Baseline],
) -> tuple[PointReference, ...]:
    """Choose for every point: known-good of the point itself, healthy sister, nameplate, none.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Recordings that are judged.
    card : MachineCard
        Names the machine and its sisters; its limits are in force.
    baselines : sequence of Baseline
        Known-good ones in force, of this machine and its sisters; candidates are left out.

    Returns
    -------
    tuple of PointReference
        One per point, in order of appearance.
    """
    found = []
    for point in dict.fromkeys(
        a.recording.point or f"channel {a.recording.channel}" for a in analyses
    ):
        of_point = [a for a in analyses if a.recording.point == point]
        baseline = _best(point, card, [b for b in baselines if _may_judge(b, of_point)])
        if baseline is None or not of_point:
            found.append(PointReference(point=point, rank=_without_baseline(card)))
        else:
            found.append(_compared(point, of_point, baseline, card))
    return tuple(found)


def condition_limits(limits: Limits) -> ConditionLimits:
    """When states differ too much, by the limits in force.

    Parameters
    ----------
    limits : Limits
        Of the card.

    Returns
    -------
    ConditionLimits
    """
    return ConditionLimits(
        speed_watch_percent=limits.value("baseline_speed_watch_percent"),
        speed_hold_percent=limits.value("baseline_speed_hold_percent"),
        temperature_watch_c=limits.value("baseline_temperature_watch_c"),
        temperature_hold_c=limits.value("baseline_temperature_hold_c"),
    )


def _may_judge(baseline: Baseline, analyses: Sequence[RecordingAnalysis]) -> bool:
    """An invented baseline judges invented recordings only."""
    return not baseline.label or all(
        any("INVENTED" in text for _, text in analysis.recording.remarks) for analysis in analyses
    )


def _best(point: str, card: MachineCard, baselines: Sequence[Baseline]) -> Baseline | None:
    for machine in (card.machine.id, *card.machine.sisters):
        for baseline in baselines:
            is_good = baseline.status is Status.KNOWN_GOOD
            if is_good and (baseline.machine_id, baseline.point) == (machine, point):
                return baseline
    return None


def _without_baseline(card: MachineCard) -> ReferenceRank:
    """Nameplate where the card says how the machine moves and which bearings it has."""
    moves = card.exciter is None or card.exciter.stroke_mm is not None
    return ReferenceRank.NAMEPLATE if moves and card.bearings else ReferenceRank.NONE


def _compared(
    point: str,
    analyses: Sequence[RecordingAnalysis],
    baseline: Baseline,
    card: MachineCard,
) -> PointReference:
    limits = card.limits
    is_sister = baseline.machine_id != card.machine.id
    widening = limits.value("sister_widening_ratio") if is_sister else 1.0
    conditions = _conditions(analyses, baseline, card, limits, is_sister=is_sister)
    other = any(finding.is_other_means for finding in conditions)
    return PointReference(
        point=point,
        rank=ReferenceRank.SISTER if is_sister else ReferenceRank.KNOWN_GOOD,
        baseline=baseline,
        conditions=conditions,
        widening=widening,
        level_widening=widening * (limits.value("other_means_widening_ratio") if other else 1.0),
    )


def _conditions(
    analyses: Sequence[RecordingAnalysis],
    baseline: Baseline,
    card: MachineCard,
    limits: Limits,
    *,
    is_sister: bool,
) -> tuple[ConditionFinding, ...]:
    try:
        now = conditions_of(analyses, card)
    except BaselineError as error:  # recordings in several states, or without a speed
        return (
            ConditionFinding(
                id="recordings",
                result=REFUSED,
                sentence=str(error),
                advice="Record all of one check in one state.",
            ),
        )
    bounds = condition_limits(limits)
    found = (
        *_same_recordings(analyses, baseline),
        *compare_conditions(now, baseline.conditions, limits=bounds),
    )
    # Another machine has a sensor of its own: its widening stands for that too.
    return tuple(f for f in found if not (is_sister and f.id in {"sensor", "mount"}))


def _same_recordings(
    analyses: Sequence[RecordingAnalysis], baseline: Baseline
) -> tuple[ConditionFinding, ...]:
    """That a recording would be compared with itself."""
    known = {source.sha256 for source in baseline.recordings}
    same = [a.recording.path for a in analyses if a.recording.sha256 in known]
    if not same:
        return ()
    return (
        ConditionFinding(
            id="same-recording",
            result=REFUSED,
            sentence=f"the reference was made from {same[0]} itself",
            advice="Record the machine anew, or compare with an earlier reference.",
        ),
    )


def rank_of(references: Sequence[PointReference]) -> ReferenceRank:
    """The poorest rank among the points; a point without fair comparison has the card's values.

    Parameters
    ----------
    references : sequence of PointReference
        May be empty: then there is nothing.

    Returns
    -------
    ReferenceRank
    """
    ranks = [
        ReferenceRank.NAMEPLATE if r.baseline is not None and not r.is_fair else r.rank
        for r in references
    ]
    return max(ranks, key=RANKS.index, default=ReferenceRank.NONE)


def reference_use(reference: PointReference) -> ReferenceUse:
    """What the report says of the reference of a point."""
    baseline = reference.baseline
    if baseline is None:
        return ReferenceUse(point=reference.point, rank=reference.rank, is_fair=True)
    return ReferenceUse(
        point=reference.point,
        rank=reference.rank,
        is_fair=reference.is_fair,
        widening_ratio=reference.level_widening,
        name=baseline.name,
        accepted_by=baseline.accepted_by,
        made_at=baseline.made_at.isoformat(),
        digest=baseline.digest,
        path=baseline.path,
        n_recordings=baseline.n_recordings,
        conditions=(
            *([baseline.label] if baseline.label else []),
            *([f"accepted although {'; '.join(baseline.flags)}"] if baseline.flags else []),
            *([f"note: {baseline.note}"] if baseline.note else []),
            *(finding.sentence for finding in reference.conditions),
        ),
    )
