"""Analyses of F3 with a pattern to compare, and its baseline: written down, not computed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.baseline import Baseline, build_baseline
from vibhealth.card import MachineCard
from vibhealth.model import (
    PatternKind,
    PatternSpectrum,
    PointPattern,
    RecordingAnalysis,
    Stage,
)
from vibhealth.signal.order_lines import ORDER_SPACING

__all__ = ["BANDS_HZ", "DAY", "N_AVERAGES", "baseline_of", "pattern", "with_pattern"]

DAY = datetime(2031, 1, 8, 9, 0, tzinfo=UTC)
N_AVERAGES = 20.0
FLOOR = {"order-spectrum": 1e-3, "envelope-spectrum": 0.03, "whitened-envelope-spectrum": 0.02}
HIGHEST = {"order-spectrum": 40.0}
BANDS_HZ = 297.3 * 2.0 ** (np.arange(10) / 2)
BANDS_DB = np.array([-60.0, -55, -48, -50, -44, -40, -46, -52, -49, -58])
HARMONICS_DB = np.array([-28.0, -32, -36, -38, -40, -42, -44, -46, -48])

Make = Callable[..., RecordingAnalysis]


def _spectrum(
    kind: PatternKind, rng: np.random.Generator, lines: Mapping[float, float]
) -> PatternSpectrum:
    """Noise of gathered lines (gamma law) about a flat floor, with lines of given amplitude."""
    size = round(HIGHEST.get(kind, 30.0) / ORDER_SPACING) - 4
    order = np.round((np.arange(size) + 5) * ORDER_SPACING, 2)
    power = FLOOR[kind] ** 2 * rng.gamma(N_AVERAGES, 1 / N_AVERAGES, size)
    for at, amplitude in lines.items():
        power[np.argmin(np.abs(order - at))] += amplitude**2
    return PatternSpectrum(
        kind=kind,
        unit="m/s2" if kind == "order-spectrum" else "1",
        order=order,
        amplitude=np.sqrt(power),
        floor=np.full(size, FLOOR[kind]),
        n_averages=N_AVERAGES,
        band_hz=None if kind == "order-spectrum" else (1000.0, 10_000.0),
    )


def pattern(
    seed: int,
    *,
    envelope: Mapping[float, float] | None = None,
    acceleration: Mapping[float, float] | None = None,
    bands_db: NDArray[np.float64] | None = None,
    harmonics_db: NDArray[np.float64] | None = None,
) -> PointPattern:
    """A pattern of a point: lines by order, levels of the half octaves."""
    rng = np.random.default_rng([seed, 61])
    ripple = rng.normal(0.0, 0.3, BANDS_DB.size)
    return PointPattern(
        spectra=(
            _spectrum("order-spectrum", rng, {1.0: 31.0, 2.0: 1.2, **(acceleration or {})}),
            _spectrum("envelope-spectrum", rng, {1.0: 0.5, **(envelope or {})}),
            _spectrum("whitened-envelope-spectrum", rng, {1.0: 0.3, **(envelope or {})}),
        ),
        harmonics_db=HARMONICS_DB if harmonics_db is None else harmonics_db,
        bands_centre_hz=BANDS_HZ,
        bands_db=(BANDS_DB if bands_db is None else bands_db) + ripple,
    )


def with_pattern(analysis: RecordingAnalysis, seed: int, **changes: Any) -> RecordingAnalysis:
    """The analysis with a pattern."""
    return replace(analysis, pattern=pattern(seed, **changes))


def baseline_of(
    make: Make,
    card: MachineCard,
    *,
    n: int = 3,
    facts: Sequence[dict[str, Any]] = ({},),
    patterns: dict[str, Any] | None = None,
    note: str = "",
) -> Baseline:
    """Baseline of ``n`` good recordings; ``facts`` of each in turn."""
    good = [
        with_pattern(
            make(
                **{
                    "number": 100 + place,
                    "stage": Stage.UNSTATED,
                    "start_time": DAY.replace(minute=place),
                    "temperature_c": 48.0,
                    "remarks": (("load", "empty"),),
                    **facts[place % len(facts)],
                }
            ),
            500 + place,
            **(patterns or {}),
        )
        for place in range(n)
    ]
    return build_baseline(good, card=card, made_at=DAY, accepted_by="E. Engineer", note=note)
