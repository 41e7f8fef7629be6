"""What a card implies: numbers by hand, words by load case, and what is said to be missing."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibhealth.card import MachineCard, card_template, read_card
from vibhealth.errors import InputError
from vibhealth.model import BearingGeometry, RollingBearing
from vibhealth.report.card_text import (
    bearing_frequencies_dict,
    bearing_frequencies_text,
    card_check_dict,
    card_check_text,
    frequencies_dict,
    frequencies_text,
)

FEEDER = """\
schema_version = 1
[machine]
id = "F3"
name = "Deck feeder F3"
nominal_speed_rpm = 600.0
[exciter]
stroke_mm = { x = 4.0, y = 6.0 }
orbit_direction = "clockwise"
[[bearing]]
name = "upper"
element_count = 8
element_diameter_mm = 10.0
pitch_diameter_mm = 40.0
load_case = "rotating"
[[sensor]]
name = "A1"
full_scale_g = 50.0
[[point]]
name = "P1X"
direction = "x"
sensor = "A1"
[[point]]
name = "P1R"
direction = "radial"
sensor = "A1"
"""
FAN = 'schema_version = 1\nmachine = { id = "fan", nominal_speed_rpm = 1480 }\n'
# (stroke / 2) omega^2 / g = 0.003 (20 pi)^2 / 9.80665 = 11.84353 / 9.80665
SIX_MM_AT_600_G = 1.20770

MakeCard = Callable[..., MachineCard]


@pytest.fixture
def make_card(tmp_path: Path) -> MakeCard:
    def make(*changes: tuple[str, str], text: str = FEEDER) -> MachineCard:
        for old, new in changes:
            assert text.count(old) == 1
            text = text.replace(old, new)
        path = tmp_path / "card.toml"
        path.write_text(text, "utf-8")
        return read_card(path)

    return make


def element(facts: dict[str, Any], name: str) -> dict[str, Any]:
    (row,) = [row for row in facts["elements"] if row["element"] == name]
    assert isinstance(row, dict)
    return row


def test_frequencies_are_orders_times_shaft_frequency(make_card: MakeCard) -> None:
    facts = frequencies_dict(make_card())
    assert facts["shaft_frequency_hz"] == 10.0
    (bearing,) = facts["bearings"]
    assert element(bearing, "outer-ring")["frequency_hz"] == pytest.approx(30.0)
    assert element(bearing, "inner-ring")["frequency_hz"] == pytest.approx(50.0)
    assert element(bearing, "rolling-element")["frequency_hz"] == pytest.approx(37.5)
    assert bearing["rolling_element_spin_order"] == pytest.approx(1.875)
    assert element(bearing, "cage")["frequency_hz"] == pytest.approx(3.75)
    low_high = [element(bearing, "outer-ring")[key] for key in ("order_low", "order_high")]
    assert low_high == pytest.approx([2.955, 3.045])


def test_another_speed_scales_hertz_and_leaves_orders(make_card: MakeCard) -> None:
    nominal, half = frequencies_dict(make_card()), frequencies_dict(make_card(), 300.0)
    for one, other in zip(
        nominal["bearings"][0]["elements"], half["bearings"][0]["elements"], strict=True
    ):
        assert other["order"] == one["order"]
        assert other["frequency_hz"] == pytest.approx(one["frequency_hz"] / 2)
    assert frequencies_text(make_card(), 300.0).startswith(
        "Deck feeder F3 (F3) at 300 r/min = 5.000"
    )


def test_a_speed_that_is_none_is_refused(make_card: MakeCard) -> None:
    message = "speed_rpm must be a finite number above 0, got -1.0"
    with pytest.raises(InputError, match=re.escape(message)):
        frequencies_text(make_card(), -1.0)


def test_text_shows_the_rows_of_the_facts(make_card: MakeCard) -> None:
    text = frequencies_text(make_card())
    assert re.search(r"outer ring +BPFO +3\.0000 +2\.955\.\.3\.045 +30\.00 +29\.55\.\.30\.45", text)
    assert re.search(r"rolling element +2BSF +3\.7500 ", text)
    assert "BSF, spin: 1.8750x" in text
    assert "Side bands of the outer ring: ±1x strong (load)" in text
    assert "Side bands of the inner ring: ±1x weak (path)" in text
    assert "Lines of the cage: 0.625x (strong), 0.375x (weak)" in text
    assert "! Blind spot: a fault of the outer ring" in text


@pytest.mark.parametrize(
    ("load_case", "words", "bands"),
    [
        ("rotating", "the load turns with the shaft", "outer ring: ±1x strong (load)"),
        ("stationary", "the load keeps its direction", "outer ring: none"),
        ("twice-per-turn", "swings twice per turn", "outer ring: ±2x strong (load), ±1x weak"),
        ("unknown", "no ring is named from side bands", "outer ring: ±1x weak"),
    ],
)
def test_each_load_case_is_put_into_words(
    make_card: MakeCard, load_case: str, words: str, bands: str
) -> None:
    text = frequencies_text(make_card(('"rotating"', f'"{load_case}"')))
    assert words in " ".join(text.split())
    assert f"Side bands of the {bands}" in text


def test_equal_bearings_of_a_card_are_named_together(make_card: MakeCard) -> None:
    lower = '[[bearing]]\nname = "lower"\nelement_count = 8\nelement_diameter_mm = 20.0\n'
    card = make_card(("[[sensor]]", lower + "pitch_diameter_mm = 80.0\n[[sensor]]"))
    text = " ".join(frequencies_text(card).split())
    assert "! Bearings 'upper' and 'lower' strike at the same orders" in text
    assert "! Bearings 'lower' and 'upper' strike at the same orders" in text


def test_a_bearing_without_a_card(make_card: MakeCard) -> None:
    """The same lines whether the bearing comes from a card or from options."""
    bearing = RollingBearing(
        name="bench",
        geometry=BearingGeometry(element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0),
        element_count=8,
    )
    facts = bearing_frequencies_dict(bearing, 10.0, 1.5)
    from_card = frequencies_dict(make_card())["bearings"][0]
    for name in ("cage", "outer-ring", "inner-ring", "rolling-element"):
        assert element(facts, name)["frequency_hz"] == element(from_card, name)["frequency_hz"]
    assert bearing_frequencies_text(bearing, 10.0, 1.5).startswith("Bearing bench: 8 elements")


def test_throw_and_range_follow_from_stroke_and_speed(make_card: MakeCard) -> None:
    facts = card_check_dict(make_card())
    by_axis = {axis["axis"]: axis["acceleration_g"] for axis in facts["motion"]["axes"]}
    assert by_axis["y"] == pytest.approx(SIX_MM_AT_600_G, rel=1e-5)
    assert by_axis["x"] == pytest.approx(SIX_MM_AT_600_G * 4 / 6, rel=1e-5)
    (sensor,) = facts["sensors"]
    # P1R's direction names no axis, so the larger stroke counts.
    assert sensor["expected_g"] == pytest.approx(SIX_MM_AT_600_G, rel=1e-5)
    assert sensor["share_of_range"] == pytest.approx(SIX_MM_AT_600_G / 50, rel=1e-5)


def test_recording_advice_follows_from_band_and_limits(make_card: MakeCard) -> None:
    recording = card_check_dict(make_card())["recording"]
    assert recording["sampling_rate_hz_at_least"] == pytest.approx(25_600.0)
    assert recording["seconds_at_least"] == pytest.approx(40.0)
    assert recording["seconds_recommended"] == pytest.approx(100.0)
    text = card_check_text(make_card())
    assert "sampling rate at least 25600 Hz" in text
    assert "at least 40 s, better 100 s, and 3 recordings per point" in text


def test_a_complete_card_lacks_nothing(make_card: MakeCard) -> None:
    facts = card_check_dict(make_card())
    assert facts["not_judged"] == []
    assert facts["cautions"] == []
    text = card_check_text(make_card())
    assert "Not judged with this card: nothing is missing." in text
    assert "Check before recording: nothing stands out." in text


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "full_scale_g = 50.0\n",
            "",
            "Anything in m/s^2, g or mm from sensor 'A1': it has no calibration.",
        ),
        (
            "stroke_mm = { x = 4.0, y = 6.0 }\n",
            "",
            "Stroke: exciter.stroke_mm is not given.",
        ),
        (
            'direction = "x"',
            'direction = "z"',
            "Stroke at point 'P1X': exciter.stroke_mm has no z.",
        ),
        (
            'orbit_direction = "clockwise"\n',
            "",
            "Direction of the orbit: exciter.orbit_direction is not given.",
        ),
        (
            "element_count = 8\nelement_diameter_mm = 10.0\npitch_diameter_mm = 40.0\n",
            "orders = { outer_ring = 3.0, inner_ring = 5.0 }\n",
            "Rolling elements of bearing 'upper': orders.rolling_element is not given.",
        ),
    ],
)
def test_what_is_missing_is_said(make_card: MakeCard, old: str, new: str, sentence: str) -> None:
    card = make_card((old, new))
    assert card_check_dict(card)["not_judged"] == [sentence]
    assert sentence in " ".join(card_check_text(card).split())


def test_a_bare_card_says_all_that_it_lacks(make_card: MakeCard) -> None:
    facts = card_check_dict(make_card(text=FAN))
    assert [line.partition(":")[0] for line in facts["not_judged"]] == [
        "Bearing faults",
        "Anything in m/s^2, g or mm",
        "Which point a recording belongs to",
    ]
    text = card_check_text(make_card(text=FAN))
    assert "The card has no [[bearing]]: no defect frequencies." in text
    assert "Working motion: the card has no [exciter]; treated as an ordinary machine." in text


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("= 50.0", "= 2.0", "takes 60 % of the smaller of sensor and recorder range"),
        (
            "= 50.0",
            "= 50.0\nrange_g = 2.0",
            "takes 60 % of the smaller of sensor and recorder range",
        ),
        (
            "= 50.0",
            "= 50.0\nusable_hz = [1.0, 5000.0]",
            "is usable to 5000 Hz, below the top of the bearing band (10000 Hz)",
        ),
        (
            "= 50.0",
            "= 50.0\nusable_hz = [12.0, 10000.0]",
            "is usable from 12 Hz only, above the shaft frequency (10.00 Hz)",
        ),
        (
            "[exciter]",
            "[guard]\nclearance_mm = 3.0\n[exciter]",
            "Guard clearance 3 mm is not above half the stroke (3 mm)",
        ),
        (
            "[exciter]",
            "[exciter]\nisolator_frequency_hz = 6.0",
            "Nominal speed is only 1.67 times the isolator frequency",
        ),
        (
            "[exciter]",
            "[exciter]\nbody_mass_kg = 1000\nunbalance_kg_m = 2.0",
            "Unbalance 2 kg m disagrees with body mass times half the stroke, 3 kg m",
        ),
        ('load_case = "rotating"\n', "", "no ring is named from side bands; state load_case."),
        (
            'load_case = "rotating"',
            'load_case = "twice-per-turn"',
            "load_case twice-per-turn does not go with 1 shaft: check both",
        ),
        (
            'orbit_direction = "clockwise"',
            "shafts = 2",
            "load_case rotating does not go with 2 shafts: check both",
        ),
    ],
)
def test_what_does_not_fit_together_is_a_caution(
    make_card: MakeCard, old: str, new: str, words: str
) -> None:
    card = make_card((old, new))
    (caution,) = card_check_dict(card)["cautions"]
    assert words in caution
    assert words in " ".join(card_check_text(card).split())


def test_two_shafts_move_along_a_line_and_have_no_sense(make_card: MakeCard) -> None:
    twin = ('load_case = "rotating"', 'load_case = "twice-per-turn"')
    kept = make_card(("[exciter]", "[exciter]\nshafts = 2"), twin)
    (caution,) = card_check_dict(kept)["cautions"]
    assert "take orbit_direction off" in caution
    right = make_card(('orbit_direction = "clockwise"', "shafts = 2"), twin)
    assert card_check_dict(right)["cautions"] == []
    assert not [line for line in card_check_dict(right)["not_judged"] if "orbit" in line]


def test_figures_that_do_fit_raise_no_caution(make_card: MakeCard) -> None:
    card = make_card(
        (
            "[exciter]",
            (
                "[guard]\nclearance_mm = 3.1\n[exciter]\nbody_mass_kg = 1000\nunbalance_kg_m = 3.0\n"
                "isolator_frequency_hz = 3.0"
            ),
        ),
        ("= 50.0", "= 2.5\nrange_g = 50\nusable_hz = [5, 10000]"),
    )
    assert card_check_dict(card)["cautions"] == []
    assert "swing the body through its isolators at about 180 r/min" in card_check_text(card)


def test_every_limit_stands_with_value_and_source(make_card: MakeCard) -> None:
    card = make_card(
        ("[[bearing]]", '[limits]\ndepth_hold = { value = 0.5, source = "F2" }\n[[bearing]]')
    )
    limits = {row["id"]: row for row in card_check_dict(card)["limits"]}
    assert limits["depth_hold"]["value"] == 0.5
    assert limits["depth_hold"]["source"].endswith("card.toml, F2")
    text = " ".join(card_check_text(card).split())
    for row in limits.values():
        assert f"{row['id']} = " in text
    assert "detectable_impact_hold_m_s2 = not applied" in text


def test_facts_are_json_and_lines_are_short(tmp_path: Path) -> None:
    path = tmp_path / "template.toml"
    path.write_text(card_template(), "utf-8")
    card = read_card(path)
    facts = card_check_dict(card)
    assert json.loads(json.dumps(facts, allow_nan=False)) == facts
    lines = frequencies_text(card).splitlines()
    assert max(map(len, lines)) <= 100
    assert card_check_text(card).endswith("\n")
