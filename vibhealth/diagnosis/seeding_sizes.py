"""Sizes of seeded defects: the worst resonance, and what is found there in 95 of 100 trials."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.seeding_bed import SeedBed
from vibhealth.diagnosis.seeding_trials import (
    Critical,
    Seeded,
    SlipRange,
    Train,
    critical_size,
    make_train,
    size_for_share,
)

__all__ = [
    "PROBABILITY",
    "RARELY_MASKED",
    "DetectableSize",
    "Trials",
    "detectable_size",
    "family_trials",
    "pooled_scatter",
    "worst_bed",
]

PROBABILITY = 0.95

# Trains of one family, and those among them whose first line is masked where that can happen.
N_TRAINS = 24
N_MASKED_TRAINS = 8
RARELY_MASKED = 0.005

# Trains by which the worst resonance is found.
N_PILOT_TRAINS = 3

SEED = 20240301


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectableSize:
    """The stated size of one family, or why there is none."""

    depth: float
    amplitude: float
    n_trials: int
    masked_share: float = 0.0
    place_percent: float = 0.0
    reason: str = ""

    @classmethod
    def none(cls, reason: str) -> "DetectableSize":
        """No size was tried."""
        return cls(depth=math.inf, amplitude=math.inf, n_trials=0, reason=reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draw:
    """So many trains, on masked lines or beside them, always the same ones for a key."""

    count: int
    masked: bool
    key: tuple[int, int]


def _trains(bed: SeedBed, seeded: Seeded, slips: SlipRange, draw: _Draw) -> list[Train]:
    return [
        make_train(
            bed,
            seeded,
            *slips.draw(number, masked=draw.masked),
            np.random.default_rng([SEED, *draw.key, int(draw.masked), number]),
        )
        for number in range(draw.count)
    ]


def worst_bed(
    beds: Sequence[SeedBed], families: Sequence[Seeded], half_slip: float
) -> tuple[SeedBed | None, float]:
    """The resonance at which strikes must be hardest, and how far above the trains' own start.

    Tried with the fastest family, whose strikes are most; how hard they must be depends on
    what the record has at the resonance, which all families share.
    """
    if not beds or not families:
        return (beds[0] if beds else None), 0.0
    seeded = max(families, key=lambda family: family.comb.strike_order)
    slips = SlipRange.about(seeded, half_slip)
    tried = []
    for number, bed in enumerate(beds):
        draw = _Draw(count=N_PILOT_TRAINS, masked=slips.masked_share == 1.0, key=(0, number))
        trains = _trains(bed, seeded, slips, draw)
        sizes = [critical_size(train, seeded.found).log_size for train in trains]
        over = [size - train.log_start for size, train in zip(sizes, trains, strict=True)]
        tried.append((float(np.median(sizes)), float(np.median(over))))
    worst = max(range(len(beds)), key=lambda number: tried[number][0])
    above = tried[worst][1]
    return beds[worst], above if math.isfinite(above) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Critical sizes of a family's trains, by kinds that occur with the given weights."""

    seeded: Seeded
    masked_share: float
    strata: tuple[tuple[float, tuple[Critical, ...]], ...]

    @property
    def most(self) -> NDArray[np.float64]:
        """Logarithms of the sizes of the kind that occurs most."""
        _, sizes = max(self.strata, key=lambda stratum: stratum[0])
        return np.array([each.log_size for each in sizes if math.isfinite(each.log_size)])


def family_trials(
    bed: SeedBed, seeded: Seeded, half_slip: float, log_ratio: float, number: int
) -> Trials:
    """Critical sizes of random trains of a family in one bed, the same ones for a number."""
    slips = SlipRange.about(seeded, half_slip)
    kinds = [
        (False, N_TRAINS, 1.0 - slips.masked_share),
        (True, N_MASKED_TRAINS, slips.masked_share),
    ]
    strata = []
    for masked, count, weight in kinds:
        if weight > RARELY_MASKED:
            trains = _trains(bed, seeded, slips, _Draw(count=count, masked=masked, key=(1, number)))
            strata.append((weight, _sizes(trains, seeded, log_ratio)))
    return Trials(seeded=seeded, masked_share=slips.masked_share, strata=tuple(strata))


def pooled_scatter(trials: Sequence[Trials]) -> float:
    """Standard deviation of the sizes about the mean of their own family.

    What scatters them (how much the cage walks, luck with the noise) is of one kind for all.
    """
    sizes = [family.most for family in trials if family.most.size >= 2]
    freedom = sum(one.size - 1 for one in sizes)
    square = sum(float(np.sum((one - one.mean()) ** 2)) for one in sizes)
    return math.sqrt(square / freedom) if freedom else 0.0


def detectable_size(trials: Trials, least_scatter: float) -> DetectableSize:
    """Size from which 95 of 100 trains of a family are found."""
    log_size = size_for_share(
        [(weight, [each.log_size for each in sizes]) for weight, sizes in trials.strata],
        PROBABILITY,
        least_scatter=least_scatter,
    )
    depth = amplitude = math.inf
    if math.isfinite(log_size):
        amplitude = math.exp(log_size)
        _, most = max(trials.strata, key=lambda stratum: stratum[0])
        depth = float(np.median([each.depth_at(log_size) for each in most]))
    seeded = trials.seeded
    return DetectableSize(
        depth=depth,
        amplitude=amplitude,
        n_trials=sum(len(sizes) for _, sizes in trials.strata),
        masked_share=trials.masked_share,
        place_percent=100.0 * (seeded.centre_order / seeded.comb.strike_order - 1.0),
        reason=""
        if math.isfinite(depth)
        else "too many trains were not found at any amplitude tried",
    )


def _sizes(trains: Sequence[Train], seeded: Seeded, log_ratio: float) -> tuple[Critical, ...]:
    """Critical sizes; each search starts from what the trains before it have taught."""
    sizes: list[Critical] = []
    above: list[float] = []
    for train in trains:
        start = train.log_start + (float(np.median(above)) if above else log_ratio)
        sizes.append(critical_size(train, seeded.found, log_start=start))
        if math.isfinite(sizes[-1].log_size):
            above.append(sizes[-1].log_size - train.log_start)
    return tuple(sizes)
