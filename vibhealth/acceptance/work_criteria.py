"""The work by hand as criteria: the job record beside what the recordings show."""

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.job_criteria import job_criteria
from vibhealth.model import Criterion, Stage

__all__ = ["work_criteria"]


def work_criteria(evidence: Evidence) -> list[Criterion]:
    """Criteria of the job record; none where recordings were given without a job."""
    if evidence.job is None:
        return []
    return job_criteria(
        evidence.job,
        evidence.card,
        evidence.limits,
        moment=evidence.moment,
        largest_swing_mm=_largest_swing_mm(evidence),
    )


def _largest_swing_mm(evidence: Evidence) -> float | None:
    """Farthest that the body swung to one side while starting or stopping after the rebuild."""
    swings = [
        transient.swing_mm
        for analysis in evidence.transients
        if analysis.recording.stage is Stage.AS_LEFT
        for transient in analysis.transients
        if transient.swing_mm is not None
    ]
    return max(swings, default=None)
