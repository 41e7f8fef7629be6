"""What is not the bearing: falling material, a loose guard, a faulty recorder."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.simulate._shaft import ShaftAngle
from vibhealth.simulate._strikes import StrikeTrain
from vibhealth.simulate.recording import DefectTruth
from vibhealth.simulate.settings import SimulationSettings
from vibhealth.units import g_to_m_s2

__all__ = ["Gap", "clipped", "guard_strikes", "make_gap", "material_strikes"]

# Falling material: sizes follow a Pareto law, heavy enough that the kurtosis of a long
# recording means nothing (common practice, no source).
_PARETO_EXPONENT = 1.1
_LARGEST_OVER_SMALLEST = 300.0
_WEAKEST_DIRECTION = 0.3
# A guard strikes once per turn, not quite at the same angle nor equally hard.
_GUARD_JITTER_TURNS = 0.01
_GUARD_SCATTER = 0.5


def material_strikes(
    n_points: int, duration_s: float, settings: SimulationSettings, rng: np.random.Generator
) -> StrikeTrain:
    """Random moments, heavy-tailed sizes, a random share in every direction."""
    n_strikes = int(rng.poisson(settings.material_strikes_per_second * duration_s))
    sizes = np.minimum(1.0 + rng.pareto(_PARETO_EXPONENT, n_strikes), _LARGEST_OVER_SMALLEST)
    shares = rng.uniform(_WEAKEST_DIRECTION, 1.0, (n_points, n_strikes))
    return StrikeTrain(
        times_s=np.sort(rng.uniform(0.0, duration_s, n_strikes)), strengths=shares * sizes
    )


def guard_strikes(n_points: int, shaft: ShaftAngle, rng: np.random.Generator) -> StrikeTrain:
    """One strike per turn at about the same shaft angle."""
    first, last = shaft.turns_at(np.array([0.0, shaft.duration_s]))
    turns = np.arange(np.ceil(first), np.floor(last) + 1) + rng.random()
    turns = turns + _GUARD_JITTER_TURNS * rng.standard_normal(turns.size)
    strengths = 1.0 - _GUARD_SCATTER * rng.random(turns.size)
    return StrikeTrain(
        times_s=shaft.time_of(turns), strengths=np.broadcast_to(strengths, (n_points, turns.size))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A run of samples that the recorder lost, in samples of the unbroken recording."""

    start: int
    length: int

    def close(self, array: NDArray[np.float64]) -> NDArray[np.float64]:
        """Leave the lost samples out along the last axis."""
        if self.length == 0:
            return array
        return np.delete(array, np.s_[self.start : self.start + self.length], axis=-1)

    def close_strikes(self, truth: DefectTruth, sampling_rate_hz: float) -> DefectTruth:
        """Leave the lost strikes out and move the later ones forward."""
        start_s, end_s = (
            self.start / sampling_rate_hz,
            (self.start + self.length) / sampling_rate_hz,
        )
        times_s = truth.strike_times_s
        is_kept = (times_s < start_s) | (times_s >= end_s)
        moved_s = np.where(times_s >= end_s, times_s - (end_s - start_s), times_s)
        return replace(
            truth, strike_times_s=moved_s[is_kept], strengths=truth.strengths[:, is_kept]
        )


def make_gap(settings: SimulationSettings, rng: np.random.Generator) -> Gap:
    """Draw a gap somewhere in the middle third of the recording."""
    third = settings.n_samples // 3
    return Gap(start=third + int(rng.integers(0, third + 1)), length=settings.dropped_samples)


def clipped(samples: NDArray[np.float64], settings: SimulationSettings) -> NDArray[np.float64]:
    """Samples as a converter of limited range delivers them."""
    if settings.clip_g is None:
        return samples
    limit = g_to_m_s2(settings.clip_g)
    return np.clip(samples, -limit, limit)
