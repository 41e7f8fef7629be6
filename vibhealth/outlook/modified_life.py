"""What oil and dirt do to the rating life of one bearing of a card: kappa and a_ISO."""

from dataclasses import dataclass

from vibhealth.card import Bearing, Oil
from vibhealth.errors import InputError
from vibhealth.model.outlook import LifeAssumption
from vibhealth.outlook.life_factors import (
    LARGEST_A_ISO,
    contamination_factor,
    fatigue_load_limit_kn,
    modified_life_factor,
    reference_viscosity_mm2_s,
)
from vibhealth.outlook.oil_viscosity import viscosity_mm2_s

__all__ = ["ModifiedLife", "modified_life"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ModifiedLife:
    """``kappa`` (as found, not capped) and ``a_iso``; None with what is missing or why."""

    kappa: float | None
    a_iso: float | None
    factors: tuple[LifeAssumption, ...] = ()
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def modified_life(
    bearing: Bearing, oil: Oil | None, *, speed_rpm: float, load_kn: float | None
) -> ModifiedLife:
    """Viscosity ratio and life factor a_ISO, as far as the card allows.

    Parameters
    ----------
    bearing : Bearing
        With pitch diameter, kind of element, C0 or Cu.
    oil : Oil or None
        With viscosity, temperature and cleanliness.
    speed_rpm : float
        Shaft speed in r/min, above 0.
    load_kn : float or None
        Dynamic equivalent load P in kN, above 0.

    Returns
    -------
    ModifiedLife
        Where the standard does not hold (kappa below 0.1) ``a_iso`` is None and a remark says
        why.

    Raises
    ------
    InputError
        For a speed or load not above 0.
    """
    missing = _missing(bearing, oil)
    remarks = _remarks(bearing, oil)
    kappa, factors = None, []
    try:
        factors += _viscosities(bearing, oil, speed_rpm)
        kappa = factors[-1].value if factors else None
        a_iso_factors = _a_iso(bearing, oil, kappa, load_kn)
    except InputError as error:
        remarks.append(f"No life factor for oil and dirt: {error}.")
        a_iso_factors = []
    if a_iso_factors and a_iso_factors[-1].value >= LARGEST_A_ISO:
        remarks.append(
            f"a_ISO is at the bound of the standard ({LARGEST_A_ISO:g}): as far as oil and dirt are "
            "as stated, fatigue is not what ends this bearing."
        )
    return ModifiedLife(
        kappa=kappa,
        a_iso=a_iso_factors[-1].value if a_iso_factors else None,
        factors=(*factors, *a_iso_factors),
        missing=missing,
        remarks=tuple(remarks),
    )


def _missing(bearing: Bearing, oil: Oil | None) -> tuple[str, ...]:
    needed = {
        "bearing.element_type": bearing.element_type,
        "bearing.pitch_diameter_mm": bearing.pitch_diameter_mm,
        "bearing.static_load_rating_kn": bearing.static_load_rating_kn
        or bearing.fatigue_load_limit_kn,
        "oil.viscosity_40c_mm2_s": oil and oil.viscosity_40c_mm2_s,
        "oil.operating_temperature_c": oil and oil.operating_temperature_c,
        "oil.cleanliness": oil and oil.cleanliness,
    }
    return tuple(key for key, value in needed.items() if value is None)


def _remarks(bearing: Bearing, oil: Oil | None) -> list[str]:
    remarks = []
    if bearing.pitch_diameter_mm is None and bearing.orders is not None:
        remarks.append(
            "A card that gives orders holds no pitch diameter: give the geometry instead, and oil "
            "and dirt can be counted."
        )
    if oil is not None and oil.viscosity_100c_mm2_s is None and oil.viscosity_40c_mm2_s is not None:
        remarks.append(
            "The viscosity at 100 °C is not stated (oil.viscosity_100c_mm2_s): a mineral oil of "
            "viscosity index 95 is assumed."
        )
    return remarks


def _viscosities(bearing: Bearing, oil: Oil | None, speed_rpm: float) -> list[LifeAssumption]:
    """Working viscosity, reference viscosity and, last, kappa."""
    pitch = bearing.pitch_diameter_mm
    if oil is None or pitch is None:
        return []
    cold, temperature = oil.viscosity_40c_mm2_s, oil.operating_temperature_c
    if cold is None or temperature is None:
        return []
    working = viscosity_mm2_s(
        temperature, at_40c_mm2_s=cold, at_100c_mm2_s=oil.viscosity_100c_mm2_s
    )
    reference = reference_viscosity_mm2_s(speed_rpm, pitch)
    where = f"ASTM D341 (from memory), at {temperature:g} °C, card, oil"
    return [
        LifeAssumption(name="viscosity nu", value=working, unit="mm2/s", source=where),
        LifeAssumption(
            name="reference viscosity nu1",
            value=reference,
            unit="mm2/s",
            source="ISO 281:2007 eq. (28), (29), card, bearing.pitch_diameter_mm",
        ),
        LifeAssumption(name="kappa", value=working / reference, unit="1", source="nu / nu1"),
    ]


def _a_iso(
    bearing: Bearing, oil: Oil | None, kappa: float | None, load_kn: float | None
) -> list[LifeAssumption]:
    """e_C, Cu and, last, a_ISO."""
    element, pitch = bearing.element_type, bearing.pitch_diameter_mm
    limit = _fatigue_limit(bearing)
    if oil is None or oil.cleanliness is None or kappa is None or limit is None:
        return []
    if element is None or pitch is None or load_kn is None:
        return []
    contamination = contamination_factor(oil.cleanliness, pitch)
    a_iso = modified_life_factor(
        kappa,
        contamination=contamination,
        limit_over_load=limit.value / load_kn,
        element=element,
    )
    return [
        LifeAssumption(
            name="contamination e_C",
            value=contamination,
            unit="1",
            source=f"ISO 281:2007 table 13, middle of the range for {oil.cleanliness}",
        ),
        limit,
        LifeAssumption(
            name="a_ISO",
            value=a_iso,
            unit="1",
            source="ISO 281:2007 eq. (31) to (36), without credit for additives",
        ),
    ]


def _fatigue_limit(bearing: Bearing) -> LifeAssumption | None:
    name = "fatigue load limit Cu"
    if bearing.fatigue_load_limit_kn is not None:
        source = "card, bearing.fatigue_load_limit_kn"
        return LifeAssumption(
            name=name, value=bearing.fatigue_load_limit_kn, unit="kN", source=source
        )
    static, pitch, element = (
        bearing.static_load_rating_kn,
        bearing.pitch_diameter_mm,
        bearing.element_type,
    )
    if static is None or pitch is None or element is None:
        return None
    value = fatigue_load_limit_kn(static, pitch, element=element)
    source = "ISO 281:2007 eq. (B.18) to (B.21), card, bearing.static_load_rating_kn"
    return LifeAssumption(name=name, value=value, unit="kN", source=source)
