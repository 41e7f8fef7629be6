"""How the noise rises and falls within a turn, told from something that hits in every turn.

A load zone that turns past the sensor makes the noise swell and fade smoothly: in
amplitude by ``1 + m cos`` once or twice per turn. A guard that hits at one place leaves a
bump that rises at once and rings for as long as the structure does, at a high speed for a
third of the turn and more. A smooth curve that is free enough to follow the first follows
the second too, and would hide it; hence a curve that is stiff enough not to stands beside
it and says which of the two it is.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["QUIET_QUANTILE", "load_sweep"]

# Quantile of the squared envelope from which the noise is taken; hits that ring for less than half
# of the time hardly move it.
QUIET_QUANTILE = 0.25

# Places in the turn, and the harmonics a sweeping load zone needs. The logarithm of
# (1 + m cos)^2 has harmonics of 2 r^n / n with r below m / (1 + sqrt(1 - m^2)): the fifth is below
# 0.02 for m = 0.7 (closed form).
PLACES = 32
HARMONICS = 4
FIT_ROUNDS = 12

# The stiff curve: (1 + m cos)^2 once or twice per turn, m up to 0.8, laid through so low a quantile
# of the places that a bump over half of the turn stays above it. Noise that sweeps past as anything
# between this and exp(2.2 cos) lies within 1 of it in logarithm (closed form); what
# stands higher by 2, seven times the power, is no load zone.
DEEPEST = 0.8
DEPTH_STEP = 0.05
STIFF_QUANTILE = 0.35
BUMP = 2.0


def load_sweep(
    envelope: NDArray[np.float64], phase_turns: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How the noise rises and falls within a turn, without what hits at one place of it.

    The quiet quantile at places of the turn, its logarithm fitted by a few harmonics
    with least absolute deviations, so that a short hit stays outside; where that
    curve follows a bump that no load zone makes, the nearest load zone instead.

    Parameters
    ----------
    envelope : ndarray, shape (n_values,)
        Squared, above 0.
    phase_turns : ndarray, shape (n_values,)
        Shaft angle of each value.

    Returns
    -------
    ndarray, shape (n_values,)
        Factor on the mean noise, its logarithm zero on average over the places.
    """
    place = np.floor(phase_turns * PLACES).astype(np.int64) % PLACES
    order = np.argsort(place, kind="stable")
    groups = np.split(envelope[order], np.cumsum(np.bincount(place, minlength=PLACES))[:-1])
    if min(group.size for group in groups) < 2:
        return np.ones_like(envelope)
    level = np.log(np.array([np.quantile(group, QUIET_QUANTILE) for group in groups]))
    smooth, zone = _smooth(level), _nearest_load_zone(level)
    shape = zone if np.max(smooth - zone) > BUMP else smooth
    shape = shape - shape.mean()
    at = np.concatenate([shape[-1:], shape, shape[:1]])
    places = (np.arange(-1, PLACES + 1) + 0.5) / PLACES
    factor: NDArray[np.float64] = np.exp(np.interp(phase_turns % 1.0, places, at))
    return factor


def _angles() -> NDArray[np.float64]:
    angles: NDArray[np.float64] = 2 * np.pi * (np.arange(PLACES) + 0.5) / PLACES
    return angles


def _smooth(level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Few harmonics through the places, least absolute deviations."""
    columns = [
        wave(number * _angles()) for number in range(1, HARMONICS + 1) for wave in (np.cos, np.sin)
    ]
    basis = np.column_stack([np.ones(PLACES), *columns])
    weights = np.ones(PLACES)
    fitted = np.zeros(PLACES)
    for _ in range(FIT_ROUNDS):
        root = np.sqrt(weights)
        coefficients = np.linalg.lstsq(basis * root[:, None], level * root, rcond=None)[0]
        fitted = basis @ coefficients
        weights = 1.0 / np.maximum(np.abs(level - fitted), 1e-3)
    return fitted


def _nearest_load_zone(level: NDArray[np.float64]) -> NDArray[np.float64]:
    """The curve of a load zone that lies nearest, weighed so that a bump stays above it."""
    angles = _angles()
    depths = np.arange(0.0, DEEPEST + DEPTH_STEP / 2, DEPTH_STEP)
    swings = np.concatenate([np.cos(n * angles - angles[:, None]) for n in (1, 2)])
    curves = 2 * np.log1p(np.multiply.outer(depths, swings)).reshape(-1, PLACES)
    left = level - curves
    offset = np.quantile(left, STIFF_QUANTILE, axis=1, keepdims=True)
    left = left - offset
    costs = np.where(left > 0, STIFF_QUANTILE * left, (STIFF_QUANTILE - 1) * left).mean(axis=1)
    best = int(np.argmin(costs))
    return np.asarray(curves[best] + offset[best], dtype=np.float64)
