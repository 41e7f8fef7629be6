"""Which of several combs is explained first."""

from collections.abc import Sequence

from vibhealth.diagnosis.family_bank import Bank, Place
from vibhealth.diagnosis.pulse_shape import pulse_shape
from vibhealth.diagnosis.sizes import modulation_depth
from vibhealth.model import Element

__all__ = ["leading_place"]

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
PULSE_EVIDENCE = 0.08
PULSE_EVIDENCE_BESIDE_RING = 0.35
PULSE_LEAST_EVIDENCE = 30.0


def leading_place(bank: Bank, places: Sequence[Place]) -> Place:
    """The comb of most evidence; of combs that are one comb shifted by whole orders, the deepest.

    A family's side band can lie in another's slip window, and its comb is then the
    family's own, seen from a side band: the centre lines are the deeper ones.

    Parameters
    ----------
    bank : Bank
        That was scanned.
    places : sequence of Place
        One per comb, at least one.

    Returns
    -------
    Place
        One of them.
    """
    leader = max(places, key=lambda place: place.evidence)
    pulses = [place for place in places if _is_pulse_train(bank, place)]
    first = max(pulses, key=lambda place: place.evidence, default=leader)
    rings = {Element.OUTER_RING, Element.INNER_RING}
    share = PULSE_EVIDENCE_BESIDE_RING if leader.comb.element in rings else PULSE_EVIDENCE
    if first.evidence >= share * leader.evidence and first is not leader:
        return first
    leader = max(
        (place for place in places if abs(place.order / leader.order - 1) <= SAME_ORDER),
        key=lambda place: place.evidence - _handicap(bank, place),
    )
    rivals = [place for place in places if place is leader or _is_rival(place, leader)]
    if len(rivals) == 1:
        return leader
    return max(
        rivals,
        key=lambda place: sum(
            modulation_depth(rival.envelope, place.order, rival.width_lines) for rival in rivals
        ),
    )


def _handicap(bank: Bank, place: Place) -> float:
    """What a comb gains by chance from its side bands, and loses by an unusual slip, in nepers."""
    slip = place.order / place.comb.strike_order - 1.0
    n_sides = len(bank.lines[place.comb.key].sides)
    return CHANCE_PER_SIDE_BAND * n_sides + 0.5 * (slip / USUAL_SLIP) ** 2


def _is_pulse_train(bank: Bank, place: Place) -> bool:
    """Whether a cage comb belongs to short pulses: then every comb that meets its lines is its."""
    if place.comb.element is not Element.CAGE or place.evidence < PULSE_LEAST_EVIDENCE:
        return False
    spin = next(
        (
            comb.strike_order
            for comb in bank.combs
            if (comb.bearing, comb.element) == (place.comb.bearing, Element.ROLLING_ELEMENT)
        ),
        None,
    )
    shape = pulse_shape(
        place.envelope,
        place.order,
        place.width_lines,
        spin_window=None if spin is None else (spin * (1 - bank.slip), spin * (1 + bank.slip)),
    )
    return shape.is_sharp


def _is_rival(place: Place, leader: Place) -> bool:
    difference = place.order - leader.order
    whole = round(difference)
    is_shifted = whole != 0 and abs(difference - whole) <= SHIFT_TOLERANCE
    return is_shifted and place.evidence >= RIVAL_EVIDENCE * leader.evidence
