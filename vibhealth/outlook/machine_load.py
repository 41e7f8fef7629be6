"""The load of each bearing of a card: as stated, or from what shakes and how far."""

from dataclasses import dataclass

from vibhealth.card import Bearing, Exciter, MachineCard
from vibhealth.model import LoadCase
from vibhealth.model.outlook import LifeAssumption
from vibhealth.outlook.centrifugal_load import (
    MACHINE_FACTOR,
    body_force_kn,
    equivalent_load_kn,
    unbalance_force_kn,
)

__all__ = ["BearingLoad", "bearing_load"]

# Above it mass, stroke and unbalance of a card do not describe one machine: common practice, no
# source.
LARGEST_DISAGREEMENT = 0.10
LARGEST_SPEED_CHANGE = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingLoad:
    """Dynamic equivalent load P of a bearing in kN, with everything it rests on.

    ``load_kn`` is None with ``missing`` naming keys of the card. ``is_centrifugal``: the load
    grows with the square of the speed and with the stroke.
    """

    load_kn: float | None
    is_centrifugal: bool
    factors: tuple[LifeAssumption, ...] = ()
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def bearing_load(bearing: Bearing, card: MachineCard, *, speed_rpm: float) -> BearingLoad:
    """Load of one bearing of a card.

    Parameters
    ----------
    bearing : Bearing
        One of the card's bearings.
    card : MachineCard
        Whose ``[exciter]`` shakes; ``equivalent_load_kn`` of the bearing goes before it.
    speed_rpm : float
        Shaft speed in r/min, above 0.

    Returns
    -------
    BearingLoad
        In kN, 1.2 times an equal share of the centrifugal force unless stated on the card.

    Raises
    ------
    InputError
        For a speed not above 0.
    """
    if bearing.equivalent_load_kn is not None:
        return _stated(bearing.equivalent_load_kn, card, speed_rpm)
    if card.exciter is None:
        remark = "Without an [exciter] the load cannot be derived; the card must state it."
        return _unknown(("bearing.equivalent_load_kn",), remark)
    if bearing.load_case is LoadCase.STATIONARY:
        remark = "A bearing with a stationary load does not carry the exciter: state its load."
        return _unknown(("bearing.equivalent_load_kn",), remark)
    return _centrifugal(card, card.exciter, speed_rpm)


def _unknown(missing: tuple[str, ...], *remarks: str) -> BearingLoad:
    return BearingLoad(load_kn=None, is_centrifugal=False, missing=missing, remarks=remarks)


def _stated(load_kn: float, card: MachineCard, speed_rpm: float) -> BearingLoad:
    nominal = card.machine.nominal_speed_rpm
    remarks: list[str] = []
    if abs(speed_rpm / nominal - 1) > LARGEST_SPEED_CHANGE and card.exciter is not None:
        text = f"The stated load is taken as it is, at {speed_rpm:g} as at {nominal:g} r/min."
        remarks.append(text)
    source = "card, bearing.equivalent_load_kn, taken as P"
    factor = LifeAssumption(name="equivalent load P", value=load_kn, unit="kN", source=source)
    return BearingLoad(
        load_kn=load_kn,
        is_centrifugal=card.exciter is not None,
        factors=(factor,),
        remarks=tuple(remarks),
    )


def _centrifugal(card: MachineCard, exciter: Exciter, speed_rpm: float) -> BearingLoad:
    radius = _stroke_radius(exciter)
    forces: list[LifeAssumption] = []
    if radius is not None and exciter.body_mass_kg is not None:
        force = body_force_kn(exciter.body_mass_kg, radius.value, speed_rpm)
        source = "m r w^2, card, exciter.body_mass_kg and exciter.stroke_mm"
        forces.append(_force(force, "force from stroke", source))
    if exciter.unbalance_kg_m is not None:
        force = unbalance_force_kn(exciter.unbalance_kg_m, speed_rpm)
        forces.append(_force(force, "force from unbalance", "U w^2, card, exciter.unbalance_kg_m"))
    if not forces:
        return _no_force(exciter, radius)
    largest = max(force.value for force in forces)
    count = sum(bearing.load_case is not LoadCase.STATIONARY for bearing in card.bearings)
    load_kn = equivalent_load_kn(largest, bearings=count)
    return BearingLoad(
        load_kn=load_kn,
        is_centrifugal=True,
        factors=(
            *((radius,) if radius is not None else ()),
            *forces,
            *_sharing(count),
            LifeAssumption(
                name="equivalent load P", value=load_kn, unit="kN", source="from the lines above"
            ),
        ),
        remarks=(*_disagreement(forces), *_way_of_loading(exciter, count)),
    )


def _force(force_kn: float, name: str, source: str) -> LifeAssumption:
    return LifeAssumption(name=name, value=force_kn, unit="kN", source=source)


def _sharing(count: int) -> tuple[LifeAssumption, ...]:
    return (
        LifeAssumption(
            name="bearings that share the force",
            value=float(count),
            unit="1",
            source="assumed: equally between the card's bearings whose load is not stationary",
        ),
        LifeAssumption(
            name="machine factor",
            value=MACHINE_FACTOR,
            unit="1",
            source="FAG WL 00 200/5, examples 91 and 97 to 100",
        ),
    )


def _stroke_radius(exciter: Exciter) -> LifeAssumption | None:
    """Radius of the path across the shaft; along the shaft no force of the exciter acts."""
    stroke = exciter.stroke_mm
    across = [] if stroke is None else [s for axis, s in stroke.axes() if axis != "z"]
    if not across:
        return None
    if exciter.shafts == 2:
        value = sum(s**2 for s in across) ** 0.5 / 2
        source = "card, exciter.stroke_mm: half the stroke along the line of motion"
    else:
        value = sum(across) / len(across) / 2
        source = "card, exciter.stroke_mm: half the stroke" + (
            ", mean of x and y" if len(across) == 2 else ", path assumed a circle"
        )
    return LifeAssumption(name="stroke radius", value=value, unit="mm", source=source)


def _no_force(exciter: Exciter, radius: LifeAssumption | None) -> BearingLoad:
    missing = []
    if exciter.body_mass_kg is None:
        missing.append("exciter.body_mass_kg")
    if radius is None:
        missing.append("exciter.stroke_mm")
    remark = (
        "The load follows from exciter.body_mass_kg and exciter.stroke_mm along x or y, or from "
        "exciter.unbalance_kg_m, or is stated as bearing.equivalent_load_kn."
    )
    return _unknown(tuple(missing), remark)


def _disagreement(forces: list[LifeAssumption]) -> tuple[str, ...]:
    if len(forces) < 2:
        return ()
    stroke, unbalance = (force.value for force in forces)
    if max(stroke, unbalance) <= (1 + LARGEST_DISAGREEMENT) * min(stroke, unbalance):
        return ()
    text = (
        f"Stroke and body mass give {stroke:.3g} kN, the unbalance {unbalance:.3g} kN, more than "
        "10 % apart: check the three on the card; the larger decides."
    )
    return (text,)


def _way_of_loading(exciter: Exciter, count: int) -> tuple[str, ...]:
    remarks = []
    if exciter.shafts == 2:
        remarks.append(
            "Of two counter-turning shafts the load swings and is largest across the line of "
            "motion; the largest is taken throughout, so the life errs to the short side."
        )
        if count < 4:
            remarks.append(
                "Two shafts usually run in four bearings: if the card lists fewer than there are, "
                "the load is too high."
            )
    elif count == 1:
        remarks.append("The card lists one bearing, which then carries the whole force.")
    return tuple(remarks)
