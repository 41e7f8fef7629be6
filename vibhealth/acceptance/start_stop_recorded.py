"""Whether the start and the stop of a job were recorded, and all of them."""

from collections.abc import Iterator

from vibhealth.acceptance._evidence import Evidence, is_on_body, not_judged
from vibhealth.acceptance._start_stop import PRACTICE, Seen, line
from vibhealth.acceptance._words import and_list
from vibhealth.diagnosis.start_stop_inspection import RECORD_WHOLE, WORDS
from vibhealth.model import Criterion, Group, Stage, Transient

__all__ = ["recorded_criteria"]


def recorded_criteria(evidence: Evidence, seen: list[Seen]) -> Iterator[Criterion]:
    """One line each for start and stop; not judged where not all of it could be read."""
    for kind in WORDS:
        title = f"The {WORDS[kind]} was recorded"
        of_kind = [item for item in seen if item.transient.kind == kind]
        whole = [item for item in of_kind if _is_whole(evidence, item.transient)]
        if whole:
            points = list(dict.fromkeys(item.point for item in whole))
            yield line(f"{kind}-recorded", title, value=and_list(points), source=PRACTICE)
            continue
        why, advice = _why_not_read(evidence, kind, of_kind)
        yield not_judged(
            f"{kind}-recorded",
            Group.START_AND_STOP,
            title,
            reason=f"{why}: what strikes or swings only there is not known.",
            advice=advice,
            limit_source=PRACTICE,
        )


def _is_whole(evidence: Evidence, transient: Transient) -> bool:
    """Whether all of a start or stop was read: its time, its swing, what strikes in it.

    Where gaps were measured, the swing has to be known in millimetres.
    """
    gaps = evidence.job.clearance.guard_mm if evidence.job is not None else ()
    times = [transient.duration_s]
    if transient.kind == "coast-down":
        times.append(transient.to_quarter_s)
    return (
        None not in times
        and transient.swing_ratio is not None
        and transient.strikes is not None
        and (not gaps or transient.swing_mm is not None)
    )


def _why_not_read(evidence: Evidence, kind: str, of_kind: list[Seen]) -> tuple[str, str]:
    """What is missing of a start or stop, and what to do."""
    if of_kind:
        return _what_is_missing(evidence, kind, of_kind[0])
    given = [
        analysis
        for analysis in evidence.transients
        if analysis.recording.stage is Stage.AS_LEFT
        and analysis.recording.moment is not None
        and analysis.recording.moment.value == kind
        and is_on_body(evidence.card, analysis.recording)
    ]
    if not given:
        return f"The {WORDS[kind]} was not recorded", RECORD_WHOLE[kind]
    why = f" ({given[0].not_judged})" if given[0].not_judged else ""
    return f"{given[0].recording.path} shows no {WORDS[kind]}{why}", RECORD_WHOLE[kind]


def _what_is_missing(evidence: Evidence, kind: str, seen: Seen) -> tuple[str, str]:
    path, transient = seen.analysis.recording.path, seen.transient
    gaps = evidence.job is not None and evidence.job.clearance.guard_mm
    if gaps and transient.swing_ratio is not None and not seen.analysis.recording.is_calibrated:
        why = (
            f"{path} has no calibration: the swing of the {WORDS[kind]} in mm, to be compared with "
            "the gaps at the guard, is not known"
        )
        return why, "Give sensitivity and range on the card, beside the file or as options."
    detail = transient.missing or "its time, swing or strikes could not be read"
    return f"{path} does not hold all of the {WORDS[kind]} ({detail})", RECORD_WHOLE[kind]
