"""Statistical tolerance intervals of normally distributed values: factors and limits of logs.

ISO 16269-6:2014 (from memory) gives the factors as tables; here they are computed from what the
tables are computed from. One-sided: the noncentral t distribution (G. J. Resnikoff,
G. J. Lieberman, Tables of the Non-Central t-Distribution, Stanford 1957). Two-sided, mean and
standard deviation both unknown: the integral over the error of the mean (R. E. Odeh, D. B. Owen,
Tables for Normal Tolerance Limits, Marcel Dekker 1980, from memory).
"""

import math
from functools import lru_cache

import numpy as np
from scipy import optimize, stats

from vibhealth.errors import InputError

__all__ = ["one_sided_factor", "two_sided_factor", "upper_limit_db"]

LARGEST_FACTOR = 1e4


def one_sided_factor(n: int, *, share: float, confidence: float) -> float:
    """Factor k such that ``mean + k * s`` lies above ``share`` of all values.

    Parameters
    ----------
    n : int
        Values that mean and standard deviation were computed from, at least 2.
    share : float
        Share of the population below the limit, above 0.5 and below 1.
    confidence : float
        How often the statement is true, above 0 and below 1.

    Returns
    -------
    float
        ``k = t'(n - 1, z_share * sqrt(n); confidence) / sqrt(n)`` with the quantile t' of the
        noncentral t distribution.

    Raises
    ------
    InputError
        If an argument is outside its range.

    Examples
    --------
    >>> round(one_sided_factor(10, share=0.95, confidence=0.95), 3)
    2.911
    """
    _check(n, share, confidence)
    return _one_sided(n, share, confidence)


@lru_cache(maxsize=256)
def _one_sided(n: int, share: float, confidence: float) -> float:
    shift = stats.norm.ppf(share) * math.sqrt(n)
    return float(stats.nct.ppf(confidence, n - 1, shift)) / math.sqrt(n)


def two_sided_factor(n: int, *, share: float, confidence: float) -> float:
    """Factor k such that ``mean - k * s`` to ``mean + k * s`` holds ``share`` of all values.

    Parameters
    ----------
    n, share, confidence
        As for `one_sided_factor`.

    Returns
    -------
    float
        Root of ``E_m[P(chi2(n - 1) > (n - 1) r(m)^2 / k^2)] = confidence``, where m is the error
        of the mean (normal, variance 1/n) and r(m) the half width about m that holds the share.

    Raises
    ------
    InputError
        If an argument is outside its range.

    Examples
    --------
    >>> round(two_sided_factor(43, share=0.9, confidence=0.99), 2)
    2.22
    """
    _check(n, share, confidence)
    return _two_sided(n, share, confidence)


@lru_cache(maxsize=256)
def _two_sided(n: int, share: float, confidence: float) -> float:
    def half_width(shift: float) -> float:
        def short(width: float) -> float:
            return float(stats.norm.cdf(shift + width) - stats.norm.cdf(shift - width)) - share

        return float(optimize.brentq(short, 0.0, abs(shift) + 20.0))

    # Gauss-Hermite nodes for the mean's error, which is normal with variance 1/n.
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    widths = np.array([half_width(node / math.sqrt(n)) for node in nodes])

    def reached(factor: float) -> float:
        above = stats.chi2.sf((n - 1) * (widths / factor) ** 2, n - 1)
        return float(above @ weights / weights.sum()) - confidence

    return float(optimize.brentq(reached, 1e-3, LARGEST_FACTOR))


def upper_limit_db(
    mean_db: float, spread_db: float, n: int, *, share: float, confidence: float
) -> float:
    """Upper one-sided tolerance limit of levels in dB, that is of log-normal amplitudes.

    Parameters
    ----------
    mean_db, spread_db : float
        Mean and standard deviation of ``n`` levels.
    n, share, confidence
        As for `one_sided_factor`.

    Returns
    -------
    float
        In dB of the same reference.
    """
    return mean_db + one_sided_factor(n, share=share, confidence=confidence) * spread_db


def _check(n: int, share: float, confidence: float) -> None:
    if n < 2:
        msg = f"n must be at least 2 values, got {n}"
        raise InputError(msg)
    if not 0.5 < share < 1:
        msg = f"share must lie above 0.5 and below 1, got {share}"
        raise InputError(msg)
    if not 0 < confidence < 1:
        msg = f"confidence must lie above 0 and below 1, got {confidence}"
        raise InputError(msg)
