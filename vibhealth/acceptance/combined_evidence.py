"""Evidence of several recordings and axes together, instead of the best of many looks.

Two questions. How likely is it that noise alone shows a family as often as it was
seen, with all recordings and axes counted that were looked at? And do the recordings
agree on one cage speed, as the families of one bearing must?

A false-alarm probability of one recording, right or too large, lies below ``p`` with a
chance of at most ``p`` under noise. Recordings of a point made one after the other
have independent noise, so the number of them at or below ``p`` follows the binomial
law: of ``n`` looks at least ``k`` show it by chance with the tail of that law at the
``k``-th smallest probability (for ``k = 1`` the correction of Z. Sidak, J. Am. Stat.
Assoc. 62 (1967) 626-633, from memory). Axes recorded together share their noise:
nothing is taken as independent between points, the smallest is multiplied by their
number (Bonferroni's inequality, which holds for any dependence).
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from scipy import stats

from vibhealth.acceptance._evidence import point_of
from vibhealth.model import CageSpeed, CriterionResult, FamilyFinding, RecordingAnalysis

__all__ = [
    "AGREEING_RECORDINGS",
    "AGREEING_SHARE",
    "CAGE_TOLERANCE",
    "CommonCage",
    "PointEvidence",
    "Reading",
    "chance_of_agreement",
    "chance_together",
    "common_cage",
    "needed_to_agree",
    "over_points",
    "point_evidence",
]

Reading = tuple[RecordingAnalysis, FamilyFinding]

# With this many recordings of a point a family must show in this share of them.
AGREEING_RECORDINGS = 3
AGREEING_SHARE = 2 / 3

# Cage speeds of two recordings may differ by this share of the order: load and temperature do
# (starting value, common practice, no source).
CAGE_TOLERANCE = 0.005

# No law of noise is good enough to tell smaller chances apart; it also keeps logarithms finite.
SMALLEST_PROBABILITY = 1e-300


def needed_to_agree(n_recordings: int) -> int:
    """Recordings of a point that must show a family before it counts.

    >>> [needed_to_agree(n) for n in (1, 2, 3, 4, 6)]
    [1, 1, 2, 3, 4]
    """
    if n_recordings < AGREEING_RECORDINGS:
        return 1
    return math.ceil(AGREEING_SHARE * n_recordings)


def chance_of_agreement(probabilities: Sequence[float], k: int) -> float:
    """Chance that noise shows a family in at least ``k`` of independent recordings this clearly.

    Parameters
    ----------
    probabilities : sequence of float
        False-alarm probability of each recording, 0 to 1; at least one.
    k : int
        Recordings that must show it, fixed beforehand; 1 to their number.

    Returns
    -------
    float
        Tail of the binomial law at the ``k``-th smallest probability.

    Examples
    --------
    The best of three looks, and two of three: 1 - 0.99^3 and 3 p^2 - 2 p^3.

    >>> round(chance_of_agreement([0.01, 0.5, 0.9], 1), 6)
    0.029701
    >>> round(chance_of_agreement([0.01, 0.001, 0.9], 2), 6)
    0.000298
    """
    kth = sorted(probabilities)[k - 1]
    if len(probabilities) == 1:
        return kth
    return float(stats.binom.sf(k - 1, len(probabilities), kth))


def chance_together(probabilities: Sequence[float]) -> float:
    """Chance that independent recordings together are this surprising by chance.

    The sum of ``-2 ln p`` is chi-square with two degrees of freedom per recording
    (R. A. Fisher, Statistical Methods for Research Workers, 1925, from memory); it
    hears what no recording alone says clearly enough.

    Parameters
    ----------
    probabilities : sequence of float
        False-alarm probability of each recording, 0 to 1; at least one.

    Returns
    -------
    float
        Of one recording its own probability.

    Examples
    --------
    >>> round(chance_together([0.01]), 6)
    0.01
    >>> chance_together([0.01, 0.01, 0.01]) < 0.001
    True
    """
    clipped = [max(p, SMALLEST_PROBABILITY) for p in probabilities]
    total = -2.0 * math.fsum(math.log(p) for p in clipped)
    return float(stats.chi2.sf(total, 2 * len(clipped)))


def over_points(probabilities: Sequence[float]) -> float:
    """Chance of the clearest of several points, whatever noise they share.

    >>> over_points([0.01, 0.5]), over_points([0.7, 0.8])
    (0.02, 1.0)
    """
    return min(1.0, len(probabilities) * min(probabilities))


@dataclass(frozen=True, slots=True, kw_only=True)
class PointEvidence:
    """What the recordings of one point say of one family.

    ``shown`` are the readings at least as bad as asked for, ``votes`` all that
    count; ``probability`` is the chance that noise shows it in ``needed`` of them.
    """

    point: str
    shown: tuple[Reading, ...]
    votes: tuple[Reading, ...]
    needed: int
    probability: float
    together: float

    @property
    def agrees(self) -> bool:
        """Whether enough recordings of this point show it."""
        return len(self.shown) >= self.needed


def point_evidence(
    readings: Iterable[Reading], is_shown: Callable[[Reading], bool]
) -> tuple[PointEvidence, ...]:
    """Readings of one family by point, in order of appearance.

    A recording in which something hides the bearing has no vote against a family: it
    counts only if it shows it.

    Parameters
    ----------
    readings : iterable of Reading
        Of one bearing and element.
    is_shown : callable
        Whether a reading shows the family as badly as asked for.

    Returns
    -------
    tuple of PointEvidence
        Points without a vote are left out.
    """
    by_point: dict[str, list[Reading]] = {}
    for reading in readings:
        analysis, finding = reading
        if not analysis.masked or finding.result is not CriterionResult.PASS:
            by_point.setdefault(point_of(analysis), []).append(reading)
    return tuple(_of_point(point, votes, is_shown) for point, votes in by_point.items())


def _of_point(
    point: str, votes: list[Reading], is_shown: Callable[[Reading], bool]
) -> PointEvidence:
    needed = needed_to_agree(len(votes))
    probabilities = [finding.false_alarm_probability for _, finding in votes]
    return PointEvidence(
        point=point,
        shown=tuple(reading for reading in votes if is_shown(reading)),
        votes=tuple(votes),
        needed=needed,
        probability=chance_of_agreement(probabilities, needed),
        together=chance_together(probabilities),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonCage:
    """The cage speed that most recordings of a bearing agree on.

    The order lies in [``low``, ``high``] in each of the ``agreeing`` recordings, their
    intervals widened by the tolerance; ``of`` recordings state a cage speed at all.
    """

    bearing: str
    low: float
    high: float
    slip_percent: float
    agreeing: frozenset[str]
    of: int

    @property
    def is_carried(self) -> bool:
        """Whether more than one recording, and more than half of them, agree on it."""
        return len(self.agreeing) > 1 and 2 * len(self.agreeing) > self.of


def look_of(analysis: RecordingAnalysis) -> str:
    """What was recorded together: the start time where it is known, else the file."""
    start = analysis.recording.start_time
    return analysis.recording.sha256 if start is None else start.isoformat()


def common_cage(analyses: Iterable[RecordingAnalysis], bearing: str) -> CommonCage | None:
    """The cage speed that explains most recordings of a bearing; None without any.

    Parameters
    ----------
    analyses : iterable of RecordingAnalysis
        Of one stage.
    bearing : str
        Its name.

    Returns
    -------
    CommonCage or None
        Of equally many recordings those whose common interval is narrower.
    """
    stated = [
        (look_of(analysis), cage)
        for analysis in analyses
        for cage in analysis.cage_speeds
        if cage.bearing == bearing
    ]
    if not stated:
        return None
    looks = len({look for look, _ in stated})
    candidates = [_carried(stated, _widened(cage)[0], looks) for _, cage in stated]
    return max(candidates, key=lambda c: (len(c.agreeing), c.low - c.high))


def _widened(cage: CageSpeed) -> tuple[float, float]:
    reach = 0.5 * CAGE_TOLERANCE * cage.order
    return cage.low - reach, cage.high + reach


def _carried(stated: list[tuple[str, CageSpeed]], order: float, looks: int) -> CommonCage:
    """Recordings whose widened intervals hold this order: the greatest overlap begins at one."""
    inside = [
        (look, cage) for look, cage in stated if _widened(cage)[0] <= order <= _widened(cage)[1]
    ]
    return CommonCage(
        bearing=inside[0][1].bearing,
        low=max(_widened(cage)[0] for _, cage in inside),
        high=min(_widened(cage)[1] for _, cage in inside),
        slip_percent=math.fsum(cage.slip_percent for _, cage in inside) / len(inside),
        agreeing=frozenset(look for look, _ in inside),
        of=looks,
    )
