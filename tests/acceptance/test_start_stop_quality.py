"""Recordings of a start or stop that cannot be believed."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.acceptance.test_start_stop import analysed, stopping, transient
from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.start_stop_criteria import start_stop_criteria
from vibhealth.acceptance.start_stop_quality import start_stop_quality
from vibhealth.card import MachineCard
from vibhealth.job import ClearanceRecord, JobRecord
from vibhealth.model import Criterion, Hold, Moment, RecordingAnalysis, TransientAnalysis

Cards = Callable[..., MachineCard]
Make = Callable[..., RecordingAnalysis]

RATE_HZ = 2000.0


def sounding(
    analysis: TransientAnalysis, *, scale: float = 1.0, clip: float = np.inf
) -> TransientAnalysis:
    """The same with samples of a start: a motion that grows, and noise."""
    time_s = np.arange(int(20 * RATE_HZ)) / RATE_HZ
    motion = 30.0 * np.clip(time_s / 5 - 1, 0, 1) * np.cos(2 * np.pi * 16.3 * time_s)
    noise = 0.05 * np.random.default_rng(1).standard_normal(time_s.size)
    samples = scale * np.clip(motion + noise, -clip, clip)
    recording = replace(analysis.recording, samples=samples, sampling_rate_hz=RATE_HZ)
    return replace(analysis, recording=recording)


def told(
    card: MachineCard, *analyses: TransientAnalysis, after: tuple[RecordingAnalysis, ...] = ()
) -> Criterion:
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=after, pair=(), orbits=(),
        transients=analyses,
    )  # fmt: skip
    (found,) = start_stop_quality(evidence)
    return found


def test_a_sound_recording_passes(make_card: Cards) -> None:
    assert told(make_card(), sounding(analysed(transient()))).result.value == "pass"


@pytest.mark.parametrize(
    ("spoil", "words"),
    [({"clip": 12.0}, "extreme value"), ({"scale": 1e-4}, "limit 0.02 g")],
    ids=["clipped", "dead"],
)
def test_a_spoilt_one_is_measured_again(
    make_card: Cards, spoil: dict[str, float], words: str
) -> None:
    found = told(make_card(), sounding(analysed(transient()), **spoil))
    assert found.hold is Hold.MEASURE_AGAIN
    assert words in found.reason


@pytest.mark.parametrize(("swing_mm", "result"), [(12.0, "pass"), (1.22, "hold")])
def test_another_scale_than_the_steady_recordings(
    make_card: Cards, make_analysis: Make, swing_mm: float, result: str
) -> None:
    """Four times 3 mm to one side is 12 mm; read as g for m/s2 it is a tenth of that."""
    analysis = sounding(analysed(transient(swing_mm=swing_mm, swing_ratio=4.0)))
    found = told(make_card(), analysis, after=(make_analysis(1, stroke=6.0),))
    assert found.result.value == result
    if result == "hold":
        assert "another scale or another point" in found.reason


def test_a_file_without_a_start_is_named(make_card: Cards) -> None:
    found = told(make_card(), sounding(analysed(transient())), sounding(analysed()))
    assert found.result.value == "watch"
    assert "shows no start or stop" in str(found.value)


@pytest.mark.parametrize(
    "changes",
    [{"duration_s": None}, {"swing_ratio": None}, {"strikes_read": False}, {"swing_mm": None}],
    ids=str,
)
def test_a_start_that_was_not_read_whole_was_not_recorded(
    make_card: Cards, changes: dict[str, object]
) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}})
    start = transient(missing="the recording begins when the machine is already starting")
    if changes.pop("strikes_read", True) is False:
        changes["strikes"] = None
    start = replace(start, **changes)  # type: ignore[arg-type]
    job = JobRecord(schema_version=1, clearance=ClearanceRecord(guard_mm=(16.0,) * 4))
    whole = analysed(stopping(8.0), moment=Moment.COAST_DOWN)
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=(), pair=(), orbits=(),
        transients=(analysed(start), whole), job=job,
    )  # fmt: skip
    found = {item.id: item for item in start_stop_criteria(evidence)}
    assert found["run-up-recorded"].result.value == "not-judged"
    assert "does not hold all of the start" in found["run-up-recorded"].reason
    assert found["coast-down-recorded"].result.value == "pass"


def test_a_start_without_calibration_needs_one_and_no_other_start(make_card: Cards) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}})
    start = analysed(replace(transient(), swing_mm=None))
    start = replace(start, recording=replace(start.recording, calibration=None, unit="counts"))
    job = JobRecord(schema_version=1, clearance=ClearanceRecord(guard_mm=(16.0,) * 4))
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=(), pair=(), orbits=(),
        transients=(start,), job=job,
    )  # fmt: skip
    found = {item.id: item for item in start_stop_criteria(evidence)}["run-up-recorded"]
    assert "has no calibration: the swing of the start in mm" in found.reason
    assert "sensitivity" in found.advice


def test_strikes_that_could_not_be_looked_for_are_not_none(make_card: Cards) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0}})
    slow = replace(
        transient(), strikes=None, missing="the sampling rate is too low to look for strikes"
    )
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=(), pair=(), orbits=(),
        transients=(analysed(slow),),
    )  # fmt: skip
    found = {item.id: item for item in start_stop_criteria(evidence)}["transient-strikes"]
    assert found.result.value == "not-judged"
