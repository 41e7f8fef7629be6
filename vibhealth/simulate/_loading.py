"""Load and path: how strong a strike is at a place, and how strong it arrives."""

import numpy as np
from numpy.typing import NDArray

from vibhealth.model import LoadCase

__all__ = ["load_direction_turns", "load_weight", "path_weight"]

# Exponent of load over deflection for line contact (rollers), Harris, Rolling Bearing
# Analysis, load distribution (from memory); 3/2 would be point contact.
_LOAD_EXPONENT = 10.0 / 9.0

# Twin shafts: the force along the line of motion is partly carried by the body's own
# inertia, so the load vector runs round an ellipse; smallest over largest load
# (common practice, no source).
_SMALLEST_OVER_LARGEST = 0.5


def load_direction_turns(case: LoadCase, shaft_turns: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean direction of the load vector in turns, from the x direction."""
    if case is LoadCase.STATIONARY:
        return np.zeros_like(shaft_turns)
    return np.asarray(shaft_turns, dtype=np.float64)


def load_weight(
    case: LoadCase,
    place_turns: NDArray[np.float64],
    shaft_turns: NDArray[np.float64],
    load_factor: float,
) -> NDArray[np.float64]:
    """Load at a place of the bearing over the largest load, 0 outside the load zone.

    The load zone is that of Harris, Rolling Bearing Analysis (from memory):
    ``[1 - (1 - cos psi) / (2 load_factor)]^n``, with ``psi`` the angle from the
    load vector.
    """
    if case is LoadCase.TWICE_PER_TURN:
        angle = 2 * np.pi * shaft_turns
        along, across = np.cos(angle), _SMALLEST_OVER_LARGEST * np.sin(angle)
        magnitude = np.hypot(along, across)
        psi = 2 * np.pi * place_turns - np.arctan2(across, along)
    else:
        magnitude = np.ones_like(place_turns)
        psi = 2 * np.pi * (place_turns - load_direction_turns(case, shaft_turns))
    deflection = 1.0 - (1.0 - np.cos(psi)) / (2.0 * load_factor)
    return np.asarray(magnitude * np.maximum(deflection, 0.0) ** _LOAD_EXPONENT, dtype=np.float64)


def path_weight(
    place_turns: NDArray[np.float64], sensor_turns: NDArray[np.float64], modulation: float
) -> NDArray[np.float64]:
    """Share of a strike that arrives: 1 under the sensor, ``1 - modulation`` opposite."""
    away = 1.0 - np.cos(2 * np.pi * (place_turns - sensor_turns))
    return 1.0 - 0.5 * modulation * away
