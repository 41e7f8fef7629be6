"""From analysed recordings of one point to its baseline, or why they make none."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import PurePath

from vibhealth.baseline.reference import (
    Baseline,
    Conditions,
    Range,
    Status,
)
from vibhealth.baseline.settling import settling_flags
from vibhealth.baseline.statistics import (
    bands_of,
    detectable_of,
    digits,
    families_of,
    is_invented,
    mean_where_known,
    orbit_of_point,
    rounded,
    scalars_of,
    source_of,
    spectra_of,
)
from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.errors import BaselineError, CardError
from vibhealth.model import (
    CriterionResult,
    Orbit,
    Recording,
    RecordingAnalysis,
)

__all__ = ["build_baseline", "conditions_of", "gather", "load_of", "refuse_unanswered", "sensor_of"]

INVENTED = "INVENTED: made by simulation, not measured on any machine"


def build_baseline(  # noqa: PLR0913 (facts, and who answers for them)
    analyses: Sequence[RecordingAnalysis],
    *,
    card: MachineCard,
    made_at: datetime,
    status: Status = Status.KNOWN_GOOD,
    accepted_by: str = "",
    note: str = "",
    against: Sequence[str] = (),
    orbits: Sequence[Orbit] = (),
) -> Baseline:
    """Gather recordings of one point, taken when the machine was good.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Of one point, in one state, at least one; each usable and with its pattern.
    card : MachineCard
        Names machine, sensor and mount.
    made_at : datetime
        When the baseline is made.
    status : Status
        A candidate may have flags and needs nobody's name.
    accepted_by, note : str
        Who answers for it; why it holds although something speaks against it.
    against : sequence of str
        What else speaks against it, in words: the reference in force, an overridden HOLD.
    orbits : sequence of Orbit
        Of these recordings; the median of those with this point is stored.

    Returns
    -------
    Baseline
        With values of seven digits, so that what is stored and read again is the same.

    Raises
    ------
    BaselineError
        If the recordings make no reference: none, of several points, unusable, in different
        states; or something speaks against them and no note says why they hold.
    """
    point = _point_of_all(analyses)
    for analysis in analyses:
        _refuse_unusable(analysis)
    flags = (*settling_flags(analyses), *_bearing_flags(analyses), *against)
    if status is Status.KNOWN_GOOD:
        refuse_unanswered(f"baseline of {point}", accepted_by, note, flags)
    return replace(
        gather(analyses, card=card, point=point, made_at=made_at, orbits=orbits),
        status=status,
        accepted_by=accepted_by.strip(),
        note=note.strip(),
        flags=flags,
    )


def gather(
    analyses: Sequence[RecordingAnalysis],
    *,
    card: MachineCard,
    point: str,
    made_at: datetime,
    orbits: Sequence[Orbit] = (),
) -> Baseline:
    """Statistics of recordings of one point and state, whatever speaks against them.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        At least one with a pattern.
    card : MachineCard
        Names machine, sensor and mount.
    point : str
        As it is called.
    made_at : datetime
        To the second.
    orbits : sequence of Orbit
        Of these recordings.

    Returns
    -------
    Baseline
        A candidate.

    Raises
    ------
    BaselineError
        If the recordings contradict each other, or none has a pattern.
    """
    conditions = conditions_of(analyses, card)
    patterns = [analysis.pattern for analysis in analyses if analysis.pattern is not None]
    if not patterns:
        why = analyses[0].families_not_judged or "fewer than 100 turns"
        msg = (
            f"{analyses[0].recording.path}: nothing to compare could be read: {why}; record longer"
        )
        raise BaselineError(msg)
    bands, centres, spread = bands_of(patterns)
    return Baseline(
        machine_id=card.machine.id,
        machine_name=card.machine.name,
        point=point,
        status=Status.CANDIDATE,
        made_at=made_at.replace(microsecond=0),
        accepted_by="",
        note="",
        flags=(),
        conditions=conditions,
        recordings=tuple(source_of(analysis) for analysis in analyses),
        scalars=tuple(scalars_of(analyses)),
        families=families_of(analyses),
        spectra=tuple(spectra_of(patterns)),
        harmonics_db=rounded(mean_where_known([p.harmonics_db for p in patterns])),
        bands_centre_hz=rounded(centres),
        bands_db=rounded(bands),
        bands_spread_db=None if spread is None else rounded(spread),
        orbit=orbit_of_point(point, orbits),
        detectable_depths=detectable_of(analyses),
        label=INVENTED if is_invented(analyses) else "",
    )


def sensor_of(recording: Recording, card: MachineCard) -> tuple[str, str]:
    """Sensor (with its serial number) and mount of a recording's point; empty where not known.

    Parameters
    ----------
    recording : Recording
        Its ``point`` may be a point of the card, another one, or None.
    card : MachineCard
        Its points name their sensors.

    Returns
    -------
    tuple of str and str
    """
    try:
        sensor = card.sensor(card.point(recording.point or "").sensor)
    except CardError:
        return "", ""
    serial = f" (serial {sensor.serial})" if sensor.serial else ""
    return f"{sensor.name}{serial}", sensor.mount or ""


def load_of(recording: Recording) -> str:
    """``"empty"`` or ``"loaded"`` as the recording states it, empty where it does not."""
    return dict(recording.remarks).get("load", "")


def conditions_of(analyses: Sequence[RecordingAnalysis], card: MachineCard) -> Conditions:
    """Conditions of recordings of one point, which must not contradict each other.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        At least one, each with a speed.
    card : MachineCard
        Names sensor and mount.

    Returns
    -------
    Conditions

    Raises
    ------
    BaselineError
        If they differ in load, sampling rate, unit or direction, or a speed is not known.
    """
    recordings = [analysis.recording for analysis in analyses]
    first = recordings[0]
    for name, of in (
        ("load", load_of),
        ("sampling rate in Hz", lambda r: f"{r.sampling_rate_hz:g}"),
        ("unit", lambda r: r.unit),
        ("direction", lambda r: r.direction or ""),
    ):
        for recording in recordings[1:]:
            if of(recording) != of(first):
                msg = (
                    f"{recording.path}: {name} is {of(recording) or 'not stated'}, in "
                    f"{first.path} {of(first) or 'not stated'}; a baseline is made of recordings "
                    "in one state"
                )
                raise BaselineError(msg)
    speeds = [hz for a in analyses if (hz := _measured_hz(a)) is not None]
    if len(speeds) < len(analyses):
        silent = next(a for a in analyses if _measured_hz(a) is None)
        msg = (
            f"{silent.recording.path}: no shaft speed was found in it, and lines can only be "
            "compared in multiples of it; record longer at steady speed, or give it with --speed-rpm"
        )
        raise BaselineError(msg)
    temperatures = [r.temperature_c for r in recordings if r.temperature_c is not None]
    sensor, mount = sensor_of(first, card)
    return Conditions(
        shaft_frequency_hz=Range(low=digits(min(speeds)), high=digits(max(speeds))),
        sampling_rate_hz=first.sampling_rate_hz,
        unit=first.unit,
        temperature_c=Range(low=min(temperatures), high=max(temperatures))
        if temperatures
        else None,
        load=load_of(first),
        direction=first.direction or "",
        sensor=sensor,
        mount=mount,
        bearings=_bearings(card),
    )


def _bearings(card: MachineCard) -> str:
    """Orders of all bearings in words: another geometry puts every family elsewhere."""
    words = []
    for bearing in card.rolling_bearings():
        orders = defect_orders(bearing)
        words.append(
            f"{bearing.name}: cage {orders.cage:.4f}, outer ring {orders.outer_ring:.4f}, inner ring "
            f"{orders.inner_ring:.4f}, load {bearing.load_case.value}"
        )
    return "; ".join(words)


def _measured_hz(analysis: RecordingAnalysis) -> float | None:
    """Shaft frequency that was found or given; the card's is a guess that misplaces every line."""
    speed = analysis.speed
    return None if speed.source in {"card", "none"} else speed.shaft_frequency_hz


def _point_of_all(analyses: Sequence[RecordingAnalysis]) -> str:
    if not analyses:
        msg = "no recording to make a baseline of; give at least one of steady running"
        raise BaselineError(msg)
    named = {analysis.recording.point for analysis in analyses}
    if None in named:
        nameless = next(a.recording.path for a in analyses if a.recording.point is None)
        msg = f"{nameless}: its measurement point is not known; name it with --point or on the card"
        raise BaselineError(msg)
    if len(named) > 1:
        msg = f"recordings of {len(named)} points ({', '.join(sorted(map(str, named)))}); give one"
        raise BaselineError(msg)
    digests = [(a.recording.sha256, a.recording.channel) for a in analyses]
    for place, analysis in enumerate(analyses):
        if digests[place][0] and digests[place] in digests[:place]:
            msg = f"{analysis.recording.path}: the same recording is given twice; give it once"
            raise BaselineError(msg)
    return str(named.pop())


def _refuse_unusable(analysis: RecordingAnalysis) -> None:
    path = analysis.recording.path
    for finding in analysis.quality:
        if finding.result is CriterionResult.HOLD:
            msg = f"{path}: not usable for a baseline: {finding.detail} {finding.advice}".rstrip()
            raise BaselineError(msg)
    why = "" if analysis.pattern else analysis.families_not_judged
    if why:
        msg = f"{path}: not usable for a baseline: {why.rstrip('.')}; record again"
        raise BaselineError(msg)
    if analysis.pattern is None:
        msg = f"{path}: too short for a baseline: at least 100 turns; record 60 s"
        raise BaselineError(msg)


def _bearing_flags(analyses: Sequence[RecordingAnalysis]) -> tuple[str, ...]:
    """Significant families, or something that hides them: somebody has to answer for it."""
    held = {
        f"in {PurePath(analysis.recording.path).name} something hides the bearing "
        f"({analysis.masked[:1].lower()}{analysis.masked[1:]})": None
        for analysis in analyses
        if analysis.masked
    } | {
        f"{family.element.words} of bearing {family.bearing} reads like a defect "
        f"(depth {family.depth_whitened:.2f})": None
        for analysis in analyses
        for family in analysis.families
        if family.result is not CriterionResult.PASS
    }
    return tuple(held)


def refuse_unanswered(what: str, accepted_by: str, note: str, flags: Sequence[str]) -> None:
    """Refuse a baseline that nobody answers for, or that has something against it without a note.

    Parameters
    ----------
    what : str
        The baseline, for the message.
    accepted_by, note : str
        Who answers for it, and why it holds all the same.
    flags : sequence of str
        What speaks against it.

    Raises
    ------
    BaselineError
        If the name is missing, or the note where there are flags.
    """
    if not accepted_by.strip() or accepted_by.strip() == "?":
        msg = f"{what}: nobody answers for it; give a name with --accepted-by"
        raise BaselineError(msg)
    if flags and not note.strip():
        msg = (
            f"{what} is refused: {'; '.join(flags)}; record when the machine runs "
            "steadily (24 h, 7 days), or say with --note why it holds all the same"
        )
        raise BaselineError(msg)
