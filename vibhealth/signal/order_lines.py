"""Power of a spectrum gathered into lines of equal width in orders."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import median_filter
from scipy.signal import windows
from scipy.stats import gamma

from vibhealth._check import check_positive
from vibhealth.errors import InputError

__all__ = ["ORDER_SPACING", "OrderLines", "gather_orders", "hann_power", "order_floor"]

# Distance of two lines: 50 turns tell them apart.
ORDER_SPACING = 0.02
FLOOR_ORDERS = 1.0
FEWEST_LINES = 2.0
BORDER = 1e-9  # more than round-off, less than any distance of two lines
# Neighbouring lines of a Hann window share 4/9 of their variance, the next but one 1/36 (F. J.
# Harris, Proc. IEEE 66 (1978) 51-83: lines -1/2, 1, -1/2, hence correlations 2/3 and 1/6).
HANN_SHARED = 1 + 2 * (4 / 9 + 1 / 36)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLines:
    """``power[k]`` is what lies about ``k * ORDER_SPACING``; ``per_line`` values went into each."""

    power: NDArray[np.float64]
    per_line: float

    @property
    def order(self) -> NDArray[np.float64]:
        """Order of each line."""
        return np.arange(self.power.size, dtype=np.float64) * ORDER_SPACING


def hann_power(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean square of each line of a whole record under a Hann window.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        At least 16; the mean is removed.

    Returns
    -------
    ndarray, shape (n_lines,)
        Sums to the mean square of the samples (Parseval), one-sided; line ``k`` lies at
        ``k * rate / n`` where ``n`` is ``scipy.fft.prev_fast_len(n_samples, real=True)``.
    """
    size = fft.prev_fast_len(samples.shape[-1], real=True)
    cut = samples[..., :size]
    window = windows.hann(size, sym=False)
    lines = fft.rfft((cut - cut.mean()) * window)
    return np.asarray(2 * np.abs(lines) ** 2 / (size * np.sum(window**2)), dtype=np.float64)


def gather_orders(
    power: NDArray[np.float64], line_spacing_order: float, *, highest_order: float
) -> OrderLines:
    """Sum the power of all lines about each multiple of 0.02 orders.

    Parameters
    ----------
    power : ndarray, shape (n_lines,)
        Line ``k`` at ``k * line_spacing_order``.
    line_spacing_order : float
        Above 0, at most half of 0.02: the record holds at least 100 turns.
    highest_order : float
        Last order wanted, above 0; fewer where the spectrum ends before.

    Returns
    -------
    OrderLines
        A line's sum is scaled to the lines that fit into it on average, since one more or less
        falls into it by chance.

    Raises
    ------
    InputError
        If the record holds fewer than 100 turns.
    """
    spacing = check_positive(line_spacing_order, name="line_spacing_order")
    per_line = ORDER_SPACING / spacing
    if per_line < FEWEST_LINES:
        msg = (
            f"line_spacing_order must be at most {ORDER_SPACING / FEWEST_LINES:g} (100 turns), "
            f"got {spacing:g}; record longer"
        )
        raise InputError(msg)
    last = int(min(highest_order, (power.size - 1) * spacing - ORDER_SPACING) / ORDER_SPACING)
    n_used = min(power.size, int((last + 0.5) * per_line) + 1)
    # A line on a border counts upwards, everywhere: rounding to even would give 5 and 3 for 4.
    place = np.floor(np.arange(n_used) / per_line + 0.5 + BORDER).astype(np.int64)
    inside = place <= last
    place, used = place[inside], power[:n_used][inside]
    count = np.bincount(place, minlength=last + 1)
    total = np.bincount(place, weights=used, minlength=last + 1)
    return OrderLines(power=total / np.maximum(count, 1) * per_line, per_line=per_line)


def order_floor(power: NDArray[np.float64], n_averages: float) -> NDArray[np.float64]:
    """Noise floor of gathered lines: running median over one order, scaled to the mean.

    Parameters
    ----------
    power : ndarray, shape (n_lines,)
        As `gather_orders` gives it, without its first lines.
    n_averages : float
        Independent exponential values in each line, above 0; their sum follows the gamma
        distribution of that shape, whose median lies below its mean.

    Returns
    -------
    ndarray, shape (n_lines,)
    """
    shape = check_positive(n_averages, name="n_averages")
    width = round(FLOOR_ORDERS / ORDER_SPACING) | 1
    median = median_filter(power, size=width, mode="reflect")
    floor: NDArray[np.float64] = median * shape / gamma.median(shape)
    return np.maximum(floor, np.finfo(np.float64).tiny)
