"""The job, its starts and stops, and where to look at the machine, worded."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from vibhealth.model import MachineCheck, Moment, Release, Transient, TransientAnalysis
from vibhealth.report._wording import STAGE_WORDS, clean, file_label, number, quantity
from vibhealth.report.recording_view import Fact
from vibhealth.units import hz_to_rpm

__all__ = ["MOMENT_WORDS", "CheckRow", "TransientRow", "check_rows", "job_rows", "override_words",
           "transient_rows"]  # fmt: skip

MOMENT_WORDS = {
    Moment.RUN_UP: "run-up",
    Moment.HOUR_1: "1 h",
    Moment.HOUR_8: "8 h",
    Moment.HOUR_24: "24 h",
    Moment.DAY_7: "7 days",
    Moment.COAST_DOWN: "coast-down",
}
JOB_LABELS = {
    "check": "Check",
    "unit_serial": "Serial of the unit",
    "bearing_designation": "Bearing",
    "rebuilt_by": "Rebuilt by",
    "rebuild_finished": "Rebuild finished",
    "machine_started": "Machine started",
    "remarks": "Remarks",
    "path": "Job record",
    "sha256": "SHA-256 of the record",
}
NOT_READ = "not read"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """One thing to look at, locked out, most likely first."""

    step: str
    mistake: str
    check: str
    seen: str

    @property
    def sentence(self) -> str:
        """Step, what to do, and what is suspected."""
        return f"{self.step[:1].upper()}{self.step[1:]}: {self.check} ({self.mistake}?)"


@dataclass(frozen=True, slots=True, kw_only=True)
class TransientRow:
    """One start or stop at one point."""

    kind: str
    stage: str
    point: str
    time: str
    swing: str
    isolators: str
    strikes: str
    remark: str


def check_rows(checks: Iterable[MachineCheck]) -> tuple[CheckRow, ...]:
    """Rows of what to look at.

    Parameters
    ----------
    checks : iterable of MachineCheck
        Most likely first.

    Returns
    -------
    tuple of CheckRow
    """
    return tuple(
        CheckRow(
            step=clean(item.step),
            mistake=clean(item.mistake),
            check=clean(item.check),
            seen=f"vibration sees this {item.seen_by_vibration}",
        )
        for item in checks
    )


def job_rows(job: Mapping[str, Any] | None) -> tuple[Fact, ...]:
    """Facts of the job that its record states.

    Parameters
    ----------
    job : mapping or None
        ``job`` of an assessment.

    Returns
    -------
    tuple of Fact
        Empty without a job.
    """
    if job is None:
        return ()
    return tuple(
        Fact(label=label, value=_job_value(key, job[key]))
        for key, label in JOB_LABELS.items()
        if job.get(key) is not None
    )


def _job_value(key: str, value: Any) -> str:
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if key == "check":
        return f"{MOMENT_WORDS[Moment(value)]} after the start"
    return clean(str(value))


def override_words(release: Release | None) -> str:
    """What the report says of an override; empty without one."""
    return "" if release is None else clean(release.sentence)


def transient_rows(analyses: Iterable[TransientAnalysis]) -> Iterator[TransientRow]:
    """Rows of starts and stops, one for each that was read, or why there is none.

    Parameters
    ----------
    analyses : iterable of TransientAnalysis
        Of an assessment.

    Yields
    ------
    TransientRow
    """
    for analysis in analyses:
        recording = analysis.recording
        point = clean(recording.point) if recording.point else f"channel {recording.channel}"
        stage = STAGE_WORDS[recording.stage]
        for transient in analysis.transients:
            yield _row(transient, stage, point)
        if not analysis.transients:
            yield TransientRow(
                kind="none found",
                stage=stage,
                point=point,
                time=NOT_READ,
                swing=NOT_READ,
                isolators=NOT_READ,
                strikes=NOT_READ,
                remark=clean(f"{file_label(recording.path)}: {analysis.not_judged}".rstrip(": ")),
            )


def _row(transient: Transient, stage: str, point: str) -> TransientRow:
    to_hz = transient.steady_frequency_hz
    speed = "" if to_hz is None else f" ({hz_to_rpm(to_hz):.0f} r/min)"
    return TransientRow(
        kind=f"{transient.kind}{speed}",
        stage=stage,
        point=point,
        time=_time(transient),
        swing=_swing(transient),
        isolators=_isolators(transient),
        strikes=NOT_READ if transient.strikes is None else str(len(transient.strikes)),
        remark=clean(". ".join(filter(None, (transient.detail, transient.fit_detail)))),
    )


def _time(transient: Transient) -> str:
    whole = NOT_READ if transient.duration_s is None else quantity(transient.duration_s, "s")
    quarter = transient.to_quarter_s
    return whole if quarter is None else f"{whole}; {quantity(quarter, 's')} to a quarter"


def _swing(transient: Transient) -> str:
    if transient.swing_ratio is None:
        return NOT_READ
    size = "" if transient.swing_mm is None else f", {quantity(transient.swing_mm, 'mm')}"
    return f"{number(transient.swing_ratio, digits=2)} times that at speed{size}"


def _isolators(transient: Transient) -> str:
    if transient.isolator_frequency_hz is None:
        return NOT_READ
    damping = transient.damping_ratio
    damped = "" if damping is None else f", damping ratio {number(damping, digits=2)}"
    return f"{quantity(transient.isolator_frequency_hz, 'Hz')}{damped}"
