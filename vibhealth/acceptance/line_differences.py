"""One recording's spectrum against the reference of its point, by the limits in force."""

from collections.abc import Sequence

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.references import PointReference
from vibhealth.baseline import LineDifference, LineSettings, line_difference
from vibhealth.card import MachineCard
from vibhealth.errors import BaselineError
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    PatternKind,
    RecordingAnalysis,
)

__all__ = [
    "NOT_COMPARED",
    "hold_distance_db",
    "line_settings",
    "not_compared",
    "reference_difference",
]

# Beginning of the ids that say so.
NOT_COMPARED = "not-compared-"

# Less above the reference is no news, however well its recordings agree.
LEAST_DB = 3.0


def reference_difference(
    analysis: RecordingAnalysis, reference: PointReference, kind: PatternKind, card: MachineCard
) -> LineDifference | None:
    """Compare a spectrum of a recording with that of the reference.

    Parameters
    ----------
    analysis : RecordingAnalysis
        Of the reference's point.
    reference : PointReference
        With a baseline or without.
    kind : str
        Which spectrum.
    card : MachineCard
        Limits and slip.

    Returns
    -------
    LineDifference or None
        None where there is no fair reference, no such spectrum, or one of another band.
    """
    baseline, shaft_hz = reference.baseline, analysis.speed.shaft_frequency_hz
    if baseline is None or not reference.is_comparable or shaft_hz is None:
        return None
    statistic = baseline.spectrum(kind)
    spectrum = analysis.pattern.spectrum(kind) if analysis.pattern is not None else None
    if statistic is None or spectrum is None:
        return None
    settings = line_settings(card, widening=reference.widening)
    try:
        return line_difference(
            spectrum,
            statistic,
            shaft_frequency_hz=shaft_hz,
            reference_shaft_hz=baseline.conditions.shaft_frequency_hz.middle,
            settings=settings,
        )
    except BaselineError:  # rate or card cut the band otherwise; the criterion says so
        return None


def line_settings(card: MachineCard, *, widening: float = 1.0) -> LineSettings:
    """What a line may do, by the limits in force.

    Parameters
    ----------
    card : MachineCard
        Its limits and slip.
    widening : float
        More than 1 where the reference is a sister machine.

    Returns
    -------
    LineSettings
    """
    limits = card.limits
    return LineSettings(
        stated_db=limits.value("baseline_line_watch_db"),
        least_db=LEAST_DB,
        false_alarm_probability=limits.value("baseline_false_alarm_probability"),
        slip_percent=card.analysis.slip_percent,
        widening=widening,
    )


def not_compared(evidence: Evidence, what: str, points: Sequence[str]) -> Criterion:
    """That something could not be compared at points with a reference: read in another band.

    Parameters
    ----------
    evidence : Evidence
        With the limits in force.
    what : str
        ``"bearing-band"``, ``"envelope-lines"`` or ``"acceleration-lines"``.
    points : sequence of str
        Where.

    Returns
    -------
    Criterion
        A watch: the verdict then rests on absolute limits.
    """
    return Criterion(
        id=f"{NOT_COMPARED}{what}",
        group=Group.BEARING,
        title=f"{what.replace('-', ' ').capitalize()} compared with the reference",
        result=CriterionResult.WATCH,
        value=f"not compared at {', '.join(points)}: read in another band than the reference",
        unit="",
        limit=None,
        limit_source=evidence.limits.source("baseline_line_hold_db"),
        advice="Record at the reference's sampling rate and keep the card's bands, or make a new "
        "reference.",
    )


def hold_distance_db(card: MachineCard) -> float:
    """How far beyond what is allowed a line holds, in dB."""
    limits = card.limits
    return limits.value("baseline_line_hold_db") - limits.value("baseline_line_watch_db")
