"""Statistics of recordings of one point: what a baseline keeps of them, number by number."""

from collections.abc import Iterator, Sequence
from pathlib import PurePath
from statistics import median
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.baseline.reference import (
    FamilyReading,
    FamilyStatistic,
    OrbitReading,
    Scalar,
    SourceRecording,
    SpectrumStatistic,
    is_same_band,
)
from vibhealth.model import (
    PATTERN_KINDS,
    Descriptor,
    Orbit,
    PatternKind,
    PatternSpectrum,
    PointPattern,
    RecordingAnalysis,
)

__all__ = [
    "bands_of",
    "detectable_of",
    "digits",
    "families_of",
    "is_invented",
    "mean_where_known",
    "motion_values",
    "orbit_of_point",
    "rounded",
    "scalars_of",
    "source_of",
    "spectra_of",
]

# Digits that are stored: more than any recording is good for, and the same on every machine.
DIGITS = 7
SAME_BAND = 0.05  # of the working motion's edges, which follow the speed


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


def source_of(analysis: RecordingAnalysis) -> SourceRecording:
    """What is kept of one recording: name, digest, length, speed, state."""
    recording = analysis.recording
    return SourceRecording(
        name="/".join(PurePath(recording.path).parts[-2:]).lstrip("/"),
        sha256=recording.sha256,
        duration_s=digits(recording.duration_s),
        shaft_frequency_hz=digits(analysis.speed.shaft_frequency_hz or 0.0),
        start_time=recording.start_time,
        temperature_c=recording.temperature_c,
        moment=recording.moment,
    )


def scalars_of(analyses: Sequence[RecordingAnalysis]) -> list[Scalar]:
    """Levels and motion values, each over all recordings, as the first that has it names it."""
    first: dict[str, Descriptor] = {}
    values: dict[str, list[float | None]] = {}
    for place, analysis in enumerate(analyses):
        for item in _readings(analysis):
            named = first.setdefault(item.id, item)
            row = values.setdefault(item.id, [None] * len(analyses))
            if named.unit == item.unit and is_same_band(
                named.band_hz, item.band_hz, tolerance=SAME_BAND
            ):
                row[place] = digits(item.value)
    return [
        Scalar(
            id=id_,
            title=item.title,
            unit=item.unit,
            values=tuple(values[id_]),
            band_hz=None
            if item.band_hz is None
            else (digits(item.band_hz[0]), digits(item.band_hz[1])),
        )
        for id_, item in first.items()
    ]


def _readings(analysis: RecordingAnalysis) -> Iterator[Descriptor]:
    yield from analysis.descriptors
    for id_, (title, unit, value) in motion_values(analysis).items():
        if value is not None:
            yield Descriptor(id=id_, title=title, value=value, unit=unit)


def families_of(analyses: Sequence[RecordingAnalysis]) -> tuple[FamilyStatistic, ...]:
    """Every defect family with its readings, in a fixed order."""
    keys = dict.fromkeys((f.bearing, f.element) for a in analyses for f in a.families)
    return tuple(
        FamilyStatistic(
            bearing=bearing,
            element=element,
            readings=tuple(
                FamilyReading(
                    recording=place,
                    order=digits(family.order),
                    slip_percent=digits(family.slip_percent),
                    false_alarm_probability=digits(family.false_alarm_probability),
                    depth=digits(family.depth),
                    depth_whitened=digits(family.depth_whitened),
                    impact_m_s2=None if family.impact_m_s2 is None else digits(family.impact_m_s2),
                    result=family.result.value,
                )
                for place, analysis in enumerate(analyses, start=1)
                for family in analysis.families
                if (family.bearing, family.element) == (bearing, element)
            ),
        )
        for bearing, element in sorted(keys)
    )


def spectra_of(patterns: Sequence[PointPattern]) -> list[SpectrumStatistic]:
    """Statistics of every spectrum that all recordings have."""
    found = []
    for kind in PATTERN_KINDS:
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
        amplitude=rounded(10 ** (level.mean(axis=0) / 20)),
        above_floor_db=rounded(above.mean(axis=0)),
        spread_db=rounded(above.std(axis=0, ddof=1)) if len(spectra) > 1 else None,
        n_averages=digits(min(item.n_averages for item in spectra)),
        n_recordings=len(spectra),
        band_hz=spectra[0].band_hz,
    )


def bands_of(
    patterns: Sequence[PointPattern],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64] | None]:
    """Mean, centre and spread of the half octaves that all recordings hold."""
    size = min(p.bands_db.size for p in patterns)
    rows = np.stack([p.bands_db[:size] for p in patterns])
    spread = rows.std(axis=0, ddof=1) if len(patterns) > 1 else None
    return rows.mean(axis=0), patterns[0].bands_centre_hz[:size], spread


def mean_where_known(rows: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Mean of each column over what is a number in more than half of the rows."""
    stacked = np.stack(rows)
    known = np.isfinite(stacked)
    count = known.sum(axis=0)
    total = np.where(known, stacked, 0.0).sum(axis=0)
    mean: NDArray[np.float64] = np.where(
        2 * count > len(rows), total / np.maximum(count, 1), np.nan
    )
    return mean


def orbit_of_point(point: str, orbits: Sequence[Orbit]) -> OrbitReading | None:
    """Median ellipse of the orbits that hold a point; None without one."""
    of_point = [orbit for orbit in orbits if point in orbit.points]
    if not of_point:
        return None
    directions = [orbit.direction for orbit in of_point]
    return OrbitReading(
        points=of_point[0].points,
        major_mm=digits(median(orbit.major_mm for orbit in of_point)),
        minor_mm=digits(median(orbit.minor_mm for orbit in of_point)),
        tilt_deg=digits(median(orbit.tilt_deg for orbit in of_point)),
        direction=max(set(directions), key=directions.count),
    )


def detectable_of(analyses: Sequence[RecordingAnalysis]) -> tuple[tuple[str, Any, float], ...]:
    """Smallest depth of each element that the best recording would have shown."""
    least: dict[tuple[str, Any], float] = {}
    for analysis in analyses:
        for row in analysis.sensitivity:
            if np.isfinite(row.detectable_depth):
                key = (row.bearing, row.element)
                least[key] = min(least.get(key, np.inf), row.detectable_depth)
    return tuple((bearing, el, digits(depth)) for (bearing, el), depth in sorted(least.items()))


def is_invented(analyses: Sequence[RecordingAnalysis]) -> bool:
    """Whether one of the recordings says that it is invented."""
    return any("INVENTED" in text for a in analyses for _, text in a.recording.remarks)


def digits(value: float) -> float:
    """A number with the digits that are stored."""
    return float(f"{value:.{DIGITS}g}")


def rounded(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Numbers with the digits that are stored."""
    return np.array([digits(value) for value in values], dtype=np.float64)
