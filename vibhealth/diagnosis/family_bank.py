"""The bank of envelope spectra of one record, scanned with combs over a grid of orders."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import (
    WIDTHS,
    Comb,
    CombLines,
    comb_evidence,
    comb_lines,
    evidence_arrays,
    measured_shaft_lines,
    searched_widths,
)
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.model import Element

__all__ = ["STEPS_PER_LINE", "Bank", "Place", "Scan", "decoy_orders"]

# Decoys are scanned from this to that multiple of the strike order (cage: see below).
DECOY_RANGE = (0.55, 1.45)
# A cage turns too slowly for that: its decoys lie between these orders.
CAGE_DECOY_ORDERS = (0.22, 3.5)

# Grid of orders: the last harmonic moves three quarters of a line per step.
STEPS_PER_LINE = 4

# At most so many orders are scanned per comb: enough decoys for a tail, bounded work.
LARGEST_SCAN = 24_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """Largest evidence over the bank at each order, and where it was found."""

    lines: CombLines
    evidence: NDArray[np.float64]
    where: NDArray[np.int64]  # envelope number * len(WIDTHS) + width number


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a comb's best evidence lies in its window, and what it was seen in.

    ``at`` is the position in the comb's scan, ``n_orders`` the number of orders in the window.
    """

    comb: Comb
    at: int
    n_orders: int
    order: float
    evidence: float
    envelope: EnvelopeOrders
    width_lines: int


def decoy_orders(comb: Comb, order_spacing: float, slip: float) -> NDArray[np.float64]:
    """Grid of first-harmonic orders over which a comb is scanned."""
    centre = comb.strike_order
    step = order_spacing / STEPS_PER_LINE
    if comb.element is Element.CAGE:
        low, high = CAGE_DECOY_ORDERS
        return np.arange(low, min(high, low + LARGEST_SCAN * step), step)
    reach = min(0.5 * (DECOY_RANGE[1] - DECOY_RANGE[0]) * centre, 0.5 * LARGEST_SCAN * step)
    reach = max(reach, 4 * slip * centre + 10 * step)
    return np.arange(centre - reach, centre + reach, step)


class Bank:
    """All envelope spectra of one record and the masks in force."""

    def __init__(self, envelopes: Sequence[EnvelopeOrders], combs: Sequence[Comb], slip: float):
        self.envelopes = list(envelopes)
        self.combs = list(combs)
        self.slip = slip
        self.spacing = self.envelopes[0].order_spacing
        self.n_lines = max(e.depth_power.shape[-1] for e in self.envelopes)
        self.order = np.arange(self.n_lines) * self.spacing
        self.shaft = measured_shaft_lines(self.envelopes, self.order)
        self.widths = searched_widths(self.combs, self.spacing)
        self.lines = {
            comb.key: comb_lines(
                decoy_orders(comb, self.spacing, slip),
                comb.spacings,
                order_spacing=self.spacing,
                n_lines=self.n_lines,
            )
            for comb in self.combs
        }

    def scan(self, combs: Sequence[Comb], masked: NDArray[np.bool_]) -> dict[tuple[str, str], Scan]:
        """Largest evidence of each comb at each order of its range.

        A comb whose first centre line is masked has none: what is left of it would be
        lines of the family that explains the first.
        """
        hidden = {comb.key: masked[self.lines[comb.key].centre[0]] for comb in combs}
        best = {comb.key: np.full(self.lines[comb.key].orders.shape, -1.0) for comb in combs}
        where = {comb.key: np.zeros(best[comb.key].shape, dtype=np.int64) for comb in combs}
        for number, envelope in enumerate(self.envelopes):
            for position, width in enumerate(self.widths):
                arrays = self.padded(envelope, width, masked)
                for comb in combs:
                    evidence = comb_evidence(arrays, self.lines[comb.key])
                    evidence[hidden[comb.key]] = 0.0
                    better = evidence > best[comb.key]
                    best[comb.key][better] = evidence[better]
                    where[comb.key][better] = number * len(WIDTHS) + position
        return {
            comb.key: Scan(
                lines=self.lines[comb.key], evidence=best[comb.key], where=where[comb.key]
            )
            for comb in combs
        }

    def padded(
        self, envelope: EnvelopeOrders, width: int, masked: NDArray[np.bool_]
    ) -> list[NDArray[np.float64]]:
        """Evidence arrays, extended by zeros to the longest spectrum of the bank."""
        n_lines = envelope.depth_power.shape[-1]
        arrays = evidence_arrays(envelope, width, masked[:n_lines])
        missing = self.n_lines - n_lines
        return [np.pad(array, (0, missing)) for array in arrays] if missing else arrays

    def window(self, comb: Comb, centre: float, slip: float) -> NDArray[np.bool_]:
        """Orders of the comb's scan inside the slip window."""
        orders = self.lines[comb.key].orders
        inside: NDArray[np.bool_] = np.abs(orders / centre - 1.0) <= slip
        if not inside.any():
            inside[np.argmin(np.abs(orders - centre))] = True
        return inside

    def place(self, comb: Comb, scan: Scan, inside: NDArray[np.bool_]) -> Place:
        """The best evidence of a scan inside a window."""
        at = int(np.flatnonzero(inside)[np.argmax(scan.evidence[inside])])
        number, position = divmod(int(scan.where[at]), len(WIDTHS))
        return Place(
            comb=comb,
            at=at,
            n_orders=int(inside.sum()),
            order=float(scan.lines.orders[at]),
            evidence=float(scan.evidence[at]),
            envelope=self.envelopes[number],
            width_lines=self.widths[position],
        )
