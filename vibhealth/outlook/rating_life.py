"""Basic rating life: how many turns nine in ten of many such bearings survive.

ISO 281:2007 (from memory): ``L10 = (C / P)^p`` million revolutions, with p = 3 for ball and
10/3 for roller bearings. C differs by maker and edition of the catalogue: it belongs to the
card, never to a table here. ISO 281 knows no factor for a turning outer ring.
"""

from typing import Literal

from vibhealth._check import check_positive
from vibhealth.errors import InputError

__all__ = [
    "ElementType",
    "basic_rating_life_h",
    "basic_rating_life_mrev",
    "hours_from_mrev",
    "life_exponent",
    "life_index",
    "required_dynamic_rating_kn",
    "speed_index",
]

ElementType = Literal["ball", "roller"]

EXPONENTS: dict[ElementType, float] = {"ball": 3.0, "roller": 10.0 / 3.0}
REFERENCE_LIFE_H = 500.0
# Turns at this speed for 500 hours are one million.
REFERENCE_SPEED_RPM = 1e6 / (60.0 * REFERENCE_LIFE_H)


def life_exponent(element: ElementType) -> float:
    """Exponent p of the load ratio in the rating life.

    Parameters
    ----------
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        3 for ball, 10/3 for roller bearings (ISO 281:2007, from memory).

    Raises
    ------
    InputError
        For another word.

    Examples
    --------
    >>> life_exponent("ball")
    3.0
    """
    if element not in EXPONENTS:
        msg = f"element must be 'ball' or 'roller', got {element!r}"
        raise InputError(msg)
    return EXPONENTS[element]


def basic_rating_life_mrev(
    dynamic_rating_kn: float, load_kn: float, *, element: ElementType
) -> float:
    """L10 in million revolutions, ``(C / P)^p``.

    Parameters
    ----------
    dynamic_rating_kn : float
        Basic dynamic load rating C in kN, above 0.
    load_kn : float
        Dynamic equivalent load P in kN, above 0. The formula holds up to about C / 2.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        Life that 90 % of many such bearings reach, in million revolutions.

    Raises
    ------
    InputError
        For a value that is not above 0, or another element.

    Notes
    -----
    ISO 281:2007 (from memory).

    Examples
    --------
    >>> basic_rating_life_mrev(55.3, 10.0, element="ball")
    169.11
    """
    ratio = check_positive(dynamic_rating_kn, name="dynamic_rating_kn") / check_positive(
        load_kn, name="load_kn"
    )
    return float(ratio ** life_exponent(element))


def hours_from_mrev(life_mrev: float, *, speed_rpm: float) -> float:
    """Hours that a number of million revolutions last at a speed.

    Parameters
    ----------
    life_mrev : float
        Life in million revolutions, above 0.
    speed_rpm : float
        Shaft speed in r/min, above 0.

    Returns
    -------
    float
        Hours, ``10^6 life / (60 n)``.

    Raises
    ------
    InputError
        For a value that is not above 0.

    Examples
    --------
    >>> hours_from_mrev(1.0, speed_rpm=1000.0)
    16.6667
    """
    turns = 1e6 * check_positive(life_mrev, name="life_mrev")
    return turns / (60.0 * check_positive(speed_rpm, name="speed_rpm"))


def basic_rating_life_h(
    dynamic_rating_kn: float, load_kn: float, *, speed_rpm: float, element: ElementType
) -> float:
    """L10h, the rating life in hours.

    Parameters
    ----------
    dynamic_rating_kn, load_kn : float
        C and P in kN, above 0.
    speed_rpm : float
        Shaft speed in r/min, above 0.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        Hours that 90 % of many such bearings reach (ISO 281:2007, from memory).

    Raises
    ------
    InputError
        For a value that is not above 0, or another element.

    Examples
    --------
    >>> basic_rating_life_h(55.3, 10.0, speed_rpm=3000.0, element="ball")
    939.5
    """
    life_mrev = basic_rating_life_mrev(dynamic_rating_kn, load_kn, element=element)
    return hours_from_mrev(life_mrev, speed_rpm=speed_rpm)


def life_index(life_h: float, *, element: ElementType) -> float:
    """Life factor fL (fh) of the bearing handbooks, ``(Lh / 500 h)^(1/p)``.

    Parameters
    ----------
    life_h : float
        Wanted life in hours, above 0.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        1 at 500 hours (FAG, The Design of Rolling Bearing Mountings, WL 00 200/5).

    Raises
    ------
    InputError
        For a value that is not above 0, or another element.

    Examples
    --------
    >>> life_index(10_000.0, element="ball")
    2.7144
    """
    ratio = check_positive(life_h, name="life_h") / REFERENCE_LIFE_H
    return float(ratio ** (1.0 / life_exponent(element)))


def speed_index(speed_rpm: float, *, element: ElementType) -> float:
    """Speed factor fn of the bearing handbooks, ``(33.33 r/min / n)^(1/p)``.

    Parameters
    ----------
    speed_rpm : float
        Shaft speed in r/min, above 0.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        1 at 33.33 r/min (FAG, The Design of Rolling Bearing Mountings, WL 00 200/5).

    Raises
    ------
    InputError
        For a value that is not above 0, or another element.

    Examples
    --------
    >>> speed_index(1200.0, element="roller")
    0.34128
    """
    ratio = REFERENCE_SPEED_RPM / check_positive(speed_rpm, name="speed_rpm")
    return float(ratio ** (1.0 / life_exponent(element)))


def required_dynamic_rating_kn(
    load_kn: float, *, life_h: float, speed_rpm: float, element: ElementType
) -> float:
    """Load rating C that a wanted life needs, ``(fL / fn) P``.

    Parameters
    ----------
    load_kn : float
        Dynamic equivalent load P in kN, above 0.
    life_h : float
        Wanted rating life in hours, above 0.
    speed_rpm : float
        Shaft speed in r/min, above 0.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        C in kN, the inverse of `basic_rating_life_h`.

    Raises
    ------
    InputError
        For a value that is not above 0, or another element.

    Examples
    --------
    >>> required_dynamic_rating_kn(101.4, life_h=14_000, speed_rpm=1200, element="roller")
    807.4
    """
    fl = life_index(life_h, element=element)
    return fl / speed_index(speed_rpm, element=element) * check_positive(load_kn, name="load_kn")
