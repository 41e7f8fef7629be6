"""Recording faults on an invented deck feeder: both sides of every limit."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis.quality import CHECKS, check_recording
from vibhealth.diagnosis.quality_facts import sample_facts
from vibhealth.errors import InputError
from vibhealth.model import QualityFinding, Recording

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]
SAMPLING_RATE_HZ, SHAFT_HZ, SECONDS = 6400.0, 16.3, 30.0


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
    found = tuple(findings(recording(feeder(seconds=5))).values())
    assert [(f.id, f.title) for f in found] == [(name, title) for name, title, _, _ in CHECKS]
    assert len({f.id for f in found}) == len(found) == 15
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


# --- bandwidth, anti-alias, mains --------------------------------------------------------


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


# --- repeats -----------------------------------------------------------------------------


@pytest.mark.parametrize(("length", "expected"), [(7, "pass"), (8, "hold"), (400, "hold")])
@pytest.mark.parametrize("bits", [None, 16])
def test_a_stuck_stretch_holds(
    *,
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    length: int,
    expected: str,
    bits: int | None,
) -> None:
    x = feeder(seconds=10)
    x = x if bits is None else pcm(x, bits=bits, full_scale_g=10)
    x[2000 : 2000 + length] = x[2000]
    finding = findings(recording(x))["repeated-block"]
    assert finding.result == expected
    if expected == "hold":
        assert f"{length} equal samples in a row at 0.312 s" in finding.detail


@pytest.mark.parametrize("full_scale_g", [10.0, 1000.0, 20000.0])
def test_a_coarse_grid_is_not_stuck(
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    full_scale_g: float,
) -> None:
    """16 bit: a step of 0.3 mg, 31 mg and 0.6 g (six times the noise)."""
    x = pcm(feeder(seconds=30), bits=16, full_scale_g=full_scale_g)
    assert result(recording(x), "repeated-block") == "pass"


@pytest.mark.parametrize(("length", "expected"), [(63, "pass"), (64, "hold"), (512, "hold")])
@pytest.mark.parametrize("full_scale_g", [None, 10.0, 1000.0])
def test_a_stretch_that_occurs_twice_holds(
    *,
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    length: int,
    expected: str,
    full_scale_g: float | None,
) -> None:
    x = feeder(seconds=10)
    x = x if full_scale_g is None else pcm(x, bits=16, full_scale_g=full_scale_g)
    x[30000 : 30000 + length] = x[10000 : 10000 + length]
    for edge in (-1, length):  # the neighbours differ, so that exactly `length` repeat
        x[30000 + edge] = x[10000 + edge] + 0.5
    finding = findings(recording(x))["repeated-block"]
    assert finding.result == expected
    if expected == "hold":
        assert f"About {length} samples" in finding.detail
        assert "4.688 s" in finding.detail  # 30000 / 6400


@example(seed=6883, step_g=0.1)  # fourteen zeros in a row, by chance
@given(seed=st.integers(0, 10_000), step_g=st.sampled_from([0.0, 0.003, 0.1, 0.3]))
def test_no_repeat_is_seen_in_noise_on_any_grid(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    seed: int,
    step_g: float,
) -> None:
    x = feeder(seconds=2, amplitude_g=0.0, noise_g=0.1, seed=seed)
    x = np.round(x / step_g) * step_g if step_g else x
    assert result(recording(x), "repeated-block") == "pass"


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


# --- a deaf sensor -----------------------------------------------------------------------


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
