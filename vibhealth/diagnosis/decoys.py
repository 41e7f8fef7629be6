"""The evidence that chance reaches, measured at orders where no bearing line can be.

Decoys lie side by side on a fine grid and share lines, so their large values come in
clusters. Clusters above a high threshold arrive like a Poisson process, and their
largest values exceed the threshold by an exponential amount (S. Coles, An
Introduction to Statistical Modeling of Extreme Values, 2001, chapters 4 and 5:
peaks over threshold, declustered by runs; from memory). The probability that a window
of orders reaches an evidence follows from the number of clusters per order. How uncertain
the mean of a few excesses is, is part of the law: a new exponential excess over the
mean of n others follows F(2, 2n), so it exceeds y with probability
``(1 + y / sum)^-n`` (closed form: a ratio of gamma variables). Where decoys are few, what
theory expects of stationary noise counts as so many further clusters (a gamma prior of the
rate of the exponential law, whose predictive law has the same form).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["PRIOR_MEAN_EXCESS", "DecoyLaw"]

# The threshold is chosen so that this many clusters lie above it, or as many as this largest share
# of all decoys makes.
WANTED_CLUSTERS = 60
LARGEST_TAIL_SHARE = 0.03

# With fewer decoys, or no cluster at all, nothing is significant.
FEWEST_DECOYS = 50

# What is known beforehand: excesses of this mean, with the weight of so many clusters. Evidence of
# a single line falls as exp(-T) in stationary noise; that of combs a little slower (1.2 to 1.5 in
# simulated noise, the largest of all bands and widths taken).
PRIOR_MEAN_EXCESS = 1.4
PRIOR_CLUSTERS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class DecoyLaw:
    """Clusters of the decoys' evidence above a threshold, and how often they come.

    ``peaks`` holds the largest evidence of each cluster in rising order,
    ``n_decoys`` the number of grid orders in which they were counted.
    """

    peaks: NDArray[np.float64]
    threshold: float
    n_decoys: int

    @classmethod
    def measured(
        cls, evidence: NDArray[np.float64], is_decoy: NDArray[np.bool_], *, run_length: int
    ) -> "DecoyLaw":
        """Law of the decoys on a grid.

        Parameters
        ----------
        evidence : ndarray, shape (n_orders,)
            On the whole grid, in its order.
        is_decoy : ndarray of bool, shape (n_orders,)
            Which orders count.
        run_length : int
            Large values fewer than this many steps apart are one cluster; at least 1.
        """
        at = np.flatnonzero(is_decoy)
        values = evidence[at]
        threshold, peaks = math.inf, np.empty(0)
        share = min(LARGEST_TAIL_SHARE, WANTED_CLUSTERS / max(1, at.size))
        while at.size:
            threshold = float(np.quantile(values, 1.0 - share))
            peaks = _cluster_peaks(at, values, threshold, run_length)
            if peaks.size >= WANTED_CLUSTERS or share >= LARGEST_TAIL_SHARE:
                break
            share = min(LARGEST_TAIL_SHARE, 1.3 * share)
        return cls(peaks=peaks, threshold=threshold, n_decoys=int(at.size))

    @property
    def is_usable(self) -> bool:
        """Whether there are clusters enough to speak of a law."""
        return self.n_decoys >= FEWEST_DECOYS and self.peaks.size > 0

    @property
    def mean_excess(self) -> float:
        """How far the clusters reach above the threshold on average; 0 without any."""
        return self._own_excess / self.peaks.size if self.peaks.size else 0.0

    @property
    def _weight(self) -> float:
        """Number of clusters that the tail rests on, the prior's included."""
        return float(self.peaks.size + PRIOR_CLUSTERS)

    @property
    def _excess(self) -> float:
        """Sum of the excesses that the tail rests on, the prior's included."""
        return self._own_excess + PRIOR_CLUSTERS * PRIOR_MEAN_EXCESS

    @property
    def _own_excess(self) -> float:
        """Sum of the excesses of the clusters themselves."""
        return float(np.sum(self.peaks - self.threshold))

    def log_probability(self, evidence: float, n_orders: int) -> float:
        """Log probability that a window of ``n_orders`` grid orders reaches the evidence.

        0 (certain) below the threshold, where the law says nothing.
        """
        if not self.is_usable or evidence < self.threshold:
            return 0.0
        per_order = self.peaks.size / self.n_decoys
        log_tail = -self._weight * math.log1p((evidence - self.threshold) / self._excess)
        return _log_any(math.log(n_orders * per_order) + log_tail)

    def evidence_at(
        self, log_probability: float, n_orders: int, *, confidence: float | None = None
    ) -> float:
        """Evidence that a window of ``n_orders`` reaches with this probability; inverse of the law.

        With a ``confidence`` in (0, 1), the evidence that it hardly exceeds when the law is
        measured anew, in a recording that differs by a defect: the excesses of ``n`` clusters
        add up to a gamma variable, of whose mean that is the upper limit (``chi2 / 2 n`` with
        ``2 n`` degrees of freedom: closed form). A law of few clusters moves much.

        Infinite without a usable law; at least the threshold.
        """
        if not self.is_usable:
            return math.inf
        log_expected = math.log(-math.log1p(-math.exp(min(log_probability, -1e-12))))
        log_tail = log_expected - math.log(n_orders * self.peaks.size / self.n_decoys)
        excess = self._excess
        if confidence is not None:
            freedom = 2 * self.peaks.size
            limit = float(special.chdtri(freedom, 1.0 - confidence)) / freedom
            excess += (limit - 1.0) * self._own_excess
        return self.threshold + excess * max(0.0, math.expm1(-log_tail / self._weight))


def _cluster_peaks(
    at: NDArray[np.intp], values: NDArray[np.float64], threshold: float, run_length: int
) -> NDArray[np.float64]:
    """Largest value of each run of values above the threshold, sorted."""
    above = np.flatnonzero(values > threshold)
    if not above.size:
        return np.empty(0)
    starts = np.flatnonzero(np.append(True, np.diff(at[above]) > run_length))
    return np.sort(np.maximum.reduceat(values[above], starts))


def _log_any(log_expected: float) -> float:
    """Log probability of at least one, of a Poisson number with this log mean."""
    if log_expected < -20:
        return log_expected
    return math.log(-math.expm1(-math.exp(min(log_expected, 3.0))))
