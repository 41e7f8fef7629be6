"""Reading: what a card gives, and that each broken rule is one sentence with its place."""

import hashlib
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from pydantic import ValidationError

from vibhealth.card import MachineCard, read_card
from vibhealth.errors import CardError
from vibhealth.model import LoadCase, Ring, RollingBearing

Make = Callable[..., MachineCard]
GEOMETRY = "element_count = 17\nelement_diameter_mm = 26.0\npitch_diameter_mm = 160.0\n"


def refused(card: Make, *changes: tuple[str, str]) -> list[str]:
    """Lines of the refusal, each without the path that all of them start with."""
    with pytest.raises(CardError) as caught:
        card(*changes)
    lines = str(caught.value).splitlines()
    assert all(re.match(r".*card\.toml: ", line) for line in lines)
    return [line.partition("card.toml: ")[2] for line in lines]


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


def test_given_orders_may_leave_out_cage_and_element(card: Make) -> None:
    (bearing,) = card(
        (GEOMETRY, "orders = { outer_ring = 3.0, inner_ring = 4.92 }\n")
    ).rolling_bearings()
    assert bearing.element_count == 8
    assert bearing.geometry is None
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == pytest.approx(0.375)
    assert bearing.given_orders.rolling_element is None


def test_a_derived_cage_follows_the_turning_ring(card: Make) -> None:
    orders = 'orders = { outer_ring = 3.0, inner_ring = 5.0 }\nrotating_ring = "outer"\n'
    (bearing,) = card((GEOMETRY, orders)).rolling_bearings()
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == pytest.approx(0.625)


def test_a_stated_element_count_stands_beside_orders(card: Make) -> None:
    orders = "element_count = 17\norders = { outer_ring = 7.0, inner_ring = 9.6 }\n"
    (bearing,) = card((GEOMETRY, orders)).rolling_bearings()
    assert bearing.element_count == 17
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == pytest.approx(7 / 17)


# (old text, new text, refusal): one broken rule each.
FAULTS = [
    ("schema_version = 1", "schema_version = 2", "schema_version: must be 1, found 2"),
    ("schema_version = 1\n", "", "schema_version: is required, found nothing"),
    (
        "nominal_speed_rpm",
        "nominal_speed_rmp",
        (
            "machine.nominal_speed_rmp: is not a known key (did you mean 'nominal_speed_rpm'?), "
            "found 978.0"
        ),
    ),
    ("= 978.0", "= 0", "machine.nominal_speed_rpm: must be above 0, found 0"),
    ("= 978.0", "= inf", "machine.nominal_speed_rpm: must be a finite number, found inf"),
    ("= 978.0", "= nan", "machine.nominal_speed_rpm: must be a finite number, found nan"),
    ("= 978.0", '= "978"', 'machine.nominal_speed_rpm: must be a number, found "978"'),
    ("= 978.0", "= true", "machine.nominal_speed_rpm: must be a number, found true"),
    (
        "= 978.0",
        '= 978.0\ndrive = "belt"',
        "machine.drive: must be 'direct', 'soft-start' or 'inverter', found \"belt\"",
    ),
    ('id = "F3"', 'id = " "', 'machine.id: must not be empty, found " "'),
    (
        "stroke_mm = { x = 6.0, y = 6.0 }",
        "stroke_mm = {}",
        "exciter.stroke_mm: must give at least one of x, y, z, found a table",
    ),
    (
        "element_count = 17",
        "element_count = 2",
        'bearing[1].element_count ("upper"): must be at least 3, found 2',
    ),
    (
        "element_count = 17",
        "element_count = 17.5",
        'bearing[1].element_count ("upper"): must be a whole number, found 17.5',
    ),
    (
        "element_diameter_mm = 26.0",
        "element_diameter_mm = 30.0",
        (
            'bearing[1] ("upper"): 17 elements of 30 mm overlap on a pitch circle of 160 mm '
            "(room for 29.4 mm each); check for mixed mm and inch values or swapped diameters, "
            "found nothing"
        ),
    ),
    (
        "element_diameter_mm = 26.0\n",
        "",
        (
            'bearing[1].element_diameter_mm ("upper"): is required beside the other geometry keys, '
            "found nothing"
        ),
    ),
    (
        'load_case = "rotating"',
        'load_case = "turning"',
        (
            "bearing[1].load_case (\"upper\"): must be 'rotating', 'stationary', 'twice-per-turn' "
            "or 'unknown', found \"turning\""
        ),
    ),
    (
        'load_case = "rotating"',
        'rotating_ring = "both"',
        "bearing[1].rotating_ring (\"upper\"): must be 'inner' or 'outer', found \"both\"",
    ),
    (
        'load_case = "rotating"',
        "contact_angle_deg = 90.0",
        'bearing[1].contact_angle_deg ("upper"): must be below 90, found 90.0',
    ),
    (
        "full_scale_v = 5.0\n",
        "",
        (
            'sensor[1].full_scale_v ("A1"): is required with sensitivity_mv_per_g: the voltage of a '
            "full-scale sample, found nothing"
        ),
    ),
    (
        "sensitivity_mv_per_g = 10.0\n",
        "",
        (
            'sensor[1].full_scale_v ("A1"): needs sensitivity_mv_per_g or sensitivity_mv_per_m_s2 '
            "beside it, found 5.0"
        ),
    ),
    (
        "full_scale_v = 5.0\n",
        'full_scale_v = 5.0\nunit = "g"\n',
        (
            'sensor[1] ("A1"): must give one way of calibration only, one of sensitivity_mv_per_g, '
            'sensitivity_mv_per_m_s2, full_scale_g, unit, found "sensitivity_mv_per_g and unit"'
        ),
    ),
    (
        'sensor = "A1"',
        'sensor = "A2"',
        (
            'point[1].sensor ("P1X"): must name a [[sensor]] of this card (known here: A1), '
            'found "A2"'
        ),
    ),
    (
        'sensor = "A1"',
        'sensor = "A1"\nbearings = ["upper", "lower"]',
        (
            'point[1].bearings[2] ("P1X"): must name a [[bearing]] of this card '
            '(known here: upper), found "lower"'
        ),
    ),
    (
        'sensor = "A1"',
        'sensor = "A1"\nchannel = 0',
        'point[1].channel ("P1X"): must be at least 1, found 0',
    ),
    (
        'sensor = "A1"',
        'sensor = "A1"\n[[point]]\nname = "P1X"\ndirection = "y"\nsensor = "A1"',
        'point[2].name: must differ from the other [[point]] names, found "P1X"',
    ),
    (
        "[1000.0, 10000.0]",
        "[10000.0, 1000.0]",
        (
            "analysis.bearing_band_hz: must be [low, high] in Hz with 0 < low < high, "
            "found [10000.0, 1000.0]"
        ),
    ),
    (
        "[1000.0, 10000.0]",
        "[1000.0]",
        "analysis.bearing_band_hz[2]: is required, found nothing",
    ),
    (
        "[1000.0, 10000.0]",
        "1000.0",
        "analysis.bearing_band_hz: must be a list in square brackets, found 1000.0",
    ),
    (
        "[1000.0, 10000.0]",
        "[1000.0, 10000.0]\nslip_percent = 6",
        "analysis.slip_percent: must be at most 5, found 6",
    ),
    (
        "[limits]",
        "[guard]\n[limits]",
        "guard.clearance_mm: is required, found nothing",
    ),
    (
        "[limits]",
        "[oil]\nviscosity_40c_mm2_s = 20\nviscosity_100c_mm2_s = 220\n[limits]",
        (
            "oil.viscosity_100c_mm2_s: must be below viscosity_40c_mm2_s (20), since oil thins when "
            "hot, found 220.0"
        ),
    ),
    (
        "[limits]",
        '[[bolt_group]]\nname = "flange"\ncount = 12\ntorque_stages_nm = [200, 100]\n[limits]',
        (
            'bolt_group[1].torque_stages_nm ("flange"): must not fall from one stage to the next, '
            "found [200.0, 100.0]"
        ),
    ),
    (
        "[limits]",
        '[[bolt_group]]\nname = "flange"\ncount = 12\ntorque_stages_nm = []\n[limits]',
        'bolt_group[1].torque_stages_nm ("flange"): must have at least 1 entries, found []',
    ),
    (
        "[limits]",
        "[oils]\n[limits]",
        "oils: is not a known key (did you mean 'oil'?), found a table",
    ),
]


@pytest.mark.parametrize(("old", "new", "refusal"), FAULTS, ids=[row[2][:48] for row in FAULTS])
def test_a_broken_rule_is_one_sentence(card: Make, old: str, new: str, refusal: str) -> None:
    lines = refused(card, (old, new))
    assert refusal in lines
    # A misspelt required key is two faults: the unknown one and the missing one.
    assert len(lines) == (2 if "did you mean 'nominal_speed_rpm'" in refusal else 1)


ORDER_FAULTS = [
    (
        "orders = { outer_ring = 3.0, inner_ring = 5.5 }",
        (
            'bearing[1].orders ("upper"): outer_ring + inner_ring must be within 3 % of a whole number '
            'from 3 up, since BPFO + BPFI = Z whatever the cage slips, found "3 + 5.5 = 8.5"'
        ),
    ),
    (
        "element_count = 9\norders = { outer_ring = 3.0, inner_ring = 5.0 }",
        (
            'bearing[1].orders ("upper"): outer_ring + inner_ring must be within 3 % of '
            'element_count = 9, since BPFO + BPFI = Z whatever the cage slips, found "3 + 5 = 8"'
        ),
    ),
    (
        "orders = { outer_ring = 0.9, inner_ring = 1.1 }",
        (
            'bearing[1].orders ("upper"): outer_ring + inner_ring must be within 3 % of a whole number '
            'from 3 up, since BPFO + BPFI = Z whatever the cage slips, found "0.9 + 1.1 = 2"'
        ),
    ),
    (
        "orders = { outer_ring = 3.0, inner_ring = 5.0, cage = 0.39 }",
        (
            'bearing[1].orders.cage ("upper"): must be within 3 % of outer_ring / Z = 0.375 for a '
            "turning inner ring, since each element passes once per cage turn, found 0.39"
        ),
    ),
    (
        'rotating_ring = "outer"\norders = { outer_ring = 3.0, inner_ring = 5.0, cage = 0.375 }',
        (
            'bearing[1].orders.cage ("upper"): must be within 3 % of 1 - outer_ring / Z = 0.625 for a '
            "turning outer ring, since each element passes once per cage turn, found 0.375"
        ),
    ),
    (
        "orders = { outer_ring = 5.0, inner_ring = 3.0 }",
        (
            'bearing[1].orders.inner_ring ("upper"): must be above orders.outer_ring (5), since more '
            "elements pass the inner ring per turn; are the two swapped?, found 3.0"
        ),
    ),
    (
        "orders = { outer_ring = 3.0, inner_ring = 5.0, rolling_element = 3.75 }",
        (
            'bearing[1].orders.rolling_element ("upper"): must be the spin order, at most about 1.88 '
            "with these ring orders; is it the strike order, twice the spin?, found 3.75"
        ),
    ),
    (
        "pitch_diameter_mm = 40.0\norders = { outer_ring = 3.0, inner_ring = 5.0 }",
        'bearing[1].pitch_diameter_mm ("upper"): must be left out where orders are given, found 40.0',
    ),
    (
        "",
        (
            'bearing[1] ("upper"): needs either element_count, element_diameter_mm, pitch_diameter_mm '
            "or orders; leave the whole [[bearing]] out if neither is known, found nothing"
        ),
    ),
]


@pytest.mark.parametrize(("orders", "refusal"), ORDER_FAULTS)
def test_orders_that_no_bearing_has_are_refused(card: Make, orders: str, refusal: str) -> None:
    assert refused(card, (GEOMETRY, orders + "\n")) == [refusal]


def test_orders_within_three_per_cent_are_accepted(card: Make) -> None:
    """Published: outer 3.0 and inner 4.92, a sum 1 % off eight; cage 2.9 % off outer / Z."""
    orders = (
        "orders = { outer_ring = 3.0, inner_ring = 4.92, cage = 0.3855, rolling_element = 1.9 }\n"
    )
    (bearing,) = card((GEOMETRY, orders)).rolling_bearings()
    assert bearing.given_orders is not None
    assert bearing.given_orders.cage == 0.3855


@pytest.mark.parametrize(("inner", "accepted"), [(9.50, True), (9.48, False)])
def test_the_sum_may_be_three_per_cent_off(card: Make, inner: float, accepted: bool) -> None:
    """17 less three per cent is 16.49: 7 + 9.50 lies above it, 7 + 9.48 below."""
    orders = f"element_count = 17\norders = {{ outer_ring = 7.0, inner_ring = {inner} }}\n"
    if accepted:
        assert card((GEOMETRY, orders)).rolling_bearings()[0].element_count == 17
    else:
        assert "must be within 3 % of element_count = 17" in refused(card, (GEOMETRY, orders))[0]


def test_all_faults_are_listed_one_line_each(card: Make) -> None:
    lines = refused(
        card,
        ("= 978.0", "= -1"),
        ("element_count = 17", "element_count = 1"),
        ('direction = "x"', "direction = 1979-05-27"),
    )
    assert lines == [
        "machine.nominal_speed_rpm: must be above 0, found -1",
        'bearing[1].element_count ("upper"): must be at least 3, found 1',
        'point[1].direction ("P1X"): must be text in quotes, found the date or time 1979-05-27',
    ]


def test_a_long_value_is_cut_in_the_message(card: Make) -> None:
    (line,) = refused(card, ("= 978.0", f'= "{"9" * 300}"'))
    assert len(line) < 150


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
