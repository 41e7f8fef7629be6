"""How surprising a comb of lines is: a likelihood-ratio statistic with a proven bound.

A line of the squared envelope spectrum of stationary noise, over its local mean,
is exponentially distributed; the mean of ``n`` such lines is gamma distributed
(J. Antoni, "Cyclic spectral analysis of rolling-element bearing signals: facts
and fictions", Journal of Sound and Vibration 304 (2007) 497-529, from memory; the
law is checked by simulation in the tests). For a mean of ``n`` lines ``p`` times
the floor, the log-likelihood ratio of "stronger than the floor" is
``n (p - 1 - ln p)`` for ``p > 1`` and 0 otherwise. Summed over the lines of a comb
it lets every line speak that stands out and costs little for those that do not.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["line_evidence", "log_tail_bound"]

# Grid of the tilting parameter of Chernoff's bound; 1 is excluded (its moment diverges).
TILTS = np.linspace(0.02, 0.98, 97)


def line_evidence(
    power: NDArray[np.float64], *, width_lines: int, n_averages: int = 1
) -> NDArray[np.float64]:
    """Evidence of each line: log-likelihood ratio of its neighbourhood's mean power.

    Parameters
    ----------
    power : ndarray, shape (n_lines,)
        Power over the local floor (mean 1 under noise).
    width_lines : int
        Odd number of lines averaged about each line, at least 1: a line whose
        frequency wanders is spread over several.
    n_averages : int
        Independent spectra that were averaged into ``power``.

    Returns
    -------
    ndarray, shape (n_lines,)
        0 where the mean does not exceed the floor.

    Examples
    --------
    A line ten times the floor: 10 - 1 - ln 10.

    >>> import numpy as np
    >>> line_evidence(np.array([1.0, 10.0, 0.5]), width_lines=1)
    array([0. , 6.6974, 0. ])
    """
    mean = power
    if width_lines > 1:
        mean = _running_mean(power, width_lines // 2)
    mean = np.maximum(mean, 1.0)
    ratio: NDArray[np.float64] = width_lines * n_averages * (mean - 1.0 - np.log(mean))
    return ratio


def _running_mean(power: NDArray[np.float64], half: int) -> NDArray[np.float64]:
    """Mean of each line and ``half`` neighbours a side, of fewer at the ends."""
    n_lines = power.shape[-1]
    cumulative = np.concatenate(([0.0], np.cumsum(power)))
    if n_lines <= 2 * half:
        index = np.arange(n_lines)
        high, low = np.minimum(index + half + 1, n_lines), np.maximum(index - half, 0)
        return np.asarray((cumulative[high] - cumulative[low]) / (high - low))
    width = 2 * half + 1
    mean = np.empty(n_lines)
    mean[half : n_lines - half] = (cumulative[width:] - cumulative[:-width]) / width
    short = np.arange(half + 1, width)
    mean[:half] = cumulative[half + 1 : width] / short
    mean[n_lines - half :] = (cumulative[-1] - cumulative[n_lines - width + 1 : n_lines - half]) / (
        short[::-1]
    )
    return mean


@lru_cache(maxsize=256)
def _log_moment(n_lines: int) -> NDArray[np.float64]:
    """``ln E exp(t g)`` of the evidence g of a mean of ``n_lines``, for each tilt t.

    With a = n (1 - t): ``P(p <= 1) + exp(-t n) n^n / a^a * Gamma(a, a) / Gamma(n)``.
    """
    n = float(n_lines)
    a = n * (1.0 - TILTS)
    log_tail = (
        -TILTS * n
        + n * np.log(n)
        - a * np.log(a)
        + special.gammaln(a)
        + np.log(special.gammaincc(a, a))
        - special.gammaln(n)
    )
    moment: NDArray[np.float64] = np.log(special.gammainc(n, n) + np.exp(log_tail))
    return moment


def log_tail_bound(evidence: float, line_counts: Sequence[int]) -> float:
    """Upper bound of the log probability that noise reaches this evidence by chance.

    Chernoff's bound ``min over t of exp(-t T) prod E exp(t g)`` for independent
    lines; exact moments, so the bound holds for any number of lines.

    Parameters
    ----------
    evidence : float
        Sum of `line_evidence` over the comb, 0 or more.
    line_counts : sequence of int
        For each line of the comb the number of averaged values behind it
        (``width_lines * n_averages``), each at least 1.

    Returns
    -------
    float
        Natural logarithm of the bound, at most 0.

    Examples
    --------
    >>> log_tail_bound(0.0, [1, 1, 1])
    0.0
    >>> log_tail_bound(30.0, [1]) < -28
    True
    """
    total = np.zeros_like(TILTS)
    for count in line_counts:
        total = total + _log_moment(int(count))
    return min(0.0, float(np.min(total - TILTS * evidence)))
