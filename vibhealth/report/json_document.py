"""The assessment as JSON, schema version 1: stable names, units in keys, no NaN."""

import json
import math
from collections.abc import Mapping
from datetime import date
from importlib.resources import files
from pathlib import PurePath
from typing import Any

import numpy as np

from vibhealth import __version__
from vibhealth.acceptance import most_sensitive
from vibhealth.errors import InputError
from vibhealth.model import (
    Assessment,
    CageSpeed,
    Criterion,
    Descriptor,
    Disturbance,
    FamilyFinding,
    Motion,
    OrderLine,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    SensitivityFinding,
    Stage,
)
from vibhealth.report._wording import sensitivity_sentence
from vibhealth.report.criteria_view import is_blind
from vibhealth.report.json_change import improvement_dict, orbit_dict, reference_dict
from vibhealth.report.json_job import (
    machine_check_dict,
    motion_shape_dict,
    override_dict,
    transients_dict,
)

__all__ = ["SCHEMA_VERSION", "assessment_dict", "dumps", "recording_dict", "schema"]

SCHEMA_VERSION = 1
# Beyond any measurement, short of the last bits that differ between machines.
SIGNIFICANT_DIGITS = 10
SCHEMA_NAMES = (
    "assessment",
    "recording",
    "plan",
    "job-status",
    "comparison",
    "baseline",
    "outlook",
    "trend",
)


def assessment_dict(assessment: Assessment) -> dict[str, Any]:
    """Whole assessment as plain JSON values.

    Parameters
    ----------
    assessment : Assessment
        What the acceptance decided.

    Returns
    -------
    dict
        Valid against ``schema("assessment")``. Floats are rounded to ten
        significant digits; a number that is not finite becomes null and its place
        is listed under ``not_finite``.
    """
    return _plain_document(
        {
            "schema_version": SCHEMA_VERSION,
            "tool": _tool(),
            "machine": assessment.machine,
            "verdict": assessment.verdict,
            "hold": assessment.hold,
            "headline": assessment.headline,
            "scope": assessment.scope,
            "reasons": assessment.reasons,
            "next": {
                "action": assessment.next_step.action,
                "check_at": assessment.next_step.check_at,
                "checks": [machine_check_dict(item) for item in assessment.next_step.checks],
            },
            "references": [reference_dict(item) for item in assessment.references],
            "override": override_dict(assessment.override),
            "job": assessment.job,
            "criteria": [_criterion(item) for item in assessment.criteria],
            "recordings": [_recording(item) for item in assessment.recordings],
            "sensitivity": _least_found(assessment.recordings),
            "improvements": [improvement_dict(item) for item in assessment.improvements],
            "orbits": [orbit_dict(item) for item in assessment.orbits],
            "starts_and_stops": [transients_dict(item) for item in assessment.transients],
            "cautions": assessment.cautions,
            "settings": assessment.settings,
        }
    )


def recording_dict(analysis: RecordingAnalysis) -> dict[str, Any]:
    """One analysed recording as plain JSON values.

    Parameters
    ----------
    analysis : RecordingAnalysis
        What the diagnosis found in one recording.

    Returns
    -------
    dict
        Valid against ``schema("recording")``: one entry of ``recordings`` with
        ``schema_version``, ``tool`` and ``not_finite`` beside it.
    """
    return _plain_document(
        {"schema_version": SCHEMA_VERSION, "tool": _tool(), **_recording(analysis)}
    )


def dumps(document: Mapping[str, Any]) -> str:
    r"""JSON text with sorted keys, indent 2 and a final line end; the same every time.

    >>> dumps({"b": 1 / 3, "a": float("nan")})
    '{\n  "a": null,\n  "b": 0.3333333333\n}\n'
    """
    plain = _plain(document, "", [])
    return json.dumps(plain, sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def schema(name: str) -> dict[str, Any]:
    """JSON schema (draft 2020-12) that ships with the package.

    Parameters
    ----------
    name : {"assessment", "recording", "plan", "job-status", "comparison", "baseline", "outlook", "trend"}
        Which document.

    Returns
    -------
    dict
        The schema, complete in itself.

    Raises
    ------
    InputError
        If there is no schema of that name.
    """
    if name not in SCHEMA_NAMES:
        msg = f"there is no schema {name!r}; known are {', '.join(SCHEMA_NAMES)}"
        raise InputError(msg)
    place = files("vibhealth.report") / "schemas" / str(SCHEMA_VERSION) / f"{name}.schema.json"
    loaded: dict[str, Any] = json.loads(place.read_text("utf-8"))
    return loaded


def _tool() -> dict[str, str]:
    return {"name": "vibhealth", "version": __version__}


def _criterion(item: Criterion) -> dict[str, Any]:
    return {
        "id": item.id,
        "group": item.group,
        "title": item.title,
        "result": item.result,
        "value": item.value,
        "unit": item.unit,
        "limit": item.limit,
        "limit_source": item.limit_source,
        "advice": item.advice,
        "hold": item.hold,
        "reason": item.reason,
        "detail": item.detail,
        "checks": [machine_check_dict(check) for check in item.checks],
    }


def _recording(analysis: RecordingAnalysis) -> dict[str, Any]:
    recording = analysis.recording
    return {
        **_source(recording),
        "speed": {
            "shaft_frequency_hz": analysis.speed.shaft_frequency_hz,
            "variation_percent": analysis.speed.variation_percent,
            "uncertainty_percent": analysis.speed.uncertainty_percent,
            "source": analysis.speed.source,
            "detail": analysis.speed.detail,
        },
        "quality": [_quality(item) for item in analysis.quality],
        "descriptors": [_descriptor(item) for item in analysis.descriptors],
        "motion": None if analysis.motion is None else _motion(analysis.motion),
        "motion_shape": motion_shape_dict(analysis.shape),
        "families": [_family(item) for item in analysis.families],
        "families_not_judged": analysis.families_not_judged,
        "sensitivity": [_sensitivity(item) for item in analysis.sensitivity],
        "cage_speeds": [_cage_speed(item) for item in analysis.cage_speeds],
        "disturbances": [_disturbance(item) for item in analysis.disturbances],
        "masked": analysis.masked,
    }


def _source(recording: Recording) -> dict[str, Any]:
    calibration = recording.calibration
    return {
        "path": recording.path,
        "sha256": recording.sha256,
        "stage": recording.stage,
        "moment": recording.moment,
        "point": recording.point,
        "direction": recording.direction,
        "channel": recording.channel,
        "n_channels": recording.n_channels,
        "sampling_rate_hz": recording.sampling_rate_hz,
        "duration_s": recording.duration_s,
        "unit": recording.unit,
        "calibration": None
        if calibration is None
        else {"scale_m_s2": calibration.scale_m_s2, "source": calibration.source},
        "start_time": recording.start_time,
        "temperature_c": recording.temperature_c,
        "running_hours_h": recording.running_hours_h,
        "remarks": dict(recording.remarks),
    }


def _quality(item: QualityFinding) -> dict[str, Any]:
    return {
        "id": item.id,
        "title": item.title,
        "result": item.result,
        "detail": item.detail,
        "advice": item.advice,
    }


def _descriptor(item: Descriptor) -> dict[str, Any]:
    return {
        "id": item.id,
        "title": item.title,
        "value": item.value,
        "unit": item.unit,
        "band_hz": item.band_hz,
    }


def _motion(motion: Motion) -> dict[str, Any]:
    return {
        "amplitude_1x": motion.amplitude_1x,
        "phase_1x_rad": motion.phase_1x_rad,
        "unit": motion.unit,
        "stroke_mm": motion.stroke_mm,
        "harmonic_ratio": motion.harmonic_ratio,
        "half_order_ratio": motion.half_order_ratio,
        "harmonics": [_order_line(item, motion.unit) for item in motion.harmonics],
        "half_orders": [_order_line(item, motion.unit) for item in motion.half_orders],
    }


def _order_line(line: OrderLine, unit: str) -> dict[str, Any]:
    return {
        "order": line.order,
        "amplitude_m_s2": line.amplitude_m_s2 if unit == "m/s2" else None,
        "relative_to_first": line.relative_to_first,
    }


def _family(item: FamilyFinding) -> dict[str, Any]:
    return {
        "bearing": item.bearing,
        "element": item.element,
        "order": item.order,
        "frequency_hz": item.frequency_hz,
        "slip_percent": item.slip_percent,
        "false_alarm_probability": item.false_alarm_probability,
        "depth": item.depth,
        "depth_whitened": item.depth_whitened,
        "impact_m_s2": item.impact_m_s2,
        "band_hz": item.band_hz,
        "result": item.result,
        "present": item.present,
        "ambiguous_with": item.ambiguous_with,
        "blind_spot": item.blind_spot,
        "line_to_floor_db": item.line_to_floor_db,
        "sideband_evidence": item.sideband_evidence,
        "detail": item.detail,
        "evidence": item.evidence,
        "depth_interval": item.depth_interval,
        "impact_interval_m_s2": item.impact_interval_m_s2,
        "pattern": item.pattern,
    }


def _cage_speed(item: CageSpeed) -> dict[str, Any]:
    return {
        "bearing": item.bearing,
        "order": item.order,
        "low": item.low,
        "high": item.high,
        "slip_percent": item.slip_percent,
        "elements": item.elements,
        "detail": item.detail,
    }


def _disturbance(item: Disturbance) -> dict[str, Any]:
    return {
        "id": item.id,
        "title": item.title,
        "value": item.value,
        "unit": item.unit,
        "detail": item.detail,
        "advice": item.advice,
    }


def _least_found(recordings: tuple[RecordingAnalysis, ...]) -> list[dict[str, Any]]:
    """The best as-left recording of each element, worst element first."""
    left = [item for item in recordings if item.recording.stage is not Stage.AS_FOUND]
    return [
        {
            "bearing": finding.bearing,
            "element": finding.element,
            "detectable_depth": finding.detectable_depth,
            "detectable_impact_m_s2": finding.detectable_impact_m_s2,
            "probability": finding.probability,
            "blind_spot": is_blind(analysis, finding),
            "point": analysis.recording.point,
            "path": analysis.recording.path,
            "sentence": sensitivity_sentence(finding),
        }
        for analysis, finding in most_sensitive(left)
    ]


def _sensitivity(item: SensitivityFinding) -> dict[str, Any]:
    return {
        "bearing": item.bearing,
        "element": item.element,
        "detectable_depth": item.detectable_depth,
        "detectable_impact_m_s2": item.detectable_impact_m_s2,
        "probability": item.probability,
        "method": item.method,
        "n_trials": item.n_trials,
        "sentence": sensitivity_sentence(item),
    }


def _plain_document(document: dict[str, Any]) -> dict[str, Any]:
    lost: list[str] = []
    plain: dict[str, Any] = _plain(document, "", lost)
    return {**plain, "not_finite": lost}


def _plain(value: Any, place: str, lost: list[str]) -> Any:
    """JSON value of anything a result may hold; places of non-finite numbers are noted."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item, f"{place}/{key}", lost) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item, f"{place}/{index}", lost) for index, item in enumerate(value)]
    if isinstance(value, np.generic | np.ndarray):
        return _plain(value.tolist(), place, lost)
    return _plain_scalar(value, place, lost)


def _plain_scalar(value: Any, place: str, lost: list[str]) -> str | int | float | None:
    if isinstance(value, float):
        return _plain_float(value, place, lost)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str | PurePath):  # a StrEnum too
        return str(value).encode("utf-8", "backslashreplace").decode("utf-8")
    if value is None or isinstance(value, int):
        return value
    msg = f"{place or '/'} holds a {type(value).__name__}, which has no JSON form"
    raise TypeError(msg)


def _plain_float(value: float, place: str, lost: list[str]) -> float | None:
    if not math.isfinite(value):
        lost.append(place)
        return None
    rounded = float(f"{value:.{SIGNIFICANT_DIGITS}g}")
    return rounded if math.isfinite(rounded) else value  # the largest floats round up to infinity
