"""From analysed recordings of one point to its baseline, or why they make none."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import PurePath
from statistics import median
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.baseline.reference import (
    Baseline,
    Conditions,
    FamilyReading,
    FamilyStatistic,
    OrbitReading,
    Range,
    Scalar,
    SourceRecording,
    SpectrumStatistic,
    Status,
)
from vibhealth.baseline.settling import settling_flags
from vibhealth.card import MachineCard
from vibhealth.errors import BaselineError, CardError
from vibhealth.model import (
    CriterionResult,
    Orbit,
    PatternKind,
    PatternSpectrum,
    PointPattern,
    Recording,
    RecordingAnalysis,
)

__all__ = ["build_baseline", "conditions_of", "gather", "load_of", "motion_values", "sensor_of"]

# Digits that are stored: more than any recording is good for, and the same on every machine.
DIGITS = 7
KINDS: tuple[PatternKind, ...] = (
    "order-spectrum",
    "envelope-spectrum",
    "whitened-envelope-spectrum",
)
INVENTED = "INVENTED: made by simulation, not measured on any machine"


def build_baseline(  # noqa: PLR0913 (facts, and who answers for them)
    analyses: Sequence[RecordingAnalysis],
    *,
    card: MachineCard,
    made_at: datetime,
    status: Status = Status.KNOWN_GOOD,
    accepted_by: str = "",
    note: str = "",
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
    flags = (*settling_flags(analyses), *_bearing_flags(analyses))
    if status is Status.KNOWN_GOOD:
        _refuse_unanswered(point, accepted_by, note, flags)
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
    bands, centres, spread = _bands(patterns)
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
        recordings=tuple(_source(analysis) for analysis in analyses),
        scalars=tuple(_scalars(analyses)),
        families=_families(analyses),
        spectra=tuple(_spectra(patterns)),
        harmonics_db=_rounded(_mean_where_known([p.harmonics_db for p in patterns])),
        bands_centre_hz=_rounded(centres),
        bands_db=_rounded(bands),
        bands_spread_db=None if spread is None else _rounded(spread),
        orbit=_orbit(point, orbits),
        detectable_depths=_detectable(analyses),
        label=INVENTED if _is_invented(analyses) else "",
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
        shaft_frequency_hz=Range(low=_digits(min(speeds)), high=_digits(max(speeds))),
        sampling_rate_hz=first.sampling_rate_hz,
        unit=first.unit,
        temperature_c=Range(low=min(temperatures), high=max(temperatures))
        if temperatures
        else None,
        load=load_of(first),
        direction=first.direction or "",
        sensor=sensor,
        mount=mount,
    )


def motion_values(analysis: RecordingAnalysis) -> dict[str, tuple[str, str, float | None]]:
    """Values of the motion by id: title, unit, value.

    Parameters
    ----------
    analysis : RecordingAnalysis
        With its motion or without.

    Returns
    -------
    dict of str to (str, str, float or None)
        Empty where the motion could not be read.
    """
    motion = analysis.motion
    if motion is None:
        return {}
    return {
        "stroke-mm": ("stroke, peak to peak", "mm", motion.stroke_mm),
        "first-order": ("amplitude of 1x", motion.unit, motion.amplitude_1x),
        "harmonic-ratio": ("harmonics 2x to 10x over 1x", "1", motion.harmonic_ratio),
        "half-order-ratio": ("half orders over 1x", "1", motion.half_order_ratio),
    }


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
    """Families of hold size, or something that hides them: somebody has to answer for it."""
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
        if family.result is CriterionResult.HOLD
    }
    return tuple(held)


def _refuse_unanswered(point: str, accepted_by: str, note: str, flags: Sequence[str]) -> None:
    if not accepted_by.strip() or accepted_by.strip() == "?":
        msg = f"baseline of {point}: nobody answers for it; give a name with --accepted-by"
        raise BaselineError(msg)
    if flags and not note.strip():
        msg = (
            f"baseline of {point} is refused: {'; '.join(flags)}; record when the machine runs "
            "steadily (24 h, 7 days), or say with --note why it holds all the same"
        )
        raise BaselineError(msg)


def _source(analysis: RecordingAnalysis) -> SourceRecording:
    recording = analysis.recording
    return SourceRecording(
        name="/".join(PurePath(recording.path).parts[-2:]).lstrip("/"),
        sha256=recording.sha256,
        duration_s=_digits(recording.duration_s),
        shaft_frequency_hz=_digits(analysis.speed.shaft_frequency_hz or 0.0),
        start_time=recording.start_time,
        temperature_c=recording.temperature_c,
        moment=recording.moment,
    )


def _scalars(analyses: Sequence[RecordingAnalysis]) -> list[Scalar]:
    """Levels and motion values, each over all recordings."""
    rows: dict[tuple[str, Any], dict[int, float | None]] = {}
    facts: dict[tuple[str, Any], tuple[str, str]] = {}
    for place, analysis in enumerate(analyses):
        for item in analysis.descriptors:
            key = (item.id, None if item.band_hz is None else tuple(map(_digits, item.band_hz)))
            facts.setdefault(key, (item.title, item.unit))
            rows.setdefault(key, {})[place] = item.value
        for id_, (title, unit, value) in motion_values(analysis).items():
            facts.setdefault((id_, None), (title, unit))
            rows.setdefault((id_, None), {})[place] = value
    found: dict[str, Scalar] = {}
    for (id_, band), values in rows.items():
        # A band that follows the speed (the working motion's) differs in its last digits.
        if id_ in found:
            merged = [
                was if was is not None else values.get(place)
                for place, was in enumerate(found[id_].values)
            ]
            was_band = found[id_].band_hz
        else:
            merged = [values.get(place) for place in range(len(analyses))]
            was_band = band
        title, unit = facts[id_, band]
        found[id_] = Scalar(
            id=id_,
            title=title,
            unit=unit,
            values=tuple(None if value is None else _digits(value) for value in merged),
            band_hz=was_band,
        )
    return list(found.values())


def _families(analyses: Sequence[RecordingAnalysis]) -> tuple[FamilyStatistic, ...]:
    keys = dict.fromkeys((f.bearing, f.element) for a in analyses for f in a.families)
    return tuple(
        FamilyStatistic(
            bearing=bearing,
            element=element,
            readings=tuple(
                FamilyReading(
                    recording=place,
                    order=_digits(family.order),
                    slip_percent=_digits(family.slip_percent),
                    false_alarm_probability=_digits(family.false_alarm_probability),
                    depth=_digits(family.depth),
                    depth_whitened=_digits(family.depth_whitened),
                    impact_m_s2=None if family.impact_m_s2 is None else _digits(family.impact_m_s2),
                    result=family.result.value,
                )
                for place, analysis in enumerate(analyses, start=1)
                for family in analysis.families
                if (family.bearing, family.element) == (bearing, element)
            ),
        )
        for bearing, element in sorted(keys)
    )


def _spectra(patterns: Sequence[PointPattern]) -> list[SpectrumStatistic]:
    found = []
    for kind in KINDS:
        spectra = [s for p in patterns if (s := p.spectrum(kind)) is not None]
        if len(spectra) == len(patterns):
            found.append(_statistic(kind, spectra))
    return found


def _statistic(kind: PatternKind, spectra: Sequence[PatternSpectrum]) -> SpectrumStatistic:
    size = min(item.order.size for item in spectra)
    above = np.stack([item.above_floor_db[:size] for item in spectra])
    level = np.stack([20 * np.log10(item.amplitude[:size]) for item in spectra])
    return SpectrumStatistic(
        kind=kind,
        unit=spectra[0].unit,
        order=spectra[0].order[:size],
        amplitude=_rounded(10 ** (level.mean(axis=0) / 20)),
        above_floor_db=_rounded(above.mean(axis=0)),
        spread_db=_rounded(above.std(axis=0, ddof=1)) if len(spectra) > 1 else None,
        n_averages=_digits(min(item.n_averages for item in spectra)),
        n_recordings=len(spectra),
        band_hz=spectra[0].band_hz,
    )


def _bands(
    patterns: Sequence[PointPattern],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64] | None]:
    """Mean, centre and spread of the half octaves that all recordings hold."""
    size = min(p.bands_db.size for p in patterns)
    rows = np.stack([p.bands_db[:size] for p in patterns])
    spread = rows.std(axis=0, ddof=1) if len(patterns) > 1 else None
    return rows.mean(axis=0), patterns[0].bands_centre_hz[:size], spread


def _mean_where_known(rows: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Mean of each column over what is a number in more than half of the rows."""
    stacked = np.stack(rows)
    known = np.isfinite(stacked)
    count = known.sum(axis=0)
    total = np.where(known, stacked, 0.0).sum(axis=0)
    mean: NDArray[np.float64] = np.where(
        2 * count > len(rows), total / np.maximum(count, 1), np.nan
    )
    return mean


def _orbit(point: str, orbits: Sequence[Orbit]) -> OrbitReading | None:
    of_point = [orbit for orbit in orbits if point in orbit.points]
    if not of_point:
        return None
    directions = [orbit.direction for orbit in of_point]
    return OrbitReading(
        points=of_point[0].points,
        major_mm=_digits(median(orbit.major_mm for orbit in of_point)),
        minor_mm=_digits(median(orbit.minor_mm for orbit in of_point)),
        tilt_deg=_digits(median(orbit.tilt_deg for orbit in of_point)),
        direction=max(set(directions), key=directions.count),
    )


def _detectable(analyses: Sequence[RecordingAnalysis]) -> tuple[tuple[str, Any, float], ...]:
    """Smallest depth of each element that the best recording would have shown."""
    least: dict[tuple[str, Any], float] = {}
    for analysis in analyses:
        for row in analysis.sensitivity:
            if np.isfinite(row.detectable_depth):
                key = (row.bearing, row.element)
                least[key] = min(least.get(key, np.inf), row.detectable_depth)
    return tuple((bearing, el, _digits(depth)) for (bearing, el), depth in sorted(least.items()))


def _is_invented(analyses: Sequence[RecordingAnalysis]) -> bool:
    return any("INVENTED" in text for a in analyses for _, text in a.recording.remarks)


def _digits(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def _rounded(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([_digits(value) for value in values], dtype=np.float64)
