"""A file with several channels: every point of the card is looked at, not the first alone."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import soundfile

from vibhealth.report import schema
from vibhealth.simulate.recording_faults import whip_cable

Run = Callable[..., Any]
RATE_HZ = 8000


@pytest.fixture
def spoilt(job: Any, tmp_path: Path) -> Callable[..., Path]:
    """The clean recording with its second channel changed, and its sidecar."""

    def make(change: Callable[[np.ndarray], np.ndarray]) -> Path:
        samples, rate = soundfile.read(job.clean, always_2d=True)
        samples[:, 1] = change(samples[:, 1])
        path = tmp_path / "spoilt.wav"
        soundfile.write(path, samples, rate, subtype=soundfile.info(job.clean).subtype)
        sidecar = job.clean.with_suffix(".toml").read_text("utf-8")
        path.with_suffix(".toml").write_text(sidecar, "utf-8")
        return path

    return make


def dead(values: np.ndarray) -> np.ndarray:
    return 1e-6 * np.random.default_rng(3).standard_normal(values.size)


def whipped(values: np.ndarray) -> np.ndarray:
    rng = np.random.default_rng(4)
    return np.asarray(whip_cable(values[None], RATE_HZ, rng, share=0.4, swing_share=0.0)[0])


def test_a_dead_second_channel_is_told_by_its_point(
    run: Run, job: Any, spoilt: Callable[..., Path]
) -> None:
    ended = run("inspect", spoilt(dead), "--card", job.card)
    assert ended.code == 3
    assert ended.out.startswith("RECORD AGAIN because P1Y: The rms value is ")
    assert "CHANNEL P1Y" in ended.out
    assert run("inspect", spoilt(dead), "--card", job.card, "--point", "P1X").code == 0


def test_json_holds_the_other_channels(run: Run, job: Any, spoilt: Callable[..., Path]) -> None:
    document = json.loads(run("inspect", spoilt(dead), "--card", job.card, "--json").out)
    assert (document["point"], document["usable"]) == ("P1X", False)
    jsonschema.Draft202012Validator(schema("recording")).validate(document)
    (other,) = document["other_channels"]
    assert (other["point"], other["usable"]) == ("P1Y", False)
    assert document["record_again_because"][0] == f"P1Y: {other['record_again_because'][0]}"


def test_a_cable_that_makes_hits_of_its_own_is_told_once(
    run: Run, job: Any, spoilt: Callable[..., Path]
) -> None:
    ended = run("inspect", spoilt(whipped), "--card", job.card)
    assert ended.code == 3
    assert ended.out.count("no other channel hears them") == 2  # the headline, and its check
    assert "P1Y shows" in ended.out.splitlines()[0]


def test_without_a_card_the_channels_left_out_are_named(run: Run, job: Any) -> None:
    ended = run("inspect", job.clean)
    assert "Only channel 1 of 2: give --card" in ended.out.splitlines()[1]
    assert "P1Y" not in run("inspect", job.clean, "--point", "P1X", "--card", job.card).out


def test_a_fault_of_all_channels_is_told_once(run: Run, job: Any, tmp_path: Path) -> None:
    short = tmp_path / "short.flac"
    made = ("--card", job.card, "--clean", "--seconds", 4, "--rate", RATE_HZ)
    assert run("simulate", short, *made).code == 0
    document = json.loads(run("inspect", short, "--card", job.card, "--json").out)
    told = document["record_again_because"]
    assert len([reason for reason in told if "turns in 4 s" in reason]) == 1
    assert told[0].startswith("Only ")


def test_several_files_are_compared_point_by_point(run: Run, job: Any) -> None:
    ended = run("inspect", job.found, job.clean, "--card", job.card, "--json")
    together = json.loads(ended.out)["together"]
    assert {finding["detail"].split(":")[0] for finding in together} == {"P1X", "P1Y"}


def test_a_dead_channel_is_no_witness_against_a_cable(run: Run, job: Any, tmp_path: Path) -> None:
    samples, rate = soundfile.read(job.clean, always_2d=True)
    spoilt = np.stack([whipped(samples[:, 0]), dead(samples[:, 1])], axis=1)
    path = tmp_path / "spoilt.wav"
    soundfile.write(path, spoilt, rate, subtype=soundfile.info(job.clean).subtype)
    path.with_suffix(".toml").write_text(job.clean.with_suffix(".toml").read_text("utf-8"), "utf-8")
    ended = run("inspect", path, "--card", job.card)
    assert ended.code == 3
    assert "no other channel hears" not in ended.out
