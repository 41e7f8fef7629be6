"""JSON: the contract by golden file, by schema, and by schema violations that must be refused."""

import copy
import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.errors import InputError
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Group,
    Hold,
    RecordingAnalysis,
    Verdict,
)
from vibhealth.report import assessment_dict, dumps, recording_dict, schema

# Half a unit of the tenth significant digit, relative to the number.
ROUNDING = 5e-10


def refuse_invalid(document: dict[str, Any], name: str) -> None:
    jsonschema.Draft202012Validator(schema(name)).validate(document)


def test_assessment_as_agreed(
    assessment: Assessment, check_golden: Callable[[str, str], None]
) -> None:
    document = assessment_dict(assessment)
    document["tool"]["version"] = "0.0.0"
    check_golden("report_assessment.json", dumps(document))


@pytest.mark.parametrize("name", ["assessment", "recording", "plan", "job-status"])
def test_schemas_are_schemas(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema(name))


def test_the_recording_inside_the_assessment_is_the_recording_schema() -> None:
    assert schema("assessment")["$defs"]["recording"] == schema("recording")


def test_documents_satisfy_their_schemas(
    assessment: Assessment, passing: Assessment, silent: RecordingAnalysis
) -> None:
    for item in (assessment, passing):
        refuse_invalid(json.loads(dumps(assessment_dict(item))), "assessment")
        for analysis in item.recordings:
            refuse_invalid(json.loads(dumps(recording_dict(analysis))), "recording")
    refuse_invalid(recording_dict(silent), "recording")


def test_a_recording_alone_is_the_entry_of_the_whole(assessment: Assessment) -> None:
    whole = assessment_dict(assessment)["recordings"][0]
    alone = recording_dict(assessment.recordings[0])
    assert {key: alone[key] for key in whole} == whole
    assert set(alone) - set(whole) == {"schema_version", "tool", "not_finite"}


def plant(document: dict[str, Any], path: list[str | int], value: object) -> dict[str, Any]:
    altered = copy.deepcopy(document)
    place: Any = altered
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return altered


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (["schema_version"], 2),
        (["verdict"], "OK"),
        (["hold"], "later"),
        (["hold"], None),  # a HOLD says which of three it is
        (["verdict"], "PASS"),  # and a PASS has no hold
        (["criteria", 0, "result"], "good"),
        (["criteria", 0, "group"], "other"),
        (["criteria", 0, "surprise"], 1),
        (["surprise"], 1),
        (["next", "action"], None),
        (["recordings", 0, "sha256"], "abc"),
        (["recordings", 0, "sampling_rate_hz"], "25600"),
        (["recordings", 0, "sampling_rate_hz"], 0),
        (["recordings", 0, "stage"], "before"),
        (["recordings", 0, "speed", "source"], "guess"),
        (["recordings", 0, "families", 0, "element"], "ball"),
        (["recordings", 0, "families", 0, "result"], "not-judged"),
        (["recordings", 0, "families", 0, "false_alarm_probability"], 1.5),
        (["recordings", 0, "families", 0, "band_hz"], [1.0]),
        (["recordings", 0, "sensitivity", 0, "probability"], None),
        (["recordings", 0, "descriptors", 0, "unit"], None),
    ],
)
def test_a_planted_violation_is_refused(
    assessment: Assessment, path: list[str | int], value: object
) -> None:
    document = plant(assessment_dict(assessment), path, value)
    with pytest.raises(jsonschema.ValidationError):
        refuse_invalid(document, "assessment")


def required_places() -> list[list[str | int]]:
    """Every contract key, as the agreed contract lists them."""
    top = ["schema_version", "tool", "machine", "verdict", "hold", "reasons", "next", "criteria"]
    criterion = [
        "id",
        "group",
        "title",
        "result",
        "value",
        "unit",
        "limit",
        "limit_source",
        "advice",
    ]
    recording = [
        "path",
        "sha256",
        "stage",
        "point",
        "sampling_rate_hz",
        "duration_s",
        "speed",
        "quality",
        "descriptors",
        "families",
        "sensitivity",
    ]
    family = [
        "bearing",
        "element",
        "order",
        "frequency_hz",
        "slip_percent",
        "false_alarm_probability",
        "depth",
        "depth_whitened",
        "impact_m_s2",
        "band_hz",
        "result",
        "present",
        "ambiguous_with",
        "blind_spot",
    ]
    sensitivity = ["element", "detectable_depth", "detectable_impact_m_s2", "probability"]
    first: list[str | int] = ["recordings", 0]
    places: list[list[str | int]] = [[key] for key in [*top, "recordings"]]
    places += [["tool", key] for key in ("name", "version")]
    places += [["next", key] for key in ("action", "check_at")]
    places += [["criteria", 0, key] for key in criterion]
    places += [[*first, key] for key in recording]
    places += [[*first, "speed", k] for k in ("shaft_frequency_hz", "variation_percent", "source")]
    places += [[*first, "quality", 0, key] for key in ("id", "result", "detail")]
    places += [[*first, "descriptors", 0, key] for key in ("id", "value", "unit", "band_hz")]
    places += [[*first, "families", 0, key] for key in family]
    places += [[*first, "sensitivity", 0, key] for key in sensitivity]
    return places


def test_no_key_of_the_contract_may_be_missing(assessment: Assessment) -> None:
    document = assessment_dict(assessment)
    validator = jsonschema.Draft202012Validator(schema("assessment"))
    for path in required_places():
        altered = copy.deepcopy(document)
        place: Any = altered
        for step in path[:-1]:
            place = place[step]
        del place[path[-1]]
        assert not validator.is_valid(altered), path


def test_numbers_that_are_not_finite_become_null_and_are_named(assessment: Assessment) -> None:
    document = assessment_dict(assessment)
    assert document["not_finite"] == [f"/recordings/{n}/descriptors/4/value" for n in range(3)]
    assert document["recordings"][0]["descriptors"][4]["value"] is None


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_floats_keep_ten_digits(value: float) -> None:
    kept = json.loads(dumps({"x": value}))["x"]
    # Below the smallest normal number a float itself has no ten digits.
    assert kept == pytest.approx(value, rel=ROUNDING, abs=np.finfo(float).tiny)


def test_rounding_is_to_ten_digits_and_not_more() -> None:
    assert json.loads(dumps({"x": math.pi}))["x"] == 3.141592654


def test_numpy_values_and_surrogates_become_plain() -> None:
    text = dumps({"a": np.float32(0.5), "b": np.arange(2), "c": "\udc80", "d": np.True_})
    assert json.loads(text) == {"a": 0.5, "b": [0, 1], "c": "\\udc80", "d": True}
    assert text.encode("utf-8")


def test_what_has_no_json_form_is_refused() -> None:
    with pytest.raises(TypeError, match="/a/0 holds a object, which has no JSON form"):
        dumps({"a": [object()]})


def test_an_unknown_schema_is_refused() -> None:
    message = "there is no schema 'verdict'; known are assessment, recording, plan, job-status"
    with pytest.raises(InputError, match=message):
        schema("verdict")


def test_the_same_bytes_twice(make_assessment: Callable[..., Assessment]) -> None:
    first, second = (dumps(assessment_dict(make_assessment())) for _ in range(2))
    assert first == second
    assert list(json.loads(first)) == sorted(json.loads(first))


@pytest.mark.parametrize("hold", [None, *Hold])
def test_every_verdict_and_hold_is_valid(
    make_assessment: Callable[..., Assessment], hold: Hold | None
) -> None:
    verdict = Verdict.PASS if hold is None else Verdict.HOLD
    document = assessment_dict(make_assessment(verdict=verdict, hold=hold))
    refuse_invalid(document, "assessment")
    assert (document["verdict"], document["hold"]) == (verdict.value, hold and hold.value)


@pytest.mark.parametrize("group", list(Group))
@pytest.mark.parametrize("result", list(CriterionResult))
def test_every_group_and_result_is_valid(
    make_assessment: Callable[..., Assessment],
    make_criterion: Callable[..., Criterion],
    group: Group,
    result: CriterionResult,
) -> None:
    document = assessment_dict(
        make_assessment(criteria=(make_criterion(group=group, result=result),), recordings=())
    )
    refuse_invalid(document, "assessment")
    assert document["criteria"][0]["group"] == group.value
    assert document["criteria"][0]["result"] == result.value


def test_an_amplitude_without_calibration_is_null(assessment: Assessment) -> None:
    uncalibrated = next(a for a in assessment.recordings if not a.recording.is_calibrated)
    document = recording_dict(uncalibrated)
    assert document["unit"] == "counts"
    assert document["calibration"] is None
    assert {line["amplitude_m_s2"] for line in document["motion"]["harmonics"]} == {None}
    calibrated = recording_dict(assessment.recordings[0])
    assert calibrated["motion"]["harmonics"][0]["amplitude_m_s2"] == pytest.approx(0.8792)


def test_a_detectable_size_that_no_trial_reached_is_null(spalled: RecordingAnalysis) -> None:
    finding = replace(spalled.sensitivity[0], detectable_depth=math.inf)
    document = recording_dict(replace(spalled, sensitivity=(finding,)))
    refuse_invalid(document, "recording")
    assert document["sensitivity"][0]["detectable_depth"] is None
    assert "/sensitivity/0/detectable_depth" in document["not_finite"]


def test_the_least_that_would_have_been_found_is_told_worst_first(
    make_assessment: Callable[..., Assessment], assessment: Assessment
) -> None:
    left = assessment.recordings[1]
    hard = replace(left.sensitivity[1], detectable_depth=0.05, detectable_impact_m_s2=0.3)
    changed = replace(left, sensitivity=(left.sensitivity[0], hard))
    document = assessment_dict(make_assessment(recordings=(assessment.recordings[0], changed)))
    refuse_invalid(document, "assessment")
    assert [row["element"] for row in document["sensitivity"]] == ["inner-ring", "outer-ring"]
    assert document["sensitivity"][0]["sentence"] == (
        "Bearing upper: an inner-ring defect striking with 0.3 m/s² or more would have been found "
        "(95 of 100); as modulation depth 0.05 or more."
    )
    assert document["sensitivity"][0]["path"] == left.recording.path
    assert [row["blind_spot"] for row in document["sensitivity"]] == [False, False]
    hidden = tuple(replace(family, blind_spot=True) for family in changed.families)
    blind = assessment_dict(make_assessment(recordings=(replace(changed, families=hidden),)))
    assert [row["blind_spot"] for row in blind["sensitivity"]] == [True, True]
    as_found = assessment_dict(make_assessment(recordings=assessment.recordings[:1]))
    assert as_found["sensitivity"] == []
