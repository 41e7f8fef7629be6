"""Strikes of an invented defect: when, how strong, and how the structure answers.

The strikes of a train turn with a cage that walks, scatter about their places and swing
with the load and the path that the card's load case gives them (the laws and their numbers
are those of the simulated machines; P. D. McFadden and J. D. Smith, Journal of Sound and
Vibration 96 (1984) 69-82, and J. Antoni and R. B. Randall, Journal of Vibration and
Acoustics 125 (2003) 282-289, both from memory). Each is answered by one decaying
oscillation whose spectrum ends smoothly on both sides of the resonance.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import Comb
from vibhealth.model import Element

__all__ = ["StrikeLaw", "Strikes", "draw_strikes", "ring_lines", "strike_law"]

# Of one strike's place, and from one strike to the next, as shares of the spacing (common practice,
# no source). A cage strikes once where Z elements pass, so its own strikes walk less by about
# the root of 2 Z, which is 5 for the usual 8 to 20 elements.
JITTER = 0.005
# How much a cage walks differs from bearing to bearing: trains are spread over this range, evenly on
# a logarithmic scale. A train that keeps its time better is not easier to find: whitening takes
# from lines that stand out of the record.
WALKS = (0.002, 0.005)
CAGE_WALK_SHARE = 0.2

# Strengths lie evenly in [1 - scatter, 1] (common practice, no source).
SCATTER = 0.1
CAGE_SCATTER = 0.4

# Load zone of Harris, Rolling Bearing Analysis (from memory): clearance gives a half width of 78
# degrees, line contact the exponent. On the way round the bearing half of a strike is lost.
LOAD_FACTOR = 0.4
LOAD_EXPONENT = 10.0 / 9.0
PATH_LOSS = 0.5

# Common practice, no source. Farther than this many times its frequency a resonance does not
# ring: an abrupt start would reach where a recorder's filter has left nothing to hide it.
DAMPING_RATIO = 0.04
RING_REACH = 2.2

# Largest value of a decaying sine, reached at the phase arccos(damping ratio) (closed form).
_UNDAMPED = math.sqrt(1.0 - DAMPING_RATIO**2)
LARGEST = _UNDAMPED * math.exp(-DAMPING_RATIO / _UNDAMPED * math.acos(DAMPING_RATIO))


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeLaw:
    """How the strikes of one element come: rates in orders, scatter as shares.

    ``load_order`` and ``path_order`` are how often per turn a strike's place goes through the
    load zone, and past the sensor; None where it never leaves it. ``walks`` is the range,
    above 0, in which the walk from one strike to the next lies.
    """

    load_order: float | None
    path_order: float | None
    scatter: float
    walks: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strikes:
    """Times and strengths of a train; the strongest possible strike has strength 1."""

    time_s: NDArray[np.float64]
    strength: NDArray[np.float64]


def strike_law(comb: Comb) -> StrikeLaw:
    """Law of the strikes that the card's load case gives an element.

    Parameters
    ----------
    comb : Comb
        Its strong side bands are the load's; with an unknown load case there is none, and
        the load is taken to swing all the same, which makes the defect harder to find.

    Returns
    -------
    StrikeLaw
    """
    if comb.element is Element.CAGE:
        return StrikeLaw(
            load_order=None,
            path_order=None,
            scatter=CAGE_SCATTER,
            walks=(CAGE_WALK_SHARE * WALKS[0], CAGE_WALK_SHARE * WALKS[1]),
        )
    load = [band for band in comb.spacings if band.strength == "strong"]
    load = load or [band for band in comb.spacings if band.origin == "load"]
    path = [band for band in comb.spacings if band.origin == "path"]
    path = path or [b for b in load if b.origin == "load and path"]
    return StrikeLaw(
        load_order=load[0].spacing_order if load else None,
        path_order=path[0].spacing_order if path else None,
        scatter=SCATTER,
        walks=WALKS,
    )


def draw_strikes(  # noqa: PLR0913 (facts of a train)
    law: StrikeLaw,
    strike_order: float,
    *,
    shaft_frequency_hz: float,
    duration_s: float,
    walk_share: float,
    rng: np.random.Generator,
) -> Strikes:
    """One random train of strikes within a duration.

    Parameters
    ----------
    law : StrikeLaw
        As from `strike_law`.
    strike_order : float
        Mean strikes per turn of the shaft, above 0.
    shaft_frequency_hz, duration_s : float
        Above 0.
    walk_share : float
        Where in the law's range of walks the cage is, on a logarithmic scale, 0 to 1.
    rng : numpy.random.Generator
        Draws the phases, the steps of the cage and the scatter.

    Returns
    -------
    Strikes
    """
    spacing_s = 1.0 / (strike_order * shaft_frequency_hz)
    count = int(duration_s / spacing_s) + 2
    low, high = law.walks
    size = low * (high / low) ** walk_share
    walk = np.cumsum(size * rng.standard_normal(count))
    # A walk as a whole is no slip: it ends where it began.
    walk -= walk[-1] * np.arange(1, count + 1) / count
    place = np.arange(count) + rng.random() - 1.0 + walk + JITTER * rng.standard_normal(count)
    time_s = spacing_s * place
    strength = 1.0 - law.scatter * rng.random(count)
    phases = rng.random(2)
    turns = shaft_frequency_hz * time_s
    same = law.load_order == law.path_order
    if law.load_order is not None:
        away = 0.5 - 0.5 * np.cos(2 * np.pi * (law.load_order * turns + phases[0]))
        strength *= np.maximum(0.0, 1.0 - away / LOAD_FACTOR) ** LOAD_EXPONENT
    if law.path_order is not None:
        phase = phases[0] if same else phases[1]
        away = 0.5 - 0.5 * np.cos(2 * np.pi * (law.path_order * turns + phase))
        strength *= 1.0 - PATH_LOSS * away
    inside = (time_s >= 0) & (time_s < duration_s) & (strength > 0)
    return Strikes(time_s=time_s[inside], strength=strength[inside])


def ring_lines(frequency_hz: NDArray[np.float64], ring_hz: float) -> NDArray[np.complex128]:
    """Spectrum (per Hz) of one decaying oscillation whose largest value is 1.

    The oscillation starts abruptly and reaches 1 a quarter of a period later; what of its
    spectrum lies far from the resonance is left out, so that less of it is seen than of such
    a strike, never more.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n_lines,)
        0 or more.
    ring_hz : float
        Resonance, above 0.

    Returns
    -------
    ndarray of complex128, shape (n_lines,)
        Zero beyond `RING_REACH` times, and below one over so many times, the resonance.
    """
    omega = 2 * np.pi * ring_hz
    damped_square = omega**2 * (1 - DAMPING_RATIO**2)
    variable = DAMPING_RATIO * omega + 2j * np.pi * frequency_hz
    response = np.sqrt(damped_square) / (variable**2 + damped_square)
    octaves = np.abs(np.log(np.maximum(frequency_hz, 1e-9 * ring_hz) / ring_hz))
    away = np.minimum(1.0, octaves / np.log(RING_REACH))
    lines: NDArray[np.complex128] = response * np.cos(0.5 * np.pi * away) ** 2 / LARGEST
    return lines
