"""Samples of a machine that turns slower or faster than it did."""

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.interpolate import CubicSpline

__all__ = ["warped"]

# A cubic spline over samples four times as dense keeps the highest frequencies to a per cent.
_DENSER = 4


def warped(samples: NDArray[np.float64], speed: NDArray[np.float64]) -> NDArray[np.float64]:
    """Samples of the same machine at ``speed`` times its speed; forces go with the square.

    Parameters
    ----------
    samples : ndarray, shape (n_points, n_samples)
        The machine at its own speed.
    speed : ndarray, shape (n_samples,)
        Above 0, slowly changing.

    Returns
    -------
    ndarray, shape (n_points, n_kept)
        Shorter where the machine would have needed more samples than there are.
    """
    n_samples = samples.shape[1]
    place = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
    place = place[place <= n_samples - 1]
    faded = 64  # the ends meet in the transform: mirror a little of each
    kept = np.empty((samples.shape[0], place.size))
    for row, values in enumerate(samples):
        padded = np.pad(values, faded, mode="reflect", reflect_type="odd")
        dense = _denser(padded)
        spline = CubicSpline(np.arange(dense.size) / _DENSER - faded, dense)
        kept[row] = spline(place) * speed[: place.size] ** 2
    return kept


def _denser(values: NDArray[np.float64]) -> NDArray[np.float64]:
    lines = fft.rfft(values)
    return np.asarray(_DENSER * fft.irfft(lines, _DENSER * values.size), dtype=np.float64)
