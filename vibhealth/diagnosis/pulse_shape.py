"""Whether what swings at the cage rate is a pulse or a smooth rise and fall.

A load zone makes strikes swell and fade smoothly: harmonics of the cage rate die out after the
third or fourth. A cage that strikes once per turn makes short pulses, whose harmonics go on
(a train of short pulses has a flat spectrum: closed form).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from vibhealth.diagnosis.comb import SHAFT_LINE_HALF_WIDTH
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import line_evidence
from vibhealth.diagnosis.sizes import line_depth

__all__ = ["PulseShape", "is_cage_line", "pulse_shape"]

LOW_HARMONICS = (1, 2, 3)
HIGH_HARMONICS = (5, 6, 7, 8, 9, 10)
# Mean power of the high harmonics over that of the low ones: 1 for short pulses, below 0.01 for a
# load that falls as the 1.5th power over a zone of +-60 degrees and more (closed form by
# quadrature in the tests).
SHARP = 0.12
FEWEST_HARMONICS = 3
# A harmonic stands out with this evidence (noise: once in a few hundred); of the high ones at least
# half must.
STANDS_OUT = 5.0
SHARE_OUT = 0.5
# The comb of three harmonics places the first within a sixth of its width; its n-th harmonic lies
# n times as far off, and spreads n times as far where the cage wanders.
LINES_PER_HARMONIC = 0.125


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseShape:
    """Sharpness (power of the high over that of the low harmonics) and how many stand out."""

    sharpness: float
    n_high: int
    n_out: int

    @property
    def is_sharp(self) -> bool:
        """Whether it is a train of pulses."""
        many = self.n_out >= max(FEWEST_HARMONICS, SHARE_OUT * self.n_high)
        return many and self.sharpness > SHARP


def pulse_shape(envelope: EnvelopeOrders, order: float, width_lines: int) -> PulseShape:
    """Shape of what repeats at ``order``.

    Parameters
    ----------
    envelope : EnvelopeOrders
        Squared envelope, whitened.
    order : float
        First line of the cage family, above 0.
    width_lines : int
        Lines over which the first line is spread; the n-th is spread over n times as many.

    Returns
    -------
    PulseShape
        Not sharp where fewer than three of the high harmonics are clear of the shaft's own lines.
    """

    def powers(harmonics: Sequence[int]) -> list[float]:
        return [
            line_depth(envelope, number * order, _width(number, width_lines)) ** 2
            for number in harmonics
            if _is_clear(envelope, number * order)
        ]

    low, high = powers(LOW_HARMONICS), powers(HIGH_HARMONICS)
    out = [
        _line_evidence(envelope, number * order, _width(number, width_lines)) >= STANDS_OUT
        for number in HIGH_HARMONICS
        if _is_clear(envelope, number * order)
    ]
    if not high or not low or sum(low) <= 0:
        return PulseShape(sharpness=0.0, n_high=len(high), n_out=0)
    sharpness = float(np.mean(high) / np.mean(low))
    return PulseShape(sharpness=sharpness, n_high=len(high), n_out=sum(out))


def is_cage_line(cage_order: float, order: float, *, order_spacing: float, width: int) -> bool:
    """Whether an order is a multiple of the cage's line, or of its mirror at one minus it.

    Parameters
    ----------
    cage_order : float
        First line of a cage family (FTF, or 1 - FTF).
    order : float
        Order that is asked for.
    order_spacing : float
        Distance of two lines.
    width : int
        Lines over which the first cage line is spread.
    """
    for first in (cage_order, abs(1.0 - cage_order)):
        if first <= 0:
            continue
        number = max(1, round(order / first))
        reach = 0.5 * _width(number, width) * order_spacing
        if abs(order - number * first) <= min(reach, 0.2 * first):
            return True
    return False


def _width(number: int, width_lines: int) -> int:
    """Lines over which the n-th harmonic may lie: its own spread, and n times the first's error."""
    return 2 * ceil(1 + LINES_PER_HARMONIC * number * width_lines) + 1


def _line_evidence(envelope: EnvelopeOrders, order: float, width: int) -> float:
    at = round(order / envelope.order_spacing)
    near = envelope.power[max(0, at - width // 2) : at + width // 2 + 1]
    values = line_evidence(
        np.full(1, near.mean()), width_lines=1, n_averages=near.size * envelope.n_averages
    )
    return float(values[0])


def _is_clear(envelope: EnvelopeOrders, order: float) -> bool:
    distance = abs(2 * order - round(2 * order)) / 2
    is_inside = order + envelope.order_spacing < envelope.order[-1]
    return is_inside and distance > (SHAFT_LINE_HALF_WIDTH + 2) * envelope.order_spacing
