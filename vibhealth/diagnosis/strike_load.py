"""From the mean strike to the strongest: strikes sorted by the load's turn against the defect."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.strike_shape import SECTORS, load_shapes

__all__ = ["Swing", "strongest_over_mean"]

# Rates of a swing that hangs on the cage are tried so many times per line of its spectrum.
STEPS_PER_LINE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """A turn of the load, or of the path, against the defect.

    Its phase is ``by_shaft`` times the shaft's turns plus ``by_strike`` times the
    number of strikes; the latter is known within the share ``slip``.
    """

    by_shaft: float
    by_strike: float = 0.0
    slip: float = 0.0
    repeats: tuple[int, ...] = (1,)


def strongest_over_mean(
    strikes: NDArray[np.float64],
    shaft_turns: NDArray[np.float64],
    weights: NDArray[np.float64],
    swings: tuple[Swing, ...],
) -> NDArray[np.float64]:
    """Squared strength of the strongest strikes over the mean one, for every weighting.

    Shapes of load zones (Harris, Rolling Bearing Analysis, from memory) are fitted to
    the strikes' means over sectors of the swing; the ratio is averaged over all of
    them as far as the strikes bear them out.

    Parameters
    ----------
    strikes : ndarray, shape (n_strikes,)
        Squared strength of each, unbiased but noisy.
    shaft_turns : ndarray, shape (n_strikes,)
        When each came.
    weights : ndarray, shape (n_weightings, n_strikes)
        The first row weighs all alike; the others are bootstrap draws.
    swings : tuple of Swing
        Independent of each other.

    Returns
    -------
    ndarray, shape (n_weightings,)
        At least 1.
    """
    ratio = np.ones(weights.shape[0])
    for swing in swings:
        ratio *= _one_swing(strikes, shaft_turns, weights, swing)
    return ratio


def _one_swing(
    strikes: NDArray[np.float64],
    shaft_turns: NDArray[np.float64],
    weights: NDArray[np.float64],
    swing: Swing,
) -> NDArray[np.float64]:
    turn = _phase(strikes, shaft_turns, swing)
    sector = np.floor(turn * SECTORS).astype(np.int64) % SECTORS
    member = np.zeros((strikes.size, SECTORS))
    member[np.arange(strikes.size), sector] = 1.0
    count = np.maximum(weights @ member, 1.0)
    means = (weights * strikes) @ member / count
    noise = np.var(strikes - means[0][sector]) / count.mean()
    shapes = np.vstack([load_shapes(repeats) for repeats in swing.repeats])
    fitted = np.maximum(means @ shapes.T, 0.0)
    gain = 0.5 * fitted**2 / np.sum(shapes**2, axis=-1) / max(noise, np.finfo(np.float64).tiny)
    chance = np.exp(gain - gain.max(axis=-1, keepdims=True))
    chance /= chance.sum(axis=-1, keepdims=True)
    ratio: NDArray[np.float64] = chance @ (1.0 / shapes.mean(axis=-1))
    return ratio


def _phase(
    strikes: NDArray[np.float64], shaft_turns: NDArray[np.float64], swing: Swing
) -> NDArray[np.float64]:
    """Phase of the swing at each strike, at the rate at which the strikes swing most."""
    number = np.arange(strikes.size, dtype=np.float64)
    base = swing.by_shaft * shaft_turns + swing.by_strike * number
    if swing.slip == 0:
        return base
    span = abs(swing.by_strike) * strikes.size
    n_steps = int(np.ceil(swing.slip * span * STEPS_PER_LINE))
    tried = np.arange(-n_steps, n_steps + 1) / (STEPS_PER_LINE * strikes.size)
    level = strikes - strikes.mean()
    turning = level * np.exp(-2j * np.pi * base)
    power = [abs(turning @ np.exp(-2j * np.pi * change * number)) for change in tried]
    phase: NDArray[np.float64] = base + tried[int(np.argmax(power))] * number
    return phase
