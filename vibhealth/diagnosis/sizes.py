"""How big a found family is: modulation depth.

Significance is not size: a minute of a healthy bearing often shows significant
lines. Depth is the root of the summed squares of the floor-subtracted amplitudes
of the first three centre lines, in units of the mean squared envelope.
"""

import numpy as np

from vibhealth.diagnosis.comb import HARMONICS, harmonic_widths
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders

__all__ = ["line_depth", "line_to_floor_db", "modulation_depth"]

# Power that may lie beside the middle line: the fade of the record's ends and an order
# between two lines spread a line over its neighbours.
NEIGHBOURS = 1


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
    at = round(order / envelope.order_spacing)
    half = NEIGHBOURS if width_lines == 1 else width_lines // 2
    low, high = max(1, at - half), at + half + 1
    if low >= envelope.depth_power.shape[-1] or at < 1:
        return 0.0
    excess = envelope.depth_power[low:high] - envelope.floor[low:high]
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
