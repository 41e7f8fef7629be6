"""Calibration: hand-computed scales, precedence, and statements that cannot stand together."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from vibhealth.errors import InputError
from vibhealth.model import Recording
from vibhealth.recording import ChannelRequest, ReadOptions, read_recording

SAMPLES = np.array([0.5, -0.25, 0.125, 0.0])
G = 9.80665  # m/s^2, exact: 3rd CGPM (1901)
# Three roundings between the stated numbers and a sample.
RTOL = 4 * np.finfo(np.float64).eps
LIMIT_16 = 1 - 2.0**-15

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]


def write(folder: Path, subtype: str, sidecar: str = "") -> Path:
    path = folder / "a.wav"
    soundfile.write(path, SAMPLES, 8000, subtype=subtype)
    if sidecar:
        path.with_suffix(".toml").write_text(sidecar)
    return path


def check(recording: Recording, scale_m_s2: float, source: str) -> None:
    assert recording.unit == "m/s2"
    assert recording.calibration is not None
    assert recording.calibration.scale_m_s2 == pytest.approx(scale_m_s2, rel=RTOL, abs=0)
    assert recording.calibration.source == source
    np.testing.assert_allclose(recording.samples, SAMPLES * scale_m_s2, rtol=RTOL)


@pytest.mark.parametrize("subtype", ["PCM_16", "FLOAT"])
@pytest.mark.parametrize(
    ("values", "scale_m_s2", "words"),
    [
        # 5 V over 10 mV/g is 500 g at full scale.
        ({"sensitivity_mv_per_g": 10.0, "full_scale_v": 5.0}, 500 * G, "10 mV/g, full scale 5 V"),
        # 5 V over 10.2 mV per m/s2 is 490.196 m/s2: the same sensor in the other unit.
        (
            {"sensitivity_mv_per_m_s2": 10.2, "full_scale_v": 5.0},
            5000 / 10.2,
            "10.2 mV per m/s2, full scale 5 V",
        ),
        ({"full_scale_g": 50.0}, 50 * G, "full scale 50 g"),
    ],
)
@pytest.mark.parametrize("by", ["request", "sidecar"])
def test_full_scale_for_integer_and_float_files(
    *,
    tmp_path: Path,
    read_one: ReadOne,
    subtype: str,
    values: dict[str, float],
    scale_m_s2: float,
    words: str,
    by: str,
) -> None:
    if by == "sidecar":
        path = write(tmp_path, subtype, "\n".join(f"{k} = {v}" for k, v in values.items()))
        recording = read_one(path)
        check(recording, scale_m_s2, f"sidecar {path.with_suffix('.toml')}: {words}")
    else:
        request: dict[str, Any] = {"source": "card F3.toml, sensor A1", **values}
        recording = read_one(write(tmp_path, subtype), requests=[ChannelRequest(**request)])
        check(recording, scale_m_s2, f"card F3.toml, sensor A1: {words}")
    limit = None if subtype == "FLOAT" else pytest.approx(LIMIT_16 * scale_m_s2, rel=RTOL)
    assert recording.full_scale == limit


@pytest.mark.parametrize(("unit", "scale_m_s2"), [("g", G), ("m/s2", 1.0)])
def test_a_unit_means_the_value_itself(
    tmp_path: Path, read_one: ReadOne, unit: Any, scale_m_s2: float
) -> None:
    path = write(tmp_path, "FLOAT")
    asked = read_one(path, requests=[ChannelRequest(unit=unit, source="card")])
    check(asked, scale_m_s2, f"card: unit {unit}")
    check(read_one(path, options=ReadOptions(unit=unit)), scale_m_s2, f"options: unit {unit}")


def test_sensor_limits_come_along(tmp_path: Path, read_one: ReadOne) -> None:
    request = ChannelRequest(
        point="P1X", direction="x", range_g=50.0, usable_hz=(1.0, 10000.0), full_scale_g=10.0
    )
    recording = read_one(write(tmp_path, "PCM_16"), requests=[request])
    assert recording.sensor_range_m_s2 == pytest.approx(490.3325, rel=RTOL)
    assert recording.sensor_usable_hz == (1.0, 10000.0)
    assert (recording.point, recording.direction) == ("P1X", "x")


def test_options_win_over_sidecar_over_request(tmp_path: Path, read_one: ReadOne) -> None:
    request = ChannelRequest(full_scale_g=1.0, source="card")
    path = write(tmp_path, "PCM_16", "full_scale_g = 2.0")
    options = ReadOptions(full_scale_g=4.0)
    check(read_one(path, requests=[request], options=options), 4 * G, "options: full scale 4 g")
    sidecar = path.with_suffix(".toml")
    check(read_one(path, requests=[request]), 2 * G, f"sidecar {sidecar}: full scale 2 g")
    sidecar.unlink()
    check(read_one(path, requests=[request]), 1 * G, "card: full scale 1 g")


def test_counts_switch_a_calibration_off(tmp_path: Path, read_one: ReadOne) -> None:
    request = ChannelRequest(full_scale_g=1.0)
    path = write(tmp_path, "PCM_16", 'unit = "counts"')
    recording = read_one(path, requests=[request])
    assert (recording.unit, recording.calibration) == ("counts", None)
    path.with_suffix(".toml").write_text("full_scale_g = 2.0")
    recording = read_one(path, requests=[request], options=ReadOptions(unit="counts"))
    assert (recording.unit, recording.full_scale) == ("counts", LIMIT_16)
    np.testing.assert_array_equal(recording.samples, SAMPLES)


def test_sensor_and_recorder_may_be_stated_apart(tmp_path: Path, read_one: ReadOne) -> None:
    """The recorder's sidecar knows its input range, the card knows the sensor."""
    path = write(tmp_path, "PCM_16", "full_scale_v = 2.0")
    request = ChannelRequest(sensitivity_mv_per_g=100.0, source="card")
    words = f"card: 100 mV/g, full scale 2 V from sidecar {path.with_suffix('.toml')}"
    check(read_one(path, requests=[request]), 20 * G, words)


def test_integer_files_may_name_the_unit_of_their_full_scale(
    tmp_path: Path, read_one: ReadOne
) -> None:
    path = write(tmp_path, "PCM_16", 'unit = "g"\nfull_scale_g = 2.0')
    check(read_one(path), 2 * G, f"sidecar {path.with_suffix('.toml')}: full scale 2 g")


@pytest.mark.parametrize(
    ("subtype", "request_values", "sidecar", "options", "text"),
    [
        ("PCM_16", {"unit": "g"}, "", {}, "gives unit g for integer samples"),
        ("PCM_24", {}, "", {"unit": "m/s2"}, "gives unit m/s2 for integer samples"),
        ("PCM_16", {"full_scale_g": 5.0}, "", {"unit": "g"}, "give full_scale_g, or a sens"),
        ("FLOAT", {"unit": "g", "full_scale_g": 5.0}, "", {}, "gives unit g as well as a full"),
        ("FLOAT", {}, 'unit = "counts"\nfull_scale_g = 5.0', {}, "unit counts as well as a full"),
        ("PCM_16", {}, "", {"unit": "counts", "full_scale_g": 5.0}, "counts as well as a full"),
        ("PCM_16", {"sensitivity_mv_per_g": 9.0}, "", {}, "a sensitivity without full_scale_v"),
        ("PCM_16", {"full_scale_v": 5.0}, "", {}, "gives full_scale_v without a sensitivity"),
        (
            "PCM_16",
            {"full_scale_g": 5.0, "full_scale_v": 5.0, "sensitivity_mv_per_g": 9.0},
            "",
            {},
            "gives full_scale_g as well as a sensitivity with full_scale_v",
        ),
        (
            "PCM_16",
            {"full_scale_v": 5.0, "sensitivity_mv_per_g": 9.0, "sensitivity_mv_per_m_s2": 1.0},
            "",
            {},
            "gives the sensitivity per g and per m/s2",
        ),
    ],
)
def test_a_calibration_that_cannot_stand_is_refused(
    *,
    tmp_path: Path,
    refused: Refused,
    subtype: str,
    request_values: dict[str, Any],
    sidecar: str,
    options: dict[str, Any],
    text: str,
) -> None:
    path = write(tmp_path, subtype, sidecar)
    request = ChannelRequest(**request_values)
    refused(path, text, requests=[request], options=ReadOptions(**options))


def test_whole_numbers_are_no_fractions_of_full_scale(tmp_path: Path, refused: Refused) -> None:
    path = tmp_path / "a.npy"
    np.save(path, np.array([120, -20314, 7], dtype=np.int16))
    options = ReadOptions(rate_hz=1000.0, full_scale_g=50.0)
    refused(path, "its values are whole numbers up to 20314, but the calibration", options=options)


def test_a_value_that_overflows_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = tmp_path / "a.npy"
    np.save(path, np.array([0.5, 1e308]))
    refused(path, "holds inf at index 1", options=ReadOptions(rate_hz=1000.0, unit="g"))


def table(folder: Path, unit: str, sidecar: str = "") -> Path:
    path = folder / "a.csv"
    rows = (f"{i / 8000},{value}" for i, value in enumerate(SAMPLES))
    path.write_text("\n".join([f"time [s],x [{unit}]", *rows]))
    if sidecar:
        path.with_suffix(".toml").write_text(sidecar)
    return path


@pytest.mark.parametrize(("unit", "volts"), [("V", 1.0), ("mV", 1e-3)])
def test_volts_in_a_header_need_only_the_sensitivity(
    tmp_path: Path, read_one: ReadOne, unit: str, volts: float
) -> None:
    path = table(tmp_path, unit)
    request = ChannelRequest(sensitivity_mv_per_g=100.0, full_scale_v=5.0, source="card")
    words = f"card: 100 mV/g; header of column 2 'x [{unit}]': unit {unit}"
    check(read_one(path, requests=[request]), volts * 10 * G, words)
    assert read_one(path).unit == "counts"


def test_the_card_of_raw_files_does_not_scale_a_table_in_g(
    tmp_path: Path, read_one: ReadOne
) -> None:
    request = ChannelRequest(sensitivity_mv_per_g=10.0, full_scale_v=5.0, source="card")
    recording = read_one(table(tmp_path, "g"), requests=[request])
    check(recording, G, "header of column 2 'x [g]': unit g")


def test_options_win_over_the_header(tmp_path: Path, read_one: ReadOne) -> None:
    path = table(tmp_path, "mm/s")
    check(read_one(path, options=ReadOptions(unit="g")), G, "options: unit g")


@pytest.mark.parametrize(
    ("unit", "sidecar", "request_values", "text"),
    [
        ("g", 'unit = "m/s2"', {}, "header of column 2 'x [g]' says g, but sidecar"),
        ("g", "full_scale_g = 50.0", {}, "gives a full scale; correct one of them"),
        ("g", 'unit = "counts"', {}, "gives unit counts; correct one of them"),
        ("m/s²", "", {"unit": "g"}, "says m/s², but options gives unit g"),
        ("mm/s", "", {}, "says mm/s, which is not an acceleration"),
        ("V", "", {"unit": "g"}, "says V, but options gives unit g"),
        ("V", "", {"full_scale_g": 50.0}, "says V, but options gives no sensitivity"),
    ],
)
def test_a_header_that_is_contradicted_is_refused(
    *,
    tmp_path: Path,
    refused: Refused,
    unit: str,
    sidecar: str,
    request_values: dict[str, Any],
    text: str,
) -> None:
    path = table(tmp_path, unit, sidecar)
    refused(path, text, requests=[ChannelRequest(**request_values)])


def test_a_header_that_is_confirmed_is_read(tmp_path: Path, read_one: ReadOne) -> None:
    path = table(tmp_path, "m/s^2", 'unit = "m/s2"')
    np.testing.assert_array_equal(read_one(path).samples, SAMPLES)


@settings(deadline=None)
@given(factor=st.floats(0.01, 100.0))
def test_scaling_law(tmp_path_factory: pytest.TempPathFactory, factor: float) -> None:
    """Samples grow with the full scale and fall with the sensitivity."""
    path = write(tmp_path_factory.mktemp("c"), "PCM_16")

    def rms(sensitivity: float, full_scale_v: float) -> float:
        request = ChannelRequest(sensitivity_mv_per_g=sensitivity, full_scale_v=full_scale_v)
        (recording,) = read_recording(path, requests=[request])
        return float(np.sqrt(np.mean(recording.samples**2)))

    plain = rms(10.0, 5.0)
    assert rms(10.0, 5.0 * factor) == pytest.approx(plain * factor, rel=1e-12)
    assert rms(10.0 * factor, 5.0) == pytest.approx(plain / factor, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "values", "text"),
    [
        (ReadOptions, {"rate_hz": 0.0}, "rate_hz must be a finite number above 0, got 0.0"),
        (ReadOptions, {"rate_hz": -5.0}, "rate_hz must be a finite number above 0, got -5.0"),
        (ReadOptions, {"rate_hz": float("nan")}, "rate_hz must be a finite number above 0"),
        (ReadOptions, {"rate_hz": float("inf")}, "rate_hz must be a finite number above 0"),
        (ReadOptions, {"unit": "mm"}, "unit must be one of g, m/s2, counts, got 'mm'"),
        (ReadOptions, {"tachometer_channel": 0}, "tachometer_channel must be a whole number"),
        (ReadOptions, {"tachometer_pulses_per_turn": 0.0}, "tachometer_pulses_per_turn must be"),
        (ReadOptions, {"time_column": 0}, "time_column must be a whole number from 1 on"),
        (ChannelRequest, {"channel": 0}, "channel must be a whole number from 1 on, got 0"),
        (ChannelRequest, {"unit": "counts"}, "unit must be one of g, m/s2, got 'counts'"),
        (ChannelRequest, {"full_scale_g": -1.0}, "full_scale_g must be a finite number above 0"),
        (ChannelRequest, {"usable_hz": (5.0, 1.0)}, "usable_hz must satisfy 0 <= low < high"),
    ],
)
def test_options_outside_their_range_are_refused(
    kind: type, values: dict[str, Any], text: str
) -> None:
    with pytest.raises(InputError) as caught:
        kind(**values)
    assert text in str(caught.value)
