"""NumPy and MATLAB files: exact values, rate and unit inside, and what must be refused."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.io
from numpy.typing import NDArray

from vibhealth.model import Recording
from vibhealth.recording import ChannelRequest, ReadOptions, read_recording

RATE = ReadOptions(rate_hz=20000.0)
STANDARD_GRAVITY_M_S2 = 9.80665  # 3rd CGPM (1901)

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]
Save = Callable[[Path, dict[str, Any]], Path]


def samples(*shape: int) -> NDArray[np.float64]:
    return np.random.default_rng(5).standard_normal(shape)


def save_npz(folder: Path, arrays: dict[str, Any]) -> Path:
    path = folder / "a.npz"
    np.savez(path, **arrays)
    return path


def save_mat(folder: Path, arrays: dict[str, Any]) -> Path:
    path = folder / "a.mat"
    scipy.io.savemat(path, arrays)
    return path


both_kinds = pytest.mark.parametrize("save", [save_npz, save_mat])


@pytest.mark.parametrize("dtype", [np.float64, np.float32, np.int16, np.int64])
def test_npy_one_channel(tmp_path: Path, read_one: ReadOne, dtype: type) -> None:
    values: NDArray[Any] = (100 * samples(50)).astype(dtype)
    np.save(tmp_path / "a.npy", values)
    recording = read_one(tmp_path / "a.npy", options=RATE)
    np.testing.assert_array_equal(recording.samples, values.astype(np.float64))
    assert recording.samples.dtype == np.float64
    assert (recording.unit, recording.full_scale) == ("counts", None)


@pytest.mark.parametrize("transposed", [False, True])
def test_the_longer_axis_is_time(tmp_path: Path, transposed: bool) -> None:
    values = samples(3, 40)
    np.save(tmp_path / "a.npy", values.T if transposed else values)
    (third,) = read_recording(
        tmp_path / "a.npy", requests=[ChannelRequest(channel=3)], options=RATE
    )
    np.testing.assert_array_equal(third.samples, values[2])
    assert third.n_channels == 3


@both_kinds
def test_rate_and_unit_inside_the_file(tmp_path: Path, read_one: ReadOne, save: Save) -> None:
    values = samples(60)
    content = {"x": values, "sampling_rate_hz": 12000.0, "unit": "g"}
    recording = read_one(save(tmp_path, content))
    np.testing.assert_array_equal(recording.samples, values * STANDARD_GRAVITY_M_S2)
    assert (recording.sampling_rate_hz, recording.unit) == (12000.0, "m/s2")
    assert recording.calibration is not None
    assert recording.calibration.source == "value 'unit': unit g"


@both_kinds
def test_the_variable_is_named_or_the_only_one(
    tmp_path: Path, read_one: ReadOne, refused: Refused, save: Save
) -> None:
    content = {"fan": samples(30), "drive": samples(31), "speed": 1797.0, "note": "text"}
    path = save(tmp_path, content)
    refused(path, "cannot tell which array holds the samples (drive, fan)", options=RATE)
    refused(
        path,
        "holds no array 'x'; it holds drive, fan, note, speed",
        options=ReadOptions(rate_hz=1.0, variable="x"),
    )
    chosen = read_one(path, options=ReadOptions(rate_hz=1.0, variable="drive"))
    np.testing.assert_array_equal(chosen.samples, content["drive"])
    refused(
        path,
        "array 'speed' has type float64 and shape",
        options=ReadOptions(rate_hz=1.0, variable="speed"),
    )


@both_kinds
def test_whole_numbers_of_matlab_are_doubles(tmp_path: Path, read_one: ReadOne, save: Save) -> None:
    path = save(tmp_path, {"x": np.arange(-3.0, 20.0)})
    np.testing.assert_array_equal(read_one(path, options=RATE).samples, np.arange(-3.0, 20.0))


@both_kinds
@pytest.mark.parametrize(
    ("content", "text"),
    [
        ({"x": samples(9), "sampling_rate_hz": 0.0}, "sampling_rate_hz must be one finite number"),
        ({"x": samples(9), "sampling_rate_hz": -1.0}, "above 0, got -1.0"),
        ({"x": samples(9), "sampling_rate_hz": np.nan}, "above 0, got nan"),
        ({"x": samples(9), "sampling_rate_hz": np.inf}, "above 0, got inf"),
        ({"x": samples(9), "sampling_rate_hz": "fast"}, "above 0, got fast"),
        ({"x": samples(9), "unit": "mils"}, "unit must be g, m/s2 or counts, got 'mils'"),
        ({"x": samples(9)}, "states no sampling rate"),
        ({"note": "text", "n": 1.0}, "(none; it holds n, note)"),
        ({"x": samples(9) + 1j}, "(none; it holds x)"),
        ({"x": samples(2, 3, 4)}, "(none; it holds x)"),
        ({"x": samples(4, 4)}, "has shape (4, 4), which leaves open which axis is time"),
    ],
)
def test_unusable_content_is_refused(
    tmp_path: Path, refused: Refused, save: Save, content: dict[str, Any], text: str
) -> None:
    refused(save(tmp_path, content), text)


@both_kinds
def test_a_rate_that_contradicts_the_file_is_refused(
    tmp_path: Path, refused: Refused, save: Save
) -> None:
    path = save(tmp_path, {"x": samples(9), "sampling_rate_hz": 12000.0})
    text = "a sampling rate of 20000 Hz is given, but its value sampling_rate_hz says 12000 Hz"
    refused(path, text, options=RATE)


@both_kinds
def test_a_sample_that_is_no_number_is_refused(
    tmp_path: Path, refused: Refused, save: Save
) -> None:
    values = samples(2, 30)
    values[1, 4] = np.nan
    path = save(tmp_path, {"x": values})
    requests = [ChannelRequest(channel=2)]
    refused(path, "channel 2 holds nan at index 4 (from 0)", options=RATE, requests=requests)


def test_a_cut_npy_file_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = tmp_path / "a.npy"
    np.save(path, samples(100))
    path.write_bytes(path.read_bytes()[:500])
    refused(path, "its .npy content is damaged or of no readable type", options=RATE)


def test_pickled_objects_are_refused(tmp_path: Path, refused: Refused) -> None:
    path = tmp_path / "a.npy"
    np.save(path, np.array([{"a": 1}, None], dtype=object), allow_pickle=True)
    refused(path, "its .npy content is damaged or of no readable type", options=RATE)
    archive = save_npz(tmp_path, {"x": np.array([{"a": 1}], dtype=object)})
    refused(archive, "its .npz content is damaged or of no readable type", options=RATE)


def test_a_damaged_npz_file_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = save_npz(tmp_path, {"x": samples(400)})
    content = bytearray(path.read_bytes())
    content[1000:1200] = bytes(200)
    path.write_bytes(content)
    refused(path, "its .npz content is damaged or of no readable type", options=RATE)


@pytest.mark.parametrize("kept", [140, 400])
def test_a_cut_mat_file_is_refused(tmp_path: Path, refused: Refused, kept: int) -> None:
    path = save_mat(tmp_path, {"x": samples(400)})
    path.write_bytes(path.read_bytes()[:kept])
    refused(path, "its .mat content is damaged or of no readable type", options=RATE)
