"""Basic rating life: closed form, scaling, inverse, refusals."""

import math

import pytest

from vibhealth.errors import InputError
from vibhealth.outlook.rating_life import (
    ElementType,
    basic_rating_life_h,
    basic_rating_life_mrev,
    hours_from_mrev,
    life_exponent,
    life_index,
    required_dynamic_rating_kn,
    speed_index,
)

BOTH: list[ElementType] = ["ball", "roller"]


@pytest.mark.parametrize(("element", "life"), [("ball", 8.0), ("roller", 2.0 ** (10 / 3))])
def test_half_the_load_of_the_rating(element: ElementType, life: float) -> None:
    assert basic_rating_life_mrev(20.0, 10.0, element=element) == pytest.approx(life)


@pytest.mark.parametrize("element", BOTH)
def test_at_the_rating_a_bearing_lasts_500_hours_at_33_and_a_third(element: ElementType) -> None:
    life = basic_rating_life_h(10.0, 10.0, speed_rpm=100 / 3, element=element)
    assert life == pytest.approx(500.0)
    assert life_index(500.0, element=element) == 1.0
    assert speed_index(100 / 3, element=element) == pytest.approx(1.0)


@pytest.mark.parametrize("element", BOTH)
def test_required_rating_is_the_inverse_of_the_life(element: ElementType) -> None:
    rating = required_dynamic_rating_kn(50.0, life_h=12_345.0, speed_rpm=870.0, element=element)
    life = basic_rating_life_h(rating, 50.0, speed_rpm=870.0, element=element)
    assert life == pytest.approx(12_345.0)


@pytest.mark.parametrize("element", BOTH)
def test_ten_per_cent_more_load(element: ElementType) -> None:
    lives = [basic_rating_life_mrev(400.0, load, element=element) for load in (50.0, 55.0)]
    assert lives[1] / lives[0] == pytest.approx(1.1 ** -life_exponent(element))


def test_hours_go_with_one_over_speed() -> None:
    assert hours_from_mrev(60.0, speed_rpm=1000.0) == pytest.approx(1000.0)
    assert hours_from_mrev(60.0, speed_rpm=500.0) == pytest.approx(2000.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_what_is_not_above_zero_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="dynamic_rating_kn must be"):
        basic_rating_life_mrev(bad, 1.0, element="ball")
    with pytest.raises(InputError, match="load_kn must be"):
        basic_rating_life_mrev(1.0, bad, element="ball")
    with pytest.raises(InputError, match="speed_rpm must be"):
        hours_from_mrev(1.0, speed_rpm=bad)
    with pytest.raises(InputError, match="life_h must be"):
        life_index(bad, element="roller")
    with pytest.raises(InputError, match="load_kn must be"):
        required_dynamic_rating_kn(bad, life_h=1.0, speed_rpm=1.0, element="ball")


def test_another_element_is_refused() -> None:
    with pytest.raises(InputError, match="element must be 'ball' or 'roller', got 'needle'"):
        life_exponent("needle")  # type: ignore[arg-type]
