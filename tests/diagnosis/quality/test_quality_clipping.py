"""Clipping, overload and settling: found in every file form, never where there is none."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import signal

from vibhealth.diagnosis.quality import check_recording
from vibhealth.diagnosis.quality_facts import quantisation_step
from vibhealth.model import QualityFinding, Recording
from vibhealth.units import STANDARD_GRAVITY_M_S2

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]
SAMPLING_RATE_HZ, SHAFT_HZ = 6400.0, 16.3
FORMS: dict[str, tuple[int | None, float]] = {  # bits, full scale in g
    "float64": (None, 0.0),
    "float32": (None, 0.0),
    "PCM_16": (16, 20.0),
    "PCM_24": (24, 20.0),
    "PCM_16 low": (16, 500.0),
}


@pytest.fixture
def stored(pcm: Callable[..., Array]) -> Callable[[Array, str], Array]:
    """Samples as a file of this form holds them."""

    def store(x_g: Array, form: str) -> Array:
        bits, full_scale_g = FORMS[form]
        if bits is None:
            return x_g.astype(np.float32).astype(np.float64) if form == "float32" else x_g
        return pcm(x_g, bits=bits, full_scale_g=full_scale_g)

    return store


@pytest.mark.parametrize("form", FORMS)
def test_a_shaft_line_of_5_g_clipped_at_4_9_g_holds(
    feeder: Callable[..., Array],
    stored: Callable[[Array, str], Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    form: str,
) -> None:
    x = feeder()
    clipped = stored(np.clip(x, -4.9, 4.9), form)
    finding = findings(recording(clipped))["clipping"]
    assert finding.result == "hold"
    on_top = (clipped == clipped.max()) | (clipped == clipped.min())
    measured = float(re.findall(r"^(\S+) % flat tops", finding.detail)[0])
    assert measured == pytest.approx(100 * np.mean(on_top), rel=0.05)  # two digits are printed


@pytest.mark.parametrize("form", FORMS)
def test_the_same_line_unclipped_passes(
    feeder: Callable[..., Array],
    stored: Callable[[Array, str], Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    form: str,
) -> None:
    assert result(recording(stored(feeder(), form)), "clipping") == "pass"


@pytest.mark.parametrize("form", ["float64", "PCM_16", "PCM_24"])
def test_one_sided_clipping_holds(
    feeder: Callable[..., Array],
    stored: Callable[[Array, str], Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    form: str,
) -> None:
    x = stored(np.maximum(feeder(), -4.9), form)
    assert result(recording(x), "clipping") == "hold"


@pytest.mark.parametrize(("n_clipped", "expected"), [(5, "pass"), (6, "hold"), (20, "hold")])
@pytest.mark.parametrize("bits", [None, 24])
def test_more_than_five_samples_at_the_extreme_hold(
    *,
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    n_clipped: int,
    expected: str,
    bits: int | None,
) -> None:
    x = np.random.default_rng(5).standard_normal(64000)
    x = x if bits is None else pcm(x, bits=bits, full_scale_g=20)
    x[1000 : 1000 + 100 * n_clipped : 100] = x.max()  # apart from each other
    x[x == x.max()] = x.max()
    count = int(np.sum(x == x.max()))
    x[np.flatnonzero(x == x.max())[n_clipped:]] = 0.0
    assert count >= n_clipped == np.sum(x == x.max())
    assert result(recording(x), "clipping") == expected


@pytest.mark.parametrize(("run", "expected"), [(2, "pass"), (3, "hold")])
@pytest.mark.parametrize("bits", [None, 16])
def test_three_samples_in_a_row_at_the_extreme_hold(
    *,
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    run: int,
    expected: str,
    bits: int | None,
) -> None:
    x = np.random.default_rng(6).standard_normal(64000)
    x = x if bits is None else pcm(x, bits=bits, full_scale_g=20)
    x[5000 : 5000 + run] = x.max() + 0.25
    assert result(recording(x), "clipping") == expected


@pytest.mark.parametrize(
    ("at_limit", "run", "expected"),
    [(1, 1, "watch"), (5, 1, "watch"), (6, 1, "hold"), (2, 2, "watch"), (3, 3, "hold")],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_samples_at_the_converters_full_scale_count(
    *,
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    at_limit: int,
    run: int,
    expected: str,
    sign: int,
) -> None:
    x = pcm(feeder(seconds=10), bits=16, full_scale_g=20)
    full_scale = 20 * STANDARD_GRAVITY_M_S2
    end = 20 - 20 / 2**15 if sign > 0 else -20.0
    where = np.concatenate([np.arange(run), 50 * np.arange(1, at_limit - run + 1)]) + 3000
    x[where] = end
    finding = findings(recording(x, full_scale=full_scale))["clipping"]
    assert finding.result == expected
    if expected == "watch":
        assert finding.detail.startswith(f"{at_limit} samples lie at the converter's full scale")


def test_a_converters_range_shows_in_a_file_without_one(
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    result: Callable[..., str],
) -> None:
    """A float file of a 16-bit converter: both ends at -2**15 and 2**15 - 1 steps."""
    x = pcm(0.5 * np.random.default_rng(7).standard_normal(64000), bits=16, full_scale_g=20)
    x[[100, 300]] = 20 - 20 / 2**15
    x[[500, 700]] = -20.0
    finding = findings(recording(x.astype(np.float32)))["clipping"]
    assert finding.result == "watch"
    assert finding.detail.startswith("4 samples lie at the converter's full scale")
    x[500] = x[700] = -19.5
    assert result(recording(x.astype(np.float32)), "clipping") == "pass"


@settings(deadline=None, max_examples=60)
@given(
    seed=st.integers(0, 10_000),
    steps_per_rms=st.floats(0.4, 3000.0),
    amplitude=st.sampled_from([0.0, 0.5, 3.0, 30.0]),
)
def test_no_grid_makes_clean_noise_or_sine_and_noise_look_clipped(
    *,
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    seed: int,
    steps_per_rms: float,
    amplitude: float,
) -> None:
    """From a grid so coarse that only a few levels occur to one that is hardly there."""
    x = feeder(seconds=8, amplitude_g=amplitude, noise_g=1.0, seed=seed)
    x = np.round(x * steps_per_rms) / steps_per_rms
    assert result(recording(x), "clipping") == "pass"


@pytest.mark.parametrize("steps", [10.0, 10.49, 10.51, 100.3, 1000.0, 16384.0])
@pytest.mark.parametrize("frequency_hz", [SHAFT_HZ, 16.0, 3.1])
def test_a_noise_free_rounded_sine_is_not_clipped_nor_stuck(
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    steps: float,
    frequency_hz: float,
) -> None:
    """Its crest rests on the outermost level for many samples in a row."""
    t = np.arange(8 * 25600) / 25600
    growing = 1 + 0.01 * t / 8  # so that the crests do not all end on one level
    for envelope in (1.0, growing):
        x = np.round(steps * envelope * np.sin(2 * np.pi * frequency_hz * t))
        found = findings(recording(x, sampling_rate_hz=25600.0))
        assert found["clipping"].result == "pass"
        assert "equal samples in a row" not in found["repeated-block"].detail


@pytest.mark.parametrize("copies", [2, 4])
def test_a_slow_converter_read_too_often_is_not_clipped(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    copies: int,
) -> None:
    x = np.repeat(feeder(seconds=10)[:30000], copies)
    assert result(recording(x), "clipping") == "pass"


@given(step=st.floats(1e-7, 1e3), offset=st.floats(-1.0, 1.0), seed=st.integers(0, 1000))
def test_the_step_of_a_grid_is_recovered(step: float, offset: float, seed: int) -> None:
    counts = np.unique(np.random.default_rng(seed).integers(-20000, 20000, 4000))
    values = np.asarray((counts + offset) * step, dtype=np.float64)
    # float64 rounding of values 20000 steps large is 1e-12 steps; the fit keeps 1e-6.
    assert quantisation_step(values) == pytest.approx(step, rel=1e-6)
    assert quantisation_step(np.sort(np.random.default_rng(seed).standard_normal(4000))) == 0.0


# --- overload ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("residue_g", "expected"), [(0.002, "hold"), (0.01, "watch"), (0.1, "pass")]
)
def test_tops_flattened_before_the_converter_hold(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    residue_g: float,
    expected: str,
) -> None:
    """Fast vibration of 0.1 g rms shrinks to this noise of the amplifier on the tops."""
    x = feeder(noise_g=0.1)
    after = np.random.default_rng(8).standard_normal(x.size)
    flat = np.abs(x) > 4.5
    y = np.where(flat, 4.5 * np.sign(x) + residue_g * after, x)
    found = findings(recording(y))
    assert found["sensor-overload"].result == expected
    assert found["clipping"].result == "pass"


@pytest.mark.parametrize(("jump_g", "expected"), [(0.15, "pass"), (0.4, "hold")])
@pytest.mark.parametrize("returns", [True, False])
def test_a_jump_of_the_baseline_holds(
    *,
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    jump_g: float,
    expected: str,
    returns: bool,
) -> None:
    x = feeder()
    t = np.arange(x.size) / SAMPLING_RATE_HZ - 15.0
    decay = np.exp(-np.maximum(t, 0) / 3.0) if returns else 1.0
    finding = findings(recording(x + jump_g * decay * (t > 0)))["sensor-overload"]
    assert finding.result == expected
    if expected == "hold":
        words = "creeps back within about" if returns else "does not come back"
        assert words in finding.detail
        assert re.search(r"at 1[5-6]\.\d s", finding.detail)


@pytest.mark.parametrize("phase_turns", np.arange(8) / 8)
def test_the_working_motion_does_not_leak_into_the_baseline(
    recording: Callable[..., Recording], findings: Callable[..., Findings], phase_turns: float
) -> None:
    """8 g at 16.3 Hz: plain means of 0.5 s would move by up to 2 A / (pi f T) = 0.6 g."""
    t = np.arange(round(SAMPLING_RATE_HZ * 10)) / SAMPLING_RATE_HZ
    x = 8 * np.sin(2 * np.pi * (SHAFT_HZ * t + phase_turns))
    noise = 0.01 * np.random.default_rng(9).standard_normal(t.size)
    finding = findings(recording(x + noise))["sensor-overload"]
    moved_g = float(re.findall(r"at most (\S+) g", finding.detail)[0])
    assert finding.result == "pass"
    # Hann: side lobes 16.3 line spacings away are below A / (2 pi n^3) = 0.3 mg here.
    assert moved_g < 2e-3


def test_without_calibration_a_jump_is_compared_with_the_rms_value(
    feeder: Callable[..., Array], uncalibrated: Callable[..., Recording], result: Callable[..., str]
) -> None:
    x = feeder()
    step = np.where(np.arange(x.size) > x.size // 2, 1.0, 0.0)
    assert result(uncalibrated(x + 0.12 * x.std() * step), "sensor-overload") == "watch"
    assert result(uncalibrated(x + 0.08 * x.std() * step), "sensor-overload") == "pass"


def test_the_baseline_is_not_judged_below_2_s(
    feeder: Callable[..., Array], recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    assert result(recording(feeder(seconds=1.9)), "sensor-overload") == "not-judged"


# --- settling ----------------------------------------------------------------------------


@pytest.mark.parametrize(("drift_g", "expected"), [(0.09, "pass"), (0.13, "hold")])
@pytest.mark.parametrize("time_constant_s", [1.5, 3.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_baseline_that_settles_by_more_than_100_mg_holds(
    *,
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    drift_g: float,
    expected: str,
    time_constant_s: float,
    sign: int,
) -> None:
    """The drift is what is left of the exponential from 0.5 s to 9.5 s, the window centres."""
    x = feeder()
    t = np.arange(x.size) / SAMPLING_RATE_HZ
    shape = np.exp(-t / time_constant_s)
    span = np.exp(-0.5 / time_constant_s) - np.exp(-9.5 / time_constant_s)
    finding = findings(recording(x + sign * drift_g / span * shape))["settling"]
    assert finding.result == expected
    measured_g = float(re.findall(r"settles by (\S+) g", finding.detail)[0])
    # Noise of 0.1 g leaves 0.1 / sqrt(6400 / 1.5) = 1.5 mg per mean; Hann curvature 3 %.
    assert measured_g == pytest.approx(drift_g, abs=0.006)


@pytest.mark.parametrize(("share", "expected"), [(0.09, "pass"), (0.17, "watch")])
def test_a_quiet_machine_that_settles_a_little_is_a_remark(
    *,
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    share: float,
    expected: str,
) -> None:
    """Below 20 mg nothing holds; an exponential of an eighth of the rms value is told."""
    x = feeder(amplitude_g=0.06, noise_g=0.05)
    t = np.arange(x.size) / SAMPLING_RATE_HZ
    span = np.exp(-0.5 / 3.0) - np.exp(-9.5 / 3.0)
    trend = share * x.std() / span * np.exp(-t / 3.0)
    assert share * x.std() < 0.02
    assert result(recording(x + trend), "settling") == expected
    ramp = share * x.std() * np.where(np.floor(t) % 2 == 0, 1.0, -1.0)
    assert result(recording(x + ramp), "settling") == "pass"  # no exponential


def test_settling_later_than_10_s_is_not_settling(
    feeder: Callable[..., Array], recording: Callable[..., Recording], result: Callable[..., str]
) -> None:
    x = feeder()
    t = np.arange(x.size) / SAMPLING_RATE_HZ
    assert result(recording(x + 0.15 * np.exp(-t / 2.0)), "settling") == "hold"
    late = 0.15 * np.where(t > 12, np.exp(-(t - 12) / 2.0), 0)
    assert result(recording(x + late), "settling") == "pass"


def test_settling_is_not_judged_below_3_s_and_only_watched_without_calibration(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    uncalibrated: Callable[..., Recording],
    result: Callable[..., str],
) -> None:
    assert result(recording(feeder(seconds=2.9)), "settling") == "not-judged"
    x = feeder()
    drift = np.exp(-np.arange(x.size) / SAMPLING_RATE_HZ / 2.0)
    assert result(uncalibrated(x + 0.2 * x.std() * drift), "settling") == "watch"
    assert result(uncalibrated(x + 0.05 * x.std() * drift), "settling") == "pass"


def test_a_narrow_band_signal_is_neither_flat_nor_clipped(
    recording: Callable[..., Recording], findings: Callable[..., Findings]
) -> None:
    """A ringing resonance alone bends most at its crests."""
    noise = np.random.default_rng(10).standard_normal(64000)
    b, a = signal.iirpeak(800, 8, fs=SAMPLING_RATE_HZ)
    found = findings(recording(signal.lfilter(b, a, noise)))
    assert found["sensor-overload"].result == found["clipping"].result == "pass"


@pytest.mark.parametrize(("allowed", "expected"), [(30.0, "pass"), (10.0, "hold")])
def test_the_card_can_set_how_many_samples_are_clipping(
    allowed: float, expected: str, recording: Callable[..., Recording]
) -> None:
    """Twenty samples apart from each other at the extreme value of otherwise smooth noise."""
    samples = np.random.default_rng(3).standard_normal(64_000)
    samples[1000:61_000:3000] = 9.0
    found = check_recording(
        recording(samples),
        shaft_frequency_hz=16.3,
        bearing_band_hz=None,
        clipped_samples=allowed,
    )
    assert next(f for f in found if f.id == "clipping").result.value == expected
