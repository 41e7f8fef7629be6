"""The chain for a whole job: record, starts and stops, the checks after 1 h, 8 h, 24 h, 7 days."""

from collections.abc import Sequence
from dataclasses import dataclass

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.assess import (
    WORKERS,
    Progress,
    analyze_all,
    cables_of,
    orbits_of,
    split_by_place,
)
from vibhealth.acceptance.conclude import conclude
from vibhealth.acceptance.job_course import CHECKS
from vibhealth.acceptance.reference_masks import judged_against_reference
from vibhealth.acceptance.references import find_references
from vibhealth.acceptance.starts_and_stops import Prepared, prepare
from vibhealth.baseline import Baseline
from vibhealth.card import MachineCard
from vibhealth.diagnosis.quality_pair import check_pair
from vibhealth.job import JobRecord
from vibhealth.model import Assessment, Moment, QualityFinding, Recording, Stage

__all__ = ["assess_job", "check_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sorted:
    """Steady recordings of a job by what they are for."""

    before: tuple[Recording, ...]
    earlier: tuple[Recording, ...]
    after: tuple[Recording, ...]
    moment: Moment | None


def check_of(recording: Recording) -> Moment:
    """The check that a steady as-left recording belongs to; the first where nothing says so.

    Parameters
    ----------
    recording : Recording
        Of the stage as-left.

    Returns
    -------
    Moment
        One of the four checks.
    """
    return recording.moment if recording.moment in CHECKS else Moment.HOUR_1


def assess_job(  # noqa: PLR0913 (one call that a notebook makes as the command line does)
    job: JobRecord,
    recordings: Sequence[Recording],
    *,
    card: MachineCard,
    given_speed_rpm: float | None = None,
    progress: Progress | None = None,
    workers: int = WORKERS,
    baselines: Sequence[Baseline] = (),
) -> Assessment:
    """Judge a job as far as it has come.

    Parameters
    ----------
    job : JobRecord
        What was done, checked and written down by hand; may be half filled.
    recordings : sequence of Recording
        With stage and moment; none at all is a HOLD, not an error.
    card : MachineCard
        The machine, its bearings and the limits in force.
    given_speed_rpm : float, optional
        Shaft speed of all steady recordings, instead of their own.
    progress : callable, optional
        Called with a text, the number of the step and the number of steps.
    workers : int, optional
        Threads, at least 1.
    baselines : sequence of Baseline
        As for `assess`.

    Returns
    -------
    Assessment
        For the latest check of which there are recordings: only these decide, the
        check before is what they are compared with. Steady running is found
        inside a recording that holds a start or stop too.
    """
    prepared = [prepare(recording, card) for recording in recordings]
    steady = _sorted(prepared)
    wanted = (*steady.before, *steady.earlier, *steady.after)
    analyses = analyze_all(
        wanted, card=card, given_speed_rpm=given_speed_rpm, progress=progress, workers=workers
    )
    first, second = len(steady.before), len(steady.before) + len(steady.earlier)
    on_body, elsewhere = split_by_place(analyses[second:], card)
    before = split_by_place(analyses[:first], card)[0]
    references = find_references(on_body, card=card, baselines=baselines)
    on_body = judged_against_reference(on_body, references)
    return conclude(
        Evidence(
            card=card,
            limits=card.limits,
            before=before,
            after=on_body,
            pair=_set_up(steady),
            orbits=tuple(orbits_of([*before, *on_body], card)),
            elsewhere=elsewhere,
            earlier=split_by_place(analyses[first:second], card)[0],
            transients=tuple(p.transients for p in prepared if p.transients is not None),
            cables=tuple(cables_of(on_body, card)),
            job=job,
            moment=steady.moment,
            references=references,
        )
    )


def _set_up(steady: _Sorted) -> tuple[QualityFinding, ...]:
    """How before and after were recorded; times and copies are judged over the whole job."""
    findings = check_pair(steady.before, (*steady.earlier, *steady.after))
    return tuple(finding for finding in findings if finding.id == "set-up")


def _sorted(prepared: Sequence[Prepared]) -> _Sorted:
    """Before, the latest check, and the check before it."""
    steady = [part.steady for part in prepared if part.steady is not None]
    left = [recording for recording in steady if recording.stage is Stage.AS_LEFT]
    reached = [moment for moment in CHECKS if any(check_of(item) is moment for item in left)]
    now = reached[-1] if reached else None
    previous = reached[-2] if len(reached) > 1 else None
    return _Sorted(
        before=tuple(item for item in steady if item.stage is Stage.AS_FOUND),
        earlier=tuple(item for item in left if check_of(item) is previous),
        after=tuple(item for item in left if check_of(item) is now),
        moment=now,
    )
