"""What changed and what was compared with, as plain JSON values."""

from typing import Any

from vibhealth.model import Improvement, Orbit, ReferenceUse

__all__ = ["improvement_dict", "orbit_dict", "reference_dict"]


def improvement_dict(item: Improvement) -> dict[str, Any]:
    """As found to as left for one quantity."""
    return {
        "title": item.title,
        "before": item.before,
        "after": item.after,
        "unit": item.unit,
        "improvement_db": item.improvement_db,
        "at_least": item.at_least,
        "interval_db": item.interval_db,
        "detail": item.detail,
    }


def reference_dict(item: ReferenceUse) -> dict[str, Any]:
    """What a point was compared with."""
    return {
        "point": item.point,
        "rank": item.rank,
        "is_fair": item.is_fair,
        "widening_ratio": item.widening_ratio,
        "name": item.name,
        "accepted_by": item.accepted_by,
        "made_at": item.made_at,
        "digest": item.digest,
        "path": item.path,
        "n_recordings": item.n_recordings,
        "conditions": item.conditions,
    }


def orbit_dict(item: Orbit) -> dict[str, Any]:
    """Ellipse of the 1x motion."""
    return {
        "stage": item.stage,
        "points": item.points,
        "path": item.path,
        "major_mm": item.major_mm,
        "minor_mm": item.minor_mm,
        "tilt_deg": item.tilt_deg,
        "direction": item.direction,
    }
