"""When hits come: at one place of the turn, at recurring distances, or at random.

A loose guard hits at one angle of the shaft; a spall strikes at distances that recur;
falling material does neither. Hits at random form a Poisson process, in which the
distances between any two of them are spread evenly: a distance that occurs far more
often than its neighbours is a rhythm (D. R. Cox and P. A. W. Lewis, The Statistical
Analysis of Series of Events, 1966, ch. 5, intensity function, from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, special

__all__ = ["LockedHits", "locked_to_shaft", "random_hits"]

# A guard hits within this share of the turn; a spall under a turning load strikes within its load
# zone, which is several times wider. At most so many places per turn (common practice, no source).
ARC_TURNS = 0.05
MOST_ARCS = 3

# In at least this share of all turns, and with at least this share of what exceeds an even spread.
LEAST_TURN_SHARE = 0.5
LEAST_ARC_SHARE = 0.85

# Probability that hits at random are taken for locked, or for a rhythm, anywhere searched.
FALSE_ALARM_PROBABILITY = 1e-3

# Distances are sorted into bins of this relative width, up to so many turns (or seconds, where the
# shaft is not known); the neighbourhood that tells what is usual reaches so many bins to each side.
BIN_WIDTH = 0.03
LONGEST_TURNS = 3.2
LONGEST_S = 0.25
NEIGHBOURS = 12

# Bins tell whether a hit has a partner as long as a hit at random has this many by chance.
CHANCE_PARTNERS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class LockedHits:
    """Hits at one to three places of the turn.

    ``is_locked`` marks those within the arcs, ``is_beside`` those within an arc's width of
    them (stragglers); ``free_share`` is the share of the turn outside both,
    ``turn_share`` the share of turns that have a locked one.
    """

    is_locked: NDArray[np.bool_]
    is_beside: NDArray[np.bool_]
    free_share: float
    turn_share: float


def locked_to_shaft(hit_turns: NDArray[np.float64], n_turns: float) -> LockedHits | None:
    """Hits that come at the same places of the turn, or None.

    Arcs of `ARC_TURNS` are placed where they hold most hits. They count where that
    many are significant against an even spread (binomial law, all arcs searched), at
    least half of all turns have one, and hardly any hits cluster elsewhere: a spall
    under a turning load drifts through its load zone and fills a wider part.

    Parameters
    ----------
    hit_turns : ndarray, shape (n_hits,)
        Shaft angle of each hit in turns.
    n_turns : float
        Turns in the recording, above 0.

    Returns
    -------
    LockedHits or None
    """
    if hit_turns.size == 0:
        return None
    phase = hit_turns % 1.0
    locked = np.zeros(hit_turns.shape, dtype=np.bool_)
    starts: list[float] = []
    while len(starts) < MOST_ARCS:
        start, inside = _fullest_arc(phase, ~locked)
        free = int(np.count_nonzero(~locked))
        chance = special.bdtrc(int(inside.sum()) - 1, free, ARC_TURNS) * free
        is_regular = _turn_share(hit_turns[inside], n_turns) >= LEAST_TURN_SHARE
        if chance > FALSE_ALARM_PROBABILITY or not is_regular:
            break
        if _near(phase[inside], starts).any():
            return None  # wider than one place: a load zone
        locked |= inside
        starts.append(start)
    if not starts:
        return None
    n_places = round(1 / ARC_TURNS)
    counts = np.bincount(
        np.minimum((phase * n_places).astype(np.int64), n_places - 1), minlength=n_places
    )
    even = float(np.median(counts))
    in_arcs = float(locked.sum()) - len(starts) * even
    elsewhere = float((~locked).sum()) - (n_places - len(starts)) * even
    if in_arcs < LEAST_ARC_SHARE * (in_arcs + max(0.0, elsewhere)):
        return None
    return LockedHits(
        is_locked=locked,
        is_beside=_near(phase, starts) & ~locked,
        free_share=1.0 - float(np.mean(_near(np.arange(0.0, 1.0, 1e-3), starts))),
        turn_share=_turn_share(hit_turns[locked], n_turns),
    )


def _near(phase: NDArray[np.float64], starts: Sequence[float]) -> NDArray[np.bool_]:
    """Within an arc, or less than its width beside it."""
    near = np.zeros(phase.shape, dtype=np.bool_)
    for start in starts:
        near |= (phase - start + ARC_TURNS) % 1.0 <= 3 * ARC_TURNS
    return near


def _fullest_arc(
    phase: NDArray[np.float64], free: NDArray[np.bool_]
) -> tuple[float, NDArray[np.bool_]]:
    """Start of the arc that holds most free hits, and those hits; arcs start at a hit."""
    sorted_phase = np.sort(phase[free])
    twice = np.concatenate([sorted_phase, sorted_phase + 1.0])
    count = np.searchsorted(twice, sorted_phase + ARC_TURNS, side="right") - np.arange(
        sorted_phase.size
    )
    start = float(sorted_phase[int(np.argmax(count))]) if sorted_phase.size else 0.0
    inside: NDArray[np.bool_] = free & ((phase - start) % 1.0 <= ARC_TURNS)
    return start, inside


def _turn_share(hit_turns: NDArray[np.float64], n_turns: float) -> float:
    """Share of turns with a hit; turns are counted from the arc's own middle."""
    if hit_turns.size == 0:
        return 0.0
    middle = np.angle(np.mean(np.exp(2j * np.pi * hit_turns))) / (2 * np.pi)
    return np.unique(np.rint(hit_turns - middle)).size / max(1.0, n_turns)


def random_hits(
    positions: NDArray[np.float64], length: float, *, shortest: float, longest: float
) -> float:
    """How many of the hits come at random, and not at recurring distances.

    Two estimates, of which the smaller counts: the hits without a partner at a
    recurring distance, and all hits but those of a train that makes so many pairs at that
    distance (of which each strike may be heard or not).

    Parameters
    ----------
    positions : ndarray, shape (n_hits,)
        Rising, in turns or seconds.
    length : float
        Of the recording, in the same unit.
    shortest, longest : float
        Distances that are looked at; below ``shortest`` two hits are one.

    Returns
    -------
    float
        Between 0 and the number of hits.
    """
    n_hits = positions.size
    if n_hits < 2 or longest <= shortest:
        return float(n_hits)
    first, second = _pairs(positions, longest)
    distance = positions[second] - positions[first]
    left = float(n_hits)
    for edges in _bin_edges(shortest, longest):
        counts, usual = _counts(distance, edges, n_hits * n_hits / length)
        chance = special.pdtrc(np.maximum(counts - 1, 0), usual) * 2 * counts.size
        rhythm = np.flatnonzero((counts > 0) & (chance < FALSE_ALARM_PROBABILITY))
        if rhythm.size == 0:
            continue
        # All hits of one period T, each heard with the same chance: n^2 T / length pairs at T.
        excess = (counts - usual)[rhythm] * length / (n_hits * n_hits * edges[rhythm])
        left = min(left, n_hits * (1.0 - min(1.0, math.sqrt(float(excess.max())))))
        clearest = rhythm[np.argsort(usual[rhythm] / counts[rhythm])]
        told = clearest[2.0 * np.cumsum(usual[clearest]) / n_hits <= CHANCE_PARTNERS]
        is_told = np.zeros(counts.size + 2, dtype=np.bool_)
        is_told[told + 1] = True
        belongs = is_told[np.searchsorted(edges, distance, side="right")]
        has_partner = np.zeros(n_hits, dtype=np.bool_)
        has_partner[first[belongs]] = True
        has_partner[second[belongs]] = True
        by_chance = 1.0 - math.exp(-2.0 * float(usual[told].sum()) / n_hits)
        left = min(left, float(np.count_nonzero(~has_partner)) / (1.0 - by_chance))
    return left


def _bin_edges(shortest: float, longest: float) -> list[NDArray[np.float64]]:
    """Edges of two sets of bins, the second half a bin beside the first."""
    n_bins = int(math.log(longest / shortest) / math.log1p(BIN_WIDTH))
    steps = np.arange(n_bins + 1, dtype=np.float64)
    if n_bins < 1:
        return []
    return [shortest * np.power(1 + BIN_WIDTH, steps + offset) for offset in (0.0, 0.5)]


def _pairs(
    positions: NDArray[np.float64], longest: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Numbers of all pairs of hits at most ``longest`` apart."""
    reach = np.searchsorted(positions, positions + longest, side="right")
    counts = reach - np.arange(positions.size) - 1
    first = np.repeat(np.arange(positions.size), counts)
    step = np.arange(first.size) - np.repeat(np.cumsum(counts) - counts, counts)
    return first, first + step + 1


def _counts(
    distance: NDArray[np.float64], edges: NDArray[np.float64], density: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pairs per bin, and what is usual there: a Poisson process, or the bins around if more."""
    counts = np.histogram(distance, edges)[0].astype(np.float64)
    width = np.diff(edges)
    around = ndimage.median_filter(counts / width, 2 * NEIGHBOURS + 1, mode="nearest")
    return counts, np.maximum(around, density) * width
