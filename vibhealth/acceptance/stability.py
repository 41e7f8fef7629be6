"""Criteria of stability: recordings of a point agree with each other."""

from vibhealth.acceptance._evidence import Evidence, point_of
from vibhealth.model import Criterion, CriterionResult, Group, Hold

__all__ = ["stability_criteria"]


def stability_criteria(evidence: Evidence) -> list[Criterion]:
    """Agreement of the as-left recordings of a point in their bearing-band level."""
    title = "Recordings agree in the bearing band"
    limit = evidence.limits.value("high_frequency_spread_ratio")
    source = evidence.limits.source("high_frequency_spread_ratio")
    spreads = []
    for point in evidence.points:
        levels = [
            descriptor.value
            for analysis in evidence.after
            if point_of(analysis) == point
            for descriptor in analysis.descriptors
            if descriptor.id == "bearing-band-block-median" and descriptor.value > 0
        ]
        if len(levels) > 1:
            spreads.append((max(levels) / min(levels), point))
    if not spreads:
        single = len(evidence.after) == len(evidence.points)
        return [
            Criterion(
                id="agreement",
                group=Group.STABILITY,
                title=title,
                result=CriterionResult.WATCH,
                value="one recording of each point" if single else "level not known in all of them",
                unit="",
                limit=limit,
                limit_source=source,
                advice="Record three times, a few minutes apart: one recording cannot show that "
                "the reading repeats."
                if single
                else "Record fast enough for the bearing band, so that recordings can be compared.",
            )
        ]
    spread, point = max(spreads)
    bad = spread > limit
    return [
        Criterion(
            id="agreement",
            group=Group.STABILITY,
            title=title,
            result=CriterionResult.HOLD if bad else CriterionResult.PASS,
            value=spread,
            unit="1",
            limit=limit,
            limit_source=source,
            advice="Check that the sensor is tight and the machine warm and empty; record again."
            if bad
            else "",
            hold=Hold.MEASURE_AGAIN if bad else None,
            reason=f"The bearing-band level at {point} differs by a factor {spread:.2f} between "
            "recordings."
            if bad
            else "",
        )
    ]
