"""How sizes and chances are worded in reasons and details."""

import math
from collections.abc import Sequence

from vibhealth.acceptance.combined_evidence import CommonCage, PointEvidence, look_of
from vibhealth.model import CriterionResult, FamilyFinding, RecordingAnalysis

__all__ = [
    "AS_REFERENCE",
    "and_list",
    "cage_words",
    "depth_words",
    "element_words",
    "in_how_many",
    "interval_words",
    "probability_words",
    "shown_words",
    "strike_words",
]

# Said of a family that its reference shows as well.
AS_REFERENCE = "no more than in its reference"

# Least share of the detectable strike amplitude at which a strike's size is told.
READABLE_SHARE = 0.5


def and_list(words: Sequence[str]) -> str:
    """Words one after the other as in a sentence.

    >>> and_list(["P1X"]), and_list(["P1X", "P1Y", "P2X"])
    ('P1X', 'P1X, P1Y and P2X')
    """
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def element_words(finding: FamilyFinding) -> str:
    """The element, and what it cannot be told from."""
    others = [
        name.replace("outer-ring", "outer ring")
        .replace("inner-ring", "inner ring")
        .replace("rolling-element", "rolling element")
        for name in finding.ambiguous_with
    ]
    return " or ".join([finding.element.words, *others])


def interval_words(interval: tuple[float, float] | None, *, decimals: int | None = None) -> str:
    """An interval in parentheses after its value, with a leading blank; nothing without one.

    >>> interval_words((0.4, 0.714)), interval_words(None)
    (' (0.4 to 0.71)', '')
    >>> interval_words((0.55, 0.7), decimals=2)
    ' (0.55 to 0.70)'
    """
    if interval is None:
        return ""
    low, high = (f"{x:.2g}" if decimals is None else f"{x:.{decimals}f}" for x in interval)
    return f" ({low} to {high})"


def depth_words(finding: FamilyFinding) -> str:
    """Whitened modulation depth, with its interval where it has one."""
    interval = interval_words(finding.depth_interval, decimals=2)
    return f"modulation depth {finding.depth_whitened:.2f}{interval}"


def strike_words(analyses: Sequence[RecordingAnalysis], finding: FamilyFinding) -> str:
    """Strike amplitude of a significant family, where it is readable.

    A reading below half of what these recordings could have shown at all is a
    reading of the noise: the strikes are there, their size is not known.
    """
    if finding.result is CriterionResult.PASS or not finding.impact_m_s2:
        return ""
    detectable = [
        row.detectable_impact_m_s2
        for analysis in analyses
        for row in analysis.sensitivity
        if (row.bearing, row.element) == (finding.bearing, finding.element)
        and row.detectable_impact_m_s2 is not None
    ]
    if finding.impact_m_s2 < READABLE_SHARE * min(detectable, default=0.0) < math.inf:
        return ""
    return f"about {finding.impact_m_s2:.2g} m/s²{interval_words(finding.impact_interval_m_s2)}"


def probability_words(value: float) -> str:
    """In words: below one in a million the exact figure claims too much.

    >>> probability_words(9e-146), probability_words(0.00042)
    ('below 1e-6', '0.0004')
    """
    return "below 1e-6" if value < 1e-6 else f"{value:.1g}"


def in_how_many(shown: int, of: int) -> str:
    """How many recordings show it; nothing to say of one.

    >>> in_how_many(1, 1), in_how_many(2, 3)
    ('', ', in 2 of 3 recordings')
    """
    return "" if of == 1 else f", in {shown} of {of} recordings"


def shown_words(points: Sequence[PointEvidence]) -> str:
    """In how many recordings of which points; nothing to say of a single one.

    One number where the points agree in it.
    """
    if sum(len(point.votes) for point in points) < 2:
        return ""
    if all(len(point.votes) == 1 for point in points):
        silent = [point.point for point in points if not point.shown]
        shown = [point.point for point in points if point.shown]
        return f"at {and_list(shown)}{f', not at {and_list(silent)}' if silent else ''}"
    counts = {(len(point.shown), len(point.votes)) for point in points}
    if len(counts) > 1:
        return "in " + and_list([f"{len(p.shown)} of {len(p.votes)} at {p.point}" for p in points])
    ((seen, of),) = counts
    return f"in {seen} of {of} recordings{_axes_words(points)}"


def _axes_words(points: Sequence[PointEvidence]) -> str:
    """Points that show it alike; axes where they were recorded together."""
    names = and_list([point.point for point in points])
    if len(points) == 1:
        return f" at {names}"
    together = {frozenset(look_of(analysis) for analysis, _ in point.votes) for point in points}
    directions = {point.votes[0][0].recording.direction for point in points}
    if len(together) > 1 or len(directions) < len(points):
        return f" each at {names}"
    return f", {'both' if len(points) == 2 else f'all {len(points)}'} axes ({names})"


def cage_words(cage: CommonCage | None, analyses: Sequence[RecordingAnalysis]) -> str:
    """The cage speed of the recordings, and how many of them agree on it."""
    if cage is None:
        return ""
    slip = f"cage slip {cage.slip_percent:+.1f} %"
    everything = {look_of(analysis) for analysis in analyses}
    if len(everything) == 1:
        return slip
    if len(cage.agreeing) == cage.of:
        where = "all" if cage.of == len(everything) else f"all {cage.of} that show one"
        return f"{slip} in {where}"
    return f"{slip} in {len(cage.agreeing)} of {cage.of} recordings that show one"
