"""Two recordings of one point in one state: the same place, as firmly mounted.

Every point has its own pattern of harmonics and resonances, a fingerprint. Recordings from
before and after a rebuild are not in one state: a bad bearing was loud.

Limits whose comment names no source are starting limits of this project, common practice
without a published source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth._check import check_positive
from vibhealth.diagnosis.quality_facts import (
    Outcome,
    SampleFacts,
    hold,
    not_judged,
    passed,
    sample_facts,
    watch,
)
from vibhealth.diagnosis.quality_mount import (
    HIGHEST_SHARE_OF_RATE,
    LOWEST_HZ,
    PEAK_HZ,
    half_octaves,
)
from vibhealth.diagnosis.quality_series import band_level
from vibhealth.errors import InputError
from vibhealth.model import QualityFinding, Recording

__all__ = ["Fingerprint", "check_same_point", "correlation", "fingerprint"]

HARMONICS = range(2, 11)
# Pieces of the open recordings that the benchmark names agree with themselves by 0.92 or more.
CORRELATION_WATCH, CORRELATION_HOLD = 0.9, 0.7
# A harmonic counts where it stands out of the lines around it by this, in dB.
LEAST_ABOVE_FLOOR_DB = 10.0
FEWEST_VALUES = 6
# Levels that differ less from each other are noise about a flat line, no pattern to know again.
LEAST_PATTERN_DB = 2.0
LEVEL_RATIO_HOLD, LEVEL_RATIO_WATCH = 0.5, 0.67
# A half octave between 0.5 and 3 kHz that stands so much higher: the peak of a loose mount.
PEAK_WATCH_DB, PEAK_HOLD_DB = 6.0, 12.0
SAME_MOTION = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """Log levels of a point: harmonics 2x to 10x over 1x, density of half octaves.

    ``harmonics_db`` has shape (9,), not a number where a harmonic does not stand out;
    ``bands_db`` has shape (n_bands,), as ``centre_hz``; ``first`` is the amplitude of 1x.
    """

    harmonics_db: NDArray[np.float64]
    bands_db: NDArray[np.float64]
    centre_hz: NDArray[np.float64]
    first: float


def fingerprint(facts: SampleFacts, shaft_frequency_hz: float, *, n_bands: int) -> Fingerprint:
    """Read the fingerprint of a recording.

    Parameters
    ----------
    facts : SampleFacts
        Of the recording.
    shaft_frequency_hz : float
        Above 0.
    n_bands : int
        Half octaves from 250 Hz on, as many as all recordings that are compared hold.

    Returns
    -------
    Fingerprint
    """
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    first = _line(facts, shaft_hz)[0]
    levels = np.full(len(HARMONICS), np.nan)
    for k, order in enumerate(HARMONICS):
        power, floor = _line(facts, order * shaft_hz)
        if first > 0 and power > floor * 10 ** (LEAST_ABOVE_FLOOR_DB / 10):
            levels[k] = 10 * np.log10(power / first)

    share = first / max(float(facts.power.sum()), np.finfo(float).tiny)
    bands = half_octaves(facts)
    return Fingerprint(
        harmonics_db=levels,
        bands_db=bands.density_db[:n_bands],
        centre_hz=bands.centre_hz[:n_bands],
        first=facts.rms * float(np.sqrt(2 * share)),
    )


def _line(facts: SampleFacts, frequency_hz: float) -> tuple[float, float]:
    """Power around a frequency, and that of its surroundings over the same width."""
    half_hz = 3 * facts.line_spacing_hz + 0.01 * frequency_hz
    inner = facts.between(frequency_hz - half_hz, frequency_hz + half_hz)
    around = facts.between(frequency_hz - 4 * half_hz, frequency_hz + 4 * half_hz)
    if inner.size == 0 or around.size == 0:
        return 0.0, np.inf
    return float(inner.sum()), float(np.median(around)) / np.log(2) * inner.size


def correlation(one: Fingerprint, two: Fingerprint) -> float | None:
    """How alike two fingerprints are, -1 to 1; None where too few levels can be compared.

    Harmonics and half octaves are centred apart, each on its own mean, so that neither
    the sensitivity nor the distance between the two groups counts.
    """
    parts = []
    for first, second in (
        (one.harmonics_db, two.harmonics_db),
        (one.bands_db, two.bands_db),
    ):
        both = np.isfinite(first) & np.isfinite(second)
        if np.count_nonzero(both) > 2:
            pair = np.stack([first[both], second[both]])
            parts.append(pair - pair.mean(axis=1, keepdims=True))
    if not parts or sum(part.shape[1] for part in parts) < FEWEST_VALUES:
        return None
    a, b = np.concatenate(parts, axis=1)
    if max(float(a.std()), float(b.std())) < LEAST_PATTERN_DB:
        return None
    scale = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / scale if scale > 0 else None


def check_same_point(
    earlier: Recording,
    later: Recording,
    *,
    shaft_frequencies_hz: tuple[float, float],
    bearing_band_hz: tuple[float, float] | None,
) -> tuple[QualityFinding, ...]:
    """Compare a recording with an earlier one of the same point in the same state.

    Parameters
    ----------
    earlier, later : Recording
        Of one point, both before or both after the rebuild.
    shaft_frequencies_hz : tuple of float
        Of the two, above 0.
    bearing_band_hz : tuple of float or None
        Where the level is compared; None leaves that out.

    Returns
    -------
    tuple of QualityFinding
        ``fingerprint`` (correlation of log levels below 0.7: hold, below 0.9: watch) and
        ``mount-level`` (the level in the bearing band below half at the same 1x: hold).

    Raises
    ------
    InputError
        If the recordings state different points.
    """
    if None not in (earlier.point, later.point) and earlier.point != later.point:
        msg = f"{later.path} is of {later.point}, {earlier.path} of {earlier.point}; give one point"
        raise InputError(msg)
    lowest_rate = min(earlier.sampling_rate_hz, later.sampling_rate_hz)
    n_bands = int(2 * np.log2(max(HIGHEST_SHARE_OF_RATE * lowest_rate / LOWEST_HZ, 1.0)))
    prints = tuple(
        fingerprint(sample_facts(recording), hz, n_bands=n_bands)
        for recording, hz in zip((earlier, later), shaft_frequencies_hz, strict=True)
    )
    outcomes = (
        ("fingerprint", "Same point and machine as before", _alike(earlier, *prints)),
        (
            "mount-level",
            "As firmly mounted as before",
            _as_loud(earlier, later, *prints, band_hz=bearing_band_hz),
        ),
    )
    return tuple(
        QualityFinding(id=name, title=title, result=o.result, detail=o.detail, advice=o.advice)
        for name, title, o in outcomes
    )


def _alike(earlier: Recording, one: Fingerprint, two: Fingerprint) -> Outcome:
    value = correlation(one, two)
    if value is None:
        return not_judged(
            "Too few harmonics and half octaves can be compared.", "Record at the same rate."
        )
    found = (
        f"The pattern of harmonics and half octaves agrees with {earlier.path} by {value:.2f} "
        f"(1 is the same; watch {CORRELATION_WATCH:g}, hold {CORRELATION_HOLD:g})"
    )
    advice = (
        "Check machine, point, axis and mount against the stamped mark and the photo, then record "
        "again."
    )
    if value < CORRELATION_HOLD:
        return hold(f"{found}: another point or machine, or another mount.", advice)
    return watch(f"{found}.", advice) if value < CORRELATION_WATCH else passed(f"{found}.")


def _as_loud(
    earlier: Recording,
    later: Recording,
    one: Fingerprint,
    two: Fingerprint,
    *,
    band_hz: tuple[float, float] | None,
) -> Outcome:
    if band_hz is None:
        return not_judged("No bearing band is given.", "Write the bearing band on the card.")
    was, now = band_level(earlier, band_hz), band_level(later, band_hz)
    if was is None or now is None or not was > 0 or earlier.unit != later.unit:
        return not_judged("The bearing band of the two cannot be compared.", "Record alike.")
    ratio, motion = now / was, two.first / one.first if one.first > 0 else 0.0
    inside = (one.centre_hz > PEAK_HZ[0]) & (one.centre_hz < PEAK_HZ[1])
    rise_db = float(np.max((two.bands_db - one.bands_db)[inside], initial=0.0))
    found = (
        f"The bearing band holds {ratio:.2f} times what it held in {earlier.path} (watch "
        f"{LEVEL_RATIO_WATCH:g}, hold {LEVEL_RATIO_HOLD:g}), between 0.5 and 3 kHz a half octave "
        f"rises by {rise_db:.0f} dB (watch {PEAK_WATCH_DB:g}, hold {PEAK_HOLD_DB:g}), 1x is "
        f"{motion:.2f} times as large"
    )
    if abs(motion - 1) > SAME_MOTION:
        return passed(f"{found}: not comparable.")
    advice = "Lock out, clean the spot, screw or stick the sensor on firmly, and record again."
    if ratio < LEVEL_RATIO_HOLD or rise_db > PEAK_HOLD_DB:
        return hold(f"{found}: the mount has changed, or another sensor was used.", advice)
    if ratio < LEVEL_RATIO_WATCH or rise_db > PEAK_WATCH_DB:
        return watch(f"{found}.", advice)
    return passed(f"{found}.")
