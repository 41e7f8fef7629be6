"""At the machine: a recorded start is usable where all of it is there."""

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from vibhealth.card import MachineCard, card_template, read_card
from vibhealth.diagnosis.inspection import inspect_recording
from vibhealth.diagnosis.start_stop_inspection import start_stop_reasons
from vibhealth.model import Recording, RecordingAnalysis
from vibhealth.simulate import Course, SimulationSettings, simulate_course

RATE_HZ = 6400.0
COURSE = Course(rest_s=5.0, run_up_s=3.0, steady_s=20.0)


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> MachineCard:
    path = tmp_path_factory.mktemp("card") / "F3.toml"
    path.write_text(card_template(), "utf-8")
    return read_card(path)


@pytest.fixture(scope="module")
def started(card: MachineCard) -> Callable[..., RecordingAnalysis]:
    usual = SimulationSettings().resonances
    settings = SimulationSettings(
        sampling_rate_hz=RATE_HZ,
        seed=3,
        resonances=tuple(r for r in usual if r.frequency_hz < 3000),
    )
    made = simulate_course(card, course=COURSE, settings=settings)

    @cache
    def make(from_s: float = 0.0, *, clip: float = np.inf) -> RecordingAnalysis:
        samples = np.clip(made.samples[0, round(from_s * RATE_HZ) :], -clip, clip)
        recording = Recording(
            samples=samples, sampling_rate_hz=RATE_HZ, unit="m/s2", path="start.wav", sha256="",
            point="P1X", direction="x",
        )  # fmt: skip
        return inspect_recording(recording, card=card)

    return make


def test_a_whole_start_is_usable(
    card: MachineCard, started: Callable[..., RecordingAnalysis]
) -> None:
    assert start_stop_reasons(started(), card=card) == ()


def test_a_cut_start_is_told(card: MachineCard, started: Callable[..., RecordingAnalysis]) -> None:
    reasons = start_stop_reasons(started(6.8), card=card)
    assert reasons is not None
    assert reasons[0].startswith("It does not hold all of the start")
    assert "10 s before power-up" in reasons[0]


def test_a_clipped_start_is_told(
    card: MachineCard, started: Callable[..., RecordingAnalysis]
) -> None:
    reasons = start_stop_reasons(started(clip=15.0), card=card)
    assert reasons
    assert "extreme value" in reasons[0]


def test_steady_running_and_an_ordinary_machine_are_no_start(
    card: MachineCard, started: Callable[..., RecordingAnalysis]
) -> None:
    assert start_stop_reasons(started(12.0), card=card) is None
    ordinary = card.model_copy(update={"exciter": None})
    assert start_stop_reasons(started(), card=ordinary) is None
