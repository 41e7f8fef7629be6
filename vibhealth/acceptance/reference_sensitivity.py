"""What the comparison with the reference would have shown, beside what the search would have.

The search measures chance among lines that nothing explains; a machine with many such lines of
its own (mains, gears, a neighbour) lets it say little. The reference knows those lines: what
rises above it by the hold limit is held, whatever else is there.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vibhealth.acceptance.line_differences import hold_distance_db, reference_difference
from vibhealth.acceptance.references import PointReference
from vibhealth.baseline import LineDifference
from vibhealth.bearing import blind_spots, slip_range
from vibhealth.card import MachineCard
from vibhealth.model import RecordingAnalysis, SensitivityFinding

__all__ = ["with_reference_sensitivity"]

# A line at its limit is found in every second recording; with this much more in nearly all.
MARGIN_DB = 3.0
PROBABILITY = 0.95
METHOD = (
    "from the reference: a line of this depth in the card's band would stand "
    f"{MARGIN_DB:g} dB beyond the hold limit above it"
)
# What strikes once per turn is new against the reference and hides behind no line of it.
NEVER_LIFTED = "strikes-at-1x"


def with_reference_sensitivity(
    analyses: Sequence[RecordingAnalysis],
    references: Sequence[PointReference],
    card: MachineCard,
) -> tuple[RecordingAnalysis, ...]:
    """Analyses whose detectable depths count the comparison with the reference too.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Recordings that are judged.
    references : sequence of PointReference
        Of their points.
    card : MachineCard
        Bearings, slip, limits.

    Returns
    -------
    tuple of RecordingAnalysis
        Where lines or falling material masked the bearing for the search but the comparison
        would show a fault of hold size of every element, nothing is masked any more.
    """
    by_point = {reference.point: reference for reference in references}
    return tuple(_one(a, by_point.get(a.recording.point or ""), card) for a in analyses)


def _one(
    analysis: RecordingAnalysis, reference: PointReference | None, card: MachineCard
) -> RecordingAnalysis:
    if reference is None or not analysis.sensitivity:
        return analysis
    difference = reference_difference(analysis, reference, "whitened-envelope-spectrum", card)
    if difference is None:
        return analysis
    rows = tuple(_row(row, difference, card) for row in analysis.sensitivity)
    return replace(
        analysis,
        sensitivity=rows,
        masked="" if _is_lifted(analysis, rows, card) else analysis.masked,
    )


def _row(
    row: SensitivityFinding, difference: LineDifference, card: MachineCard
) -> SensitivityFinding:
    if row.detectable_depth <= card.limits.value("detectable_depth_watch"):
        return row  # the search alone shows enough, and says in m/s^2 how much
    depth = _depth(row, difference, card)
    if depth is None or depth >= row.detectable_depth:
        return row
    return replace(
        row,
        detectable_depth=depth,
        detectable_impact_m_s2=None,
        probability=PROBABILITY,
        method=METHOD,
        n_trials=0,
    )


def _depth(row: SensitivityFinding, difference: LineDifference, card: MachineCard) -> float | None:
    """Depth from which a line anywhere in the element's slip window would be held."""
    bearing = next((b for b in card.rolling_bearings() if b.name == row.bearing), None)
    if bearing is None:
        return None
    orders = slip_range(bearing, row.element, card.analysis.slip_percent)
    if orders is None:
        return None
    low, high = min(orders), max(orders)
    inside = (difference.order >= low - 0.01) & (difference.order <= high + 0.01)
    free = inside & ~difference.is_locked
    if not free.any():
        return None
    beyond_db = hold_distance_db(card) + MARGIN_DB - difference.beyond_db[free]
    depth = float(np.max(difference.amplitude[free] * 10 ** (beyond_db / 20)))
    return max(depth, card.limits.value("line_depth_hold"))


def _is_lifted(
    analysis: RecordingAnalysis, rows: Sequence[SensitivityFinding], card: MachineCard
) -> bool:
    """Whether the comparison shows what masked the search."""
    disturbances = analysis.disturbances
    if any(item.id == NEVER_LIFTED for item in disturbances):
        return False
    blind = {
        (spot.bearing, spot.element)
        for bearing in card.rolling_bearings()
        for spot in blind_spots(bearing, card.analysis.slip_percent)
        if spot.kind == "shaft-line"
    }
    seen = [row for row in rows if (row.bearing, row.element) not in blind] or rows
    rise = max((item.background_rise for item in disturbances), default=1.0)
    limit = card.limits.value("detectable_depth_hold")
    strike_limit = card.limits.optional_value("detectable_impact_hold_m_s2")
    return strike_limit is None and all(rise * row.detectable_depth <= limit for row in seen)
