"""Rating life from a card: load, factors, what is missing, what is remarked."""

from collections.abc import Callable
from pathlib import Path

import pytest

from vibhealth.card import MachineCard, read_card
from vibhealth.errors import InputError
from vibhealth.model.outlook import BearingLife
from vibhealth.outlook.centrifugal_load import body_force_kn
from vibhealth.outlook.life_factors import modified_life_factor, reference_viscosity_mm2_s
from vibhealth.outlook.machine_life import LIFE_SENTENCE, bearing_lives
from vibhealth.outlook.oil_viscosity import viscosity_mm2_s
from vibhealth.outlook.rating_life import basic_rating_life_h

BEARING = """\
[[bearing]]
name = "{name}"
element_type = "roller"
element_count = 17
element_diameter_mm = 26.0
pitch_diameter_mm = 160.0
load_case = "rotating"
dynamic_load_rating_kn = 400.0
static_load_rating_kn = 540.0
"""
CARD = (
    """\
schema_version = 1
[machine]
id = "F3"
name = "Deck feeder F3"
nominal_speed_rpm = 978.0
[exciter]
stroke_mm = { x = 6.0, y = 6.0 }
body_mass_kg = 820.0
shafts = 1
[oil]
viscosity_40c_mm2_s = 220.0
viscosity_100c_mm2_s = 19.0
operating_temperature_c = 70.0
cleanliness = "normal-cleanliness"
"""
    + BEARING.format(name="upper")
    + BEARING.format(name="lower")
)
EXCITER = "[exciter]\nstroke_mm = { x = 6.0, y = 6.0 }\nbody_mass_kg = 820.0\nshafts = 1\n"
Make = Callable[..., MachineCard]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """Card with (old, new) texts exchanged wherever the old one stands."""

    def write(*changes: tuple[str, str]) -> MachineCard:
        text = CARD
        for old, new in changes:
            assert old in text, f"{old!r} must stand in the card"
            text = text.replace(old, new)
        path = tmp_path / "card.toml"
        path.write_text(text, "utf-8")
        return read_card(path)

    return write


def first(card: MachineCard, *, speed_rpm: float | None = None) -> BearingLife:
    return bearing_lives(card, speed_rpm=speed_rpm)[0]


def value(life: BearingLife, name: str) -> float:
    (found,) = [factor.value for factor in life.factors if factor.name == name]
    return found


def test_whole_chain_by_hand(make: Make) -> None:
    lives = bearing_lives(make())
    assert [life.bearing for life in lives] == ["upper", "lower"]
    load = 1.2 * body_force_kn(820.0, 3.0, 978.0) / 2
    kappa = viscosity_mm2_s(
        70.0, at_40c_mm2_s=220.0, at_100c_mm2_s=19.0
    ) / reference_viscosity_mm2_s(978.0, 160.0)
    limit = 540.0 / 8.2 * (100 / 160) ** 0.3
    factor = modified_life_factor(
        kappa, contamination=0.7, limit_over_load=limit / load, element="roller"
    )
    for life in lives:
        assert life.load_kn == pytest.approx(load)
        hours = basic_rating_life_h(400.0, load, speed_rpm=978.0, element="roller")
        assert life.l10h == pytest.approx(hours)
        assert life.kappa == pytest.approx(kappa)
        assert life.a_iso == pytest.approx(factor)
        assert life.lnmh == pytest.approx(hours * factor)
        assert life.missing == ()
        assert [remark[:30] for remark in life.remarks] == ["a_ISO is at the bound of the st"[:30]]


def test_every_number_that_went_in_is_listed_with_its_source(make: Make) -> None:
    life = first(make())
    assert [factor.name for factor in life.factors] == [
        "speed",
        "stroke radius",
        "force from stroke",
        "bearings that share the force",
        "machine factor",
        "equivalent load P",
        "rating C",
        "life exponent p",
        "reliability factor a1",
        "viscosity nu",
        "reference viscosity nu1",
        "kappa",
        "contamination e_C",
        "fatigue load limit Cu",
        "a_ISO",
    ]
    assert all(factor.source and factor.unit for factor in life.factors)


@pytest.mark.parametrize(
    ("element", "faster", "stroke"), [("roller", 0.688, 0.728), ("ball", 0.711, 0.751)]
)
def test_sensitivities_are_those_of_doing_it(
    make: Make, element: str, faster: float, stroke: float
) -> None:
    kind = ('element_type = "roller"', f'element_type = "{element}"')
    life = first(make(kind))
    hours = life.l10h or 0.0
    assert life.faster_5_percent == pytest.approx(faster, abs=5e-4)
    assert life.stroke_10_percent == pytest.approx(stroke, abs=5e-4)
    done = first(make(kind), speed_rpm=978.0 * 1.05).l10h or 0.0
    assert done / hours == pytest.approx(life.faster_5_percent)
    done = first(make(kind, ("{ x = 6.0, y = 6.0 }", "{ x = 6.6, y = 6.6 }"))).l10h or 0.0
    assert done / hours == pytest.approx(life.stroke_10_percent)


def test_stated_load_goes_before_the_derived_one(make: Make) -> None:
    life = first(make(('name = "upper"', 'name = "upper"\nequivalent_load_kn = 40.0')))
    assert life.load_kn == 40.0
    assert life.l10h == pytest.approx(
        basic_rating_life_h(400.0, 40.0, speed_rpm=978.0, element="roller")
    )
    # At another speed it is taken as it is, and that is said.
    card = make(('name = "upper"', 'name = "upper"\nequivalent_load_kn = 40.0'))
    faster = first(card, speed_rpm=1100.0)
    assert faster.load_kn == 40.0
    assert any("taken as it is, at 1100 as at 978 r/min" in line for line in faster.remarks)


def test_unbalance_alone_is_enough(make: Make) -> None:
    card = make(("body_mass_kg = 820.0", "unbalance_kg_m = 2.46"))
    assert first(card).load_kn == pytest.approx(first(make()).load_kn)
    without_stroke = make(
        (EXCITER, "[exciter]\nunbalance_kg_m = 2.46\nshafts = 1\n"),
    )
    assert first(without_stroke).load_kn == pytest.approx(first(make()).load_kn)


@pytest.mark.parametrize(
    ("unbalance", "deciding", "said"),
    [(2.0, 2.46, True), (3.0, 3.0, True), (2.6, 2.6, False), (2.3, 2.46, False)],
)
def test_of_two_loads_the_larger_decides(
    make: Make, unbalance: float, deciding: float, said: bool
) -> None:
    card = make(("body_mass_kg = 820.0", f"body_mass_kg = 820.0\nunbalance_kg_m = {unbalance}"))
    life = first(card)
    alone = first(make(("body_mass_kg = 820.0", f"unbalance_kg_m = {deciding}")))
    assert life.load_kn == pytest.approx(alone.load_kn)
    assert any("more than 10 % apart" in line for line in life.remarks) is said


def test_radius_of_the_path(make: Make) -> None:
    stroke = "{ x = 6.0, y = 6.0 }"
    assert value(first(make((stroke, "{ x = 6.0, y = 4.0 }"))), "stroke radius") == 2.5
    assert value(first(make((stroke, "{ x = 6.0 }"))), "stroke radius") == 3.0
    assert value(first(make((stroke, "{ x = 6.0, y = 4.0, z = 9.0 }"))), "stroke radius") == 2.5
    line = make((stroke, "{ x = 6.0, y = 8.0 }"), ("shafts = 1", "shafts = 2"))
    assert value(first(line), "stroke radius") == pytest.approx(5.0)


def test_two_shafts_say_what_is_simplified(make: Make) -> None:
    remarks = " ".join(first(make(("shafts = 1", "shafts = 2"))).remarks)
    assert "largest across the line of motion" in remarks
    assert "usually run in four bearings" in remarks


def test_frame_bearings_do_not_share_the_force(make: Make) -> None:
    frame = BEARING.format(name="lower").replace('"rotating"', '"stationary"')
    inner, outer = bearing_lives(make((BEARING.format(name="lower"), frame)))
    assert inner.load_kn == pytest.approx(2 * (first(make()).load_kn or 0))
    assert any("lists one bearing" in line for line in inner.remarks)
    assert outer.load_kn is None
    assert outer.l10h is None
    assert outer.missing == ("bearing.equivalent_load_kn",)
    assert (outer.faster_5_percent, outer.stroke_10_percent) == (None, None)
    assert outer.kappa == inner.kappa


@pytest.mark.parametrize(
    ("old", "new", "missing"),
    [
        ("body_mass_kg = 820.0\n", "", ("exciter.body_mass_kg",)),
        ("stroke_mm = { x = 6.0, y = 6.0 }\n", "", ("exciter.stroke_mm",)),
        ("{ x = 6.0, y = 6.0 }", "{ z = 6.0 }", ("exciter.stroke_mm",)),
        (EXCITER, "", ("bearing.equivalent_load_kn",)),
        ("dynamic_load_rating_kn = 400.0\n", "", ("bearing.dynamic_load_rating_kn",)),
    ],
)
def test_no_life_without_load_or_rating(
    make: Make, old: str, new: str, missing: tuple[str, ...]
) -> None:
    life = first(make((old, new)))
    assert (life.l10h, life.lnmh) == (None, None)
    assert life.missing == missing
    assert life.kappa is not None


@pytest.mark.parametrize(
    ("old", "missing"),
    [
        ('cleanliness = "normal-cleanliness"\n', "oil.cleanliness"),
        ("operating_temperature_c = 70.0\n", "oil.operating_temperature_c"),
        ("static_load_rating_kn = 540.0\n", "bearing.static_load_rating_kn"),
        ("viscosity_40c_mm2_s = 220.0\n", "oil.viscosity_40c_mm2_s"),
    ],
)
def test_only_the_basic_life_without_oil_dirt_or_c0(make: Make, old: str, missing: str) -> None:
    life = first(make((old, "")))
    assert life.l10h == pytest.approx(first(make()).l10h)
    assert (life.lnmh, life.a_iso) == (None, None)
    assert life.missing == (missing,)
    assert f"Only the basic life, without oil and dirt: the card lacks {missing}." in life.remarks


def test_without_an_oil_table_all_its_keys_are_named(make: Make) -> None:
    start = CARD.index("[oil]")
    oil = CARD[start : CARD.index("[[bearing]]")]
    assert first(make((oil, ""))).missing == (
        "oil.viscosity_40c_mm2_s",
        "oil.operating_temperature_c",
        "oil.cleanliness",
    )


def test_fatigue_limit_of_the_card_goes_before_the_rule(make: Make) -> None:
    line = "static_load_rating_kn = 540.0"
    life = first(make((line, f"{line}\nfatigue_load_limit_kn = 3.0")))
    assert value(life, "fatigue load limit Cu") == 3.0
    assert (life.a_iso or 0) < (first(make()).a_iso or 0)


def test_hot_viscosity_assumed_and_said(make: Make) -> None:
    life = first(make(("viscosity_100c_mm2_s = 19.0\n", "")))
    assert life.a_iso is not None
    assert any("viscosity index 95 is assumed" in line for line in life.remarks)


def test_oil_too_thin_for_the_standard_leaves_the_basic_life(make: Make) -> None:
    thin = make(
        ("viscosity_40c_mm2_s = 220.0", "viscosity_40c_mm2_s = 10.0"),
        ("viscosity_100c_mm2_s = 19.0", "viscosity_100c_mm2_s = 2.6"),
    )
    life = first(thin, speed_rpm=10.0)
    assert life.l10h is not None
    assert (life.a_iso, life.lnmh) == (None, None)
    assert (life.kappa or 1.0) < 0.1
    assert any("kappa must be 0.1 or more" in line for line in life.remarks)


@pytest.mark.parametrize(("rating", "element"), [(400.0, "ball"), (10.0, "roller")])
def test_unknown_element_takes_the_shorter_life(make: Make, rating: float, element: str) -> None:
    at_rating = ("dynamic_load_rating_kn = 400.0", f"dynamic_load_rating_kn = {rating}")
    life = first(make(('element_type = "roller"\n', ""), at_rating))
    both = {
        kind: first(make(('"roller"', f'"{kind}"'), at_rating)).l10h or 0.0
        for kind in ("ball", "roller")
    }
    assert life.l10h == pytest.approx(min(both.values()))
    assert both[element] == min(both.values()) < max(both.values())
    assert life.missing == ("bearing.element_type",)
    assert any(f"that of a {element} bearing" in line for line in life.remarks)
    assert life.lnmh is None


def test_load_above_half_the_rating_is_remarked(make: Make) -> None:
    line = "dynamic_load_rating_kn = 400.0"
    heavy = first(make((line, "dynamic_load_rating_kn = 30.0")))
    assert heavy.load_kn is not None
    enough = f"dynamic_load_rating_kn = {2.01 * heavy.load_kn:.2f}"
    too_little = f"dynamic_load_rating_kn = {1.99 * heavy.load_kn:.2f}"
    assert "holds up to half" in " ".join(first(make((line, too_little))).remarks)
    assert "holds up to half" not in " ".join(first(make((line, enough))).remarks)


def test_ordinary_machine_with_a_stated_load(make: Make) -> None:
    card = make((EXCITER, ""), ('name = "upper"', 'name = "upper"\nequivalent_load_kn = 40.0'))
    life = first(card)
    assert life.faster_5_percent == pytest.approx(1 / 1.05)
    assert life.stroke_10_percent is None


def test_orders_instead_of_geometry_say_how_to_count_oil(make: Make) -> None:
    geometry = "element_diameter_mm = 26.0\npitch_diameter_mm = 160.0\n"
    orders = "orders = { outer_ring = 7.12, inner_ring = 9.88 }\n"
    life = first(make((geometry, orders)))
    assert life.l10h is not None
    assert life.kappa is None
    assert life.missing == ("bearing.pitch_diameter_mm",)
    assert any("give the geometry instead" in line for line in life.remarks)


def test_no_bearing_no_life(make: Make) -> None:
    card = make((BEARING.format(name="upper"), ""), (BEARING.format(name="lower"), ""))
    assert bearing_lives(card) == ()


@pytest.mark.parametrize("speed", [0.0, -5.0, float("nan")])
def test_speed_is_refused(make: Make, speed: float) -> None:
    with pytest.raises(InputError, match="speed_rpm must be a finite number above 0"):
        bearing_lives(make(), speed_rpm=speed)


def test_the_sentence_says_what_it_does_not_say() -> None:
    assert "It says nothing about this one." in LIFE_SENTENCE


def test_a_factor_at_the_bound_of_the_standard_is_said(make: Make) -> None:
    """ISO 281:2007: a_ISO is not above 50."""
    line = "static_load_rating_kn = 540.0"
    light = first(make((line, f"{line}\nfatigue_load_limit_kn = 90.0")))
    assert light.a_iso == 50.0
    assert any("bound of the standard (50)" in remark for remark in light.remarks)
    heavy = first(make((line, f"{line}\nfatigue_load_limit_kn = 3.0")))
    assert not any("bound of the standard" in remark for remark in heavy.remarks)
