"""Criteria of the bearing: families, what hides them, and what no recording can show."""

from vibhealth.acceptance._evidence import Evidence, label, not_judged, passed
from vibhealth.acceptance.family_criteria import family_criteria
from vibhealth.acceptance.masked_criteria import masked_criteria
from vibhealth.bearing import blind_spots
from vibhealth.diagnosis.analysis import bearings_heard
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
)

__all__ = ["bearing_criteria"]


def bearing_criteria(evidence: Evidence) -> list[Criterion]:
    """One line per element of every bearing, and the blind spots of these bearings.

    A recording that could not be judged hides nothing that another one shows.
    """
    return [
        *_families_not_judged(evidence),
        *masked_criteria(evidence),
        *family_criteria(evidence),
        *_all_heard(evidence),
        *_blind_spots(evidence),
    ]


def _all_heard(evidence: Evidence) -> list[Criterion]:
    """Bearings that no recorded point hears, where points of the card name what they hear."""
    card = evidence.card
    if not any(point.bearings for point in card.points):
        return []
    heard = {b.name for a in evidence.after for b in bearings_heard(card, a.recording)}
    silent = [bearing.name for bearing in card.bearings if bearing.name not in heard]
    id_, title, source = "bearings-heard", "All bearings listened to", "card, [[point]] bearings"
    if not silent:
        names = ", ".join(bearing.name for bearing in card.bearings)
        return [passed(id_, Group.BEARING, title, value=names, limit_source=source)]
    points = [point.name for point in card.points if set(point.bearings) & set(silent)]
    return [
        not_judged(
            id_,
            Group.BEARING,
            title,
            reason=f"No recording listens to bearing {', '.join(silent)}.",
            advice=f"Record at {' or '.join(points)} too."
            if points
            else "Record at a point near it, and name the bearing there on the card.",
            limit_source=source,
        )
    ]


def _families_not_judged(evidence: Evidence) -> list[Criterion]:
    silent = [analysis for analysis in evidence.after if analysis.families_not_judged]
    if not silent:
        return []
    return [
        not_judged(
            "families",
            Group.BEARING,
            "Defect families",
            reason=f"{label(silent[0])}: the bearing could not be judged, "
            f"{silent[0].families_not_judged}.",
            advice="Put this right and record again.",
            limit=evidence.limits.value("depth_hold"),
            unit="1",
            limit_source=evidence.limits.source("depth_hold"),
        )
    ]


def _blind_spots(evidence: Evidence) -> list[Criterion]:
    """What these bearings cannot show at this speed ratio: said with every verdict."""
    bearings = evidence.card.rolling_bearings()
    spots = [
        spot
        for bearing in bearings
        for spot in blind_spots(bearing, evidence.card.analysis.slip_percent)
        if spot.kind == "shaft-line"
    ]
    title, source = "Blind spots of the bearings", "computed from the card"
    if not spots:
        return [passed("blind-spots", Group.BEARING, title, value="none", limit_source=source)]
    return [
        Criterion(
            id="blind-spots",
            group=Group.BEARING,
            title=title,
            result=CriterionResult.WATCH,
            value="; ".join(
                f"{spot.element.words if spot.element else ''} of {spot.bearing}" for spot in spots
            ),
            unit="",
            limit=None,
            limit_source=source,
            advice="Nothing to put right: look at the trend of the shaft orders, and open the old "
            "unit to learn what it looked like.",
            detail=" ".join(spot.sentence for spot in spots),
        )
    ]
