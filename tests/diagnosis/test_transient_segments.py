"""A recording is cut where a start or a stop is beyond doubt, and nowhere else."""

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.benchmark import open_recordings
from tests.diagnosis.transient_machines import RATE_HZ, Machine, make, recording_of
from vibhealth.diagnosis.transient_segments import run_segments, steady_part
from vibhealth.errors import InputError
from vibhealth.model import Recording

Array = NDArray[np.float64]
FOLDER = os.environ.get("VIBHEALTH_DATA")
SHAFT_HZ = 20.0
START = Machine(kind="run-up", ramp_s=3.0, isolator_hz=3.0, damping=0.06, shaft_hz=SHAFT_HZ)
STOP = replace(START, kind="coast-down", ramp_s=8.0, lead_s=8.0, tail_s=6.0)


def kinds(recording: Recording, nominal_hz: float = SHAFT_HZ) -> list[str]:
    segments = run_segments(recording, nominal_hz=nominal_hz, tolerance_percent=3.0)
    assert segments[0].start_s == 0.0
    assert segments[-1].end_s == recording.duration_s
    assert all(a.end_s == b.start_s for a, b in pairwise(segments))
    return [segment.kind for segment in segments]


def steady(seconds: float, *, shaft_hz: Array | float = SHAFT_HZ, noise: float = 0.3) -> Array:
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    turns = np.cumsum(np.broadcast_to(shaft_hz, time_s.shape)) / RATE_HZ
    rng = np.random.default_rng(5)
    return 40 * np.cos(2 * np.pi * turns) + noise * rng.standard_normal(time_s.size)


def test_a_start_a_stop_and_both_in_one_recording() -> None:
    start, stop = make(START).recording.samples, make(STOP).recording.samples
    assert kinds(recording_of(start)) == ["standstill", "run-up", "steady"]
    assert kinds(recording_of(stop)) == ["steady", "coast-down", "standstill"]
    whole = ["standstill", "run-up", "steady", "coast-down", "standstill"]
    assert kinds(recording_of(np.concatenate([start, stop]))) == whole
    middle = ["steady", "coast-down", "standstill", "run-up", "steady"]
    assert kinds(recording_of(np.concatenate([stop, start]))) == middle


def test_standstill_need_not_be_silent() -> None:
    """Another machine shakes the floor at 3 % of the acceleration, at a speed of its own."""
    samples = make(START).recording.samples
    time_s = np.arange(samples.size) / RATE_HZ
    samples = samples + 1.2 * np.cos(2 * np.pi * 24.0 * time_s)
    assert kinds(recording_of(samples)) == ["standstill", "run-up", "steady"]


@pytest.mark.parametrize(
    "samples",
    [
        steady(20.0),
        steady(20.0, shaft_hz=SHAFT_HZ * (1 - 0.03 * np.linspace(0, 1, round(20 * RATE_HZ)))),
        steady(20.0)
        * (1 + 0.2 * np.sin(2 * np.pi * 0.1 * np.arange(round(20 * RATE_HZ)) / RATE_HZ)),
        0.001 * steady(20.0, noise=1e5),
        np.random.default_rng(2).standard_normal(round(20 * RATE_HZ)),
        steady(0.5),
    ],
    ids=["plain", "slows by 3 %", "load changes", "weak 1x", "noise", "half a second"],
)
def test_what_is_not_beyond_doubt_is_steady(samples: Array) -> None:
    assert kinds(recording_of(samples)) == ["steady"]


def test_a_gap_in_the_cable_is_no_stop() -> None:
    samples = steady(20.0)
    samples[round(8 * RATE_HZ) : round(11 * RATE_HZ)] = 0.0
    assert kinds(recording_of(samples)) == ["steady"]


def test_another_nominal_speed_does_not_make_a_start() -> None:
    assert kinds(recording_of(steady(20.0)), nominal_hz=12.0) == ["steady"]
    assert kinds(recording_of(steady(20.0)), nominal_hz=45.0) == ["steady"]


def test_steady_part_keeps_where_it_comes_from() -> None:
    samples = make(replace(STOP, lead_s=14.0)).recording.samples
    begun = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
    recording = replace(
        recording_of(np.concatenate([make(START).recording.samples, samples])),
        tachometer=np.arange(samples.size + round(14 * RATE_HZ), dtype=np.float64),
        start_time=begun,
    )
    segments = run_segments(recording, nominal_hz=SHAFT_HZ, tolerance_percent=3.0)
    part = steady_part(recording, segments)
    assert part is not None
    assert part.tachometer is not None
    assert part.start_time is not None
    first = round(float(part.tachometer[0]))
    assert np.array_equal(part.samples, recording.samples[first : first + part.samples.size])
    moved = part.start_time - begun
    assert abs(moved - timedelta(seconds=first / RATE_HZ)) < timedelta(milliseconds=1)
    assert (part.path, part.sha256) == (recording.path, recording.sha256)


def test_without_a_steady_stretch_there_is_no_steady_part() -> None:
    recording = recording_of(steady(3.0))
    whole = run_segments(recording, nominal_hz=SHAFT_HZ, tolerance_percent=3.0)
    assert steady_part(recording, whole) is recording
    still = tuple(replace(segment, kind="standstill") for segment in whole)
    assert steady_part(recording, still) is None


@pytest.mark.parametrize("name", ["nominal_hz", "tolerance_percent"])
def test_settings_must_be_above_zero(name: str) -> None:
    settings = {"nominal_hz": SHAFT_HZ, "tolerance_percent": 3.0} | {name: 0.0}
    with pytest.raises(InputError, match=f"{name} must be a finite number above 0"):
        run_segments(recording_of(steady(3.0)), **settings)


@pytest.mark.skipif(
    FOLDER is None, reason="VIBHEALTH_DATA does not name the folder of open recordings"
)
@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
def test_open_recordings_are_steady_whatever_the_nominal_speed(factor: float) -> None:
    """Ordinary machines with a weak 1x (CWRU, MFPT, UESTC): not one of them may be cut."""
    folder = Path(FOLDER or "")
    cut = []
    for row in open_recordings.manifest(folder):
        recording = open_recordings.recording_of(folder, row)
        nominal_hz = factor * open_recordings.card_of(row).nominal_shaft_frequency_hz
        if kinds(recording, nominal_hz) != ["steady"]:
            cut.append(recording.path)
    assert cut == []
