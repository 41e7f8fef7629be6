"""Kinematic viscosity of an oil at its working temperature."""

import bisect
import math

from vibhealth._check import check_positive
from vibhealth.errors import InputError

__all__ = ["usual_viscosity_at_100c_mm2_s", "viscosity_mm2_s"]

ZERO_CELSIUS_K = 273.15
WALTHER_SHIFT = 0.7
# Below this ASTM D341 needs further terms (from memory).
LOWEST_MM2_S = 2.0
USUAL_VISCOSITY_INDEX = 95.0
# ASTM D2270, reference values (from memory): viscosity at 100 °C, and at 40 °C of the oils of
# viscosity index 0 (L) and 100 (H) that have it.
REFERENCE_OILS = (
    (2.0, 7.994, 6.394),
    (5.0, 40.23, 28.49),
    (10.0, 147.7, 82.87),
    (15.0, 296.5, 149.7),
    (20.0, 493.2, 229.5),
    (70.0, 4903.9, 1557.7),
)


def _walther(viscosity: float) -> float:
    return math.log10(math.log10(viscosity + WALTHER_SHIFT))


def viscosity_mm2_s(
    temperature_c: float, *, at_40c_mm2_s: float, at_100c_mm2_s: float | None = None
) -> float:
    """Kinematic viscosity at a temperature, from those at 40 and 100 °C.

    Parameters
    ----------
    temperature_c : float
        Temperature of the oil in the bearing in °C; 0 to 200.
    at_40c_mm2_s : float
        Kinematic viscosity at 40 °C in mm^2/s (the ISO VG number is this within 10 %); at least 2.
    at_100c_mm2_s : float, optional
        The same at 100 °C; from 2 to below that at 40 °C. Without it a mineral oil of viscosity
        index 95 is assumed.

    Returns
    -------
    float
        Viscosity in mm^2/s.

    Raises
    ------
    InputError
        Outside these ranges, or where the result is below 2 mm^2/s.

    Notes
    -----
    Walther's equation as in ASTM D341 (from memory): ``lg lg (nu + 0.7) = A - B lg T``.

    Examples
    --------
    >>> viscosity_mm2_s(70.0, at_40c_mm2_s=220.0, at_100c_mm2_s=19.0)
    51.70
    """
    if not 0 <= temperature_c <= 200:
        msg = f"temperature_c must lie between 0 and 200 °C, got {temperature_c}"
        raise InputError(msg)
    cold = check_positive(at_40c_mm2_s, name="at_40c_mm2_s")
    hot = at_100c_mm2_s
    hot = usual_viscosity_at_100c_mm2_s(cold) if hot is None else float(hot)
    if not LOWEST_MM2_S <= hot < cold:
        msg = f"at_100c_mm2_s must lie from 2 to below at_40c_mm2_s ({cold:g}), got {hot:g}"
        raise InputError(msg)
    low_k, high_k = 40.0 + ZERO_CELSIUS_K, 100.0 + ZERO_CELSIUS_K
    slope = (_walther(cold) - _walther(hot)) / math.log10(high_k / low_k)
    exponent = _walther(cold) - slope * math.log10((temperature_c + ZERO_CELSIUS_K) / low_k)
    viscosity = float(10.0 ** (10.0**exponent) - WALTHER_SHIFT)
    if viscosity < LOWEST_MM2_S:
        msg = (
            f"the viscosity at {temperature_c:g} °C must be at least 2 mm2/s for the equation to "
            f"hold, got {viscosity:.2g}; check oil and temperature"
        )
        raise InputError(msg)
    return viscosity


def usual_viscosity_at_100c_mm2_s(at_40c_mm2_s: float) -> float:
    """Viscosity at 100 °C of a mineral oil of viscosity index 95.

    Parameters
    ----------
    at_40c_mm2_s : float
        Kinematic viscosity at 40 °C in mm^2/s; 6.5 to 1700.

    Returns
    -------
    float
        Viscosity in mm^2/s, by straight lines in log-log between the reference oils of ASTM
        D2270 (from memory); 95 is the index that ISO 281 draws its viscosity diagram for (from
        memory).

    Raises
    ------
    InputError
        Outside the range.

    Examples
    --------
    >>> usual_viscosity_at_100c_mm2_s(220.0)
    18.74
    """
    share = USUAL_VISCOSITY_INDEX / 100.0
    colds = [low - share * (low - high) for _, low, high in REFERENCE_OILS]
    if not 6.5 <= at_40c_mm2_s <= 1700:
        msg = (
            f"at_40c_mm2_s must lie between 6.5 and 1700 mm2/s where that at 100 °C is not "
            f"given, got {at_40c_mm2_s}"
        )
        raise InputError(msg)
    upper = bisect.bisect_right(colds, at_40c_mm2_s)
    lower = upper - 1
    share_of_way = math.log(at_40c_mm2_s / colds[lower]) / math.log(colds[upper] / colds[lower])
    start, end = REFERENCE_OILS[lower][0], REFERENCE_OILS[upper][0]
    return float(start * (end / start) ** share_of_way)
