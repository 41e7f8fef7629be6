"""Search all families in all bands at once; the null is measured beside them.

For every comb the evidence is scanned over a wide range of first-harmonic
orders, of which only the slip window about the bearing's own order is the
family; the rest are decoys, orders where no bearing line can be. The largest
evidence over all bands, detectors and line widths at each order gives both the
family's statistic and, from the decoys, the distribution it would have without
a fault. Lines explained by a family, with their shaft combinations, are masked
before that family's own null is measured and before the others are searched
again, so that a strong fault neither inflates its null nor appears twice.
"""

from collections.abc import Callable, Sequence
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
    harmonic_widths,
    shaft_lines,
    shaft_skirt,
)
from vibhealth.diagnosis.decoys import DecoyLaw
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import log_tail_bound
from vibhealth.diagnosis.explained import explained_lines
from vibhealth.diagnosis.pulse_shape import pulse_shape
from vibhealth.diagnosis.sizes import modulation_depth
from vibhealth.model import Element

__all__ = ["FoundFamily", "search_families"]

# Decoys are scanned from this to that multiple of the strike order (cage: see below).
DECOY_RANGE = (0.55, 1.45)
# A cage turns too slowly for that: its decoys lie between these orders.
CAGE_DECOY_ORDERS = (0.22, 3.5)

# Grid of orders: the last harmonic moves three quarters of a line per step.
STEPS_PER_LINE = 4

# Decoys closer than this share lines: three lines of the narrow combs.
DECOY_RUN_STEPS = 3 * STEPS_PER_LINE

# Of the logarithm of a bound that no decoys confirm this share counts: what strong families leave
# behind falls up to half as fast as stationary noise (mean excess 1.2 to 2.5, simulated).
UNMEASURED_SHARE = 0.5

# At most so many orders are scanned per comb: enough decoys for a tail, bounded work.
LARGEST_SCAN = 24_000


# Combs of at least this share of the leading one's evidence, whose orders differ from its order by
# a whole number within this tolerance, are one comb seen twice.
RIVAL_EVIDENCE = 0.2
SHIFT_TOLERANCE = 0.01

# Two combs at one order within this share of it are one family: it goes to the comb that needs the
# smaller slip, unless the other explains more than chance gives its additional side bands.
SAME_ORDER = 0.002
USUAL_SLIP = 0.007
CHANCE_PER_SIDE_BAND = 0.35


# A cage that strikes in pulses has lines everywhere, and a comb of many side bands gathers more of
# them than its own of three: it goes first if it has this share of the leading evidence. A ring's
# own lines are harmonics of the cage too (BPFO = Z FTF), so a leading ring must be nearer.
PULSE_EVIDENCE = 0.15
PULSE_EVIDENCE_BESIDE_RING = 0.35
PULSE_LEAST_EVIDENCE = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFamily:
    """Best evidence of one comb over the whole bank.

    ``band_evidence`` lists (evidence, envelope) of every squared-envelope spectrum at
    the found order. ``log_probability`` is the natural logarithm of the false-alarm
    probability corrected for all orders, bands, detectors and widths searched for
    this family (not yet for the number of families); ``theory`` and ``decoys`` are
    its two estimates, of which it is the larger.
    """

    comb: Comb
    order: float
    evidence: float
    width_lines: int
    envelope: EnvelopeOrders
    band_evidence: tuple[tuple[float, EnvelopeOrders], ...]
    log_probability: float
    log_probability_theory: float
    log_probability_decoys: float
    null: DecoyLaw
    n_orders: int

    def null_evidence(self, log_probability: float) -> float:
        """Evidence at which the decoys reach a (corrected) log probability."""
        return self.null.evidence_at(log_probability, self.n_orders)

    @property
    def slip(self) -> float:
        """Deviation of the found from the kinematic order, as a share."""
        return self.order / self.comb.strike_order - 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scan:
    """Largest evidence over the bank at each order, and where it was found."""

    lines: CombLines
    evidence: NDArray[np.float64]
    where: NDArray[np.int64]  # envelope number * len(WIDTHS) + width number


def _decoy_orders(comb: Comb, order_spacing: float, slip: float) -> NDArray[np.float64]:
    centre = comb.strike_order
    step = order_spacing / STEPS_PER_LINE
    if comb.element is Element.CAGE:
        low, high = CAGE_DECOY_ORDERS
        return np.arange(low, min(high, low + LARGEST_SCAN * step), step)
    reach = min(0.5 * (DECOY_RANGE[1] - DECOY_RANGE[0]) * centre, 0.5 * LARGEST_SCAN * step)
    reach = max(reach, 4 * slip * centre + 10 * step)
    return np.arange(centre - reach, centre + reach, step)


class _Bank:
    """All envelope spectra of one record and the masks in force."""

    def __init__(self, envelopes: Sequence[EnvelopeOrders], combs: Sequence[Comb], slip: float):
        self.envelopes = list(envelopes)
        self.combs = list(combs)
        self.slip = slip
        self.spacing = self.envelopes[0].order_spacing
        self.n_lines = max(e.depth_power.shape[-1] for e in self.envelopes)
        self.order = np.arange(self.n_lines) * self.spacing
        self.shaft = shaft_lines(
            self.order,
            self.spacing,
            whole_half_width=shaft_skirt(self.envelopes, offset=0.0),
            half_half_width=shaft_skirt(self.envelopes, offset=0.5),
        )
        self.lines = {
            comb.key: comb_lines(
                _decoy_orders(comb, self.spacing, slip),
                comb.spacings,
                order_spacing=self.spacing,
                n_lines=self.n_lines,
            )
            for comb in self.combs
        }

    def scan(
        self, combs: Sequence[Comb], masked: NDArray[np.bool_]
    ) -> dict[tuple[str, str], _Scan]:
        """Largest evidence of each comb at each order of its range.

        A comb whose first centre line is masked has none: what is left of it would be
        lines of the family that explains the first.
        """
        hidden = {comb.key: masked[self.lines[comb.key].centre[0]] for comb in combs}
        best = {comb.key: np.full(self.lines[comb.key].orders.shape, -1.0) for comb in combs}
        where = {comb.key: np.zeros(best[comb.key].shape, dtype=np.int64) for comb in combs}
        for number, envelope in enumerate(self.envelopes):
            for position, width in enumerate(self.widths()):
                arrays = self.padded(envelope, width, masked)
                for comb in combs:
                    evidence = comb_evidence(arrays, self.lines[comb.key])
                    evidence[hidden[comb.key]] = 0.0
                    better = evidence > best[comb.key]
                    best[comb.key][better] = evidence[better]
                    where[comb.key][better] = number * len(WIDTHS) + position
        return {
            comb.key: _Scan(
                lines=self.lines[comb.key], evidence=best[comb.key], where=where[comb.key]
            )
            for comb in combs
        }

    def widths(self) -> tuple[int, ...]:
        """Widths that stay well inside the slip window of the slowest family."""
        fast = [comb.strike_order for comb in self.combs if comb.strike_order > 1.5]
        slowest = min(fast, default=1.5)
        return tuple(
            width for width in WIDTHS if width == 1 or width * self.spacing <= 0.01 * slowest
        )

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


def _log_theory(  # noqa: PLR0913, PLR0917 (what was found, and the law it is compared with)
    bank: _Bank, comb: Comb, evidence: float, width: int, law: DecoyLaw, n_orders: int
) -> float:
    """Chernoff's tail for independent exponential lines, hung up at the decoys' threshold.

    How often the bank reaches the threshold at all is measured; how fast it falls from there
    on is what stationary noise would do. Where there are no decoys to measure it with, the
    bound's square root is taken times all places searched.
    """
    counts = _line_counts(bank, comb, width)
    if not law.is_usable:
        bound = UNMEASURED_SHARE * log_tail_bound(evidence, counts)
        return min(0.0, bound + _log_places(bank, n_orders))
    at_threshold = law.log_probability(law.threshold, n_orders)
    if evidence <= law.threshold:
        return law.log_probability(evidence, n_orders)
    fall = log_tail_bound(evidence, counts) - log_tail_bound(law.threshold, counts)
    return min(0.0, at_threshold + fall)


def _line_counts(bank: _Bank, comb: Comb, width: int) -> list[int]:
    """Averaged values behind each line of a comb."""
    n_averages = bank.envelopes[0].n_averages
    widths = harmonic_widths(width)
    sides = [widths[position] for position, _ in bank.lines[comb.key].sides]
    return [count * n_averages for count in (*widths, *sides)]


def _log_bound(bank: _Bank, family: FoundFamily, n_orders: int) -> float:
    """Chernoff's bound times all places searched: true of stationary noise whatever the decoys."""
    counts = _line_counts(bank, family.comb, family.width_lines)
    return log_tail_bound(family.evidence, counts) + _log_places(bank, n_orders)


def _log_places(bank: _Bank, n_orders: int) -> float:
    """Logarithm of the number of places searched for one family: orders, spectra, widths."""
    independent = max(1.0, 2.0 * n_orders / STEPS_PER_LINE)
    return float(np.log(independent * len(bank.envelopes) * len(bank.widths())))


def _mirrors(family: FoundFamily) -> tuple[float, ...]:
    """The cage's other line, at one minus the found one."""
    if family.comb.element is not Element.CAGE or family.order >= 1.0:
        return ()
    return (1.0 - family.order,)


def _band_evidence(
    bank: _Bank, comb: Comb, at: int, width: int, masked: NDArray[np.bool_]
) -> tuple[tuple[float, EnvelopeOrders], ...]:
    lines = bank.lines[comb.key]
    one = CombLines(
        orders=lines.orders[at : at + 1],
        centre=tuple(row[at : at + 1] for row in lines.centre),
        sides=tuple((position, row[at : at + 1]) for position, row in lines.sides),
    )
    return tuple(
        (float(comb_evidence(bank.padded(envelope, width, masked), one)[0]), envelope)
        for envelope in bank.envelopes
        if envelope.detector == "squared"
    )


def _best(scan: _Scan, inside: NDArray[np.bool_]) -> int:
    return int(np.flatnonzero(inside)[np.argmax(scan.evidence[inside])])


def _strongest(
    bank: _Bank, scans: dict[tuple[str, str], _Scan], places: Sequence["_Place"]
) -> "_Place":
    """The comb of most evidence; of combs that are one comb shifted by whole orders, the deepest.

    A family's side band can lie in another's slip window, and its comb is then the
    family's own, seen from a side band: the centre lines are the deeper ones.
    """

    def order(place: _Place) -> float:
        return float(scans[place.comb.key].lines.orders[place.at])

    def evidence(place: _Place) -> float:
        return float(scans[place.comb.key].evidence[place.at])

    pulses = [place for place in places if _is_pulse_train(bank, scans, place)]
    leader = max(places, key=evidence)
    first = max(pulses, key=evidence, default=leader)
    rings = {Element.OUTER_RING, Element.INNER_RING}
    share = PULSE_EVIDENCE_BESIDE_RING if leader.comb.element in rings else PULSE_EVIDENCE
    if evidence(first) >= share * evidence(leader) and first is not leader:
        return first
    leader = max(
        (place for place in places if abs(order(place) / order(leader) - 1) <= SAME_ORDER),
        key=lambda place: evidence(place) - _handicap(bank, place, order(place)),
    )
    rivals = [
        place
        for place in places
        if place is leader
        or (
            evidence(place) >= RIVAL_EVIDENCE * evidence(leader)
            and _is_shifted(order(place) - order(leader))
        )
    ]
    if len(rivals) == 1:
        return leader
    seen_in = [divmod(int(scans[place.comb.key].where[place.at]), len(WIDTHS)) for place in rivals]
    return max(
        rivals,
        key=lambda place: sum(
            modulation_depth(bank.envelopes[number], order(place), bank.widths()[position])
            for number, position in seen_in
        ),
    )


def _handicap(bank: _Bank, place: "_Place", order: float) -> float:
    """What a comb gains by chance from its side bands, and loses by an unusual slip, in nepers."""
    slip = order / place.comb.strike_order - 1.0
    n_sides = len(bank.lines[place.comb.key].sides)
    return CHANCE_PER_SIDE_BAND * n_sides + 0.5 * (slip / USUAL_SLIP) ** 2


def _is_pulse_train(bank: _Bank, scans: dict[tuple[str, str], _Scan], place: "_Place") -> bool:
    """Whether a cage comb belongs to short pulses: then every comb that meets its lines is its."""
    if place.comb.element is not Element.CAGE:
        return False
    scan = scans[place.comb.key]
    if scan.evidence[place.at] < PULSE_LEAST_EVIDENCE:
        return False
    number, position = divmod(int(scan.where[place.at]), len(WIDTHS))
    order = float(scan.lines.orders[place.at])
    return pulse_shape(bank.envelopes[number], order, bank.widths()[position]).is_sharp


def _is_shifted(difference: float) -> bool:
    whole = round(difference)
    return whole != 0 and abs(difference - whole) <= SHIFT_TOLERANCE


def search_families(
    envelopes: Sequence[EnvelopeOrders],
    combs: Sequence[Comb],
    *,
    slip: float,
    significance: float,
    windows: Callable[[Comb, Sequence[FoundFamily]], tuple[float, float]] | None = None,
) -> tuple[FoundFamily, ...]:
    """Find the families in a bank of whitened envelope spectra, strongest first.

    Parameters
    ----------
    envelopes : sequence of EnvelopeOrders
        All with the same order spacing.
    combs : sequence of Comb
        Families to search.
    slip : float
        Half width of the slip window as a share of the order.
    significance : float
        False-alarm probability (corrected for all families) below which a family's
        lines are taken as explained and masked for the others.
    windows : callable, optional
        Given a comb and the families found so far, the centre order and half width
        (share) to search; default the comb's strike order and ``slip``.

    Returns
    -------
    tuple of FoundFamily
        One per comb, in the order in which they were explained.
    """
    if not envelopes or not combs:
        return ()
    bank = _Bank(envelopes, combs, slip)
    masked = bank.shaft.copy()
    remaining = list(combs)
    found: list[FoundFamily] = []
    explained: list[FoundFamily] = []
    scans = bank.scan(remaining, masked)
    while remaining:
        places = []
        for comb in remaining:
            centre, half = (
                windows(comb, explained) if windows is not None else (comb.strike_order, slip)
            )
            inside = bank.window(comb, centre, half)
            places.append(_Place(comb=comb, at=_best(scans[comb.key], inside), inside=inside))
        place = _strongest(bank, scans, places)
        family = _judge(bank, place, scans, scans, masked, masked)
        if _log_bound(bank, family, place.n_orders) < np.log(significance / len(combs)):
            # Worth a null of its own: measured where its own lines are masked.
            masked_now = masked | explained_lines(
                bank.order,
                family.order,
                order_spacing=bank.spacing,
                width_lines=family.width_lines,
                side_bands=[band.spacing_order for band in place.comb.spacings],
                mirrors=_mirrors(family),
            )
            scans_now = bank.scan(remaining, masked_now)
            family = _judge(bank, place, scans, scans_now, masked, masked_now)
            if np.exp(family.log_probability) * len(combs) < significance:
                explained.append(family)
                masked, scans = masked_now, scans_now
        found.append(family)
        remaining.remove(place.comb)
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a comb's best evidence lies: position in its scan, orders in its window."""

    comb: Comb
    at: int
    inside: NDArray[np.bool_]

    @property
    def n_orders(self) -> int:
        """Orders in the window."""
        return int(self.inside.sum())


def _judge(  # noqa: PLR0913, PLR0917 (the search's state, before and after masking)
    bank: _Bank,
    place: _Place,
    scans: dict[tuple[str, str], _Scan],
    null_scans: dict[tuple[str, str], _Scan],
    masked: NDArray[np.bool_],
    null_masked: NDArray[np.bool_],
) -> FoundFamily:
    """The family at one order, with its probability against the null that is given."""
    comb, at = place.comb, place.at
    scan, null = scans[comb.key], null_scans[comb.key]
    evidence = float(scan.evidence[at])
    number, position = divmod(int(scan.where[at]), len(WIDTHS))
    width = bank.widths()[position]
    # A decoy counts where its centre lines are not masked; the family's own window never does.
    decoy = np.abs(null.lines.orders / comb.strike_order - 1.0) > 2 * bank.slip
    for index in null.lines.centre:
        decoy &= ~null_masked[index] & (index > 0)
    measured = DecoyLaw.measured(null.evidence, decoy, run_length=DECOY_RUN_STEPS)
    theory = _log_theory(bank, comb, evidence, width, measured, place.n_orders)
    decoys = measured.log_probability(evidence, place.n_orders) if measured.is_usable else theory
    return FoundFamily(
        comb=comb,
        order=float(scan.lines.orders[at]),
        evidence=evidence,
        width_lines=width,
        envelope=bank.envelopes[number],
        band_evidence=_band_evidence(bank, comb, at, width, masked),
        log_probability=max(theory, decoys),
        log_probability_theory=theory,
        log_probability_decoys=decoys,
        null=measured,
        n_orders=place.n_orders,
    )
