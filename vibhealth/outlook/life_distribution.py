"""How long units last: a Weibull distribution, and what it says of a unit of a given age."""

import math
from dataclasses import dataclass
from typing import Self

from scipy.special import gamma, gammainc

from vibhealth.errors import InputError

__all__ = ["LifeDistribution"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeDistribution:
    """Two-parameter Weibull distribution of life in hours.

    Parameters
    ----------
    slope : float
        Above 0. Above 1 units age, at 1 they fail by chance, below 1 the new fail most.
    scale_h : float
        Above 0; by then 63.2 % have failed.

    Raises
    ------
    InputError
        If one of them is not above 0 or not finite.

    Notes
    -----
    F(t) = 1 - exp(-(t / scale)^slope); W. Weibull, J. Appl. Mech. 18, 1951, 293-297.

    Examples
    --------
    >>> life = LifeDistribution(slope=2.0, scale_h=1000.0)
    >>> round(life.failing_within(500.0, 100.0), 6)
    0.104166
    """

    slope: float
    scale_h: float

    def __post_init__(self) -> None:
        for name, value in (("slope", self.slope), ("scale_h", self.scale_h)):
            if not (math.isfinite(value) and value > 0):
                msg = f"{name} of a life distribution must be a number above 0, got {value}"
                raise InputError(msg)

    @classmethod
    def from_rating_life(cls, l10h: float, slope: float) -> Self:
        """Of which 10 % fail before the rating life L10 in hours (ISO 281)."""
        if not slope > 0:
            msg = f"slope of a life distribution must be a number above 0, got {slope}"
            raise InputError(msg)
        return cls(slope=slope, scale_h=l10h / (-math.log(0.9)) ** (1 / slope))

    def survival(self, hours: float) -> float:
        """Share that reaches an age; 1 before 0."""
        return math.exp(-self._hazard_so_far(hours))

    def failing_within(self, age_h: float, further_h: float) -> float:
        """Chance that a unit that has reached ``age_h`` fails within ``further_h`` hours."""
        if further_h <= 0:
            return 0.0
        more = self._hazard_so_far(age_h + further_h) - self._hazard_so_far(age_h)
        return -math.expm1(-more)

    def further_life_h(self, age_h: float, share: float) -> float:
        """Further hours within which a share, 0 to below 1, of units of an age have failed."""
        if not 0 <= share < 1:
            msg = f"a share of failed units must be at least 0 and below 1, got {share}"
            raise InputError(msg)
        total = self._hazard_so_far(age_h) - math.log1p(-share)
        return float(self.scale_h * total ** (1 / self.slope) - max(age_h, 0.0))

    def hazard(self, hours: float) -> float:
        """Failures per hour among those that have reached an age above 0."""
        if not hours > 0:
            msg = f"an age must be a number of hours above 0, got {hours}"
            raise InputError(msg)
        return float(self.slope / self.scale_h * (hours / self.scale_h) ** (self.slope - 1))

    def mean_h(self) -> float:
        """Mean life."""
        return float(self.scale_h * gamma(1 + 1 / self.slope))

    def mean_up_to_h(self, hours: float) -> float:
        """Mean of life cut off at ``hours``: the integral of the survival up to there."""
        return float(self.mean_h() * gammainc(1 / self.slope, self._hazard_so_far(hours)))

    def _hazard_so_far(self, hours: float) -> float:
        return float((max(hours, 0.0) / self.scale_h) ** self.slope)
