"""How hard one element must strike to be found: many random trains in one bed.

For every train the amplitude is sought from which it is found. Its logarithm scatters from
train to train nearly as a normal variable, so few trains give the amplitude that suffices for
a wanted share of all: ``mean + k s``, with the one-sided tolerance factor ``k`` of the normal
law, so that with a confidence of 90 % at least the share is found (``k sqrt(n)`` is a
quantile of the noncentral t law; G. J. Hahn and W. Q. Meeker, Statistical Intervals, 1991,
ch. 4, from memory). Trains whose first line falls on a masked line are drawn apart, since
they need far more, and count as often as such slips occur.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

from vibhealth.diagnosis.comb import Comb
from vibhealth.diagnosis.seeding import draw_strikes, strike_law
from vibhealth.diagnosis.seeding_bed import SeedBed, seed_lines
from vibhealth.diagnosis.seeding_reading import (
    DETECTORS,
    NEAR_LINES,
    Place,
    Reading,
    place_of,
    read_family,
)

__all__ = [
    "Critical",
    "Found",
    "Seeded",
    "SlipRange",
    "Train",
    "critical_size",
    "is_quiet",
    "make_train",
    "size_for_share",
    "tolerance_factor",
]

# Depth grows with the square of a weak seed's amplitude, less where it is deep: with this power about
# the watch size (measured with all elements: 1.1 to 1.9).
SLOPE = 1.4
SLOPE_RANGE = (0.7, 3.0)
LONGEST_STEP = 1.0
LARGEST_OVER_START = 7.0  # natural logarithm
N_EVALUATIONS = 9
NEAR_ENOUGH = 0.15
SMALLEST_LOG_GAP = -2.5

# With which the stated size suffices for at least the wanted share.
CONFIDENCE = 0.90

PLASTIC = 1.324717957244746


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What counts as found: evidence that is significant, and whitened depth of watch size.

    The evidence is what chance reaches in the recording without seeds.
    """

    evidence: float
    depth: float

    def log_gap(self, reading: Reading) -> float:
        """How far, in logarithms of the depth, a reading is above (below: negative) both limits."""
        tiny = 1e-9
        depth = math.log(max(reading.depth, tiny) / self.depth)
        evidence = 0.5 * math.log(max(reading.evidence, tiny) / self.evidence)
        return max(SMALLEST_LOG_GAP, min(depth, evidence))


@dataclass(frozen=True, slots=True, kw_only=True)
class Seeded:
    """The family that is seeded, and what of the search it meets."""

    comb: Comb
    centre_order: float
    masked: NDArray[np.bool_]
    widths: tuple[int, ...]
    order_spacing: float
    highest_line: int
    shaft_frequency_hz: float
    found: Found


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipRange:
    """Orders that a family may have, evenly likely; which of them fall on a masked line."""

    orders: NDArray[np.float64]
    is_masked: NDArray[np.bool_]

    @classmethod
    def about(cls, seeded: Seeded, half_width: float, *, n_orders: int = 2001) -> "SlipRange":
        """Orders within a share of the centre order, and whether their first line is masked."""
        orders = seeded.centre_order * (1.0 + half_width * np.linspace(-1.0, 1.0, n_orders))
        line = np.minimum(
            np.rint(orders / seeded.order_spacing).astype(np.int64), seeded.masked.size - 1
        )
        return cls(orders=orders, is_masked=seeded.masked[line])

    @property
    def masked_share(self) -> float:
        """Share of all orders."""
        return float(self.is_masked.mean())

    def draw(self, number: int, *, masked: bool) -> tuple[float, float]:
        """The number-th order of one kind, and a share of a second range, both spread evenly.

        Steps of the powers of 1 / 1.3247 (the real root of x^3 = x + 1) fill a square more
        evenly than chance does (a Kronecker sequence; the number is from memory).
        """
        orders = self.orders[self.is_masked == masked]
        first, second = (((number + 1) / PLASTIC**power) % 1.0 for power in (1, 2))
        return float(orders[int(first * orders.size)]), second


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """One random train in one bed: reads at any amplitude, and where to start from."""

    read: Callable[[float], Reading]
    log_start: float


def make_train(
    bed: SeedBed, seeded: Seeded, order: float, walk_share: float, rng: np.random.Generator
) -> Train:
    """Draw a train of an order for every block of the bed.

    Parameters
    ----------
    bed : SeedBed
        Where it is seeded.
    seeded : Seeded
        Which family.
    order : float
        Mean strikes per turn.
    walk_share : float
        How much the cage walks, see `draw_strikes`.
    rng : numpy.random.Generator
        Its strikes are drawn from it.

    Returns
    -------
    Train
    """
    law = strike_law(seeded.comb)
    drawn = [
        draw_strikes(
            law,
            order,
            shaft_frequency_hz=seeded.shaft_frequency_hz,
            duration_s=bed.duration_s,
            walk_share=walk_share,
            rng=rng,
        )
        for _ in bed.blocks
    ]
    seeds = [
        seed_lines(bed, block, strikes) for block, strikes in zip(bed.blocks, drawn, strict=True)
    ]
    place = _place(bed, seeded, order)
    square = float(np.mean([np.sum(strikes.strength**2) for strikes in drawn]))
    return Train(
        read=lambda amplitude: read_family(
            bed, seeds, amplitude, place, highest_line=seeded.highest_line
        ),
        log_start=0.5 * math.log(bed.start_power / max(square, 1e-9)),
    )


def _place(bed: SeedBed, seeded: Seeded, order: float) -> Place:
    return place_of(
        seeded.comb,
        order,
        order_spacing=seeded.order_spacing,
        masked=seeded.masked,
        widths=seeded.widths,
        n_spectra=len(bed.bands) * len(DETECTORS),
    )


def is_quiet(bed: SeedBed, seeded: Seeded, half_width: float) -> bool:
    """Whether nothing is found within a share of the centre order when nothing is seeded."""
    nothing = [np.zeros_like(block.lines) for block in bed.blocks]
    reach = half_width * seeded.centre_order
    step = 2 * NEAR_LINES * seeded.order_spacing
    orders = seeded.centre_order + np.arange(-reach, reach + step, step)
    return all(
        seeded.found.log_gap(
            read_family(
                bed,
                nothing,
                0.0,
                _place(bed, seeded, float(order)),
                highest_line=seeded.highest_line,
            )
        )
        < 0
        for order in orders
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Critical:
    """Amplitude from which a train is found, and the last depth that was read on the way.

    Both amplitudes are natural logarithms; ``log_size`` is infinite where no amplitude tried
    is found.
    """

    log_size: float
    log_read: float
    depth_read: float

    def depth_at(self, log_amplitude: float) -> float:
        """Depth at another amplitude nearby."""
        return self.depth_read * math.exp(SLOPE * (log_amplitude - self.log_read))


def critical_size(train: Train, found: Found, *, log_start: float | None = None) -> Critical:
    """Amplitude from which a train is found.

    Parameters
    ----------
    train : Train
        What is read at an amplitude.
    found : Found
        What counts as found.
    log_start : float, optional
        Where to begin; default the train's own start.

    Returns
    -------
    Critical
    """
    at = train.log_start if log_start is None else log_start
    top = train.log_start + LARGEST_OVER_START
    low, high, slope, size = -math.inf, math.inf, SLOPE, math.inf
    last = math.nan, math.nan
    for number in range(N_EVALUATIONS):
        reading = train.read(math.exp(at))
        gap = found.log_gap(reading)
        if number and at != last[0]:
            slope = min(max((gap - last[1]) / (at - last[0]), SLOPE_RANGE[0]), SLOPE_RANGE[1])
        last = at, gap
        low, high = (low, min(high, at)) if gap > 0 else (max(low, at), high)
        size = at - gap / slope if abs(gap) < NEAR_ENOUGH else 0.5 * (low + high)
        if abs(gap) < NEAR_ENOUGH or high - low < NEAR_ENOUGH / SLOPE or low >= top:
            break
        wanted = at + min(max(-gap / slope, -LONGEST_STEP), LONGEST_STEP)
        at = min(top, wanted if low < wanted < high else 0.5 * (low + high))
    return Critical(
        log_size=size if math.isfinite(size) else math.inf,
        log_read=last[0],
        depth_read=reading.depth,
    )


def tolerance_factor(n_values: int, share: float, *, confidence: float = CONFIDENCE) -> float:
    """Standard deviations above the mean below which at least a share of a normal law lies.

    Parameters
    ----------
    n_values : int
        From which mean and standard deviation are taken, at least 2.
    share : float
        Wanted, in (0, 1).
    confidence : float
        That at least the share is reached, in (0, 1).

    Returns
    -------
    float

    Examples
    --------
    >>> round(tolerance_factor(10, 0.95, confidence=0.95), 2)
    2.91
    """
    root = math.sqrt(n_values)
    shift = float(special.ndtri(share)) * root
    return float(stats.nct.ppf(confidence, n_values - 1, shift)) / root


def size_for_share(
    strata: Sequence[tuple[float, Sequence[float]]], share: float, *, least_scatter: float = 0.0
) -> float:
    """Logarithm of the amplitude from which at least a share of all trains is found.

    An upper bound, see `tolerance_factor`.

    Parameters
    ----------
    strata : sequence of (weight, sizes)
        How often a kind of train occurs (weights add up to 1), and the `critical_size` of at
        least three of it.
    share : float
        Wanted, in (0, 1).
    least_scatter : float
        Standard deviation that each kind has at least, where more than its own sizes tell it.

    Returns
    -------
    float
        Infinite where too many trains are not found at any amplitude.
    """
    laws = []
    for weight, sizes in strata:
        finite = np.array([size for size in sizes if math.isfinite(size)])
        if finite.size >= 3:
            own = max(float(finite.std(ddof=1)), least_scatter)
            error = tolerance_factor(finite.size, share) - float(special.ndtri(share))
            part = weight * finite.size / len(sizes)
            laws.append((part, float(finite.mean()), max(own, 1e-6), error))

    def reached(log_size: float) -> float:
        return sum(
            part * float(special.ndtr((log_size - mean) / scatter - error))
            for part, mean, scatter, error in laws
        )

    if not laws or sum(part for part, *_ in laws) <= share:
        return math.inf
    low = min(mean for _, mean, _, _ in laws)
    high = max(mean + 100.0 * scatter for _, mean, scatter, _ in laws)
    if reached(low) >= share:
        return low
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reached(middle) < share else (low, middle)
    return high if reached(high) >= share * (1 - 1e-9) else math.inf
