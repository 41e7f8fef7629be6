"""Reading: what a card gives, and what is no card at all."""

import hashlib
import re
from pathlib import Path

import pytest
from pydantic import ValidationError

from tests.card.refusals import Make
from vibhealth.card import read_card
from vibhealth.errors import CardError
from vibhealth.model import LoadCase, Ring, RollingBearing


def test_a_card_gives_what_it_states(card: Make) -> None:
    feeder = card()
    (bearing,) = feeder.rolling_bearings()
    assert isinstance(bearing, RollingBearing)
    assert (bearing.name, bearing.element_count, bearing.rows) == ("upper", 17, 1)
    assert (bearing.load_case, bearing.rotating_ring) == (LoadCase.ROTATING, Ring.INNER)
    assert bearing.geometry is not None
    assert bearing.geometry.contact_angle_deg == 0.0
    assert feeder.nominal_shaft_frequency_hz == pytest.approx(16.3)
    assert feeder.machine.speed_tolerance_percent == 3.0
    assert feeder.exciter is not None
    assert feeder.exciter.stroke_mm is not None
    assert feeder.exciter.stroke_mm.along("x") == 6.0
    assert feeder.exciter.stroke_mm.along("z") is None
    assert feeder.analysis.trend_band_hz == (1000.0, 10000.0)
    assert feeder.point("P1X").channel == 1
    assert feeder.sensor("A1").full_scale_v == 5.0


def test_path_and_digest_are_those_of_the_file(tmp_path: Path, feeder: str) -> None:
    path = tmp_path / "feeder.toml"
    path.write_bytes(feeder.encode())
    card = read_card(path)
    assert card.path == str(path)
    assert card.sha256 == hashlib.sha256(feeder.encode()).hexdigest()


def test_a_card_is_frozen(card: Make) -> None:
    with pytest.raises(ValidationError, match="frozen"):
        card().machine.nominal_speed_rpm = 1.0


def test_a_short_card_of_an_ordinary_machine_is_enough(card: Make) -> None:
    text = 'schema_version = 1\nmachine = { id = "fan", nominal_speed_rpm = 1480 }\n'
    ordinary = card(text=text)
    assert ordinary.exciter is None
    assert ordinary.machine.name == "fan"
    assert ordinary.rolling_bearings() == ()
    assert ordinary.analysis.bearing_band_hz == (1000.0, 10000.0)


def test_angle_and_rows_reach_the_bearing(card: Make) -> None:
    stated = 'load_case = "rotating"\ncontact_angle_deg = 10.0\nrows = 2'
    (bearing,) = card(('load_case = "rotating"', stated)).rolling_bearings()
    assert bearing.rows == 2
    assert bearing.geometry is not None
    assert bearing.geometry.contact_angle_deg == 10.0


def test_an_unstated_load_case_is_unknown(card: Make) -> None:
    (bearing,) = card(('load_case = "rotating"\n', "")).rolling_bearings()
    assert bearing.load_case is LoadCase.UNKNOWN


def test_a_byte_order_mark_is_no_fault(tmp_path: Path, feeder: str) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + feeder.encode())
    assert read_card(path).machine.id == "F3"


def test_unreadable_files_are_one_sentence(tmp_path: Path) -> None:
    missing = tmp_path / "none.toml"
    with pytest.raises(CardError, match=re.escape(f"{missing}: no such file; make a card with")):
        read_card(missing)
    with pytest.raises(CardError, match=re.escape(f"{tmp_path}: is a folder")):
        read_card(tmp_path)
    with pytest.raises(CardError, match="cannot be read as a machine card"):
        read_card(str(missing) + "\0")


@pytest.mark.parametrize(
    ("content", "refusal"),
    [
        (b"schema_version = 1\n[machine\n", "not valid TOML: "),
        (b"a = 1\na = 2\n", "not valid TOML: Cannot overwrite a value (at line 2, column 6)"),
        (b"a = 1\nb = ", "not valid TOML: Invalid value (at line 2, end)"),
        (b"a = 1\nb = '\xe9'\n", "line 2 is not UTF-8 text (byte 0xe9); save the card as UTF-8"),
        (b"a = " + b"[" * 50_000, "not valid TOML: "),
        (b"a = " + b"9" * 5_000, "not valid TOML: "),
        (b"#" * 1_000_001, "is larger than 1 MB and so no machine card; is it a recording?"),
        (b"", "schema_version: is required, found nothing"),
    ],
)
def test_content_that_is_no_card_is_refused(tmp_path: Path, content: bytes, refusal: str) -> None:
    path = tmp_path / "card.toml"
    path.write_bytes(content)
    with pytest.raises(CardError, match=re.escape(f"{path}: {refusal}")):
        read_card(path)


def test_names_that_are_not_there_are_refused(card: Make) -> None:
    feeder = card()
    with pytest.raises(CardError, match=re.escape("no point is named 'P1Y' (did you mean 'P1X'?)")):
        feeder.point("P1Y")
    with pytest.raises(CardError, match=re.escape("no sensor is named 'zz' (known here: A1)")):
        feeder.sensor("zz")
    bare = card(text='schema_version = 1\nmachine = { id = "fan", nominal_speed_rpm = 1480 }\n')
    with pytest.raises(CardError, match=re.escape("(it has no [[point]])")):
        bare.point("P1X")


def test_a_point_hears_the_bearings_it_names_or_all(card: Make) -> None:
    lower = '[[bearing]]\nname = "lower"\nelement_count = 8\nelement_diameter_mm = 10\n'
    lower += "pitch_diameter_mm = 40\n[[sensor]]"
    hears_all = card(("[[sensor]]", lower))
    assert [bearing.name for bearing in hears_all.bearings_at("P1X")] == ["upper", "lower"]
    hears_one = card(
        ("[[sensor]]", lower), ('sensor = "A1"', 'sensor = "A1"\nbearings = ["lower"]')
    )
    assert [bearing.name for bearing in hears_one.bearings_at("P1X")] == ["lower"]


# 10 mV/g at 5 V: 500 g; all four ways below state the same 500 g or a file in units.
@pytest.mark.parametrize(
    ("keys", "scale_m_s2", "words"),
    [
        ("sensitivity_mv_per_g = 10.0\nfull_scale_v = 5.0", 4903.325, "10 mV/g, full scale 5 V"),
        (
            "sensitivity_mv_per_m_s2 = 1.0\nfull_scale_v = 5.0",
            5000.0,
            "1 mV per m/s^2, full scale 5 V",
        ),
        ("full_scale_g = 500.0", 4903.325, "full scale 500 g"),
        ('unit = "g"', 9.80665, "values in g"),
        ('unit = "m/s2"', 1.0, "values in m/s2"),
    ],
)
def test_each_way_of_calibration(card: Make, keys: str, scale_m_s2: float, words: str) -> None:
    feeder = card(("sensitivity_mv_per_g = 10.0\nfull_scale_v = 5.0", keys))
    calibration = feeder.sensor("A1").calibration()
    assert calibration is not None
    assert calibration.scale_m_s2 == pytest.approx(scale_m_s2, rel=1e-12)
    assert calibration.source == f"machine card, sensor A1: {words}"


def test_no_calibration_is_allowed_and_said(card: Make) -> None:
    feeder = card(("sensitivity_mv_per_g = 10.0\nfull_scale_v = 5.0", "range_g = 50"))
    assert feeder.sensor("A1").calibration() is None
    assert feeder.sensor("A1").range_m_s2 == pytest.approx(490.3325)
