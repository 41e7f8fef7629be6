"""Sidecar files: found, checked, and handed on to the recording."""

from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
import soundfile

from vibhealth.model import Recording
from vibhealth.recording import (
    SIDECAR_KEYS,
    ChannelRequest,
    ReadOptions,
    read_recording,
    read_sidecar,
    sidecar_path,
)

G = 9.80665  # m/s^2, exact: 3rd CGPM (1901)
FULL = """
schema_version = 1
unit = "m/s2"
sampling_rate_hz = 8000.25
shaft_speed_rpm = 978
point = "P1X"
direction = "x"
start_time = 2024-05-01T10:00:00+02:00
temperature_c = -3.5
running_hours_h = 12480
load = "empty"
remarks = "guard fitted"
"""

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]


def write(folder: Path, sidecar: str, *, n_channels: int = 1, subtype: str = "DOUBLE") -> Path:
    path = folder / "a.wav"
    values = np.arange(1, n_channels + 1) * np.array([[0.5], [-0.25], [0.125]]) / 4
    soundfile.write(path, values, 8000, subtype=subtype)
    path.with_suffix(".toml").write_text(sidecar)
    return path


def test_every_key_reaches_the_recording(tmp_path: Path, read_one: ReadOne) -> None:
    recording = read_one(write(tmp_path, FULL))
    assert recording.sampling_rate_hz == 8000.25
    assert recording.shaft_speed_rpm == 978.0
    assert (recording.point, recording.direction) == ("P1X", "x")
    offset = timezone(timedelta(hours=2))
    assert recording.start_time == datetime(2024, 5, 1, 10, tzinfo=offset)
    assert recording.temperature_c == -3.5
    assert recording.running_hours_h == 12480.0
    assert recording.remarks == (("load", "empty"), ("remarks", "guard fitted"))
    assert recording.unit == "m/s2"


def test_channel_tables_win_over_the_common_part(tmp_path: Path) -> None:
    text = (
        "full_scale_g = 8.0\ntemperature_c = 40\n"
        '[[channel]]\nchannel = 2\npoint = "P1Y"\nfull_scale_v = 1.0\nsensitivity_mv_per_g = 100.0\n'
        '[[channel]]\nchannel = 3\npoint = "P1Z"\n'
    )
    path = write(tmp_path, text, n_channels=3)
    one, two, three = read_recording(path, requests=[ChannelRequest(channel=i) for i in (1, 2, 3)])
    assert [r.point for r in (one, two, three)] == [None, "P1Y", "P1Z"]
    scales = [r.calibration.scale_m_s2 for r in (one, two, three) if r.calibration]
    assert scales == pytest.approx([8 * G, 10 * G, 8 * G])
    assert {r.temperature_c for r in (one, two, three)} == {40.0}


def test_a_named_channel_is_read_by_default_and_owns_the_calibration(
    tmp_path: Path, read_one: ReadOne
) -> None:
    path = write(tmp_path, 'channel = 2\nunit = "g"\npoint = "P1Y"', n_channels=2)
    recording = read_one(path)
    assert (recording.channel, recording.point, recording.unit) == (2, "P1Y", "m/s2")
    other = read_one(path, requests=[ChannelRequest(channel=1)])
    assert (other.point, other.unit) == (None, "counts")


@pytest.mark.parametrize("name", ["P1X.wav", "P1X.csv", "P1X.csv.gz", "P1X.tar.npy"])
def test_sidecar_path(name: str) -> None:
    stem = "P1X.tar" if "tar" in name else "P1X"
    assert sidecar_path(Path("x") / name) == Path("x") / f"{stem}.toml"


def test_no_sidecar(tmp_path: Path) -> None:
    assert read_sidecar(tmp_path / "a.wav") is None


def test_request_and_sidecar_must_name_the_same_point(tmp_path: Path, refused: Refused) -> None:
    path = write(tmp_path, FULL)
    text = "point P2Y is wanted from channel 1, but the sidecar says P1X"
    refused(path, text, requests=[ChannelRequest(point="P2Y")])
    text = "direction z is wanted from channel 1, but the sidecar says x"
    refused(path, text, requests=[ChannelRequest(direction="z")])
    (recording,) = read_recording(path, requests=[ChannelRequest(point="p1x", direction="X")])
    assert (recording.point, recording.direction) == ("p1x", "X")


def test_the_sidecar_may_give_the_rate(tmp_path: Path, read_one: ReadOne, refused: Refused) -> None:
    path = tmp_path / "a.npy"
    np.save(path, np.array([0.5, 1.0, 0.25]))
    path.with_suffix(".toml").write_text("sampling_rate_hz = 25600")
    assert read_one(path).sampling_rate_hz == 25600.0
    assert read_one(path, options=ReadOptions(rate_hz=25600.0)).sampling_rate_hz == 25600.0
    text = "a sampling rate of 20000 Hz is given, but its sidecar says 25600 Hz"
    refused(path, text, options=ReadOptions(rate_hz=20000.0))


def test_a_sidecar_rate_against_the_header_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = write(tmp_path, "sampling_rate_hz = 25600")
    refused(path, "a sampling rate of 25600 Hz is given, but its header says 8000 Hz")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("speed = 978", f"unknown key 'speed'; known keys are {', '.join(SIDECAR_KEYS)}"),
        ("[machine]\nid = 'F3'", "unknown key 'machine' (a machine card must not share"),
        ("schema_version = 2", "schema_version must be one of 1, got 2"),
        ("schema_version = true", "schema_version must be one of 1, got True"),
        ('unit = "mm/s"', "unit must be one of g, m/s2, counts, got 'mm/s'"),
        ("full_scale_g = 0", "full_scale_g must be a finite number above 0, got 0"),
        ("full_scale_v = -1.0", "full_scale_v must be a finite number above 0, got -1.0"),
        ("sensitivity_mv_per_g = inf", "sensitivity_mv_per_g must be a finite number above 0"),
        ("sensitivity_mv_per_m_s2 = '9'", "sensitivity_mv_per_m_s2 must be a finite number"),
        ("sampling_rate_hz = nan", "sampling_rate_hz must be a finite number above 0, got nan"),
        ("shaft_speed_rpm = true", "shaft_speed_rpm must be a finite number above 0, got True"),
        ("point = ''", "point must be text in quotes, got ''"),
        ("direction = 1", "direction must be text in quotes, got 1"),
        ("start_time = 2024-05-01T10:00:00", "start_time must be a date and time with offset"),
        ("start_time = 2024-05-01", "start_time must be a date and time with offset"),
        ("temperature_c = nan", "temperature_c must be a finite number, got nan"),
        ("running_hours_h = -1", "running_hours_h must be a finite number of at least 0, got -1"),
        ("running_hours_h = true", "running_hours_h must be a finite number of at least 0, got T"),
        ("running_hours_h = inf", "running_hours_h must be a finite number of at least 0, got inf"),
        ("load = 'half'", "load must be one of empty, loaded, got 'half'"),
        ("channel = 0", "channel must be a whole number from 1 on, got 0"),
        ("channel = [1, 2]", "[[channel]] table 1: must be a table of keys, got 1"),
        ("[[channel]]\npoint = 'P'", "[[channel]] table 1: has no key channel"),
        (
            "[[channel]]\nchannel = 1\n[[channel]]\nchannel = 1",
            "[[channel]] table 2: repeats channel 1",
        ),
        ("[[channel]]\nchannel = 1\nload = 'empty'", "table 1: unknown key 'load'"),
        ("[[channel]]\nchannel = 1\nunit = 'x'", "[[channel]] table 1: unit must be one of"),
        ("unit = ", "this sidecar is not valid TOML ("),
    ],
)
def test_a_faulty_sidecar_is_refused_with_its_key(
    tmp_path: Path, refused: Refused, text: str, message: str
) -> None:
    assert str(tmp_path / "a.toml") in refused(write(tmp_path, text), message)


def test_a_sidecar_in_another_encoding_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = write(tmp_path, "")
    path.with_suffix(".toml").write_bytes("remarks = 'Ständer'".encode("cp1252"))
    refused(path, "this sidecar is not valid TOML (")
