"""From an assessment to what the history keeps: times, state, why unusable, who overrode."""

from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any, cast

from vibhealth.model import (
    Assessment,
    CriterionResult,
    Hold,
    Moment,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    Release,
    Speed,
    Stage,
    Verdict,
)
from vibhealth.store.from_results import history_rebuild, history_recording, history_verdict

AT = datetime(2031, 3, 5, 8, tzinfo=UTC)


def analysis(speed_hz: float | None = 16.3, **changes: Any) -> RecordingAnalysis:
    import numpy as np

    facts: dict[str, Any] = {
        "samples": np.zeros(10), "sampling_rate_hz": 10.0, "unit": "m/s2", "path": "a.wav",
        "sha256": "a" * 64, "point": "P1X", "stage": Stage.AS_LEFT, "start_time": AT,
        "remarks": (("load", "empty"),),
    }  # fmt: skip
    quality = changes.pop("quality", ())
    return RecordingAnalysis(
        recording=Recording(**facts | changes),
        speed=Speed(
            shaft_frequency_hz=speed_hz, variation_percent=None, source="recording", detail=""
        ),
        quality=quality, descriptors=(), motion=None, families=(), families_not_judged="",
        sensitivity=(), spectra=(), envelopes=(), waveform_time_s=np.zeros(1),
        waveform=np.zeros(1),
    )  # fmt: skip


def kept(item: RecordingAnalysis, **more: Any) -> Any:
    return history_recording(item, machine="F3", card_sha256="", tool_version="0", **more)


def assessed(*analyses: RecordingAnalysis, **changes: Any) -> Assessment:
    facts = {
        "machine": {"id": "F3"}, "verdict": Verdict.HOLD, "hold": Hold.FIX, "headline": "Fix it",
        "reasons": ("because",), "recordings": analyses, "job": None, "override": None,
    }  # fmt: skip
    return cast("Assessment", SimpleNamespace(**facts | changes))


def test_the_sidecar_goes_before_the_options() -> None:
    later = datetime(2032, 1, 1, tzinfo=UTC)
    found = kept(
        analysis(running_hours_h=7.0), recorded_at=later, load="loaded", running_hours_h=9.0
    )
    assert (found.recorded_at, found.load, found.running_hours_h) == (AT, "empty", 7.0)
    bare = kept(analysis(start_time=None, remarks=()), recorded_at=later, load="loaded",
                running_hours_h=9.0)  # fmt: skip
    assert (bare.recorded_at, bare.load, bare.running_hours_h) == (later, "loaded", 9.0)


def test_a_time_without_a_zone_is_taken_as_utc() -> None:
    assert kept(analysis(start_time=AT.replace(tzinfo=None))).recorded_at == AT


def test_why_a_recording_cannot_be_used() -> None:
    clipped = QualityFinding(
        id="clipping", title="clipping", result=CriterionResult.HOLD, detail="", advice=""
    )
    seen = replace(clipped, id="mains", title="mains", result=CriterionResult.WATCH)
    assert kept(analysis(quality=(seen, clipped))).unusable_because == "not usable: clipping"
    assert kept(analysis(quality=(seen,))).unusable_because == ""
    assert kept(analysis(speed_hz=None)).unusable_because == "no speed found"


def test_a_verdict_is_dated_by_its_latest_recording_and_named_by_its_latest_check() -> None:
    early = analysis(moment=Moment.HOUR_24, sha256="b" * 64)
    late = analysis(moment=Moment.HOUR_1, start_time=AT.replace(day=7))
    before = analysis(stage=Stage.AS_FOUND, start_time=AT.replace(day=9), sha256="c" * 64)
    found = history_verdict(assessed(early, late, before), tool_version="0")
    assert found.decided_on == AT.replace(day=7)
    assert found.check == "24h"
    assert found.recordings == ("b" * 64, "a" * 64)
    assert (found.verdict, found.hold) == ("HOLD", "fix")


def test_an_override_is_kept_with_its_name() -> None:
    release = Release(by="E. Engineer", reason="known", at=AT, is_valid=True, sentence="")
    found = history_verdict(assessed(analysis(), override=release), tool_version="0")
    assert found.override is not None
    assert (found.override.by, found.override.at, found.override.is_valid) == (
        "E. Engineer", AT, True,
    )  # fmt: skip


def test_a_job_is_a_rebuild_and_recordings_alone_are_none() -> None:
    job = {"machine_started": AT, "rebuilt_by": "T. Technician", "unit_serial": "S1"}
    found = history_rebuild(assessed(analysis(), job=job))
    assert found is not None
    assert (found.at, found.by, found.unit_serial) == (AT, "T. Technician", "S1")
    assert history_rebuild(assessed(analysis())) is None
    assert history_rebuild(assessed(analysis(), job={"machine_started": None})) is None


def test_what_a_check_found_is_kept_without_its_limits() -> None:
    short = QualityFinding(
        id="length", title="Long enough", result=CriterionResult.HOLD,
        detail="Only 302 turns in 10.1 s (at least 400; no source). And more.", advice="",
    )  # fmt: skip
    assert kept(analysis(quality=(short,))).unusable_because == (
        "not usable: only 302 turns in 10.1 s"
    )
