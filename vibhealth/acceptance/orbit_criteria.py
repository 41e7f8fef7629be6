"""Criteria of the orbit: its sense, the ratio of its axes, its tilt."""

import math
from pathlib import PurePath

from vibhealth.acceptance._evidence import Evidence, graded, not_judged, passed
from vibhealth.card import Stroke
from vibhealth.model import Criterion, CriterionResult, Group, Hold, Orbit

__all__ = ["expected_ellipse", "orbit_criteria"]

# Rounder orbits have no long axis whose tilt could be told (common practice, no source).
ROUND = 0.9
STATED = "card, exciter.stroke_mm"


def orbit_criteria(evidence: Evidence) -> list[Criterion]:
    """Sense, axes and tilt, where two radial axes were recorded together."""
    return [*_direction(evidence), *_axes(evidence), *_tilt(evidence)]


def expected_ellipse(stroke: Stroke, tilt_deg: float | None) -> tuple[float, float] | None:
    """Ratio of the short to the long axis, and tilt in degrees, of the ellipse of two strokes.

    With half axes ``a >= b`` and tilt ``t``, the strokes along x and y are ``x^2 = a^2 cos^2 t +
    b^2 sin^2 t`` and ``y^2 = a^2 sin^2 t + b^2 cos^2 t``; so ``a^2 + b^2 = x^2 + y^2`` and
    ``(a^2 - b^2) cos 2t = x^2 - y^2`` (geometry of the ellipse).

    Parameters
    ----------
    stroke : Stroke
        Peak to peak along x and y.
    tilt_deg : float or None
        Of the long axis from x towards y; None for an ellipse along the axes.

    Returns
    -------
    tuple of float, or None
        None where x or y is not stated, or no ellipse of this tilt has these strokes.

    Examples
    --------
    >>> expected_ellipse(Stroke(x=6.0, y=3.0), None)
    (0.5, 0.0)
    >>> expected_ellipse(Stroke(x=3.0, y=6.0), None)
    (0.5, 90.0)
    """
    if stroke.x is None or stroke.y is None:
        return None
    total, difference = stroke.x**2 + stroke.y**2, stroke.x**2 - stroke.y**2
    if tilt_deg is None:
        tilt_deg = 0.0 if difference >= 0 else 90.0
    turned = math.cos(2 * math.radians(tilt_deg))
    if abs(turned) < 1e-6:  # 45 degrees: any ellipse has equal strokes
        return None
    excess = difference / turned
    if not 0 <= excess <= total:
        return None
    return math.sqrt((total - excess) / (total + excess)), tilt_deg


def _left(evidence: Evidence) -> list[Orbit]:
    return [orbit for orbit in evidence.orbits if orbit.stage == "as-left"]


def _expected(evidence: Evidence) -> tuple[float, float] | None:
    exciter = evidence.card.exciter
    if exciter is None or exciter.stroke_mm is None:
        return None
    return expected_ellipse(exciter.stroke_mm, exciter.orbit_tilt_deg)


def _axes(evidence: Evidence) -> list[Criterion]:
    expected, orbits = _expected(evidence), _left(evidence)
    if expected is None or not orbits:
        return []
    ratio = expected[0]
    away = {100 * abs(_ratio_of(orbit) / max(ratio, 0.01) - 1): orbit for orbit in orbits}
    if ratio < 0.3:  # a flat orbit: the short axis over the long one says it, not a percentage
        away = {100 * abs(_ratio_of(orbit) - ratio): orbit for orbit in orbits}
    value = max(away)
    orbit, limits = away[value], evidence.limits
    hold = limits.value("orbit_axes_hold_percent")
    result = graded(value, limits.value("orbit_axes_watch_percent"), hold)
    shape = f"{orbit.major_mm:.2f} by {orbit.minor_mm:.2f} mm"
    bad = result is CriterionResult.HOLD
    return [
        Criterion(
            id="orbit-axes",
            group=Group.MOTION,
            title="Axes of the orbit",
            result=result,
            value=value,
            unit="%",
            limit=hold,
            limit_source=f"axes: {STATED}; {limits.source('orbit_axes_hold_percent')}",
            advice="Lock out. Check isolators, seat of the unit and eccentric setting."
            if result is not CriterionResult.PASS
            else "",
            hold=Hold.FIX if bad else None,
            reason=f"The orbit is {shape}: its axes stand {_ratio_of(orbit):.2f} to 1, the card's "
            f"strokes say {ratio:.2f} to 1."
            if bad
            else "",
            detail=shape,
        )
    ]


def _ratio_of(orbit: Orbit) -> float:
    return orbit.minor_mm / orbit.major_mm


def _tilt(evidence: Evidence) -> list[Criterion]:
    expected, orbits = _expected(evidence), _left(evidence)
    if expected is None or not orbits or expected[0] > ROUND:
        return []
    away = {_turned(orbit.tilt_deg, expected[1]): orbit for orbit in orbits}
    value = max(away)
    limits = evidence.limits
    hold = limits.value("orbit_tilt_hold_deg")
    result = graded(value, limits.value("orbit_tilt_watch_deg"), hold)
    bad = result is CriterionResult.HOLD
    return [
        Criterion(
            id="orbit-tilt",
            group=Group.MOTION,
            title="Tilt of the orbit",
            result=result,
            value=value,
            unit="deg",
            limit=hold,
            limit_source=limits.source("orbit_tilt_hold_deg"),
            advice="Lock out. Check isolators, seat of the unit and eccentric setting."
            if result is not CriterionResult.PASS
            else "",
            hold=Hold.FIX if bad else None,
            reason=f"The orbit leans {away[value].tilt_deg:.0f} degrees, the card says "
            f"{expected[1]:.0f}."
            if bad
            else "",
        )
    ]


def _turned(first_deg: float, second_deg: float) -> float:
    """Angle between two axes that have no direction, 0 to 90 degrees.

    >>> _turned(88.0, -88.0), _turned(10.0, 3.0)
    (4.0, 7.0)
    """
    away = abs(first_deg - second_deg) % 180.0
    return min(away, 180.0 - away)


def _direction(evidence: Evidence) -> list[Criterion]:
    """Sense of the orbit, where two radial axes were recorded together and the card states it."""
    exciter = evidence.card.exciter
    orbits = [orbit for orbit in evidence.orbits if orbit.stage == "as-left"]
    if exciter is None or exciter.orbit_direction is None or not orbits:
        return []
    title, expected = "Direction of the orbit", str(exciter.orbit_direction)
    wrong = [orbit for orbit in orbits if orbit.direction not in {expected, "line"}]
    if all(orbit.direction == "line" for orbit in orbits):
        return [
            not_judged(
                "orbit-direction",
                Group.MOTION,
                title,
                reason=f"The body moves along a line, the card says {expected}.",
                advice="Check which way the shaft turns; on a machine that moves along a line take "
                "orbit_direction off the card.",
                limit=expected,
                limit_source="card, exciter.orbit_direction",
            )
        ]
    if not wrong:
        return [
            passed(
                "orbit-direction",
                Group.MOTION,
                title,
                value=expected,
                limit=expected,
                limit_source="card, exciter.orbit_direction",
            )
        ]
    right = [orbit for orbit in orbits if orbit.direction == expected]
    odd = list(dict.fromkeys(PurePath(orbit.path).name for orbit in wrong))
    return [
        Criterion(
            id="orbit-direction",
            group=Group.MOTION,
            title=title,
            result=CriterionResult.HOLD,
            value=wrong[0].direction,
            unit="",
            limit=expected,
            limit_source="card, exciter.orbit_direction",
            advice="A shaft does not change its sense between recordings: trace the cables, put "
            "them right, and record again."
            if right
            else "Lock out. Check the rotation against the arrow (an electrician swaps two "
            "phases), and that the axes of the sensor are not swapped.",
            hold=Hold.MEASURE_AGAIN if right else Hold.FIX,
            reason=f"In {', '.join(odd)} the body turns {wrong[0].direction}, in the other "
            f"recordings {expected} as the card says: axes are swapped there."
            if right
            else f"The body turns {wrong[0].direction}, the card says {expected}.",
        )
    ]
