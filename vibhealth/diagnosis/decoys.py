"""The evidence that chance reaches, measured at orders where no bearing line can be."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["TAIL_QUANTILE", "DecoyLaw"]

# The tail of the decoys' evidence is taken as exponential above this quantile.
TAIL_QUANTILE = 0.98

# With fewer decoys nothing is significant.
FEWEST_DECOYS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class DecoyLaw:
    """The decoys' evidence: sorted values and an exponential tail above a threshold."""

    values: NDArray[np.float64]
    threshold: float
    scale: float

    @classmethod
    def measured(cls, evidence: NDArray[np.float64], *, values_per_sample: float) -> "DecoyLaw":
        """Law of decoys of which neighbours share lines: so many values make one sample."""
        values = np.sort(evidence[evidence >= 0])
        if values.size < FEWEST_DECOYS:
            return cls(values=values, threshold=np.inf, scale=1.0)
        threshold = float(np.quantile(values, TAIL_QUANTILE))
        excess = values[values > threshold] - threshold
        samples = max(1.0, excess.size / values_per_sample)
        mean = float(excess.mean()) if excess.size else 1.0
        return cls(
            values=values,
            threshold=threshold,
            scale=max(1.0, mean) * (1.0 + 1.0 / np.sqrt(samples)),
        )

    def log_probability(self, evidence: float, n_orders: int) -> float:
        """Log probability that any of ``n_orders`` decoys reaches the evidence (union bound)."""
        if self.values.size < FEWEST_DECOYS:
            return 0.0
        if evidence <= self.threshold:
            reached = self.values.size - int(np.searchsorted(self.values, evidence))
            return min(0.0, float(np.log(max(reached, 1) / self.values.size * n_orders)))
        log_share = np.log(1.0 - TAIL_QUANTILE) - (evidence - self.threshold) / self.scale
        return min(0.0, float(log_share + np.log(n_orders)))
