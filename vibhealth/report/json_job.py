"""The parts of the JSON document that belong to a job: checks, override, starts and stops."""

from typing import Any

from vibhealth.model import MachineCheck, MotionShape, Release, Transient, TransientAnalysis

__all__ = ["machine_check_dict", "motion_shape_dict", "override_dict", "transients_dict"]


def machine_check_dict(check: MachineCheck) -> dict[str, Any]:
    """One thing to look at."""
    return {
        "step": check.step,
        "mistake": check.mistake,
        "check": check.check,
        "seen_by_vibration": check.seen_by_vibration,
    }


def override_dict(release: Release | None) -> dict[str, Any] | None:
    """Who runs on against a HOLD; None without an override."""
    if release is None:
        return None
    return {
        "by": release.by,
        "reason": release.reason,
        "at": release.at,
        "is_valid": release.is_valid,
        "sentence": release.sentence,
    }


def motion_shape_dict(shape: MotionShape | None) -> dict[str, Any] | None:
    """Shape of the motion of one point; None where it could not be read."""
    if shape is None:
        return None
    return {
        "one_sidedness": shape.one_sidedness,
        "beat_percent": shape.beat_percent,
        "wobble_ratio": shape.wobble_ratio,
        "third_order_ratio": shape.third_order_ratio,
    }


def transients_dict(analysis: TransientAnalysis) -> dict[str, Any]:
    """Starts and stops of one recording of one point."""
    recording = analysis.recording
    return {
        "path": recording.path,
        "sha256": recording.sha256,
        "stage": recording.stage,
        "moment": recording.moment,
        "point": recording.point,
        "not_judged": analysis.not_judged,
        "segments": [
            {"kind": item.kind, "start_s": item.start_s, "end_s": item.end_s}
            for item in analysis.segments
        ],
        "transients": [_transient(item) for item in analysis.transients],
    }


def _transient(item: Transient) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "start_s": item.start_s,
        "end_s": item.end_s,
        "steady_frequency_hz": item.steady_frequency_hz,
        "duration_s": item.duration_s,
        "to_quarter_s": item.to_quarter_s,
        "swing_ratio": item.swing_ratio,
        "swing_mm": item.swing_mm,
        "isolator_frequency_hz": item.isolator_frequency_hz,
        "damping_ratio": item.damping_ratio,
        "fit_detail": item.fit_detail,
        "strikes": None
        if item.strikes is None
        else [
            {
                "time_s": strike.time_s,
                "size": strike.size,
                "shaft_frequency_hz": strike.shaft_frequency_hz,
            }
            for strike in item.strikes
        ],
        "steady_strikes_per_turn": item.steady_strikes_per_turn,
        "detail": item.detail,
    }
