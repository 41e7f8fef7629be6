"""What only several recordings, or several channels of one, can show."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.set_criteria import set_criteria
from vibhealth.card import MachineCard
from vibhealth.job import JobFacts, JobRecord
from vibhealth.model import Criterion, Disturbance, Hold, Moment, RecordingAnalysis, Stage
from vibhealth.units import rpm_to_hz

Cards = Callable[..., MachineCard]
Make = Callable[..., RecordingAnalysis]

RATE_HZ, SECONDS = 8000.0, 30.0
SHAFT_HZ = rpm_to_hz(978.0)
START = datetime(2031, 3, 5, 13, 0, tzinfo=UTC)


def recorded(
    make: Make, number: int, stroke_mm: float, phase: float, *, noise: float = 0.3, **facts: Any
) -> RecordingAnalysis:
    """An analysis whose samples are a sinusoid of this stroke with a little noise."""
    time_s = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ
    omega = 2 * np.pi * SHAFT_HZ
    rng = np.random.default_rng(number)
    motion = -0.5e-3 * stroke_mm * omega**2 * np.cos(omega * time_s + phase)
    for order in range(2, 11):
        motion += 1.5 * 0.6**order * (1.5 + np.sin(order)) * np.cos(order * omega * time_s)
    samples = motion + noise * rng.standard_normal(time_s.size)
    known = {"path": f"as-left/{number}.wav", "sha256": f"{number}"} | facts
    return make(
        number, samples=samples, sampling_rate_hz=RATE_HZ,
        start_time=START + number * timedelta(minutes=5), **known,
    )  # fmt: skip


def judged(
    card: MachineCard, after: Sequence[RecordingAnalysis], **facts: Any
) -> dict[str, Criterion]:
    evidence = Evidence(
        card=card, limits=card.limits, before=(), after=tuple(after), pair=(), orbits=(), **facts
    )
    return {item.id: item for item in set_criteria(evidence)}


@pytest.fixture
def card(make_card: Cards) -> MachineCard:
    return make_card(
        exciter={"stroke_mm": {"x": 6.0, "y": 4.0}, "orbit_direction": "counter-clockwise"},
        analysis={"bearing_band_hz": [1000.0, 3900.0]},
    )


def test_swapped_cables_are_told_from_unequal_strokes(
    card: MachineCard, make_analysis: Make
) -> None:
    file: dict[str, Any] = {"path": "as-left/1.wav", "sha256": "1"}
    right = [
        recorded(make_analysis, 1, 6.0, 0.0, **file),
        recorded(make_analysis, 2, 4.0, -np.pi / 2, point="P1Y", direction="y", **file),
    ]
    assert judged(card, right)["recording-axes"].result.value == "pass"
    one, two = (analysis.recording for analysis in right)
    swapped = [
        replace(right[0], recording=replace(one, samples=two.samples)),
        replace(right[1], recording=replace(two, samples=one.samples)),
    ]
    found = judged(card, swapped)["recording-axes"]
    assert found.result.value == "hold"
    assert found.hold is Hold.MEASURE_AGAIN
    assert "x holds y, y holds x" in found.reason


def test_equal_strokes_leave_the_sense_to_the_orbit(make_card: Cards, make_analysis: Make) -> None:
    card = make_card(
        exciter={"stroke_mm": {"x": 6.0, "y": 6.0}, "orbit_direction": "counter-clockwise"}
    )
    file: dict[str, Any] = {"path": "as-left/1.wav", "sha256": "1"}
    reversed_ = [
        recorded(make_analysis, 1, 6.0, 0.0, **file),
        recorded(make_analysis, 2, 6.0, np.pi / 2, point="P1Y", direction="y", **file),
    ]
    found = judged(card, reversed_)["recording-axes"]
    assert found.result.value == "watch"
    assert "cannot tell apart" in str(found.value)


@pytest.mark.parametrize(
    ("noises", "result"),
    [((0.3, 0.3, 0.3), "pass"), ((0.45, 0.36, 0.3), "hold"), ((0.3, 0.36, 0.45), None)],
)
def test_a_level_that_falls_was_not_settled(
    card: MachineCard, make_analysis: Make, noises: tuple[float, ...], result: str | None
) -> None:
    """A rising one is told with the bearing's roughness."""
    after = [
        recorded(make_analysis, number, 6.0, 0.1, noise=noise, level=noise)
        for number, noise in enumerate(noises, start=1)
    ]
    found = judged(card, after).get("recording-level-course")
    assert (None if found is None else found.result.value) == result


def test_another_pattern_at_the_same_point_is_another_place(
    card: MachineCard, make_analysis: Make
) -> None:
    first = recorded(make_analysis, 1, 6.0, 0.1)
    second = recorded(make_analysis, 2, 6.0, 0.1)
    time_s = np.arange(second.recording.samples.size) / RATE_HZ
    elsewhere = second.recording.samples.copy()
    for order in range(2, 11):
        size = 10.0 * (1 + np.cos(2.1 * order))
        elsewhere += size * np.cos(2 * np.pi * order * SHAFT_HZ * time_s)
    noise = np.random.default_rng(9).standard_normal(elsewhere.size)
    elsewhere += 3 * np.convolve(noise, np.ones(8) / 8, "same")
    moved = replace(second, recording=replace(second.recording, samples=elsewhere))
    found = judged(card, [first, moved])["recording-fingerprint"]
    assert found.result.value in {"watch", "hold"}
    assert judged(card, [first, second])["recording-fingerprint"].result.value == "pass"


def test_flat_noise_has_no_pattern_to_know_again(card: MachineCard, make_analysis: Make) -> None:
    alone = [recorded(make_analysis, number, 6.0, 0.1) for number in (1, 2)]
    rng = np.random.default_rng(12)
    time_s = np.arange(alone[0].recording.samples.size) / RATE_HZ
    motion = 30 * np.cos(2 * np.pi * SHAFT_HZ * time_s)
    flat = [
        replace(
            a, recording=replace(a.recording, samples=motion + rng.standard_normal(motion.size))
        )
        for a in alone
    ]
    found = judged(card, flat)["recording-fingerprint"]
    assert found.result.value == "pass"
    assert "Too few" in str(found.value)


def test_what_hits_every_turn_excuses_another_pattern(
    card: MachineCard, make_analysis: Make
) -> None:
    first = recorded(make_analysis, 1, 6.0, 0.1)
    noise = 20.0 * np.random.default_rng(9).standard_normal(first.recording.samples.size)
    rough = np.convolve(noise, np.hanning(40), "same")
    second = recorded(make_analysis, 2, 6.0, 0.1)
    samples = second.recording.samples + rough
    second = replace(second, recording=replace(second.recording, samples=samples))
    assert judged(card, [first, second])["recording-fingerprint"].result.value == "hold"
    hits = Disturbance(id="strikes-at-1x", title="", value=40.0, unit="", detail="")
    struck = replace(second, disturbances=(hits,))
    assert judged(card, [first, struck])["recording-fingerprint"].result.value == "watch"


def test_the_clock_of_a_job(card: MachineCard, make_analysis: Make) -> None:
    after = [recorded(make_analysis, number, 6.0, 0.1, moment=Moment.HOUR_1) for number in (1, 2)]
    job = JobRecord(schema_version=1, job=JobFacts(rebuild_finished=START))
    assert judged(card, after, job=job)["recording-after-the-work"].result.value == "pass"
    late = JobRecord(schema_version=1, job=JobFacts(rebuild_finished=START + timedelta(hours=3)))
    found = judged(card, after, job=late)["recording-after-the-work"]
    assert found.result.value == "hold"
    before = recorded(make_analysis, 3, 6.0, 0.1, stage=Stage.AS_FOUND)
    evidence = Evidence(
        card=card, limits=card.limits, before=(before,), after=tuple(after), pair=(), orbits=(),
        job=job,
    )  # fmt: skip
    order = {item.id: item for item in set_criteria(evidence)}["recording-stage-order"]
    assert order.result.value == "hold"
    assert "recording-stage-order" not in judged(card, after)


def test_one_recording_twice_in_a_job(card: MachineCard, make_analysis: Make) -> None:
    one = recorded(make_analysis, 1, 6.0, 0.1, moment=Moment.HOUR_1)
    copy = replace(
        one, recording=replace(one.recording, path="as-left/8h/2.wav", moment=Moment.HOUR_8)
    )
    found = judged(card, [one, copy], job=JobRecord(schema_version=1))["recording-recorded-once"]
    assert found.result.value == "hold"
