"""Combs of lines: where a family's lines lie, and how much evidence they carry."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import SideBand, defect_orders, side_bands
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import line_evidence
from vibhealth.model import Element, RollingBearing

__all__ = [
    "HARMONICS",
    "WIDTHS",
    "Comb",
    "CombLines",
    "bearing_combs",
    "comb_evidence",
    "comb_lines",
    "evidence_arrays",
    "harmonic_widths",
    "measured_shaft_lines",
    "searched_widths",
    "shaft_lines",
    "shaft_skirt",
]

HARMONICS = (1, 2, 3)

# Lines averaged about the first harmonic; the n-th gets n times as many, since a wander of
# the cage moves it n times as far. Three resolutions are tried.
WIDTHS = (1, 3, 9)

# Side bands on each side of a centre line that are searched.
SIDE_BAND_REACH = 1

# The strongest line of a comb counts at most this much alone, and this many times the rest.
SINGLE_LINE_ALLOWANCE = 15.0
SINGLE_LINE_FACTOR = 4.0

# Whole and half orders belong to the shaft: at least so many lines, and this share of the order (the
# uncertainty of the speed), on each side are no evidence. Where the speed wanders, or a strong
# motion leaks, the lines beside them are raised too: as far as their mean over all whole (or half)
# orders and bands exceeds the floor this many times, but at most this share of an order.
SHAFT_LINE_HALF_WIDTH = 2.5
SHAFT_LINE_SHARE = 3e-4
RAISED = 1.15
WIDEST_SKIRT_LINES = 40
WIDEST_SKIRT_ORDERS = 0.025


@dataclass(frozen=True, slots=True, kw_only=True)
class Comb:
    """A family to search: first centre line, spacings of its side bands."""

    bearing: str
    element: Element
    strike_order: float
    spacings: tuple[SideBand, ...]

    @property
    def key(self) -> tuple[str, Element]:
        """What names the family."""
        return self.bearing, self.element


def bearing_combs(bearings: Sequence[RollingBearing]) -> tuple[Comb, ...]:
    """The combs of all elements of all bearings that have an order.

    A cage defect modulates what is there: its comb is centred on the cage's own
    strongest spacing (FTF under a stationary load, 1 - FTF under a turning one).
    """
    combs = []
    for bearing in bearings:
        orders = defect_orders(bearing)
        for element in Element:
            strike = orders.strike_order(element)
            spacings = side_bands(bearing, element)
            if strike is None:
                continue
            if element is Element.CAGE:
                moving = [s for s in spacings if abs(s.spacing_order - 1.0) > 1e-9]
                strike = moving[0].spacing_order if moving else strike
                spacings = ()
            combs.append(
                Comb(
                    bearing=bearing.name,
                    element=element,
                    strike_order=strike,
                    spacings=spacings,
                )
            )
    return tuple(combs)


def harmonic_widths(width_lines: int) -> tuple[int, ...]:
    """Odd number of averaged lines for each harmonic.

    >>> harmonic_widths(3)
    (3, 7, 9)
    """
    return tuple(1 if width_lines == 1 else (width_lines * h) | 1 for h in HARMONICS)


def searched_widths(combs: Sequence[Comb], order_spacing: float) -> tuple[int, ...]:
    """Widths that stay well inside the slip window of the slowest family but the cage's.

    Parameters
    ----------
    combs : sequence of Comb
        All that are searched.
    order_spacing : float
        Distance of two lines in orders.
    """
    slowest = min((c.strike_order for c in combs if c.strike_order > 1.5), default=1.5)
    return tuple(width for width in WIDTHS if width == 1 or width * order_spacing <= 0.01 * slowest)


def shaft_skirt(envelopes: Sequence[EnvelopeOrders], *, offset: float) -> float:
    """Lines beside the shaft's own that are raised on average, as a half width in lines.

    Parameters
    ----------
    envelopes : sequence of EnvelopeOrders
        Bank with one order spacing.
    offset : float
        0 for whole orders, 0.5 for the half orders between them.

    Returns
    -------
    float
        At least `SHAFT_LINE_HALF_WIDTH`, at most `WIDEST_SKIRT_LINES` or
        `WIDEST_SKIRT_ORDERS`.
    """
    spacing = envelopes[0].order_spacing
    reach = min(WIDEST_SKIRT_LINES, int(WIDEST_SKIRT_ORDERS / spacing))
    if reach <= SHAFT_LINE_HALF_WIDTH:
        return SHAFT_LINE_HALF_WIDTH
    away = np.arange(-reach, reach + 1)
    profiles = []
    for envelope in envelopes:
        centres = np.arange(1.0 - offset, envelope.order[-1] - 2 * WIDEST_SKIRT_ORDERS, 1.0)
        numbers = np.rint(centres / spacing).astype(np.int64)
        numbers = numbers[numbers > reach]
        # A family may sit beside every second or third order: the quieter half of them counts.
        near = np.sort(envelope.power[numbers[:, np.newaxis] + away], axis=0)
        if near.shape[0]:
            profiles.append(near[: (near.shape[0] + 1) // 2].mean(axis=0))
    if not profiles:
        return SHAFT_LINE_HALF_WIDTH
    profile = np.mean(profiles, axis=0)
    # Far from the shaft's lines the same trimmed mean shows what no skirt reads.
    profile /= np.median(np.concatenate([profile[:3], profile[-3:]]))
    folded = np.maximum(profile[reach:], profile[reach::-1])
    low = np.flatnonzero(folded[1:] < RAISED)
    first = int(low[0]) if low.size else reach
    return max(SHAFT_LINE_HALF_WIDTH, float(first) + 0.5)


def shaft_lines(
    order: NDArray[np.float64],
    order_spacing: float,
    *,
    whole_half_width: float = SHAFT_LINE_HALF_WIDTH,
    half_half_width: float = SHAFT_LINE_HALF_WIDTH,
) -> NDArray[np.bool_]:
    """Lines that belong to whole or half shaft orders, or lie below a fifth of an order.

    Parameters
    ----------
    order : ndarray
        Orders of the lines.
    order_spacing : float
        Their distance.
    whole_half_width, half_half_width : float
        Half widths in lines about whole and about half orders; see `shaft_skirt`.
    """
    near = order < 0.2
    for offset, width in ((0.0, whole_half_width), (0.5, half_half_width)):
        distance = np.abs(order - offset - np.rint(order - offset))
        near |= distance <= width * order_spacing + SHAFT_LINE_SHARE * order
    return near


def measured_shaft_lines(
    envelopes: Sequence[EnvelopeOrders], order: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Lines that belong to the shaft in a bank, as wide as they are raised there.

    Parameters
    ----------
    envelopes : sequence of EnvelopeOrders
        Bank with one order spacing.
    order : ndarray
        Orders of the lines that are asked for.
    """
    return shaft_lines(
        order,
        envelopes[0].order_spacing,
        whole_half_width=shaft_skirt(envelopes, offset=0.0),
        half_half_width=shaft_skirt(envelopes, offset=0.5),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CombLines:
    """Line numbers of combs at many first-harmonic orders, computed once per grid.

    ``centre`` has one row per harmonic; ``sides`` holds (harmonic index, row of
    line numbers) for every side band. Number 0, which never carries evidence,
    stands for a line outside the spectrum.
    """

    orders: NDArray[np.float64]
    centre: tuple[NDArray[np.int64], ...]
    sides: tuple[tuple[int, NDArray[np.int64]], ...]


def comb_lines(
    orders: NDArray[np.float64],
    spacings: Sequence[SideBand],
    *,
    order_spacing: float,
    n_lines: int,
) -> CombLines:
    """Line numbers of the centre lines and side bands of combs at ``orders``."""

    def numbers(at: NDArray[np.float64]) -> NDArray[np.int64]:
        index = np.rint(np.abs(at) / order_spacing).astype(np.int64)
        index[index >= n_lines] = 0
        return index

    sides = [
        (position, numbers(harmonic * orders + sign * reach * band.spacing_order))
        for position, harmonic in enumerate(HARMONICS)
        for band in spacings
        for reach in range(1, SIDE_BAND_REACH + 1)
        for sign in (-1, 1)
    ]
    centre = tuple(numbers(harmonic * orders) for harmonic in HARMONICS)
    return CombLines(orders=orders, centre=centre, sides=tuple(sides))


def comb_evidence(
    evidence_by_harmonic: Sequence[NDArray[np.float64]], lines: CombLines
) -> NDArray[np.float64]:
    """Evidence of combs at all orders of ``lines`` in one envelope spectrum.

    The sum of `line_evidence` over the three centre lines and the side bands,
    with two caps that only ever lower it: side bands count at most as much as the
    centre lines, and the strongest centre line counts at most
    `SINGLE_LINE_ALLOWANCE` plus `SINGLE_LINE_FACTOR` times all the other lines,
    because a single line that happens to lie in the slip range is no family.

    Parameters
    ----------
    evidence_by_harmonic : sequence of ndarray
        For each harmonic the evidence of every line at its width; masked lines 0.
    lines : CombLines
        Line numbers of the combs, on the same grid as the evidence.

    Returns
    -------
    ndarray, shape of ``lines.orders``
    """
    rows = [
        evidence.take(index)
        for evidence, index in zip(evidence_by_harmonic, lines.centre, strict=True)
    ]
    centre, strongest = reduce(np.add, rows), reduce(np.maximum, rows)
    sides = np.zeros_like(centre)
    for position, index in lines.sides:
        sides += evidence_by_harmonic[position].take(index)
    np.minimum(sides, centre, out=sides)
    others = centre - strongest + sides
    allowed = SINGLE_LINE_ALLOWANCE + SINGLE_LINE_FACTOR * others
    capped: NDArray[np.float64] = others + np.minimum(strongest, allowed)
    return capped


def evidence_arrays(
    envelope: EnvelopeOrders, width_lines: int, masked: NDArray[np.bool_]
) -> list[NDArray[np.float64]]:
    """`line_evidence` of an envelope spectrum for each harmonic, masked lines set to 0."""
    power = np.where(masked, 0.0, envelope.power)
    arrays: dict[int, NDArray[np.float64]] = {}
    for width in harmonic_widths(width_lines):
        if width not in arrays:
            values = line_evidence(power, width_lines=width, n_averages=envelope.n_averages)
            values[masked] = 0.0
            values[0] = 0.0
            arrays[width] = values
    return [arrays[width] for width in harmonic_widths(width_lines)]
