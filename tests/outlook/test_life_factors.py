"""Factors of the modified life: continuity, caps, guards, refusals."""

import math
from typing import get_args

import pytest

from vibhealth.card import Oil
from vibhealth.errors import InputError
from vibhealth.outlook.life_factors import (
    Cleanliness,
    contamination_factor,
    contamination_range,
    fatigue_load_limit_kn,
    modified_life_factor,
    reference_viscosity_mm2_s,
    reliability_factor,
)
from vibhealth.outlook.rating_life import ElementType

BOTH: list[ElementType] = ["ball", "roller"]


def a_iso(kappa: float, x: float, element: ElementType, *, additives: bool = False) -> float:
    return modified_life_factor(
        kappa,
        contamination=0.5,
        limit_over_load=2 * x,
        element=element,
        additives_proven=additives,
    )


@pytest.mark.parametrize("edition", [1990, 2007])
def test_ninety_per_cent_is_the_rating_life_itself(edition: int) -> None:
    assert reliability_factor(90.0, edition=edition) == pytest.approx(1.0)  # type: ignore[arg-type]


def test_practically_every_bearing_reaches_a_twentieth_of_the_rating_life() -> None:
    assert reliability_factor(99.95) > 0.05
    # 1 - S = 0.0005: 0.05 + 0.95 (0.0005 / 0.10536)^(2/3)
    assert reliability_factor(99.95) == pytest.approx(0.07684, abs=1e-4)


def test_reliability_refusals() -> None:
    for percent in (89.9, 100.0, math.nan, 0.95):
        with pytest.raises(InputError, match=r"between 90 and 99\.95"):
            reliability_factor(percent)
    with pytest.raises(InputError, match="between 90 and 99, got"):
        reliability_factor(99.5, edition=1990)
    with pytest.raises(InputError, match="edition must be 1990 or 2007"):
        reliability_factor(95.0, edition=2000)  # type: ignore[arg-type]


def test_reference_viscosity_scales_and_steps() -> None:
    at = reference_viscosity_mm2_s
    assert at(3000.0, 400.0) == pytest.approx(at(3000.0, 100.0) / 2)
    assert at(4000.0, 100.0) == pytest.approx(at(1000.0, 100.0) / 2)
    assert at(200.0, 100.0) == pytest.approx(at(400.0, 100.0) * 2**0.83)
    below, above = at(math.nextafter(1000.0, 0.0), 100.0), at(1000.0, 100.0)
    assert above / below == pytest.approx(1 - 0.0228, abs=1e-4)  # ISO 281's own step
    with pytest.raises(InputError, match="pitch_diameter_mm must be"):
        at(1000.0, 0.0)


def test_words_of_the_card_are_the_words_of_the_table() -> None:
    for word in get_args(Cleanliness):
        assert Oil(cleanliness=word).cleanliness == word
        for pitch in (99.9, 100.0):
            low, high = contamination_range(word, pitch)
            assert 0 <= low <= high <= 1
            assert contamination_factor(word, pitch) == pytest.approx((low + high) / 2)
    with pytest.raises(InputError, match="cleanliness must be one of extreme"):
        contamination_factor("spotless", 50.0)  # type: ignore[arg-type]


@pytest.mark.parametrize("pitch", [99.0, 160.0])
def test_dirtier_never_counts_for_more(pitch: float) -> None:
    factors = [contamination_factor(word, pitch) for word in get_args(Cleanliness)]
    assert factors == sorted(factors, reverse=True)


@pytest.mark.parametrize(
    ("element", "small", "factor"), [("ball", 10.0, 0.5), ("roller", 220 / 8.2, 4**-0.3)]
)
def test_fatigue_load_limit(element: ElementType, small: float, factor: float) -> None:
    for pitch in (40.0, 100.0):
        assert fatigue_load_limit_kn(220.0, pitch, element=element) == pytest.approx(small)
    large = fatigue_load_limit_kn(220.0, 400.0, element=element)
    assert large == pytest.approx(small * factor)
    with pytest.raises(InputError, match="static_rating_kn must be"):
        fatigue_load_limit_kn(0.0, 100.0, element=element)


@pytest.mark.parametrize("element", BOTH)
def test_at_kappa_a_tenth_oil_gives_the_least(element: ElementType) -> None:
    # The bracket's inner term is next to 0 there, of either sign: never a complex number.
    assert a_iso(0.1, 0.3, element) == pytest.approx(0.1, rel=0.005)


@pytest.mark.parametrize("element", BOTH)
@pytest.mark.parametrize("kappa", [0.1, 0.3, 0.7, 2.0, 4.0])
def test_only_dirt_gives_the_least(element: ElementType, kappa: float) -> None:
    found = modified_life_factor(kappa, contamination=0.0, limit_over_load=1.0, element=element)
    assert found == pytest.approx(0.1)


@pytest.mark.parametrize("element", BOTH)
def test_it_rises_with_oil_and_with_cleanliness(element: ElementType) -> None:
    over_kappa = [a_iso(kappa, 0.1, element) for kappa in (0.2, 0.39, 0.41, 0.9, 1.1, 3.9)]
    over_load = [a_iso(0.8, x, element) for x in (0.01, 0.05, 0.2, 0.3)]
    assert over_kappa == sorted(over_kappa)
    assert over_load == sorted(over_load)
    assert over_kappa[0] < over_kappa[-1]
    assert over_load[0] < over_load[-1]


@pytest.mark.parametrize("element", BOTH)
def test_branches_meet_at_one(element: ElementType) -> None:
    below, above = (a_iso(kappa, 0.1, element) for kappa in (math.nextafter(1.0, 0.0), 1.0))
    assert above == pytest.approx(below, rel=1e-9)


@pytest.mark.parametrize("element", BOTH)
def test_caps(element: ElementType) -> None:
    assert a_iso(4.0, 10.0, element) == 50.0  # bracket below zero
    assert a_iso(9.0, 0.1, element) == a_iso(4.0, 0.1, element)
    assert a_iso(4.0, 0.1, element) > a_iso(3.0, 0.1, element)
    # Just before the bracket reaches zero the power alone passes 50.
    assert a_iso(1.0, 0.9 * (1.0 if element == "ball" else 6.0), element) == 50.0


def test_additives_count_only_when_asked_and_clean_enough() -> None:
    plain, proven = (a_iso(0.4, 0.1, "ball", additives=given) for given in (False, True))
    assert proven == pytest.approx(a_iso(1.0, 0.1, "ball"))
    assert proven > plain
    assert a_iso(0.4, 0.5, "ball", additives=True) == 3.0  # kappa 1 alone would give 50
    assert a_iso(0.9, 0.5, "ball", additives=True) == a_iso(0.9, 0.5, "ball") > 3.0
    dirty = modified_life_factor(
        0.4, contamination=0.19, limit_over_load=1.0, element="ball", additives_proven=True
    )
    assert dirty == modified_life_factor(
        0.4, contamination=0.19, limit_over_load=1.0, element="ball"
    )
    assert a_iso(1.5, 0.1, "ball", additives=True) == a_iso(1.5, 0.1, "ball")


def test_a_iso_refusals() -> None:
    for kappa in (0.0999, -1.0, math.nan):
        with pytest.raises(InputError, match=r"kappa must be 0\.1 or more.*too thin"):
            a_iso(kappa, 0.1, "ball")
    with pytest.raises(InputError, match="contamination must lie between 0 and 1"):
        modified_life_factor(1.0, contamination=1.1, limit_over_load=1.0, element="ball")
    with pytest.raises(InputError, match="limit_over_load must be"):
        modified_life_factor(1.0, contamination=0.5, limit_over_load=0.0, element="ball")
