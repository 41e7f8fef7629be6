"""The writer: what is written comes back, twice the same, whole or not at all."""

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from vibhealth.errors import InputError, OutputError, RecordingError, VibhealthError
from vibhealth.model import Recording
from vibhealth.recording import ChannelRequest, read_recording, write_recording

G = 9.80665  # m/s^2, exact: 3rd CGPM (1901)
RATE_HZ = 12800.0
RTOL_TEXT = 4 * np.finfo(np.float64).eps

ReadOne = Callable[..., Recording]


def samples() -> NDArray[np.float64]:
    values = 7 * np.random.default_rng(6).standard_normal((2, 300))
    return values.astype(np.float32).astype(np.float64)


@pytest.mark.parametrize(
    ("name", "subtype"), [("a.wav", None), ("a.wav", "DOUBLE"), ("a.csv", None)]
)
def test_values_beyond_one_come_back(tmp_path: Path, name: str, subtype: str | None) -> None:
    path = write_recording(
        tmp_path / name, samples(), RATE_HZ, subtype=subtype, sidecar={"unit": "g"}
    )
    both = read_recording(path, requests=[ChannelRequest(), ChannelRequest(channel=2)])
    for recording, row in zip(both, samples(), strict=True):
        np.testing.assert_allclose(recording.samples, row * G, rtol=RTOL_TEXT)
        assert recording.sampling_rate_hz == RATE_HZ
    if name == "a.wav":
        assert soundfile.info(path).subtype == (subtype or "FLOAT")


@pytest.mark.parametrize(
    ("name", "subtype", "bits"),
    [("a.wav", "PCM_16", 16), ("a.wav", "PCM_24", 24), ("a.flac", None, 24)],
)
def test_integer_subtypes_keep_half_a_step(
    tmp_path: Path, read_one: ReadOne, name: str, subtype: str | None, bits: int
) -> None:
    values = np.append(samples()[0] / 40, [-1.0, 1 - 2.0 ** (1 - bits)])
    path = write_recording(
        tmp_path / name, values, RATE_HZ, subtype=subtype, sidecar={"full_scale_g": 40.0}
    )
    recording = read_one(path)
    step = 2.0 ** (1 - bits) * 40 * G
    np.testing.assert_allclose(recording.samples, values * 40 * G, rtol=0, atol=0.5001 * step)


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("wav", "flac", "csv"):
        first = write_recording(tmp_path / f"a.{name}", samples() / 50, RATE_HZ).read_bytes()
        second = write_recording(tmp_path / f"b.{name}", samples() / 50, RATE_HZ).read_bytes()
        assert first == second


def test_the_sidecar_comes_back(tmp_path: Path, read_one: ReadOne) -> None:
    moment = datetime(2024, 5, 1, 8, tzinfo=UTC)
    remarks = 'quote " backslash \\ line\nend, tab\t, DEL \x7f, ä'
    sidecar: dict[str, Any] = {
        "schema_version": 1,
        "sampling_rate_hz": 12800.5,
        "start_time": moment,
        "remarks": remarks,
        "temperature_c": 41,
        "shaft_speed_rpm": np.float64(978.5),
        "channel": [{"channel": 2, "point": "P1Y", "unit": "g"}],
    }
    path = write_recording(tmp_path / "a.wav", samples(), 12800.5, sidecar=sidecar)
    recording = read_one(path)
    assert recording.sampling_rate_hz == 12800.5
    assert (recording.start_time, recording.temperature_c) == (moment, 41.0)
    assert recording.shaft_speed_rpm == 978.5
    assert recording.remarks == (("remarks", remarks),)
    assert (recording.channel, recording.point, recording.unit) == (2, "P1Y", "m/s2")


def test_an_existing_file_needs_overwrite(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_recording(tmp_path / "a.wav", [0.0, 1.0], RATE_HZ)
    before = path.read_bytes()
    with pytest.raises(OutputError, match=r"a\.wav: exists already"):
        write_recording(path, [2.0, 3.0], RATE_HZ, sidecar={"unit": "g"})
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.wav"]
    write_recording(path, [2.0, 3.0], RATE_HZ, overwrite=True)
    assert read_one(path).samples.tolist() == [2.0, 3.0]


def test_an_existing_sidecar_needs_overwrite_too(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("load = 'empty'")
    with pytest.raises(OutputError, match=r"a\.toml: exists already"):
        write_recording(tmp_path / "a.wav", [2.0, 3.0], RATE_HZ, sidecar={"unit": "g"})
    assert not (tmp_path / "a.wav").exists()


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_a_failing_disk_leaves_nothing_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    path = write_recording(tmp_path / "a.wav", [0.0, 1.0], RATE_HZ)
    before = path.read_bytes()

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail) if failing == "fsync" else monkeypatch.setattr(
        Path, "replace", fail
    )
    with pytest.raises(OutputError, match=r"cannot be written .No space left on device."):
        write_recording(path, [2.0, 3.0], RATE_HZ, overwrite=True)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"cannot be written .No such file or directory."):
        write_recording(tmp_path / "no" / "a.wav", [0.0, 1.0], RATE_HZ)


@pytest.mark.parametrize(
    ("name", "values", "rate_hz", "arguments", "kind", "text"),
    [
        ("a.mp3", [0.0, 1.0], RATE_HZ, {}, InputError, "written to .wav, .flac, .csv, got '.mp3'"),
        ("a.wav", [0.0, 1.0], RATE_HZ, {"subtype": "ULAW"}, InputError, "subtype must be one of"),
        ("a.flac", [0.0, 1.0], RATE_HZ, {"subtype": "FLOAT"}, InputError, "one of PCM_24, PCM_16"),
        ("a.flac", [0.0, 1.0], RATE_HZ, {}, InputError, "PCM_24 holds -1 to 0.999999881, got 0 to"),
        ("a.wav", [0.0, -1.5], RATE_HZ, {"subtype": "PCM_16"}, InputError, "got -1.5 to 0"),
        ("a.wav", [0.0, float("nan")], RATE_HZ, {}, InputError, "samples must be finite"),
        ("a.wav", [0.0], RATE_HZ, {}, InputError, "samples must hold at least 2 values"),
        ("a.wav", [0.0, 1.0], -1.0, {}, InputError, "sampling_rate_hz must be a finite number"),
        ("a.wav", [0.0, 1.0], 100.5, {}, InputError, "its header holds whole hertz only"),
        (
            "a.wav",
            [0.0, 1.0],
            100.0,
            {"sidecar": {"sampling_rate_hz": 200.0}},
            InputError,
            "the sidecar says 200 Hz, the samples have 100 Hz",
        ),
        ("a.wav", [0.0, 1.0], 100.0, {"sidecar": {"x": 1}}, RecordingError, "unknown key 'x'"),
    ],
)
def test_what_cannot_be_written_is_refused_before_anything_is(
    *,
    tmp_path: Path,
    name: str,
    values: list[float],
    rate_hz: float,
    arguments: dict[str, Any],
    kind: type[VibhealthError],
    text: str,
) -> None:
    with pytest.raises(kind) as caught:
        write_recording(tmp_path / name, values, rate_hz, **arguments)
    assert text in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_a_csv_in_any_rate_needs_no_sidecar(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_recording(tmp_path / "a.csv", samples()[0], 48828.125)
    recording = read_one(path)
    np.testing.assert_allclose(recording.samples, samples()[0], rtol=RTOL_TEXT)
    assert recording.sampling_rate_hz == pytest.approx(48828.125, rel=1e-9)
