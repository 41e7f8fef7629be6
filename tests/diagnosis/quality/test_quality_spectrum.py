"""What the spectrum of a recording must hold: bandwidth, anti-alias filter, mains, bearing band."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.quality import check_recording
from vibhealth.diagnosis.quality_facts import sample_facts
from vibhealth.model import QualityFinding, Recording

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]
SAMPLING_RATE_HZ, SECONDS = 6400.0, 30.0


@pytest.mark.parametrize(
    ("band_hz", "expected"),
    [
        # Usable to 0.98 * 3200 = 3136 Hz.
        ((1000.0, 3135.0), "pass"),
        ((1000.0, 3137.0), "watch"),
        ((1000.0, 5271.0), "watch"),
        ((1000.0, 5273.0), "hold"),
        ((4000.0, 5000.0), "hold"),
    ],
)
def test_the_rate_must_carry_half_of_the_bearing_band(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    band_hz: tuple[float, float],
    expected: str,
) -> None:
    assert result(recording(feeder(seconds=5)), "bandwidth", bearing_band_hz=band_hz) == expected


@pytest.mark.parametrize(
    ("usable_hz", "expected"),
    [((1.0, 3000.0), "pass"), ((1.0, 2001.0), "watch"), ((1.0, 1999.0), "hold")],
)
def test_the_sensor_must_carry_the_band_too(
    *,
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    result: Callable[..., str],
    usable_hz: tuple[float, float],
    expected: str,
) -> None:
    item = recording(feeder(seconds=5), sensor_usable_hz=usable_hz)
    assert result(item, "bandwidth", bearing_band_hz=(1000.0, 3000.0)) == expected
    unstated = recording(feeder(seconds=5), sensor_usable_hz=None)
    assert "not stated" in findings(unstated)["bandwidth"].detail


@pytest.mark.parametrize(("needed_hz", "expected"), [(3136.0, "pass"), (3136.5, "hold")])
def test_the_highest_needed_frequency_must_be_reached(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    needed_hz: float,
    expected: str,
) -> None:
    item = recording(feeder(seconds=5))
    assert result(item, "bandwidth", highest_needed_hz=needed_hz) == expected


def test_bandwidth_is_not_judged_without_a_band(
    feeder: Callable[..., Array], recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    item = recording(feeder(seconds=5))
    assert result(item, "bandwidth", bearing_band_hz=None) == "not-judged"


@pytest.mark.parametrize(("fall_db", "expected"), [(5.0, "watch"), (7.0, "pass")])
def test_a_spectrum_that_does_not_fall_is_watched(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    fall_db: float,
    expected: str,
) -> None:
    x = feeder(noise_g=1.0)
    spectrum = np.fft.rfft(x)
    share = np.fft.rfftfreq(x.size)
    spectrum[share > 0.4] *= 10 ** (-fall_db / 20)
    finding = findings(recording(np.fft.irfft(spectrum, x.size)))["anti-alias"]
    assert finding.result == expected
    measured_db = float(re.findall(r"lies (\S+) dB", finding.detail)[0])
    # 23 averages of 4096 points, medians over 200 and 400 lines: scatter below 0.1 dB.
    assert measured_db == pytest.approx(fall_db, abs=0.3)


def test_anti_alias_is_not_judged_on_too_few_samples(
    feeder: Callable[..., Array], recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    assert result(recording(feeder()[:16383]), "anti-alias") == "not-judged"
    assert result(recording(feeder()[:16384]), "anti-alias") == "watch"


@pytest.fixture
def hum(
    feeder: Callable[..., Array], recording: Callable[..., Recording]
) -> Callable[..., Recording]:
    """A feeder whose hum holds this share of the power beside the shaft orders."""

    def make(share: float, mains_hz: float) -> Recording:
        x = feeder(noise_g=0.1)
        t = np.arange(x.size) / SAMPLING_RATE_HZ
        amplitude = 0.1 * np.sqrt(2 * share / (1 - share))
        return recording(x + amplitude * np.sin(2 * np.pi * mains_hz * t))

    return make


@pytest.mark.parametrize("mains_hz", [50.0, 60.0, 150.0])
@pytest.mark.parametrize(("share", "expected"), [(0.04, "pass"), (0.06, "watch")])
def test_mains_lines_are_watched_from_5_per_cent(
    result: Callable[..., str],
    hum: Callable[..., Recording],
    share: float,
    mains_hz: float,
    expected: str,
) -> None:
    assert result(hum(share, mains_hz), "mains") == expected


def test_a_strong_shaft_order_at_the_mains_frequency_is_not_called_pick_up(
    recording: Callable[..., Recording], findings: Callable[..., Findings]
) -> None:
    t = np.arange(round(SECONDS * SAMPLING_RATE_HZ)) / SAMPLING_RATE_HZ
    x = np.sin(2 * np.pi * 20 * t) + 0.3 * np.sin(2 * np.pi * 60 * t)
    noise = 0.1 * np.random.default_rng(4).standard_normal(t.size)
    finding = findings(recording(x + noise), shaft_frequency_hz=20.0)["mains"]
    assert finding.result == "watch"
    assert "60 Hz falls on shaft order 3" in finding.detail
    alone = findings(recording(np.sin(2 * np.pi * 20 * t) + noise), shaft_frequency_hz=20.0)
    assert alone["mains"].result == "pass"


def test_mains_is_not_judged_in_less_than_2_s(
    feeder: Callable[..., Array], recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    assert result(recording(feeder(seconds=1.9)), "mains") == "not-judged"


def test_the_power_of_a_line_is_free_of_its_floor(
    feeder: Callable[..., Array], uncalibrated: Callable[..., Recording]
) -> None:
    """A tone of amplitude A holds A^2 / 2 of the power; noise alone shows no line."""
    noise = feeder(amplitude_g=0.0, noise_g=1.0)
    t = np.arange(noise.size) / SAMPLING_RATE_HZ
    tone = 0.02 * np.sin(2 * np.pi * 123.4 * t)
    assert sample_facts(uncalibrated(noise)).line_power(123.4) == 0.0
    facts = sample_facts(uncalibrated(noise + tone))
    share = facts.line_power(123.4) / facts.power.sum()
    # The floor of eleven lines is 11 / 96000 of the noise, more than half of the tone's 2e-4;
    # what scatters is the noise beside the tone's own lines, about 15 %.
    assert share == pytest.approx(0.02**2 / 2, rel=0.3)


def in_band(noise_g: float, cut_hz: float | None, feeder: Callable[..., Array]) -> Array:
    """The feeder with noise of its own level, if wanted without anything above ``cut_hz``."""
    samples = feeder(noise_g=noise_g)
    if cut_hz is None:
        return samples
    lines = np.fft.rfft(samples)
    lines[np.fft.rfftfreq(samples.size, 1 / 6400.0) > cut_hz] = 0
    return np.asarray(np.fft.irfft(lines, samples.size))


@pytest.mark.parametrize(
    ("noise_g", "cut_hz", "expected"),
    [
        (0.1, None, "pass"),
        (0.1, 400.0, "hold"),  # a filter left in: nothing above 400 Hz
        (0.1, 2400.0, "pass"),  # 18 % of 1000 to 2700 Hz silent: below the limit of 25 %
        (0.1, 2100.0, "hold"),  # 35 %
        # White noise to 3200 Hz leaves sqrt(1700/3200) = 0.73 of its rms in the band.
        (0.00075, None, "pass"),  # 0.55 mg
        (0.00060, None, "hold"),  # 0.44 mg, quieter than 0.51 mg
    ],
)
def test_a_silent_bearing_band_is_no_good_bearing(
    noise_g: float,
    cut_hz: float | None,
    expected: str,
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
) -> None:
    found = check_recording(
        recording(in_band(noise_g, cut_hz, feeder)),
        shaft_frequency_hz=16.3,
        bearing_band_hz=(1000.0, 2700.0),
    )
    finding = next(f for f in found if f.id == "band-alive")
    assert finding.result.value == expected, finding.detail
    assert ("low-pass filter" in finding.advice) is (expected == "hold")
