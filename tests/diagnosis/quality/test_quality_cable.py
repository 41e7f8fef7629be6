"""Hits that only one channel of a file shows: a cable or connector, not the machine.

The recordings are made here: noise that is louder in a part of the turn, as under a rotating
load, 1x, and decaying sines of one millisecond where something hits.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_cable import CableLook, check_cable
from vibhealth.errors import InputError
from vibhealth.model import Calibration, Recording

Array = NDArray[np.float64]
RATE_HZ, SECONDS, SHAFT_HZ = 8192.0, 12.0, 16.3
BAND_HZ = (1000.0, 3500.0)
NOISE = 0.3


def channel(number: int, hits: float, *, seed: int = 1) -> Recording:
    """One channel; ``hits`` is the height of what hits once per turn over its noise."""
    rng = np.random.default_rng([seed, number])
    time_s = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    turns = SHAFT_HZ * time_s
    loud = 1 + 0.4 * np.cos(2 * np.pi * (turns + 0.3 * number))
    samples = NOISE * loud * rng.standard_normal(time_s.size)
    samples += 30 * np.cos(2 * np.pi * (turns + 0.25 * number))
    ring_s = np.arange(round(0.01 * RATE_HZ)) / RATE_HZ
    ring = np.exp(-ring_s / 0.001) * np.sin(2 * np.pi * 2200 * ring_s)
    jitter = np.random.default_rng(seed).uniform(-0.004, 0.004, int(turns[-1]))
    for at in np.round((np.arange(1, jitter.size) + 0.6 + jitter[1:]) * RATE_HZ / SHAFT_HZ):
        part = samples[int(at) : int(at) + ring.size]
        part += hits * NOISE * ring[: part.size]
    return Recording(
        samples=samples,
        sampling_rate_hz=RATE_HZ,
        unit="m/s2",
        path="feeder.wav",
        sha256="0" * 64,
        channel=number,
        n_channels=3,
        point=f"P{number}",
        calibration=Calibration(scale_m_s2=1.0, source="made here"),
    )


def look(channels: Sequence[Recording], *suspects: int) -> CableLook:
    return check_cable(
        channels,
        [channels[number - 1] for number in suspects],
        shaft_hz=SHAFT_HZ,
        bearing_band_hz=BAND_HZ,
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_hits_of_one_channel_are_its_cables(seed: int) -> None:
    channels = [channel(n, hits, seed=seed) for n, hits in ((1, 0.0), (2, 40.0), (3, 0.0))]
    found = look(channels, 2)
    assert found.finding.result.value == "hold"
    assert found.own_hits == {2}
    assert "P2 shows" in found.finding.detail
    assert "not the machine" in found.finding.detail
    assert "tie down the cable" in found.finding.advice


@pytest.mark.parametrize("share", [1.0, 0.3, 0.1])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_hits_that_another_channel_hears_are_the_machines(share: float, seed: int) -> None:
    channels = [channel(1, 40.0 * share, seed=seed), channel(2, 40.0, seed=seed)]
    found = look(channels, 2)
    assert found.finding.result.value == "pass"
    assert not found.own_hits
    assert "heard elsewhere too" in found.finding.detail


def test_one_of_three_that_hears_them_is_enough() -> None:
    channels = [channel(1, 0.0), channel(2, 40.0), channel(3, 6.0)]
    assert look(channels, 2).finding.result.value == "pass"


def test_hits_too_weak_to_arrive_elsewhere_stay_open() -> None:
    found = look([channel(1, 0.0), channel(2, 12.0)], 2)
    assert found.finding.result.value == "watch"
    assert not found.own_hits
    assert "too loud to tell" in found.finding.detail


def test_a_clean_channel_under_suspicion_passes() -> None:
    found = look([channel(1, 0.0), channel(2, 0.0)], 1, 2)
    assert found.finding.result.value == "pass"
    assert "too few hits" in found.finding.detail


def test_without_a_suspect_nothing_is_compared() -> None:
    assert look([channel(1, 0.0), channel(2, 40.0)]).finding.result.value == "pass"


def test_one_channel_alone_is_not_judged() -> None:
    assert look([channel(1, 40.0)], 1).finding.result.value == "not-judged"


def test_the_unit_of_a_channel_does_not_matter() -> None:
    channels = [channel(1, 0.0), channel(2, 40.0)]
    scaled = [replace(c, samples=1e-3 * c.samples) for c in channels]
    assert look(scaled, 2).finding.detail == look(channels, 2).finding.detail


def test_channels_of_two_recordings_are_refused() -> None:
    one, two = channel(1, 0.0), channel(2, 0.0)
    short = replace(two, samples=two.samples[:-1])
    with pytest.raises(InputError, match="one rate and length"):
        look([one, short], 1)
    with pytest.raises(InputError, match="shaft_hz"):
        check_cable([one, two], [one], shaft_hz=0.0, bearing_band_hz=BAND_HZ)
