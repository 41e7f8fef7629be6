"""Levels by band against closed forms; what cannot be judged says why."""

import math
import re
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.levels import LevelResult, level_descriptors
from vibhealth.errors import InputError
from vibhealth.model import Descriptor, Recording

RATE_HZ, SHAFT_HZ = 12_800.0, 16.3
T = np.arange(int(10 * RATE_HZ)) / RATE_HZ
BAND_HZ = (1000.0, 5000.0)


def recording(samples: NDArray[np.float64], **fields: Any) -> Recording:
    settings: dict[str, Any] = {
        "unit": "m/s2",
        "path": "as-left/f3.wav",
        "sha256": "0",
        "sampling_rate_hz": RATE_HZ,
    }
    return Recording(samples=samples, **(settings | fields))


def levels(samples: NDArray[np.float64], **fields: Any) -> LevelResult:
    return level_descriptors(
        recording(samples, **fields), shaft_frequency_hz=SHAFT_HZ, bearing_band_hz=BAND_HZ
    )


def by_id(result: LevelResult) -> dict[str, Descriptor]:
    return {found.id: found for found in result.descriptors}


# 30 m/s2 at 1x, 0.5 m/s2 at 2500 Hz, 2 m/s2 at 300 Hz (18.4 orders: in no band), offset 3.
X = (
    3.0
    + 30.0 * np.cos(2 * np.pi * SHAFT_HZ * T)
    + 0.5 * np.cos(2 * np.pi * 2500.0 * T)
    + 2.0 * np.cos(2 * np.pi * 300.0 * T)
)


def test_each_part_reads_what_lies_in_it() -> None:
    """1x passes its band with 0.999 (Butterworth, closed form in the filter's tests)."""
    result = levels(X)
    found = {name: descriptor.value for name, descriptor in by_id(result).items()}
    assert result.not_judged == ()
    assert found["whole-rms"] == pytest.approx(math.sqrt((900 + 4 + 0.25) / 2), rel=1e-3)
    assert found["whole-peak"] == pytest.approx(32.5, rel=1e-3)
    assert found["whole-peak-to-peak"] == pytest.approx(65.0, rel=2e-3)
    assert found["working-motion-rms"] == pytest.approx(30 / math.sqrt(2), rel=2e-3)
    assert found["working-motion-crest-factor"] == pytest.approx(math.sqrt(2), rel=5e-3)
    assert found["working-motion-kurtosis"] == pytest.approx(1.5, rel=5e-3)
    assert found["residual-rms"] == pytest.approx(math.sqrt((4 + 0.25) / 2), rel=2e-3)
    assert found["bearing-band-rms"] == pytest.approx(0.5 / math.sqrt(2), rel=1e-3)
    assert found["bearing-band-block-median"] == pytest.approx(0.5 / math.sqrt(2), rel=1e-3)
    assert found["bearing-band-kurtosis"] == pytest.approx(1.5, rel=1e-3)


def test_ids_units_and_bands_are_stable() -> None:
    five = ["rms", "peak", "peak-to-peak", "crest-factor", "kurtosis"]
    parts = ["whole", "working-motion", "residual", "bearing-band"]
    found = by_id(levels(X))
    expected = [f"{part}-{name}" for part in parts for name in five]
    assert list(found) == [*expected, "bearing-band-block-median", "velocity-rms"]
    for name, descriptor in found.items():
        if name.endswith(("crest-factor", "kurtosis")):
            assert descriptor.unit == "1"
        elif name != "velocity-rms":
            assert descriptor.unit == "m/s2"
    assert found["whole-rms"].band_hz is None
    assert found["working-motion-rms"].band_hz == pytest.approx((8.15, 171.15))
    assert found["bearing-band-rms"].band_hz == BAND_HZ
    assert found["velocity-rms"].unit == "mm/s"
    assert len({descriptor.title for descriptor in found.values()}) == len(found)


@pytest.mark.parametrize(
    ("frequency_hz", "share"), [(8.0, 0.0), (16.25, 1.0), (100.0, 1.0), (1005.0, 0.0)]
)
def test_velocity_of_a_sine(frequency_hz: float, share: float) -> None:
    """a / (2 pi f sqrt 2), in mm/s, between 10 and 1000 Hz; 2 Hz beyond the edges nothing.

    Hann lines 0.25 Hz apart: a sinusoid eight lines outside leaks below 1e-3.
    """
    found = by_id(levels(10.0 * np.cos(2 * np.pi * frequency_hz * T)))["velocity-rms"].value
    whole = 1e3 * 10.0 / (2 * np.pi * frequency_hz * math.sqrt(2))
    # within 5e-3: the lines beside the peak are divided by their own frequency
    assert found == pytest.approx(share * whole, abs=5e-3 * whole)


def test_residual_of_a_wandering_shaft_loses_the_working_motion() -> None:
    """1 % wander, stroke constant, so 1x swings with the speed squared; what is left is noise."""
    turns = SHAFT_HZ * (T + 0.01 * 8 / (2 * np.pi) * (1 - np.cos(2 * np.pi * T / 8)))
    speed = 1 + 0.01 * np.sin(2 * np.pi * T / 8)
    noise = 0.1 * np.random.default_rng(1).standard_normal(T.size)
    found = by_id(levels(30.0 * speed**2 * np.cos(2 * np.pi * turns) + noise))
    assert found["residual-rms"].value == pytest.approx(0.1, rel=0.02)
    assert found["residual-kurtosis"].value == pytest.approx(3.0, abs=0.1)


def test_the_block_median_does_not_see_strikes() -> None:
    """White noise of 1: rms in the band sqrt(4000 / 6400) less the soft edges; ten strikes."""
    noise = np.random.default_rng(2).standard_normal(T.size)
    struck = noise.copy()
    struck[5000::12_000] += 500.0
    plain, found = by_id(levels(noise)), by_id(levels(struck))
    assert found["bearing-band-rms"].value > 2 * plain["bearing-band-rms"].value
    assert found["bearing-band-kurtosis"].value > 100
    assert found["bearing-band-block-median"].value == pytest.approx(
        plain["bearing-band-block-median"].value, rel=0.02
    )
    assert plain["bearing-band-rms"].value == pytest.approx(math.sqrt(4000 / 6400), rel=0.05)


def test_a_band_beyond_nyquist_is_cut_and_says_so() -> None:
    found = by_id(
        level_descriptors(
            recording(X), shaft_frequency_hz=SHAFT_HZ, bearing_band_hz=(1000.0, 10_000.0)
        )
    )
    for name in ("bearing-band-rms", "bearing-band-block-median"):
        assert found[name].band_hz == pytest.approx((1000.0, 0.98 * 6400.0))
        assert "cut to what can be read" in found[name].title


def test_a_band_beyond_the_sensor_is_cut_and_says_so() -> None:
    found = by_id(levels(X, sensor_usable_hz=(1500.0, 4000.0)))
    assert found["bearing-band-rms"].band_hz == (1500.0, 4000.0)
    assert by_id(levels(X, sensor_usable_hz=(1.0, 5000.0)))["bearing-band-rms"].band_hz == BAND_HZ


@pytest.mark.parametrize("usable_hz", [(1.0, 2999.0), (3001.0, 9000.0), (1.0, 500.0)])
def test_less_than_half_of_the_band_is_not_judged(usable_hz: tuple[float, float]) -> None:
    result = levels(X, sensor_usable_hz=usable_hz)
    assert not any(name.startswith("bearing-band") for name in by_id(result))
    ((name, reason),) = result.not_judged
    assert name == "bearing-band"
    assert reason.startswith("less than half of 1000 to 5000 Hz can be read at a sampling rate of")


def test_what_is_not_known_is_not_judged() -> None:
    result = level_descriptors(
        recording(X, unit="counts"), shaft_frequency_hz=None, bearing_band_hz=None
    )
    assert dict(result.not_judged) == {
        "working-motion": "the shaft frequency is not known",
        "residual": "the shaft frequency is not known",
        "bearing-band": "no bearing band is stated",
        "velocity-rms": "the recording has no calibration",
    }
    assert [found.unit for found in result.descriptors] == ["counts"] * 3 + ["1"] * 2


def test_a_short_or_slow_recording_is_not_judged_in_part() -> None:
    short = dict(levels(X[:5000]).not_judged)
    assert short["working-motion"] == "the recording holds fewer than 20 turns"
    assert short["residual"] == "the recording holds fewer than 40 turns"
    assert short["bearing-band"] == "the recording is shorter than 0.5 s"
    assert short["velocity-rms"] == "the recording is shorter than 1 s"
    slow = dict(levels(X[:6400], sampling_rate_hz=320.0).not_judged)
    assert slow["working-motion"].startswith("10.5 times 16.3 Hz lies above the Nyquist frequency")
    assert slow["velocity-rms"] == "a sampling rate of 320 Hz does not reach 1000 Hz"


def test_a_dead_channel_is_not_judged() -> None:
    result = levels(np.full(T.size, 0.25))
    assert by_id(result).keys() == {"velocity-rms"}
    reasons = dict(result.not_judged)
    assert reasons["whole"] == "all samples are equal; check sensor, cable and channel"
    assert {"whole", "working-motion", "residual", "bearing-band"} == set(reasons)


@pytest.mark.parametrize("gain", [0.01, 250.0])
def test_amplitudes_scale_and_shapes_do_not(gain: float) -> None:
    plain, scaled = by_id(levels(X)), by_id(levels(gain * X))
    for name, descriptor in plain.items():
        factor = 1.0 if descriptor.unit == "1" else gain
        assert scaled[name].value == pytest.approx(factor * descriptor.value, rel=1e-6)


def test_bad_input_is_refused() -> None:
    for band in ((0.0, 100.0), (300.0, 200.0), (100.0, math.inf)):
        message = f"bearing_band_hz must satisfy 0 < low < high, got {band}"
        with pytest.raises(InputError, match=re.escape(message)):
            level_descriptors(recording(X), shaft_frequency_hz=16.3, bearing_band_hz=band)
    with pytest.raises(InputError, match=re.escape("shaft_frequency_hz must be a finite number")):
        level_descriptors(recording(X), shaft_frequency_hz=-1.0, bearing_band_hz=None)
    broken = X.copy()
    broken[3] = np.nan
    with pytest.raises(
        InputError, match=re.escape("samples of as-left/f3.wav must be finite, got")
    ):
        levels(broken)
