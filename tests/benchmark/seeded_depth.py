"""Is a defect of the stated detectable size found, in real healthy recordings?

Of every healthy recording (in pieces) the chain states per element the smallest depth and
impact that it would have found. Fresh defects of exactly that size, and of half of it, are
seeded into the same piece, at constant speed as the chain searches it, by a seeding of this
folder's own, and searched. An element that the piece itself shows is left out: its size is
stated beside its order.
"""

import os
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from tests.benchmark.counting import share
from tests.benchmark.machines import analyzed
from tests.benchmark.naming import is_found
from tests.benchmark.open_recordings import Row, card_of, healthy_pieces
from tests.benchmark.seeds import Bed, Train, amplitude_of_depth, strike_train, swing_order
from tests.benchmark.workers import run_trials
from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.analysis import Steady, analyze_recording, steady_samples
from vibhealth.diagnosis.first_look import first_look
from vibhealth.model import Element, Recording, RecordingAnalysis

__all__ = ["Seeding", "seeded_depth", "sizes_stated", "summarize"]

Target = Literal["depth", "impact"]

FACTORS = (1.0, 0.5)
SLIP_SHARE = 0.8  # of the slip that is searched, so that the jitter stays inside
SEED_BASE = 77_000_000  # far from any seed of the package


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A stated detectable size, and the amplitude of strikes that makes it."""

    piece: int
    file: str
    element: Element
    target: Target
    factor: float
    stated: float
    amplitude: float | None
    ring_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Seeding:
    """What became of one seeded defect."""

    size: Size
    seed: int
    found: bool
    significant: bool
    depth_read: float


@lru_cache(maxsize=8)
def steady_piece(index: int) -> Steady:
    """A piece at constant speed, as the chain searches it."""
    row, piece = _pieces()[index]
    card = card_of(row)
    look = first_look(
        piece, card=card, limits=card.limits, given_speed_rpm=None, say=lambda _step: None
    )
    steady = steady_samples(piece, look.track, is_exciter=False)
    if isinstance(steady, Steady):
        return steady
    msg = f"{row['file']} is not judged: {steady}"
    raise RuntimeError(msg)


@lru_cache(maxsize=1)
def _pieces() -> list[tuple[Row, Recording]]:
    folder = os.environ.get("VIBHEALTH_DATA")
    if folder is None:
        msg = "seeded-depth needs the open recordings: set VIBHEALTH_DATA to their folder"
        raise RuntimeError(msg)
    return list(healthy_pieces(Path(folder)))


def sizes_stated(task: tuple[int, float]) -> list[Size]:
    """Sizes of one piece, and the amplitudes that make them; the ring as a share of the band.

    0 is the low and 1 the high end of the card's bearing band, on a logarithmic scale.
    """
    index, ring_share = task
    row, piece = _pieces()[index]
    card = card_of(row)
    analysis = analyze_recording(piece, card=card)
    if analysis.families_not_judged:
        msg = f"{row['file']} is not judged: {analysis.families_not_judged}"
        raise RuntimeError(msg)
    low, high = card.analysis.bearing_band_hz
    high = min(high, 0.45 * piece.sampling_rate_hz)
    bed = _bed(index, float(low * (high / low) ** ring_share))
    return _sizes(index, row, bed, analysis)


def _bed(index: int, ring_hz: float) -> Bed:
    steady = steady_piece(index)
    return Bed(
        samples=steady.samples, rate_hz=steady.rate_hz, shaft_hz=steady.shaft_hz, ring_hz=ring_hz
    )


def _sizes(index: int, row: Row, bed: Bed, analysis: RecordingAnalysis) -> list[Size]:
    card = card_of(row)
    bearing = card.rolling_bearings()[0]
    limit = card.limits.value("family_false_alarm_probability")
    shown = {f.element for f in analysis.families if f.false_alarm_probability <= limit}
    sizes = []
    for finding in analysis.sensitivity:
        order = defect_orders(bearing).strike_order(finding.element)
        if order is None or finding.element in shown:
            continue
        train = Train(order=order, swing=swing_order(bearing, finding.element))
        stated: dict[Target, float | None] = {
            "depth": finding.detectable_depth,
            "impact": finding.detectable_impact_m_s2,
        }
        for target, value in stated.items():
            if value is None or not np.isfinite(value):
                continue
            for factor in FACTORS:
                rng = np.random.default_rng([SEED_BASE, index])
                amplitude = factor * value
                sizes.append(
                    Size(
                        piece=index,
                        file=row["file"],
                        element=finding.element,
                        target=target,
                        factor=factor,
                        stated=value,
                        amplitude=amplitude
                        if target == "impact"
                        else amplitude_of_depth(bed, train, factor * value, rng),
                        ring_hz=bed.ring_hz,
                    )
                )
    return sizes


def seeded(task: tuple[Size, int]) -> Seeding:
    """Seed one defect of a size and search it."""
    size, seed = task
    row, piece = _pieces()[size.piece]
    card = card_of(row)
    bearing = card.rolling_bearings()[0]
    rng = np.random.default_rng([SEED_BASE, seed, size.piece])
    order = defect_orders(bearing).strike_order(size.element)
    if order is None or size.amplitude is None:
        msg = "a size without order or amplitude cannot be seeded"
        raise ValueError(msg)
    slip = 0.01 * SLIP_SHARE * card.analysis.slip_percent * rng.uniform(-1, 1)
    bed = _bed(size.piece, size.ring_hz)
    train = Train(order=order * (1 + slip), swing=swing_order(bearing, size.element))
    report = analyzed(
        card,
        bed.samples + size.amplitude * strike_train(bed, train, rng),
        rate_hz=bed.rate_hz,
        shaft_hz=bed.shaft_hz,
        is_calibrated=piece.is_calibrated,
    )
    own = next(f for f in report.findings if f.element is size.element)
    limit = card.limits.value("family_false_alarm_probability")
    return Seeding(
        size=size,
        seed=seed,
        found=is_found(report.findings, size.element),
        significant=own.false_alarm_probability <= limit,
        depth_read=own.depth_whitened,
    )


def summarize(seedings: list[Seeding]) -> dict[str, Any]:
    """Share found per recording, target, factor and element, and pooled."""
    groups: dict[str, list[Seeding]] = {}
    for seeding in seedings:
        size = seeding.size
        head = f"{size.target} x {size.factor:g}"
        for name in (
            f"pooled: {head}",
            f"{size.file} {head}",
            f"{size.file} {head} {size.element.value}",
        ):
            groups.setdefault(name, []).append(seeding)
    return {name: _shares(group) for name, group in sorted(groups.items())}


def _shares(group: list[Seeding]) -> dict[str, Any]:
    return {
        "found": share(sum(seeding.found for seeding in group), len(group)),
        "significant": share(sum(seeding.significant for seeding in group), len(group)),
        "stated_median": round(float(np.median([s.size.stated for s in group])), 4),
        "depth_read_median": round(float(np.median([s.depth_read for s in group])), 4),
    }


def seeded_depth(
    *, trials: int = 200, first_seed: int = 1, workers: int = 2, ring_share: float = 0.5
) -> dict[str, Any]:
    """The campaign: ``trials`` per recording, target and factor, over its pieces and elements."""
    n_pieces = len(_pieces())
    per_piece = run_trials(
        sizes_stated, [(index, ring_share) for index in range(n_pieces)], workers=workers
    )
    sizes = [size for piece in per_piece for size in piece]
    unreachable = Counter(
        f"{size.file} {size.element.value}" for size in sizes if size.amplitude is None
    )
    groups: dict[tuple[str, Target, float], list[Size]] = {}
    for size in sizes:
        if size.amplitude is not None:
            groups.setdefault((size.file, size.target, size.factor), []).append(size)
    tasks = [
        (group[i % len(group)], first_seed + i) for group in groups.values() for i in range(trials)
    ]
    seedings = run_trials(seeded, tasks, workers=workers)
    return {
        "ring_share_of_band": ring_share,
        "pieces": n_pieces,
        "depths_that_no_amplitude_reaches": dict(unreachable),
        "shares": summarize(seedings),
    }
