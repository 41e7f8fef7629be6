"""How big a found family is: modulation depth.

Significance is not size: a minute of a healthy bearing often shows significant
lines. Depth is the root of the summed squares of the floor-subtracted amplitudes
of the first three centre lines, in units of the mean squared envelope.
"""

import numpy as np

from vibhealth.diagnosis.comb import HARMONICS, SHAFT_LINE_HALF_WIDTH, harmonic_widths
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders

__all__ = ["line_depth", "line_to_floor_db", "line_window", "modulation_depth"]

# Power that may lie beside the middle line: the fade of the record's ends and an order
# between two lines spread a line over its neighbours.
NEIGHBOURS = 1


def line_window(envelope: EnvelopeOrders, order: float, half_width: int) -> slice:
    """Lines that are summed about a centre line: at most halfway to the next whole order.

    What lies nearer to the shaft's line is the shaft's, and what a guard that hits in
    every turn makes of it can be a thousand times the family's own. A centre line on
    the shaft's own lines is a blind spot, and is read whole.

    Parameters
    ----------
    envelope : EnvelopeOrders
        Spectrum whose lines are counted.
    order : float
        Centre, above 0.
    half_width : int
        Lines to each side, 0 or more.

    Returns
    -------
    slice
        Empty where the centre or the window's end lies outside the spectrum.
    """
    at = round(order / envelope.order_spacing)
    low, high = max(1, at - half_width), at + half_width + 1
    if at < 1 or high > envelope.depth_power.shape[-1]:
        return slice(0, 0)
    away = (order - round(order)) / envelope.order_spacing
    if round(order) >= 1 and abs(away) > SHAFT_LINE_HALF_WIDTH:
        reach = int(abs(away) / 2)
        low, high = (max(low, at - reach), high) if away > 0 else (low, min(high, at + reach + 1))
    return slice(low, high)


def line_depth(envelope: EnvelopeOrders, order: float, width_lines: int) -> float:
    """Floor-subtracted modulation depth of one line, summed over the lines it is spread over.

    For a steady line the largest of the nearest three lines is taken; for a
    wandering one (``width_lines`` above 1) the power over the floor is summed.

    Parameters
    ----------
    envelope : EnvelopeOrders
        Spectrum with its floor.
    order : float
        0 where the line is outside the spectrum.
    width_lines : int
        Odd, at least 1.

    Returns
    -------
    float
        0 where the line does not stand above the floor.
    """
    half = NEIGHBOURS if width_lines == 1 else width_lines // 2
    lines = line_window(envelope, order, half)
    excess = envelope.depth_power[lines] - envelope.floor[lines]
    if not excess.size:
        return 0.0
    power = float(excess.max()) if width_lines == 1 else float(excess.sum())
    return float(np.sqrt(max(0.0, power)))


def modulation_depth(envelope: EnvelopeOrders, order: float, width_lines: int) -> float:
    """Depth of a family: root of the summed squares of its three centre lines' depths.

    A fully periodic train of short strikes without noise reaches
    ``2 sqrt(3) = 3.46``; 0 where nothing stands above the floor.
    """
    widths = harmonic_widths(width_lines)
    depths = [
        line_depth(envelope, harmonic * order, width)
        for harmonic, width in zip(HARMONICS, widths, strict=True)
    ]
    return float(np.sqrt(np.sum(np.square(depths))))


def line_to_floor_db(envelope: EnvelopeOrders, order: float, width_lines: int) -> tuple[float, ...]:
    """Level of the strongest line near each centre line over the local floor, in dB."""
    power = envelope.power
    levels = []
    for harmonic, width in zip(HARMONICS, harmonic_widths(width_lines), strict=True):
        at = round(harmonic * order / envelope.order_spacing)
        half = max(NEIGHBOURS, width // 2)
        near = power[max(1, at - half) : at + half + 1]
        levels.append(float(10 * np.log10(max(near.max(), 1e-6))) if near.size else -60.0)
    return tuple(levels)
