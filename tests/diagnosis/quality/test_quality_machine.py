"""Stroke as calibrator, material, loose mount: both sides of each limit, and what is left out."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_facts import sample_facts
from vibhealth.diagnosis.quality_mount import asymmetry, half_octaves
from vibhealth.model import QualityFinding, Recording

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]
RATE_HZ, SHAFT_HZ = 6400.0, 16.3


@pytest.mark.parametrize(
    ("stroke_mm", "expected", "words"),
    [
        (6.0, "pass", "+0.0 %"),
        (6.89, "pass", "+14.8 %"),
        (6.91, "watch", "no ratio of units"),
        (3.0, "watch", "no ratio of units"),
        (6.0 * 9.80665, "hold", "9.8 times too big"),
        (6.0 / 9.80665, "hold", "9.8 times too small"),
        (6.0 * 1.04 * 25.4, "hold", "25.4 times too big"),
        (6.0 / 1000, "hold", "times too small"),
        (6.0 * 2.54, "hold", "2.54 times too big"),
    ],
)
def test_the_machine_calibrates_its_sensor(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    stroke_mm: float,
    expected: str,
    words: str,
) -> None:
    item = recording(feeder(seconds=3))
    found = findings(item, stroke_mm=stroke_mm, stated_stroke_mm=6.0)["stroke-scale"]
    assert found.result == expected
    assert words in found.detail
    assert ("A machine can be off as much" in found.advice) is (stroke_mm == 6.0 * 2.54)
    assert "stroke-scale" not in findings(item, stroke_mm=stroke_mm)
    assert findings(item, stated_stroke_mm=6.0)["stroke-scale"].result == "not-judged"


def struck(x: Array, per_second: float, seed: int = 0) -> Array:
    """Decaying sines of 2 g at 2 kHz at random."""
    rng = np.random.default_rng(seed)
    count = round(per_second * x.size / RATE_HZ)
    pulses = np.zeros(x.size)
    pulses[rng.integers(0, x.size - 200, count)] = rng.uniform(2.0, 6.0, count)
    t = np.arange(200) / RATE_HZ
    ring = np.exp(-600 * t) * np.sin(2 * np.pi * 2000 * t)
    return np.asarray(x + np.convolve(pulses, ring)[: x.size])


@pytest.mark.parametrize(
    ("load", "per_second", "expected"),
    [
        (None, 0.0, "pass"),
        (None, 5.0, "hold"),
        ("empty", 5.0, "watch"),
        ("loaded", 5.0, "watch"),
    ],
)
def test_material_on_a_machine_that_should_be_empty(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    load: str | None,
    per_second: float,
    expected: str,
) -> None:
    x = struck(feeder(noise_g=0.02), per_second)
    remarks = (("load", load),) if load else ()
    item = recording(x, remarks=remarks)
    found = findings(item, is_exciter=True)["material"]
    assert found.result == expected
    if per_second:
        rate = float(found.detail.split()[0])
        # 150 hits in 489 turns, of which some fall on each other: 31 per 100 turns.
        assert rate == pytest.approx(100 * per_second / SHAFT_HZ, rel=0.2)
    assert "material" not in findings(item, is_exciter=False)


def test_half_octaves_read_the_density_of_white_noise(
    recording: Callable[..., Recording],
) -> None:
    rng = np.random.default_rng(1)
    x = rng.standard_normal(200_000)
    facts = sample_facts(recording(x, samples=x))
    bands = half_octaves(facts)
    # Density 2 / rate; the median of an exponential is ln 2 of its mean, -1.6 dB.
    wanted = 10 * np.log10(2 / RATE_HZ * np.log(2))
    assert bands.density_db == pytest.approx(np.full(bands.density_db.size, wanted), abs=0.4)
    # 250 Hz times the root of 2 to the sixth is 2000 Hz; 2560 is the end at 0.4 of the rate.
    assert bands.centre_hz.size == 6


def test_asymmetry_of_half_a_parabola_and_its_mirror(recording: Callable[..., Recording]) -> None:
    rng = np.random.default_rng(2)
    x = np.exp(0.3 * rng.standard_normal(200_000))
    up = asymmetry(sample_facts(recording(x)), SHAFT_HZ)
    down = asymmetry(sample_facts(recording(-x)), SHAFT_HZ)
    assert up > 0.1
    assert down == pytest.approx(-up, abs=1e-9)
    even = asymmetry(sample_facts(recording(rng.standard_normal(200_000))), SHAFT_HZ)
    assert abs(even) < 0.03


@pytest.mark.parametrize(
    ("fall_db", "expected"),
    [(0.0, "pass"), (9.0, "pass"), (11.0, "watch"), (19.0, "watch"), (21.0, "hold")],
)
def test_a_loose_mount_leaves_a_peak_and_little_above(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    fall_db: float,
    expected: str,
) -> None:
    motion = feeder(seconds=20, noise_g=0.0)
    lines = np.fft.rfft(0.1 * np.random.default_rng(4).standard_normal(motion.size))
    # All half octaves from 707 Hz on lie lower by exactly so much.
    lines[np.fft.rfftfreq(motion.size, 1 / RATE_HZ) > 500 * 2**0.5] *= 10 ** (-fall_db / 20)
    found = findings(recording(motion + np.fft.irfft(lines, motion.size)))["mount"]
    assert found.result == expected
    assert f"falls by {fall_db:.0f} dB" in found.detail or fall_db == 0.0
    assert (found.advice != "") is (expected != "pass")


def test_what_hits_every_turn_may_be_the_sensor_itself(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> None:
    x = feeder(noise_g=0.02)
    at = np.arange(0.5, x.size * SHAFT_HZ / RATE_HZ - 1) / SHAFT_HZ
    t = np.arange(200) / RATE_HZ
    pulses = np.zeros(x.size)
    pulses[np.round(at * RATE_HZ).astype(int)] = 2.0
    ring = np.exp(-600 * t) * np.sin(2 * np.pi * 2000 * t)
    item = recording(x + np.convolve(pulses, ring)[: x.size])
    found = findings(item, is_exciter=True)["mount"]
    assert found.result == "watch"
    assert "same place of every turn" in found.detail
