"""Factors of the modified rating life: reliability, lubrication, dirt.

Formulas of ISO 281:2007, read second hand, as two design codes quote them alike.
Kappa from a maker's diagram differs from kappa by the formula by up to 16 %, and makers' own
life factors are on another scale than a_ISO: never mix them.
"""

import math
from typing import Literal, get_args

from vibhealth._check import check_positive
from vibhealth.errors import InputError
from vibhealth.outlook.rating_life import ElementType, life_exponent

__all__ = [
    "LARGEST_A_ISO",
    "Cleanliness",
    "contamination_factor",
    "contamination_range",
    "fatigue_load_limit_kn",
    "modified_life_factor",
    "reference_viscosity_mm2_s",
    "reliability_factor",
]

Cleanliness = Literal[
    "extreme-cleanliness",
    "high-cleanliness",
    "normal-cleanliness",
    "slight-contamination",
    "typical-contamination",
    "severe-contamination",
    "very-severe-contamination",
]

WEIBULL_SLOPE = 1.5
# Share of L10 that practically every bearing reaches; 0 in the edition of 1990.
LOCATION: dict[int, float] = {1990: 0.0, 2007: 0.05}
HIGHEST_RELIABILITY = {1990: 99.0, 2007: 99.95}
LARGEST_A_ISO = 50.0
LARGEST_A_ISO_WITH_ADDITIVES = 3.0
SMALLEST_KAPPA, LARGEST_KAPPA = 0.1, 4.0
# ISO 281:2007 table 13, as in SKF brochure 5108 E p. 16: (low, high) below 100 mm, from 100 mm.
CONTAMINATION: dict[Cleanliness, tuple[tuple[float, float], tuple[float, float]]] = {
    "extreme-cleanliness": ((1.0, 1.0), (1.0, 1.0)),
    "high-cleanliness": ((0.6, 0.8), (0.8, 0.9)),
    "normal-cleanliness": ((0.5, 0.6), (0.6, 0.8)),
    "slight-contamination": ((0.3, 0.5), (0.4, 0.6)),
    "typical-contamination": ((0.1, 0.3), (0.2, 0.4)),
    "severe-contamination": ((0.0, 0.1), (0.0, 0.1)),
    "very-severe-contamination": ((0.0, 0.0), (0.0, 0.0)),  # from memory
}
# Upper end of kappa, constant, factor, exponent of kappa: ISO 281:2007 eq. (31) to (36).
LUBRICATION: dict[ElementType, tuple[tuple[float, float, float, float], ...]] = {
    "ball": (
        (0.4, 2.5671, 2.2649, 0.054381),
        (1.0, 2.5671, 1.9987, 0.19087),
        (LARGEST_KAPPA, 2.5671, 1.9987, 0.071739),
    ),
    "roller": (
        (0.4, 1.5859, 1.3993, 0.054381),
        (1.0, 1.5859, 1.2348, 0.19087),
        (LARGEST_KAPPA, 1.5859, 1.2348, 0.071739),
    ),
}
# Power of the lubrication term, of e_C Cu / P, and of the bracket.
POWERS: dict[ElementType, tuple[float, float, float]] = {
    "ball": (0.83, 1.0 / 3.0, -9.3),
    "roller": (1.0, 0.4, -9.185),
}
# C0 / Cu up to 100 mm pitch diameter, and how it changes above: ISO 281:2007 eq. (B.18) to (B.21).
FATIGUE_LIMIT: dict[ElementType, tuple[float, float]] = {"ball": (22.0, 0.5), "roller": (8.2, 0.3)}


def reliability_factor(reliability_percent: float, *, edition: Literal[1990, 2007] = 2007) -> float:
    """Life factor a1 for a higher reliability than 90 %.

    Parameters
    ----------
    reliability_percent : float
        Share of bearings that reach the life, in per cent; 90 to 99.95, in 1990 to 99.
    edition : {2007, 1990}
        Edition of ISO 281 whose table is meant: they differ (95 %: 0.64 and 0.62).

    Returns
    -------
    float
        a1, 1 at 90 %.

    Raises
    ------
    InputError
        Outside the range, or for another edition.

    Notes
    -----
    Weibull distribution of slope 1.5, ``(1 - c) (ln(100/S) / ln(100/90))^(1/1.5) + c`` with
    c = 0.05 in 2007 and 0 in 1990: constants from memory; they reproduce both tables.

    Examples
    --------
    >>> reliability_factor(95.0)
    0.638
    >>> reliability_factor(95.0, edition=1990)
    0.619
    """
    if edition not in LOCATION:
        msg = f"edition must be 1990 or 2007, got {edition}"
        raise InputError(msg)
    highest = HIGHEST_RELIABILITY[edition]
    if not 90.0 <= reliability_percent <= highest:
        msg = f"reliability_percent must lie between 90 and {highest:g}, got {reliability_percent}"
        raise InputError(msg)
    ratio = math.log(100.0 / reliability_percent) / math.log(100.0 / 90.0)
    return float((1.0 - LOCATION[edition]) * ratio ** (1.0 / WEIBULL_SLOPE) + LOCATION[edition])


def reference_viscosity_mm2_s(speed_rpm: float, pitch_diameter_mm: float) -> float:
    """Reference viscosity nu1, which just parts the surfaces.

    Parameters
    ----------
    speed_rpm : float
        Shaft speed in r/min, above 0.
    pitch_diameter_mm : float
        Pitch diameter Dpw in mm, above 0.

    Returns
    -------
    float
        nu1 in mm^2/s; kappa is the working viscosity over it.

    Raises
    ------
    InputError
        For a value that is not above 0.

    Notes
    -----
    ISO 281:2007 eq. (28) and (29): ``45000 n^-0.83 Dpw^-0.5`` below 1000 r/min, from there
    ``4500 n^-0.5 Dpw^-0.5``. The two do not meet: nu1 drops by 2.3 % at 1000 r/min. Makers'
    diagrams give other values (8.15 instead of 9.65 at 3000 r/min and 72.5 mm).

    Examples
    --------
    >>> reference_viscosity_mm2_s(3000.0, 72.5)
    9.649
    """
    speed = check_positive(speed_rpm, name="speed_rpm")
    pitch = check_positive(pitch_diameter_mm, name="pitch_diameter_mm")
    at_speed = 45000.0 * speed**-0.83 if speed < 1000 else 4500.0 * speed**-0.5
    return float(at_speed * pitch**-0.5)


def contamination_range(cleanliness: Cleanliness, pitch_diameter_mm: float) -> tuple[float, float]:
    """Range of the contamination factor e_C for a word about the oil.

    Parameters
    ----------
    cleanliness : Cleanliness
        Word of ISO 281:2007 table 13.
    pitch_diameter_mm : float
        Pitch diameter in mm, above 0; larger bearings suffer less.

    Returns
    -------
    tuple of float
        Low and high end.

    Raises
    ------
    InputError
        For another word, or a diameter not above 0.

    Examples
    --------
    >>> contamination_range("normal-cleanliness", 160.0)
    (0.6, 0.8)
    """
    if cleanliness not in CONTAMINATION:
        msg = f"cleanliness must be one of {', '.join(get_args(Cleanliness))}, got {cleanliness!r}"
        raise InputError(msg)
    pitch = check_positive(pitch_diameter_mm, name="pitch_diameter_mm")
    return CONTAMINATION[cleanliness][0 if pitch < 100 else 1]


def contamination_factor(cleanliness: Cleanliness, pitch_diameter_mm: float) -> float:
    """Middle of the range of e_C for a word about the oil.

    Parameters
    ----------
    cleanliness : Cleanliness
        Word of ISO 281:2007 table 13.
    pitch_diameter_mm : float
        Pitch diameter in mm, above 0.

    Returns
    -------
    float
        e_C, 0 to 1. The table gives ranges; taking the middle: common practice, no source.

    Raises
    ------
    InputError
        For another word, or a diameter not above 0.

    Examples
    --------
    >>> contamination_factor("typical-contamination", 160.0)
    0.3
    """
    low, high = contamination_range(cleanliness, pitch_diameter_mm)
    return (low + high) / 2.0


def fatigue_load_limit_kn(
    static_rating_kn: float, pitch_diameter_mm: float, *, element: ElementType
) -> float:
    """Fatigue load limit Cu where the catalogue gives none.

    Parameters
    ----------
    static_rating_kn : float
        Basic static load rating C0 in kN, above 0.
    pitch_diameter_mm : float
        Pitch diameter Dpw in mm, above 0.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        Cu in kN.

    Raises
    ------
    InputError
        For a value that is not above 0, or another element.

    Notes
    -----
    ISO 281:2007 eq. (B.18) to (B.21): C0 / 22 (ball), C0 / 8.2 (roller); above 100 mm times
    ``(100 / Dpw)^0.5`` (ball), ``^0.3`` (roller).

    Examples
    --------
    >>> fatigue_load_limit_kn(540.0, 160.0, element="roller")
    57.19
    """
    life_exponent(element)  # refuses another element
    divisor, power = FATIGUE_LIMIT[element]
    pitch = check_positive(pitch_diameter_mm, name="pitch_diameter_mm")
    limit = check_positive(static_rating_kn, name="static_rating_kn") / divisor
    return float(limit * min(1.0, 100.0 / pitch) ** power)


def modified_life_factor(
    kappa: float,
    *,
    contamination: float,
    limit_over_load: float,
    element: ElementType,
    additives_proven: bool = False,
) -> float:
    """Life factor a_ISO for lubrication and dirt, of a radial bearing.

    Parameters
    ----------
    kappa : float
        Working over reference viscosity; 0.1 or more, above 4 taken as 4.
    contamination : float
        e_C, 0 to 1.
    limit_over_load : float
        Cu / P, above 0.
    element : {"ball", "roller"}
        Kind of rolling element.
    additives_proven : bool
        Extreme-pressure additives whose effect is proven: kappa below 1 with e_C of 0.2 or more
        counts as 1, a_ISO then at most 3 (9.3.3.4). Never assumed.

    Returns
    -------
    float
        a_ISO, 0.1 to 50.

    Raises
    ------
    InputError
        For kappa below 0.1, e_C outside 0 to 1, Cu / P not above 0, or another element.

    Notes
    -----
    ISO 281:2007 eq. (31) to (36) with ``x = e_C Cu / P``; the branches meet at kappa 0.4 (ball
    2.3806, roller 1.4708) and at 1.

    Examples
    --------
    >>> modified_life_factor(2.0, contamination=0.5, limit_over_load=0.2, element="roller")
    0.516
    """
    life_exponent(element)  # refuses another element
    if not (math.isfinite(kappa) and kappa >= SMALLEST_KAPPA):
        msg = (
            f"kappa must be 0.1 or more for ISO 281 to hold, got {kappa:.3g}; "
            "the oil is too thin for this speed and size"
        )
        raise InputError(msg)
    if not 0.0 <= contamination <= 1.0:
        msg = f"contamination must lie between 0 and 1, got {contamination}"
        raise InputError(msg)
    load_term = contamination * check_positive(limit_over_load, name="limit_over_load")
    factor = _a_iso(min(kappa, LARGEST_KAPPA), load_term, element)
    if additives_proven and kappa < 1.0 and contamination >= 0.2:
        with_film = min(_a_iso(1.0, load_term, element), LARGEST_A_ISO_WITH_ADDITIVES)
        return max(factor, with_film)
    return factor


def _a_iso(kappa: float, load_term: float, element: ElementType) -> float:
    bracket = 1.0 - lubrication_term(kappa, element) * load_term ** POWERS[element][1]
    if bracket <= 0.0:
        return LARGEST_A_ISO
    return float(min(0.1 * bracket ** POWERS[element][2], LARGEST_A_ISO))


def lubrication_term(kappa: float, element: ElementType) -> float:
    """What multiplies the load term in the bracket of a_ISO; 0 or more.

    Parameters
    ----------
    kappa : float
        Viscosity ratio, 0.1 to 4.
    element : {"ball", "roller"}
        Kind of rolling element.

    Returns
    -------
    float
        Without unit, 0 at kappa 0.1 (a tiny negative number there is taken as 0).
    """
    rows = LUBRICATION[element]
    # A branch reaches up to, without, its upper end; the last one includes it.
    row = next((row for row in rows if kappa < row[0]), rows[-1])
    _, constant, factor, exponent = row
    return float(max(0.0, constant - factor / kappa**exponent) ** POWERS[element][0])
