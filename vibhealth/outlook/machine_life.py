"""Rating life of every bearing of a card, with each factor and its source."""

from dataclasses import dataclass
from typing import NamedTuple

from vibhealth._check import check_positive
from vibhealth.card import Bearing, MachineCard
from vibhealth.model.outlook import BearingLife, LifeAssumption
from vibhealth.outlook.machine_load import BearingLoad, bearing_load
from vibhealth.outlook.modified_life import ModifiedLife, modified_life
from vibhealth.outlook.rating_life import ElementType, basic_rating_life_h, life_exponent

__all__ = ["LIFE_SENTENCE", "bearing_lives"]

LIFE_SENTENCE = (
    "Rating life says what share of many such bearings would reach this age. It says nothing "
    "about this one. Dirt, mounting and oil usually decide earlier."
)
MORE_SPEED, MORE_STROKE = 1.05, 1.10
# ISO 281:2007, scope of the life formula (from memory).
LARGEST_LOAD_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class _Exponent:
    element: ElementType
    is_known: bool

    @property
    def value(self) -> float:
        return life_exponent(self.element)


class _Sensitivity(NamedTuple):
    faster: float | None
    stroke: float | None


def bearing_lives(card: MachineCard, *, speed_rpm: float | None = None) -> tuple[BearingLife, ...]:
    """Rating life of each bearing of a card, as far as the card allows.

    Parameters
    ----------
    card : MachineCard
        Loads, ratings and oil; nothing is looked up elsewhere.
    speed_rpm : float, optional
        Shaft speed in r/min, above 0; without it the card's nominal speed.

    Returns
    -------
    tuple of BearingLife
        One per bearing, in the order of the card. What could not be computed is None, with the
        keys of the card that would be needed in ``missing``. The two life ratios hold for
        ``l10h``: hours go with ``n^-(1 + 2p)`` where the load is centrifugal, else with
        ``1 / n``, and with ``stroke^-p``.

    Raises
    ------
    InputError
        For a speed not above 0.

    Notes
    -----
    ISO 281:2007; load by FAG WL 00 200/5. All at 90 % reliability. To be shown with
    `LIFE_SENTENCE`.
    """
    speed = LifeAssumption(
        name="speed",
        value=card.machine.nominal_speed_rpm,
        unit="r/min",
        source="card, machine.nominal_speed_rpm",
    )
    if speed_rpm is not None:
        value = check_positive(speed_rpm, name="speed_rpm")
        speed = LifeAssumption(name="speed", value=value, unit="r/min", source="given")
    return tuple(_life(bearing, card, speed) for bearing in card.bearings)


def _life(bearing: Bearing, card: MachineCard, speed: LifeAssumption) -> BearingLife:
    load = bearing_load(bearing, card, speed_rpm=speed.value)
    exponent = _exponent(bearing, load.load_kn)
    rating = bearing.dynamic_load_rating_kn
    hours = None
    if load.load_kn is not None and rating is not None:
        hours = basic_rating_life_h(
            rating, load.load_kn, speed_rpm=speed.value, element=exponent.element
        )
    modified = modified_life(bearing, card.oil, speed_rpm=speed.value, load_kn=load.load_kn)
    sensitivity = _sensitivity(load, exponent)
    both = hours is not None and modified.a_iso is not None
    return BearingLife(
        bearing=bearing.name,
        load_kn=load.load_kn,
        l10h=hours,
        lnmh=hours * modified.a_iso if hours is not None and modified.a_iso is not None else None,
        kappa=modified.kappa,
        a_iso=modified.a_iso,
        faster_5_percent=sensitivity.faster,
        stroke_10_percent=sensitivity.stroke,
        factors=(speed, *load.factors, *_rating_factors(rating, exponent), *modified.factors),
        missing=_missing(bearing, load, modified),
        remarks=(
            *load.remarks,
            *_remarks(bearing, load, exponent),
            *modified.remarks,
            *(() if both or hours is None else (_only_basic(modified),)),
        ),
    )


def _exponent(bearing: Bearing, load_kn: float | None) -> _Exponent:
    if bearing.element_type is not None:
        return _Exponent(bearing.element_type, is_known=True)
    rating = bearing.dynamic_load_rating_kn
    overloaded = load_kn is not None and rating is not None and load_kn > rating
    return _Exponent("roller" if overloaded else "ball", is_known=False)


def _sensitivity(load: BearingLoad, exponent: _Exponent) -> _Sensitivity:
    if load.load_kn is None:
        return _Sensitivity(None, None)
    if not load.is_centrifugal:
        return _Sensitivity(1.0 / MORE_SPEED, None)
    p = exponent.value
    return _Sensitivity(MORE_SPEED ** -(1.0 + 2.0 * p), MORE_STROKE**-p)


def _rating_factors(rating: float | None, exponent: _Exponent) -> tuple[LifeAssumption, ...]:
    source = "ISO 281:2007 (from memory), card, bearing.element_type"
    if not exponent.is_known:
        source = "assumed: the exponent with the shorter life"
    factors = [
        LifeAssumption(name="life exponent p", value=exponent.value, unit="1", source=source)
    ]
    reliability = LifeAssumption(
        name="reliability factor a1", value=1.0, unit="1", source="ISO 281: 90 % reach the life"
    )
    factors.append(reliability)
    if rating is not None:
        source = "card, bearing.dynamic_load_rating_kn"
        factors.insert(0, LifeAssumption(name="rating C", value=rating, unit="kN", source=source))
    return tuple(factors)


def _missing(bearing: Bearing, load: BearingLoad, modified: ModifiedLife) -> tuple[str, ...]:
    keys = [*load.missing]
    if bearing.dynamic_load_rating_kn is None:
        keys.append("bearing.dynamic_load_rating_kn")
    return tuple(dict.fromkeys([*keys, *modified.missing]))


def _remarks(bearing: Bearing, load: BearingLoad, exponent: _Exponent) -> tuple[str, ...]:
    remarks = []
    rating = bearing.dynamic_load_rating_kn
    if not exponent.is_known:
        remarks.append(
            "Ball or roller is not stated (bearing.element_type): the life exponent that gives "
            f"the shorter life is used, that of a {exponent.element} bearing."
        )
    if load.load_kn is not None and rating is not None:
        share = load.load_kn / rating
        if share > LARGEST_LOAD_SHARE:
            remarks.append(
                f"The load is {share:.2g} of the rating C; the life formula holds up to half: "
                "check load and rating."
            )
    return tuple(remarks)


def _only_basic(modified: ModifiedLife) -> str:
    if modified.missing:
        keys = ", ".join(modified.missing)
        return f"Only the basic life, without oil and dirt: the card lacks {keys}."
    return "Only the basic life, without oil and dirt."
