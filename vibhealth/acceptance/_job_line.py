"""One line of the decision about the work by hand, and who signed for it."""

from vibhealth.job import JobRecord
from vibhealth.model import Criterion, CriterionResult, Group, Hold, MachineCheck

__all__ = ["UNSIGNED", "job_line", "signed_by"]

UNSIGNED = "Write the name of who did it into the job record."


def job_line(  # noqa: PLR0913 (one criterion)
    id_: str,
    title: str,
    *,
    result: CriterionResult = CriterionResult.PASS,
    value: float | str | None = None,
    unit: str = "",
    limit: float | str | None = None,
    source: str = "",
    reason: str = "",
    advice: str = "",
    kind: Hold = Hold.FIX,
    detail: str = "",
    checks: tuple[MachineCheck, ...] = (),
) -> Criterion:
    """A criterion of the job group; what was not judged is always to be measured again.

    Parameters
    ----------
    id_, title : str
        Stable name, and its words.
    result : CriterionResult
        ``kind``, ``reason`` and ``checks`` are dropped where it passes or is only to be watched.
    value, unit, limit, source, reason, advice, detail, checks
        As in `Criterion`.
    kind : Hold
        Kind of HOLD where the result is ``HOLD``.

    Returns
    -------
    Criterion
    """
    bad = result in {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}
    is_judged = result is not CriterionResult.NOT_JUDGED
    hold = (kind if is_judged else Hold.MEASURE_AGAIN) if bad else None
    return Criterion(
        id=id_,
        group=Group.JOB,
        title=title,
        result=result,
        value=value if is_judged else None,
        unit=unit,
        limit=limit,
        limit_source=source,
        advice="" if result is CriterionResult.PASS else advice,
        hold=hold,
        reason=reason if bad else "",
        detail=detail,
        checks=checks if bad else (),
    )


def signed_by(job: JobRecord, name: str) -> str:
    """Who stands for an entry: the name beside it, else whoever rebuilt the machine.

    Parameters
    ----------
    job : JobRecord
        Its ``job.rebuilt_by`` stands for entries without a name of their own.
    name : str
        The name beside the entry, may be empty.

    Returns
    -------
    str
        Empty where nobody signed.
    """
    return name.strip() or job.job.rebuilt_by.strip()
