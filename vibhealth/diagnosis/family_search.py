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

from vibhealth.diagnosis.comb import Comb, CombLines, comb_evidence, harmonic_widths
from vibhealth.diagnosis.decoys import DecoyLaw
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import log_tail_bound
from vibhealth.diagnosis.explained import family_lines
from vibhealth.diagnosis.family_bank import STEPS_PER_LINE, Bank, Place, Scan
from vibhealth.diagnosis.family_leader import leading_place

__all__ = ["FoundFamily", "beside_others", "search_families"]

# Decoys closer than this share lines: three lines of the narrow combs.
DECOY_RUN_STEPS = 3 * STEPS_PER_LINE

# At most this share of all lines is masked where chance is measured beside several families.
LARGEST_MASKED_FOR_NULL = 0.6

# Of the logarithm of a bound that no decoys confirm this share counts: what strong families leave
# behind falls up to half as fast as stationary noise (mean excess 1.2 to 2.5, simulated).
UNMEASURED_SHARE = 0.5


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

    def null_evidence(self, log_probability: float, *, confidence: float | None = None) -> float:
        """Evidence at which the decoys reach a (corrected) log probability; see `DecoyLaw`."""
        return self.null.evidence_at(log_probability, self.n_orders, confidence=confidence)

    @property
    def slip(self) -> float:
        """Deviation of the found from the kinematic order, as a share."""
        return self.order / self.comb.strike_order - 1.0


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
    bank = Bank(envelopes, combs, slip)
    masked = bank.shaft.copy()
    remaining = list(combs)
    found: list[FoundFamily] = []
    explained: list[FoundFamily] = []
    scans = bank.scan(remaining, masked)

    def is_shown(family: FoundFamily) -> bool:
        return bool(np.exp(family.log_probability) * len(combs) < significance)

    while remaining:
        places = []
        for comb in remaining:
            centre, half = (
                windows(comb, explained) if windows is not None else (comb.strike_order, slip)
            )
            inside = bank.window(comb, centre, half)
            places.append(bank.place(comb, scans[comb.key], inside))
        place = leading_place(bank, places)
        own_masked, own_scans = masked, scans
        is_worth_a_null = _is_candidate(bank, place, significance)
        if is_worth_a_null:
            # Measured where its own lines are masked.
            own_masked = masked | _lines(bank, place)
            own_scans = bank.scan(remaining, own_masked)
        family = _judge(bank, place, own_scans[place.comb.key], masked, own_masked)
        if is_worth_a_null and not is_shown(family) and not explained:
            # What a family that was explained leaves behind could pass for two others.
            others = [p for p in places if p is not place and _is_candidate(bank, p, significance)]
            family = beside_others(bank, place, others, masked, is_shown) or family
        if is_worth_a_null and is_shown(family):
            explained.append(family)
            masked, scans = own_masked, own_scans
        found.append(family)
        remaining.remove(place.comb)
    return tuple(found)


def _lines(bank: Bank, place: Place) -> NDArray[np.bool_]:
    """What a comb at its place explains."""
    return family_lines(
        bank.order,
        place.comb,
        place.order,
        order_spacing=bank.spacing,
        width_lines=place.width_lines,
    )


def _is_candidate(bank: Bank, place: Place, significance: float) -> bool:
    """Whether stationary noise would hardly reach this evidence, whatever the decoys say."""
    return bool(_log_bound(bank, place) < np.log(significance / len(bank.combs)))


def beside_others(
    bank: Bank,
    place: Place,
    others: Sequence[Place],
    masked: NDArray[np.bool_],
    is_shown: Callable[[FoundFamily], bool],
) -> FoundFamily | None:
    """The family judged where the lines of a second one are masked too.

    Two families at once are no chance to each other: each hides in what the other's lines add
    to its decoys. Both must be shown then.

    Parameters
    ----------
    bank : Bank
        That was scanned.
    place : Place
        Of the family that is judged.
    others : sequence of Place
        What else may be a family; tried one by one, strongest first.
    masked : ndarray of bool, shape (n_lines,)
        Mask in force.
    is_shown : callable
        Whether a family is significant.

    Returns
    -------
    FoundFamily or None
        None where no second one makes both shown.
    """
    for other in sorted(others, key=lambda other: -other.evidence):
        both = masked | _lines(bank, place) | _lines(bank, other)
        if both.mean() > LARGEST_MASKED_FOR_NULL:
            continue
        scans = bank.scan([place.comb, other.comb], both)
        family, second = (
            _judge(bank, each, scans[each.comb.key], masked, both) for each in (place, other)
        )
        if is_shown(family) and is_shown(second):
            return family
    return None


def _judge(
    bank: Bank,
    place: Place,
    null: Scan,
    masked: NDArray[np.bool_],
    null_masked: NDArray[np.bool_],
) -> FoundFamily:
    """The family at a place seen under one mask, with its probability against a null under another."""
    comb = place.comb
    # A decoy counts where its centre lines are not masked; the family's own window never does.
    decoy = np.abs(null.lines.orders / comb.strike_order - 1.0) > 2 * bank.slip
    for index in null.lines.centre:
        decoy &= ~null_masked[index] & (index > 0)
    law = DecoyLaw.measured(null.evidence, decoy, run_length=DECOY_RUN_STEPS)
    theory = _log_theory(bank, place, law)
    decoys = law.log_probability(place.evidence, place.n_orders) if law.is_usable else theory
    return FoundFamily(
        comb=comb,
        order=place.order,
        evidence=place.evidence,
        width_lines=place.width_lines,
        envelope=place.envelope,
        band_evidence=_band_evidence(bank, place, masked),
        log_probability=max(theory, decoys),
        log_probability_theory=theory,
        log_probability_decoys=decoys,
        null=law,
        n_orders=place.n_orders,
    )


def _log_theory(bank: Bank, place: Place, law: DecoyLaw) -> float:
    """Chernoff's tail for independent exponential lines, hung up at the decoys' threshold.

    How often the bank reaches the threshold at all is measured; how fast it falls from there
    on is what stationary noise would do. Where there are no decoys to measure it with, the
    bound's square root is taken times all places searched.
    """
    counts = _line_counts(bank, place)
    bound = log_tail_bound(place.evidence, counts)
    if not law.is_usable:
        return min(0.0, UNMEASURED_SHARE * bound + _log_places(bank, place.n_orders))
    if place.evidence <= law.threshold:
        return law.log_probability(place.evidence, place.n_orders)
    at_threshold = law.log_probability(law.threshold, place.n_orders)
    return min(0.0, at_threshold + bound - log_tail_bound(law.threshold, counts))


def _line_counts(bank: Bank, place: Place) -> list[int]:
    """Averaged values behind each line of a comb."""
    n_averages = bank.envelopes[0].n_averages
    widths = harmonic_widths(place.width_lines)
    sides = [widths[position] for position, _ in bank.lines[place.comb.key].sides]
    return [count * n_averages for count in (*widths, *sides)]


def _log_bound(bank: Bank, place: Place) -> float:
    """Chernoff's bound times all places searched: true of stationary noise whatever the decoys."""
    bound = log_tail_bound(place.evidence, _line_counts(bank, place))
    return bound + _log_places(bank, place.n_orders)


def _log_places(bank: Bank, n_orders: int) -> float:
    """Logarithm of the number of places searched for one family: orders, spectra, widths."""
    independent = max(1.0, 2.0 * n_orders / STEPS_PER_LINE)
    return float(np.log(independent * len(bank.envelopes) * len(bank.widths)))


def _band_evidence(
    bank: Bank, place: Place, masked: NDArray[np.bool_]
) -> tuple[tuple[float, EnvelopeOrders], ...]:
    lines, at = bank.lines[place.comb.key], place.at
    one = CombLines(
        orders=lines.orders[at : at + 1],
        centre=tuple(row[at : at + 1] for row in lines.centre),
        sides=tuple((position, row[at : at + 1]) for position, row in lines.sides),
    )
    return tuple(
        (float(comb_evidence(bank.padded(envelope, place.width_lines, masked), one)[0]), envelope)
        for envelope in bank.envelopes
        if envelope.detector == "squared"
    )
