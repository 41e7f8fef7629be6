"""``vibhealth frequencies``: where the lines of each defect stand."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from vibhealth.cli._load import checked_speed
from vibhealth.cli._options import JsonOption
from vibhealth.cli._output import emit
from vibhealth.errors import InputError
from vibhealth.units import rpm_to_hz

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.model import RollingBearing

__all__ = ["frequencies"]

RingName = Literal["inner", "outer"]
LoadCaseName = Literal["rotating", "stationary", "twice-per-turn", "unknown"]


def frequencies(
    path: Annotated[
        Path | None, typer.Argument(metavar="[CARD]", help="Machine card; or give the geometry.")
    ] = None,
    *,
    speed_rpm: Annotated[
        float | None,
        typer.Option(help="Shaft speed in r/min; without it the card's nominal speed."),
    ] = None,
    elements: Annotated[int | None, typer.Option(help="Rolling elements per row.")] = None,
    element_diameter_mm: Annotated[float | None, typer.Option(help="Of one element.")] = None,
    pitch_diameter_mm: Annotated[float | None, typer.Option(help="Through their middles.")] = None,
    contact_angle_deg: Annotated[float, typer.Option(help="0 to below 90.")] = 0.0,
    rotating_ring: Annotated[RingName, typer.Option(help="Ring that turns.")] = "inner",
    load_case: Annotated[LoadCaseName, typer.Option(help="How the load moves.")] = "unknown",
    slip_percent: Annotated[
        float | None, typer.Option(help="Half width of the search, 0 to 5; the card's, or 1.5.")
    ] = None,
    json: JsonOption = False,
) -> None:
    """Defect orders and frequencies with slip ranges, side bands and blind spots."""
    from vibhealth import report

    geometry = (elements, element_diameter_mm, pitch_diameter_mm)
    speed = checked_speed(speed_rpm)
    if path is not None:
        if any(value is not None for value in geometry):
            msg = "give either a card or the geometry of one bearing, not both"
            raise InputError(msg)
        card = _card(path, slip_percent)
        if json:
            emit(report.dumps(report.frequencies_dict(card, speed)))
        else:
            emit(report.frequencies_text(card, speed))
        return
    bearing = _bearing(*geometry, contact_angle_deg, rotating_ring, load_case)
    if speed is None:
        msg = "without a card, give the shaft speed with --speed-rpm"
        raise InputError(msg)
    slip = 1.5 if slip_percent is None else slip_percent
    if json:
        emit(report.dumps(report.bearing_frequencies_dict(bearing, rpm_to_hz(speed), slip)))
    else:
        emit(report.bearing_frequencies_text(bearing, rpm_to_hz(speed), slip))


def _card(path: Path, slip_percent: float | None) -> "MachineCard":
    from vibhealth.bearing import check_slip_percent
    from vibhealth.card import read_card

    card = read_card(path)
    if slip_percent is None:
        return card
    slip = check_slip_percent(slip_percent)
    analysis = card.analysis.model_copy(update={"slip_percent": slip})
    return card.model_copy(update={"analysis": analysis})


def _bearing(
    elements: int | None,
    element_diameter_mm: float | None,
    pitch_diameter_mm: float | None,
    contact_angle_deg: float,
    rotating_ring: str,
    load_case: str,
) -> "RollingBearing":
    from vibhealth.model import BearingGeometry, LoadCase, Ring, RollingBearing

    if elements is None or element_diameter_mm is None or pitch_diameter_mm is None:
        msg = (
            "give a card, or all of --elements, --element-diameter-mm and --pitch-diameter-mm "
            "of one bearing"
        )
        raise InputError(msg)
    return RollingBearing(
        name="as given",
        geometry=BearingGeometry(
            element_count=elements,
            element_diameter_mm=element_diameter_mm,
            pitch_diameter_mm=pitch_diameter_mm,
            contact_angle_deg=contact_angle_deg,
        ),
        element_count=elements,
        rotating_ring=Ring(rotating_ring),
        load_case=LoadCase(load_case),
    )
