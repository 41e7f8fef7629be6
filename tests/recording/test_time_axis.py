"""Time stamps: measured, refused when uneven, resampled only on request."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.model import Recording
from vibhealth.recording import ReadOptions, read_recording

SAMPLING_RATE_HZ = 1000.0
N_SAMPLES = 2000
TONE_HZ = 20.0

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]


def tone(time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.sin(2 * np.pi * TONE_HZ * time_s))


def write_table(path: Path, time_s: NDArray[np.float64], stamp: str = "{:.17g}") -> Path:
    rows = zip(time_s, tone(time_s), strict=True)
    path.write_text("time,x\n" + "".join(f"{stamp.format(t)},{x:.17g}\n" for t, x in rows))
    return path


def even_time() -> NDArray[np.float64]:
    return np.arange(N_SAMPLES) / SAMPLING_RATE_HZ


@settings(deadline=None)
@given(
    rate_hz=st.sampled_from([100.0, 1000.0, 12000.0, 25600.0, 48828.125, 102400.0]),
    start_s=st.sampled_from([0.0, -0.5, 17.25, 86400.0]),
    decimals=st.integers(6, 12),
)
def test_stamps_rounded_in_print_are_even(
    tmp_path_factory: pytest.TempPathFactory, rate_hz: float, start_s: float, decimals: int
) -> None:
    """Rounding to 10^-d moves the ends by at most 10^-d / 2 each: that bounds the rate."""
    time_s = start_s + np.arange(500) / rate_hz
    path = write_table(tmp_path_factory.mktemp("t") / "a.csv", time_s, f"{{:.{decimals}f}}")
    (recording,) = read_recording(path)
    span_s = 499 / rate_hz
    assert recording.sampling_rate_hz == pytest.approx(
        rate_hz, rel=(10.0**-decimals + 4 * np.spacing(time_s[-1])) / span_s
    )
    np.testing.assert_allclose(recording.samples, tone(time_s), rtol=1e-15, atol=1e-15)


def test_jitter_within_a_thousandth_is_even(tmp_path: Path, read_one: ReadOne) -> None:
    time_s = even_time()
    time_s[700] += 0.9e-3 / SAMPLING_RATE_HZ
    recording = read_one(write_table(tmp_path / "a.csv", time_s))
    assert recording.sampling_rate_hz == SAMPLING_RATE_HZ


def test_jitter_beyond_a_thousandth_is_refused_with_its_measure(
    tmp_path: Path, refused: Refused
) -> None:
    time_s = even_time()
    time_s[700] += 5e-3 / SAMPLING_RATE_HZ
    time_s[900] += 0.25 / SAMPLING_RATE_HZ
    message = refused(
        write_table(tmp_path / "a.csv", time_s),
        "column 1 'time' is not evenly spaced: the step at line 702 is 0.001005 s, the usual one "
        "0.001 s, the largest deviation 25 % (line 902); record again, or ask for resampling",
    )
    assert message.count("line") == 2


def test_a_lost_sample_is_refused_even_in_coarse_print(tmp_path: Path, refused: Refused) -> None:
    """Step 1.25 ms in whole 0.1 ms: steps of 1.2 and 1.3 are even, one of 2.5 is not."""
    time_s = np.delete(np.arange(400) / 800.0, 123)
    path = write_table(tmp_path / "a.csv", time_s, "{:.4f}")
    refused(path, "the step at line 125 is 0.0025 s, the usual one 0.0013 s")


def test_a_slow_change_of_rate_behind_coarse_print_is_refused(
    tmp_path: Path, refused: Refused
) -> None:
    """Single steps keep within the print of 1 us, but the second half runs 0.6 % slower."""
    steps = np.r_[np.full(5000, 50e-6), np.full(5000, 50.3e-6)]
    path = write_table(tmp_path / "a.csv", np.r_[0, np.cumsum(steps)], "{:.6f}")
    refused(path, "is not evenly spaced")


@pytest.mark.parametrize(
    ("index", "value", "text"),
    [
        (500, 0.499, "column 1 'time' repeats at line 502 (0.499 then 0.499)"),
        (500, 0.4, "column 1 'time' runs backwards at line 502 (0.499 then 0.4)"),
    ],
)
def test_time_that_does_not_rise_is_refused(
    tmp_path: Path, refused: Refused, index: int, value: float, text: str
) -> None:
    time_s = even_time()
    time_s[index] = value
    path = write_table(tmp_path / "a.csv", time_s)
    refused(path, text)
    refused(path, text, options=ReadOptions(resample=True))


def test_an_unnamed_axis_that_stumbles_is_still_a_time_axis(
    tmp_path: Path, refused: Refused
) -> None:
    time_s = even_time()
    time_s[500] = 0.4
    path = write_table(tmp_path / "a.csv", time_s)
    path.write_text(path.read_text().removeprefix("time,x\n"))
    refused(path, "column 1 runs backwards at line 501")


def test_resampling_on_request_restores_the_tone(tmp_path: Path, read_one: ReadOne) -> None:
    rng = np.random.default_rng(4)
    time_s = even_time() + rng.uniform(-0.2, 0.2, N_SAMPLES) / SAMPLING_RATE_HZ
    time_s[0] = 0.0
    path = write_table(tmp_path / "a.csv", np.delete(time_s, [400, 1200]))
    recording = read_one(path, options=ReadOptions(rate_hz=SAMPLING_RATE_HZ, resample=True))
    # Cubic spline: error <= 5/384 h^4 max|x''''| (Hall and Meyer 1976, J. Approx. Theory 16,
    # 105-122; from memory), widest step h = 2.4 ms; away from the ends, where the
    # not-a-knot condition adds to it.
    bound = 5 / 384 * 2.4e-3**4 * (2 * np.pi * TONE_HZ) ** 4
    grid_s = np.arange(recording.samples.size) / SAMPLING_RATE_HZ
    error = np.abs(recording.samples - tone(grid_s))
    assert np.max(error[20:-20]) < bound < 2e-4
    assert recording.sampling_rate_hz == SAMPLING_RATE_HZ
    assert abs(recording.samples.size - N_SAMPLES) <= 1
    assert any("resampled on request to 1000 Hz" in value for _, value in recording.remarks)


def test_even_stamps_are_not_touched_by_the_request(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_table(tmp_path / "a.csv", even_time())
    asked = read_one(path, options=ReadOptions(resample=True))
    np.testing.assert_array_equal(asked.samples, read_one(path).samples)
    assert not any("resampled" in value for _, value in asked.remarks)


def test_a_wide_gap_cannot_be_resampled(tmp_path: Path, refused: Refused) -> None:
    time_s = np.delete(even_time(), slice(300, 340))
    path = write_table(tmp_path / "a.csv", time_s)
    refused(path, "a gap of 41 steps is too wide", options=ReadOptions(resample=True))


@pytest.mark.parametrize("resample", [False, True])
def test_a_rate_that_contradicts_the_stamps_is_refused(
    tmp_path: Path, refused: Refused, resample: bool
) -> None:
    time_s = even_time()
    if resample:
        time_s[700] += 0.25 / SAMPLING_RATE_HZ
    refused(
        write_table(tmp_path / "a.csv", time_s),
        "a sampling rate of 2000 Hz is given, but column 1 'time' says 1000 Hz",
        options=ReadOptions(rate_hz=2000, resample=resample),
    )


def test_a_rate_that_agrees_with_the_stamps_is_taken(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_table(tmp_path / "a.csv", even_time())
    recording = read_one(path, options=ReadOptions(rate_hz=1000.05))
    assert recording.sampling_rate_hz == 1000.05
