"""What goes wrong between the machine and the file, as functions on samples of any unit."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["swap_axes", "wrong_sensitivity"]

Samples = NDArray[np.float64]


def wrong_sensitivity(samples: Samples, *, factor: float) -> Samples:
    """Samples read with a wrong sensitivity or unit: all of them times a factor."""
    return factor * samples


def swap_axes(samples: Samples, *, pair: tuple[int, int] = (0, 1)) -> Samples:
    """Samples of shape (n_points, n_samples) with the cables of two points swapped."""
    swapped = samples.copy()
    swapped[list(pair)] = samples[list(pair)[::-1]]
    return swapped
