"""Lines that a found family explains: its harmonics and all their shaft combinations."""

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import Comb
from vibhealth.model import Element

__all__ = ["explained_lines", "family_lines"]

# Explained lines: so many harmonics, with all their shaft combinations, while less than this
# share of all lines is masked.
MASKED_HARMONICS = 4
LARGEST_MASKED_SHARE = 0.45
# Own side bands: those of so many harmonics, so many on each side.
SIDE_BAND_HARMONICS = 6
SIDE_BAND_REACH = 4
# A harmonic is masked over at most this share of the found order on each side.
LARGEST_HARMONIC_REACH = 0.2


def explained_lines(  # noqa: PLR0913 (what a family brings along)
    order: NDArray[np.float64],
    found_order: float,
    *,
    order_spacing: float,
    width_lines: int,
    side_bands: Sequence[float] = (),
    mirrors: Sequence[float] = (),
) -> NDArray[np.bool_]:
    """Lines explained by a family: its harmonics plus and minus any shaft order.

    Every line ``n * found_order + k`` with whole ``k`` has the same fractional part
    as ``n * found_order``, and the mirrored ones (``k - n * found_order``) have one
    minus that; because BPFO + BPFI = Z, the mirror of one ring's family is the
    other ring's. So a fractional part within reach of a harmonic's is masked.
    Higher harmonics are masked by themselves, all of them: a cage line at half an
    order has a dozen below the strikes of an element. The family's own side bands at
    ``side_bands`` (spacings in orders, the cage's among them) are masked too, and all
    harmonics of ``mirrors``: a cage shows at FTF and at 1 - FTF.
    """
    fraction = order - np.floor(order)
    masked = np.zeros(order.shape, dtype=np.bool_)
    for first in (found_order, *mirrors):
        number = np.maximum(np.rint(order / first), 1.0)
        reach = (1.5 + 0.5 * number * width_lines) * order_spacing
        masked |= np.abs(order - number * first) <= np.minimum(
            reach, LARGEST_HARMONIC_REACH * first
        )
    for harmonic, multiple, spacing in product(
        range(1, SIDE_BAND_HARMONICS + 1), range(-SIDE_BAND_REACH, SIDE_BAND_REACH + 1), side_bands
    ):
        near = (2.0 + 0.5 * harmonic * width_lines) * order_spacing
        masked |= np.abs(order - abs(harmonic * found_order + multiple * spacing)) <= near
    for harmonic in range(1, MASKED_HARMONICS + 1):
        part = (harmonic * found_order) % 1.0
        near = (2.0 + 0.5 * harmonic * width_lines) * order_spacing
        more = masked.copy()
        for at in (part, 1.0 - part):
            distance = np.abs(fraction - at)
            more |= np.minimum(distance, 1.0 - distance) <= near
        if harmonic > 1 and more.mean() > LARGEST_MASKED_SHARE:
            break
        masked = more
    return masked


def family_lines(
    order: NDArray[np.float64],
    comb: Comb,
    found_order: float,
    *,
    order_spacing: float,
    width_lines: int,
) -> NDArray[np.bool_]:
    """Lines explained by a comb found at an order, with what its element brings along.

    Parameters
    ----------
    order : ndarray
        Orders of the lines.
    comb : Comb
        Its side bands count; a cage shows at one minus its order too.
    found_order : float
        First centre line as found.
    order_spacing : float
        Distance of two lines.
    width_lines : int
        Lines over which the first centre line is spread.
    """
    is_mirrored = comb.element is Element.CAGE and found_order < 1.0
    return explained_lines(
        order,
        found_order,
        order_spacing=order_spacing,
        width_lines=width_lines,
        side_bands=[band.spacing_order for band in comb.spacings],
        mirrors=(1.0 - found_order,) if is_mirrored else (),
    )
