"""Masked recordings beside a known-good reference: what has grown is told all the same.

What hides small faults (lines of mains or gears, falling material) does not hide that a family or
a line stands far above the reference. So the bearing criteria are judged against it; that a small
fault would not have been seen stays with the criterion of sensitivity, which then holds.
"""

from collections.abc import Sequence
from dataclasses import replace

from vibhealth.acceptance.references import PointReference
from vibhealth.model import RecordingAnalysis, ReferenceRank

__all__ = ["judged_against_reference"]

# What strikes once per turn is no background that a reference could know.
NEVER_LIFTED = "strikes-at-1x"


def judged_against_reference(
    analyses: Sequence[RecordingAnalysis], references: Sequence[PointReference]
) -> tuple[RecordingAnalysis, ...]:
    """Analyses of which masked ones are judged where there is a known-good reference.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Recordings that are judged.
    references : sequence of PointReference
        Of their points.

    Returns
    -------
    tuple of RecordingAnalysis
        A lifted one states detectable depths against all that falls on the machine, so that
        sensitivity is no better than the mask said.
    """
    known = {
        reference.point
        for reference in references
        if reference.is_comparable and reference.rank is ReferenceRank.KNOWN_GOOD
    }
    return tuple(_lifted(a) if a.recording.point in known else a for a in analyses)


def _lifted(analysis: RecordingAnalysis) -> RecordingAnalysis:
    if not analysis.masked or any(d.id == NEVER_LIFTED for d in analysis.disturbances):
        return analysis
    rise = max((item.background_rise for item in analysis.disturbances), default=1.0)
    rows = tuple(
        replace(row, detectable_depth=rise * row.detectable_depth) for row in analysis.sensitivity
    )
    return replace(analysis, masked="", sensitivity=rows)
