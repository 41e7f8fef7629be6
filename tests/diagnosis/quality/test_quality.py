"""Recording faults on an invented deck feeder: both sides of every limit."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.quality import CHECKS
from vibhealth.errors import InputError
from vibhealth.model import QualityFinding, Recording

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]
SAMPLING_RATE_HZ, SHAFT_HZ = 6400.0, 16.3


# --- the table ---------------------------------------------------------------------------


def test_a_clean_recording_passes_every_check_but_the_turns_and_the_filter(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> None:
    """489 turns are fewer than 1000, and white noise does not fall towards Nyquist."""
    found = findings(recording(feeder()))
    assert [name for name, finding in found.items() if finding.result != "pass"] == [
        "length",
        "anti-alias",
    ]
    assert {finding.result.value for finding in found.values()} == {"pass", "watch"}


def test_findings_come_in_the_order_of_the_table_with_title_and_detail(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> None:
    stroke = {"stroke_mm": 6.1, "stated_stroke_mm": 6.0, "is_exciter": True}
    found = tuple(findings(recording(feeder(seconds=5)), **stroke).values())
    assert [(f.id, f.title) for f in found] == [(name, title) for name, title, _, _ in CHECKS]
    assert len({f.id for f in found}) == len(found) == 18
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", f.id) and f.detail.endswith(".") for f in found)


def test_whatever_does_not_pass_says_what_to_do(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    uncalibrated: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> None:
    for item in (recording(np.zeros(6400)), uncalibrated(feeder(seconds=2))):
        found = findings(item, shaft_frequency_hz=None, bearing_band_hz=None).values()
        assert all(f.advice for f in found if f.result != "pass")
        assert any(f.result == "not-judged" for f in found)


@pytest.mark.parametrize("gain", [1e-3, 1.0, 1e3])
def test_without_calibration_no_result_depends_on_the_gain(
    feeder: Callable[..., Array],
    uncalibrated: Callable[..., Recording],
    findings: Callable[..., Findings],
    gain: float,
) -> None:
    x = feeder(seconds=25)
    plain, scaled = findings(uncalibrated(x)), findings(uncalibrated(gain * x))
    assert {k: f.result for k, f in plain.items()} == {k: f.result for k, f in scaled.items()}


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            {"bearing_band_hz": (3000.0, 1000.0)},
            "bearing_band_hz must satisfy 0 < low < high, got (3000.0, 1000.0)",
        ),
        (
            {"shaft_frequency_hz": 0.0},
            "shaft_frequency_hz must be a finite number above 0, got 0.0",
        ),
        (
            {"highest_needed_hz": -1.0},
            "highest_needed_hz must be a finite number above 0, got -1.0",
        ),
        (
            {"minimum_turns": 500.0, "recommended_turns": 400.0},
            "turns must satisfy 0 < minimum_turns <= recommended_turns, got 500.0 and 400.0",
        ),
    ],
)
def test_impossible_needs_are_refused(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    options: dict[str, Any],
    message: str,
) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        findings(recording(feeder(seconds=2)), **options)


@pytest.mark.parametrize(
    ("samples", "message"),
    [
        (
            np.zeros(15),
            "samples of as-left/P1X.wav must hold at least 16 values on the last axis, got 15",
        ),
        (
            np.where(np.arange(64) == 7, np.nan, 1.0),
            "samples of as-left/P1X.wav must be finite, got nan at flat index 7",
        ),
        (
            np.zeros((2, 64)),
            "samples of as-left/P1X.wav must be one channel, got shape (2, 64)",
        ),
    ],
)
def test_unusable_samples_are_refused(
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    samples: Array,
    message: str,
) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        findings(recording(samples))


# --- length ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("turns", "expected"), [(399, "hold"), (401, "watch"), (999, "watch"), (1001, "pass")]
)
def test_turns_are_counted_against_both_limits(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    turns: float,
    expected: str,
) -> None:
    item = recording(feeder(seconds=turns / SHAFT_HZ))
    finding = findings(item, minimum_turns_source="card")["length"]
    assert finding.result == expected
    assert f"{turns} turns in {turns / SHAFT_HZ:.3g} s" in finding.detail
    assert "at least 400, better 1000; card" in finding.detail


def test_turns_are_not_judged_without_a_speed(
    feeder: Callable[..., Array], recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    assert result(recording(feeder()), "length", shaft_frequency_hz=None) == "not-judged"


# --- constant and dead channels ----------------------------------------------------------


def test_equal_samples_hold_and_leave_nothing_to_judge(
    recording: Callable[..., Recording], findings: Callable[..., Findings]
) -> None:
    found = findings(recording(np.full(64000, 0.25)))
    assert found["constant"].result == "hold"
    assert "64000 samples are equal to 0.25 g" in found["constant"].detail
    assert found["clipping"].result == found["dropped-samples"].result == "not-judged"


@pytest.mark.parametrize(("levels", "expected"), [(2, "hold"), (3, "hold"), (4, "pass")])
def test_a_channel_of_few_values_holds(
    recording: Callable[..., Recording], result: Callable[..., str], levels: int, expected: str
) -> None:
    x = np.random.default_rng(1).integers(0, levels, 6400).astype(float)
    assert result(recording(x), "constant") == expected


@pytest.mark.parametrize(("rms_g", "expected"), [(0.019, "hold"), (0.021, "pass")])
def test_a_quiet_channel_is_dead_below_20_mg_when_calibrated(
    recording: Callable[..., Recording],
    uncalibrated: Callable[..., Recording],
    result: Callable[..., str],
    rms_g: float,
    expected: str,
) -> None:
    x = np.random.default_rng(2).standard_normal(64000)
    assert result(recording(rms_g * x / x.std()), "dead-channel") == expected
    assert result(uncalibrated(rms_g * x / x.std()), "dead-channel") == "pass"


def test_a_quiet_channel_that_follows_the_shaft_is_connected(
    recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    """A sensitivity a hundred times too small leaves 0.01 g of motion, and all of it at 1x."""
    time_s = np.arange(64000) / SAMPLING_RATE_HZ
    motion = 0.01 * np.cos(2 * np.pi * SHAFT_HZ * time_s)
    item = recording(motion + 0.0001 * np.random.default_rng(4).standard_normal(time_s.size))
    assert result(item, "dead-channel") == "pass"
    assert result(item, "dead-channel", shaft_frequency_hz=21.0) == "hold"


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize(
    ("share", "shaft_g", "expected"), [(0.55, 0, "hold"), (0.45, 0, "pass"), (0.55, 0.5, "pass")]
)
def test_mains_hum_without_a_shaft_line_is_an_open_cable(
    *,
    feeder: Callable[..., Array],
    uncalibrated: Callable[..., Recording],
    result: Callable[..., str],
    mains_hz: float,
    share: float,
    shaft_g: float,
    expected: str,
) -> None:
    t = np.arange(round(20 * SAMPLING_RATE_HZ)) / SAMPLING_RATE_HZ
    noise = feeder(seconds=20, amplitude_g=shaft_g, noise_g=1.0)
    pick_up = np.sqrt(2 * share / (1 - share)) * noise.std() * np.sin(2 * np.pi * mains_hz * t)
    item = uncalibrated(noise + pick_up)
    assert result(item, "dead-channel") == expected


def test_a_shaft_that_turns_at_the_mains_frequency_is_no_hum(
    recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    t = np.arange(round(20 * SAMPLING_RATE_HZ)) / SAMPLING_RATE_HZ
    x = np.sin(2 * np.pi * 49.5 * t) + 0.1 * np.random.default_rng(3).standard_normal(t.size)
    assert result(recording(x), "dead-channel", shaft_frequency_hz=49.5) == "pass"


# --- range, offset, calibration ----------------------------------------------------------


@pytest.mark.parametrize(
    ("peak_g", "expected"), [(34.9, "pass"), (35.1, "watch"), (49.9, "watch"), (50.1, "hold")]
)
def test_the_peak_is_compared_with_the_sensors_range(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    peak_g: float,
    expected: str,
) -> None:
    x = feeder(seconds=5)
    x[777] = -peak_g
    assert result(recording(x), "sensor-range") == expected


@pytest.mark.parametrize("missing", ["range", "calibration"])
def test_the_range_is_not_judged_without_range_or_calibration(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    uncalibrated: Callable[..., Recording],
    findings: Callable[..., Findings],
    missing: str,
) -> None:
    x = feeder(seconds=5)
    item = recording(x, sensor_range_m_s2=None) if missing == "range" else uncalibrated(x)
    finding = findings(item)["sensor-range"]
    assert finding.result == "not-judged"
    assert finding.detail.startswith(f"The {missing}")


@pytest.mark.parametrize(("ratio", "expected"), [(0.95, "pass"), (1.05, "watch")])
def test_an_offset_above_the_rms_value_is_watched(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    ratio: float,
    expected: str,
) -> None:
    x = feeder(seconds=5)
    assert result(recording(x - x.mean() - ratio * x.std()), "offset") == expected


@pytest.mark.parametrize(("share", "expected"), [(0.49, "watch"), (0.51, "hold")])
def test_an_offset_of_half_the_range_holds(
    feeder: Callable[..., Array],
    uncalibrated: Callable[..., Recording],
    result: Callable[..., str],
    share: float,
    expected: str,
) -> None:
    x = 0.01 * feeder(seconds=5)
    item = uncalibrated(x - x.mean() + share, full_scale=1.0)
    assert result(item, "offset") == expected


def test_unknown_calibration_is_not_judged_and_says_what_it_costs(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    uncalibrated: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> None:
    finding = findings(uncalibrated(feeder(seconds=5)))["calibration"]
    assert finding.result == "not-judged"
    assert "stroke" in finding.detail
    known = findings(recording(feeder(seconds=5)))["calibration"]
    assert (known.result, known.detail) == ("pass", "Calibrated: file in g.")


def test_the_advice_of_a_hold_names_an_action(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> None:
    clipped = recording(np.clip(feeder(), -4.9, 4.9))
    finding = findings(replace(clipped, full_scale=None))["clipping"]
    assert finding.advice == (
        "Signal too big for the input range. Use the next higher range and record again."
    )
