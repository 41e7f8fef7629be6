"""Strikes and scraping of a mistake: contacts, hits of every turn, grit, guard, rub."""

import numpy as np
from numpy.typing import NDArray

from vibhealth.simulate._body import BodyMotion
from vibhealth.simulate._shaft import ShaftAngle
from vibhealth.simulate._strikes import StrikeTrain

__all__ = [
    "contact_strikes",
    "grit_strikes",
    "guard_contacts",
    "hits_of_every_turn",
    "rub_window",
]

# Scatter and jitter of repeated contacts (common practice, no source).
_CONTACT_SCATTER = 0.3
_HIT_JITTER_TURNS = 0.01
_HIT_SCATTER = 0.5
# Sizes of dents by hard particles: log-normal, a factor of two each way for one sigma; a
# particle is felt as strongly at every point, with this spread (common practice, no source).
_GRIT_SPREAD = 0.7
_GRIT_WEAKEST_SHARE = 0.5
# The guard is met and left over this share of the rub at either end.
_RUB_EDGE_SHARE = 0.15


def contact_strikes(
    along: NDArray[np.float64],
    velocity: NDArray[np.float64],
    limit: float,
    sampling_rate_hz: float,
    rng: np.random.Generator,
) -> StrikeTrain:
    """One strike each time a displacement passes a limit outwards, strong as it is fast.

    Strengths are in m/s and for one point.
    """
    index = np.flatnonzero((along[:-1] < limit) & (along[1:] >= limit))
    part = (limit - along[index]) / (along[index + 1] - along[index])
    scatter = 1 - _CONTACT_SCATTER * rng.random(index.size)
    return StrikeTrain(
        times_s=(index + part) / sampling_rate_hz,
        strengths=(np.abs(velocity[index]) * scatter)[np.newaxis],
    )


def guard_contacts(
    x: BodyMotion,
    y: BodyMotion,
    clearance: tuple[float, float],
    sampling_rate_hz: float,
    rng: np.random.Generator,
) -> StrikeTrain:
    """Strikes on a guard that stands in one radial direction, each time the body gets there.

    ``clearance`` is its direction in turns from x and its distance in m; strengths are
    the speed in m/s towards it.
    """
    direction_turns, distance = clearance
    along_x, along_y = np.cos(2 * np.pi * direction_turns), np.sin(2 * np.pi * direction_turns)
    return contact_strikes(
        along_x * x.displacement + along_y * y.displacement,
        along_x * x.velocity + along_y * y.velocity,
        distance,
        sampling_rate_hz,
        rng,
    )


def hits_of_every_turn(
    per_turn: int, place: float, shaft: ShaftAngle, rng: np.random.Generator
) -> StrikeTrain:
    """Hits evenly around the turn, not quite at the same angle nor equally hard.

    ``place`` is that of the first, 0 to 1 of the way to the next.
    """
    first, last = shaft.turns_at(np.array([0.0, shaft.duration_s]))
    numbers = np.arange(np.ceil(first * per_turn), np.floor(last * per_turn) + 1)
    turns = (numbers + place) / per_turn
    turns = turns + _HIT_JITTER_TURNS * rng.standard_normal(turns.size)
    strengths = 1 - _HIT_SCATTER * rng.random(turns.size)
    times_s = shaft.time_of(turns)
    return StrikeTrain(times_s=times_s, strengths=strengths[np.newaxis])


def grit_strikes(
    n_points: int, per_second: float, duration_s: float, rng: np.random.Generator
) -> StrikeTrain:
    """Single spikes at random moments (Poisson), sizes log-normal with median 1."""
    count = int(rng.poisson(per_second * duration_s))
    sizes = np.exp(_GRIT_SPREAD * rng.standard_normal(count))
    shares = rng.uniform(_GRIT_WEAKEST_SHARE, 1.0, (n_points, count))
    return StrikeTrain(
        times_s=np.sort(rng.uniform(0.0, duration_s, count)), strengths=shares * sizes
    )


def rub_window(
    turns: NDArray[np.float64], share_of_turn: float, place_turns: float
) -> NDArray[np.float64]:
    """1 while the guard is touched, once per turn, with faded edges; 0 elsewhere."""
    place = (turns - place_turns) % 1.0 / share_of_turn
    return np.clip(np.minimum(place, 1 - place) / _RUB_EDGE_SHARE, 0.0, 1.0)
