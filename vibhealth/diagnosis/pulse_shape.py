"""Whether what repeats at the cage rate is a pulse of its own, or a load zone that others pass.

A load zone makes the strikes of a rolling element swell and fade smoothly: its lines stand in
groups about the multiples of twice the spin, and about zero, with two or three of them on each
side at the cage rate. A cage that strikes once per turn makes short pulses, whose harmonics go
on evenly (a train of short pulses has a flat spectrum: closed form). Between the groups a cage
has lines as strong as in them and a rolling element has none, wherever twice the spin lies: also
where it meets a multiple of the cage's line.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import SHAFT_LINE_HALF_WIDTH
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import line_evidence

__all__ = ["PulseShape", "between_groups", "pulse_shape"]

LOW_HARMONICS = (1, 2, 3)
# Without a rolling element to mind, these are the high ones.
HIGH_HARMONICS = range(4, 11)

# A load that falls as the 1.5th power over a zone of +-75 degrees and more leaves below a tenth of
# the power of the middle of a group this many lines from it (closed form by quadrature in the
# tests). Groups that stand close are told apart at this share of their distance.
GROUP_REACH = 3.5
GROUP_REACH_SHARE = 0.38
# Where twice the spin meets a multiple of the cage's line below this one, the groups overlap: a
# narrow load zone then lets pass one or two strikes per turn of the cage, which is a pulse.
CLOSE_GROUPS = 8.5
# So many harmonics between the groups are looked at, up to this group, if there are so many.
ENOUGH_HARMONICS = 4
LAST_GROUP = 2
LEAST_BETWEEN = 2

# Median power between the groups over the mean of the low harmonics, and over the middle of the
# first group (its line and one on each side): pulses 1 and more, or somewhat less where their
# instants are uneven; a load zone below 0.1. Within the doubtful range both are said.
SHARP = 0.12
OVER_GROUP = 0.23
DOUBTFUL = (0.16, 0.32)
# A harmonic stands out with this evidence (noise: once in a few hundred); this share of them must.
STANDS_OUT = 5.0
SHARE_OUT = 0.6

# A comb of three harmonics places the first line within half its width; the highest that is used
# here places it much better. No harmonic counts for more than this in that.
EVIDENCE_CAP = 20.0
STEPS_PER_LINE = 2
PLATEAU = 0.98
# The n-th harmonic is spread over this share of n times the width of the first on each side.
LINES_PER_HARMONIC = 0.125


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseShape:
    """What stands between the groups of a rolling element's lines.

    ``sharpness`` is the median power there over that of the low harmonics, ``over_group`` over
    that of the middle of the first group (infinite where nothing stands there, or none is given),
    ``order`` the cage's line as all harmonics place it. ``is_met`` says that the first group sits
    on a multiple of the cage's line so low that the groups overlap.
    """

    order: float
    sharpness: float
    over_group: float
    n_between: int
    n_out: int
    is_met: bool = False

    @property
    def is_sharp(self) -> bool:
        """Whether it is a train of pulses."""
        many = self.n_between >= LEAST_BETWEEN and self.n_out >= SHARE_OUT * self.n_between
        return many and self.sharpness > SHARP and self.over_group > OVER_GROUP

    @property
    def is_doubtful(self) -> bool:
        """Whether it could as well be the other: too little to see, or between the two."""
        low, high = DOUBTFUL
        is_little = self.n_between < LEAST_BETWEEN
        return is_little or low < self.over_group < (np.inf if self.is_met else high)


def between_groups(cage_order: float, spin_order: float, highest_order: float) -> list[int]:
    """Numbers of the cage's harmonics that lie between the groups of a rolling element.

    Parameters
    ----------
    cage_order : float
        First line of the cage, above 0.
    spin_order : float
        Twice the spin: middle of the first group, above 0.
    highest_order : float
        End of the spectrum.

    Returns
    -------
    list of int
        Rising, those below the first group before those above it.

    Examples
    --------
    Twice the spin at ten times the cage's line: the first group takes 7 to 13.

    >>> between_groups(0.4, 4.0, 100.0)
    [4, 5, 6, 14]
    """
    ratio = spin_order / cage_order
    reach = min(GROUP_REACH, GROUP_REACH_SHARE * ratio)
    chosen: list[int] = []
    for number in range(LOW_HARMONICS[-1], int(highest_order / cage_order) + 1):
        if number > (LAST_GROUP + 1) * ratio or (
            len(chosen) >= ENOUGH_HARMONICS and number > ratio
        ):
            break
        if abs(number - ratio * round(number / ratio)) >= reach:
            chosen.append(number)
    return chosen


def pulse_shape(
    envelope: EnvelopeOrders,
    order: float,
    width_lines: int,
    spin_window: tuple[float, float] | None = None,
) -> PulseShape:
    """Shape of what repeats at ``order``.

    Parameters
    ----------
    envelope : EnvelopeOrders
        Squared envelope, whitened.
    order : float
        First line of the cage family, above 0.
    width_lines : int
        Lines over which the first line is spread; the n-th is spread over more.
    spin_window : tuple of float, optional
        Lowest and highest order at which twice the rolling element's spin may stand. The place
        in it that suits a rolling element best is taken.

    Returns
    -------
    PulseShape
        Not sharp where fewer than two of the harmonics that would tell are clear of the
        shaft's own lines. Where no place in the window stands out beside the usual harmonics of
        the cage, there are no groups to keep away from.
    """
    spectrum = _Spectrum(envelope, order, width_lines)
    highs = [n for n in HIGH_HARMONICS if spectrum.is_clear(n * order)]
    spin, group = 0.0, 0.0
    if spin_window is not None:
        spin, group = spectrum.strongest_group(spin_window)
        usual = float(np.mean([spectrum.excess(n * order, n) for n in highs])) if highs else 0.0
        if group > OVER_GROUP * usual or not highs:
            numbers = between_groups(order, spin, float(envelope.order[-1]))
            highs = [n for n in numbers if spectrum.is_clear(n * order)]
        else:
            spin = 0.0
    refined = spectrum.refined((*LOW_HARMONICS, *highs))
    low = [spectrum.excess(n * refined, n) for n in LOW_HARMONICS if spectrum.is_clear(n * refined)]
    high = [spectrum.excess(n * refined, n) for n in highs]
    shape = PulseShape(
        order=refined,
        sharpness=0.0,
        over_group=0.0,
        n_between=len(high),
        n_out=sum(spectrum.evidence(n * refined, n) >= STANDS_OUT for n in highs),
        is_met=0 < spin < CLOSE_GROUPS * refined and spectrum.is_harmonic(spin, refined),
    )
    if not high or not low or sum(low) <= 0:
        return shape
    middle = float(np.median(high))
    over_group = middle / group if group > 0 else np.inf
    return replace(shape, sharpness=middle / float(np.mean(low)), over_group=over_group)


class _Spectrum:
    """Power over the floor about orders of one envelope, summed over the lines it may lie in."""

    def __init__(self, envelope: EnvelopeOrders, order: float, width_lines: int):
        self.spacing = envelope.order_spacing
        self.n_averages = envelope.n_averages
        self.n_lines = envelope.depth_power.shape[-1]
        self.order = order
        self.width_lines = width_lines
        self._excess = _summed(envelope.depth_power - envelope.floor)
        self._power = _summed(envelope.power)

    def is_clear(self, order: float) -> bool:
        """Whether an order is inside, and clear of whole and half ones."""
        distance = abs(2 * order - round(2 * order)) / 2
        is_inside = order + self.spacing < (self.n_lines - 1) * self.spacing
        return is_inside and distance > (SHAFT_LINE_HALF_WIDTH + 2) * self.spacing

    def is_harmonic(self, order: float, first: float) -> bool:
        """Whether an order is a multiple of the first line's, within its width."""
        number = round(order / first)
        return abs(order - number * first) <= self._half(number) * self.spacing

    def _half(self, number: float) -> int:
        return int(np.ceil(1 + LINES_PER_HARMONIC * number * self.width_lines))

    def _ends(
        self, order: float | NDArray[np.float64], half: int
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        at = np.rint(np.asarray(order) / self.spacing).astype(np.int64)
        return np.clip(at - half, 0, self.n_lines), np.clip(at + half + 1, 0, self.n_lines)

    def excess(self, order: float, number: float) -> float:
        """Power over the floor where the cage's ``number``-th harmonic may lie."""
        low, high = self._ends(order, self._half(number))
        return float(self._excess[high] - self._excess[low])

    def evidence(self, order: float, number: float) -> float:
        """`line_evidence` of that power."""
        low, high = self._ends(order, self._half(number))
        return float(self._evidence(low, high, 2 * self._half(number) + 1)[0])

    def _evidence(
        self, low: NDArray[np.int64], high: NDArray[np.int64], n_lines: int
    ) -> NDArray[np.float64]:
        mean = (self._power[high] - self._power[low]) / n_lines
        return line_evidence(
            np.atleast_1d(mean), width_lines=1, n_averages=n_lines * self.n_averages
        )

    def refined(self, numbers: Sequence[int]) -> float:
        """The first line's order that suits all these harmonics best, within its width."""
        reach = 0.5 * (self.width_lines + 1) * self.spacing
        step = self.spacing / (STEPS_PER_LINE * max(numbers))
        orders = self.order + np.arange(-reach, reach + step, step)
        total = np.zeros(orders.shape)
        for number in numbers:
            low, high = self._ends(number * orders, 1)
            total += np.minimum(self._evidence(low, high, 3), EVIDENCE_CAP)
        best = np.flatnonzero(total >= total.max() - 1e-9)
        return float(orders[best[np.argmin(np.abs(orders[best] - self.order))]])

    def strongest_group(self, window: tuple[float, float]) -> tuple[float, float]:
        """Where in a window a line with one on each side at the cage rate stands strongest.

        The mean power over the floor of those of the three that are clear of the shaft's lines.
        """
        low, high = window
        spins = np.arange(low, max(high, low + self.spacing), self.spacing / STEPS_PER_LINE)
        total, count = np.zeros(spins.shape), np.zeros(spins.shape)
        for side in (-1, 0, 1):
            orders = spins + side * self.order
            lowest, highest = self._ends(orders, self._half(spins[0] / self.order))
            distance = np.abs(2 * orders - np.rint(2 * orders)) / 2
            clear = distance > (SHAFT_LINE_HALF_WIDTH + 2) * self.spacing
            total += np.where(clear, self._excess[highest] - self._excess[lowest], 0.0)
            count += clear
        mean = total / np.maximum(count, 1)
        # The lines are summed: as long as they stay inside, the sum hardly changes.
        largest = float(mean.max())
        plateau = np.flatnonzero(mean >= min(PLATEAU * largest, largest))
        return float(spins[plateau[plateau.size // 2]]), largest


def _summed(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate(([0.0], np.cumsum(values)))
