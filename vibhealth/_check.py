"""Boundary checks: each returns the clean value or raises one clear sentence."""

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth.errors import InputError

__all__ = ["check_band", "check_positive", "check_samples"]


def check_samples(samples: ArrayLike, *, name: str = "samples", minimum: int = 2) -> NDArray[Any]:
    """Samples as float64 with time on the last axis, finite and long enough."""
    try:
        array = np.asarray(samples, dtype=np.float64)
    except (TypeError, ValueError) as error:
        msg = f"{name} must be real numbers, got {type(samples).__name__}"
        raise InputError(msg) from error
    if array.ndim == 0 or array.shape[-1] < minimum:
        found = 0 if array.ndim == 0 else array.shape[-1]
        msg = f"{name} must hold at least {minimum} values on the last axis, got {found}"
        raise InputError(msg)
    if not np.isfinite(array).all():
        bad = int(np.flatnonzero(~np.isfinite(array.reshape(-1)))[0])
        msg = f"{name} must be finite, got {array.reshape(-1)[bad]} at flat index {bad}"
        raise InputError(msg)
    return array


def check_positive(value: float, *, name: str) -> float:
    """Return a finite number above zero."""
    number = float(value)
    if not (math.isfinite(number) and number > 0):
        msg = f"{name} must be a finite number above 0, got {value}"
        raise InputError(msg)
    return number


def check_band(band_hz: tuple[float, float], *, nyquist_hz: float) -> tuple[float, float]:
    """Return a band that satisfies ``0 < low < high <= nyquist``; never clipped."""
    low, high = (float(edge) for edge in band_hz)
    if not 0 < low < high <= nyquist_hz:
        msg = f"band_hz must satisfy 0 < low < high <= {nyquist_hz:g}, got {band_hz}"
        raise InputError(msg)
    return low, high
