"""What a recording plan lacks: keys missing on the card and their cost, sensors that do not fit."""

from collections.abc import Iterator
from dataclasses import dataclass

from vibhealth.acceptance.plan_settings import (
    PlannedSensor,
    RecorderSettings,
    planned_sensors,
    recorder_settings,
    swing,
)
from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.model import LoadCase

__all__ = ["PlanGap", "plan_gaps", "plan_warnings"]

# Isolators swing at 2 to 5 Hz: a sensor must reach below to show a start or stop. No source.
LOWEST_HZ = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanGap:
    """A key that the card does not have, and what that costs."""

    key: str
    cost: str


def plan_gaps(card: MachineCard) -> tuple[PlanGap, ...]:
    """What the card leaves open, most costly first.

    Parameters
    ----------
    card : MachineCard
        As read.

    Returns
    -------
    tuple of PlanGap
    """
    found = [*_bearing_gaps(card), *_sensor_gaps(card), *_motion_gaps(card), *_hand_gaps(card)]
    return tuple(PlanGap(key=key, cost=cost) for key, cost in found)


def _bearing_gaps(card: MachineCard) -> Iterator[tuple[str, str]]:
    if not card.bearings:
        yield "[[bearing]]", "no bearing fault is looked for, so there is no PASS"
    for bearing in card.rolling_bearings():
        if bearing.load_case is LoadCase.UNKNOWN:
            yield f"load_case of bearing {bearing.name!r}", "no ring is named from side bands"
        if defect_orders(bearing).rolling_element is None:
            yield (
                f"orders.rolling_element of bearing {bearing.name!r}",
                "its rolling elements are not looked for",
            )


def _sensor_gaps(card: MachineCard) -> Iterator[tuple[str, str]]:
    for sensor in planned_sensors(card):
        name = f"of sensor {sensor.name!r}"
        if sensor.calibration is None:
            yield f"calibration {name}", "stroke and strikes are not judged, so there is no PASS"
        if sensor.range_g is None:
            yield f"range_g {name}", "whether its range suffices is not known"
        if sensor.usable_hz is None:
            yield f"usable_hz {name}", "whether it reaches the isolators and the band is not known"
        if sensor.mount is None:
            yield f"mount {name}", "a stud or a bonded pad is assumed; a magnet hears to 2 kHz only"


def _motion_gaps(card: MachineCard) -> Iterator[tuple[str, str]]:
    exciter = card.exciter
    if exciter is None:
        yield (
            "[exciter]",
            "treated as an ordinary machine: no stroke is judged, no start or stop planned",
        )
        return
    costs = {
        "stroke_mm": "the range of the sensor cannot be planned, stroke is not judged: no PASS",
        "orbit_direction": "a wrong direction of rotation is not seen",
        "isolator_frequency_hz": "soft or bridged isolators are not seen in start and stop",
        "run_up_s": "a slow start (drag, brace left in) is not seen",
        "coast_down_s": "a short stop (rub, tight bearing, too much oil) is not seen",
        "swing_ratio": "the swing at start and stop has nothing to be compared with",
    }
    if exciter.shafts == 2:  # they move the body along a line
        del costs["orbit_direction"]
    for key, cost in costs.items():
        if getattr(exciter, key) is None:
            yield f"exciter.{key}", cost
    if exciter.stroke_mm is not None:
        stated = {axis for axis, _ in exciter.stroke_mm.axes()}
        for point in card.points:
            wanted = point.mounted_on == "body" and point.direction in {"x", "y"} - stated
            if wanted and not exciter.is_crosswise(point.direction):
                yield (
                    f"exciter.stroke_mm.{point.direction}",
                    f"stroke at {point.name} is not judged: no PASS",
                )


def _hand_gaps(card: MachineCard) -> Iterator[tuple[str, str]]:
    if card.guard is None:
        yield "[guard] clearance_mm", "the gap at the guard has nothing to be compared with"
    if card.oil is None or card.oil.volume_l is None:
        yield "[oil] volume_l", "litres filled in have nothing to be compared with"
    if not card.bolts:
        yield "[[bolt_group]]", "torques have nothing to be compared with"
    if card.machine.temperature_limit_c is None:
        limit = card.limits.value("temperature_hold_c")
        yield "machine.temperature_limit_c", f"{limit:g} °C is used instead of the maker's limit"


def plan_warnings(card: MachineCard) -> tuple[str, ...]:
    """Sensors and points that will not show what they should.

    Parameters
    ----------
    card : MachineCard
        As read.

    Returns
    -------
    tuple of str
    """
    settings = recorder_settings(card)
    lines = [
        line
        for sensor in planned_sensors(card)
        for line in _sensor_warnings(card, sensor, settings)
    ]
    return (*lines, *_swing_warnings(card), *_point_warnings(card))


def _sensor_warnings(
    card: MachineCard, sensor: PlannedSensor, settings: RecorderSettings
) -> Iterator[str]:
    yield from _band_warnings(card, sensor, settings)
    if sensor.share_of_range is not None and (sensor.needed_g or 0) > (sensor.range_g or 0):
        yield (
            f"Sensor {sensor.name}: range too small. The working motion is {sensor.expected_g:.1f} "
            f"g of ±{sensor.range_g:g} g; take ±{sensor.needed_g:.0f} g or more. What clips looks "
            "healthier than it is."
        )
    if sensor.mount == "magnet":
        yield (
            f"Sensor {sensor.name}: a magnet hears to about 2 kHz and rocks on a moving body. For "
            "a decision use a stud or a bonded pad; tether a magnet."
        )
    if sensor.mount == "hand-held":
        yield f"Sensor {sensor.name}: never hold a sensor to a moving body; use a stud or a pad."


def _band_warnings(
    card: MachineCard, sensor: PlannedSensor, settings: RecorderSettings
) -> Iterator[str]:
    if sensor.usable_hz is None:
        return
    low, high = sensor.usable_hz
    if low > card.nominal_shaft_frequency_hz:
        yield (
            f"Sensor {sensor.name}: usable from {low:g} Hz only, above the shaft's "
            f"{card.nominal_shaft_frequency_hz:.1f} Hz: the stroke cannot be judged."
        )
    if low > LOWEST_HZ and card.exciter is not None:
        yield (
            f"Sensor {sensor.name}: usable from {low:g} Hz only. The swing of start and stop (2 to "
            f"5 Hz) reads too small or not at all: take a sensor that reaches {LOWEST_HZ:g} Hz."
        )
    band = settings.bearing_band_hz
    if high < band[1]:
        yield (
            f"Sensor {sensor.name}: usable to {high:g} Hz, the bearing band reaches {band[1]:g} "
            "Hz. Lower the band on the card, or change sensor or mounting."
        )


def _swing_warnings(card: MachineCard) -> Iterator[str]:
    """The gap at the guard has to exceed the swing, not the working stroke."""
    found = swing(card)
    if found is None or card.guard is None or found.low_mm < card.guard.clearance_mm:
        return
    told = "as noted" if found.is_noted else "at the least, by a model"
    yield (
        f"The body swings {found.low_mm:.0f} mm to one side while starting and stopping ({told}), "
        f"the gap at the guard is {card.guard.clearance_mm:g} mm: it would be hit. Set it back."
    )


def _point_warnings(card: MachineCard) -> Iterator[str]:
    on_body = [point for point in card.points if point.mounted_on == "body"]
    if not on_body:
        yield "No point is on the moving body: neither stroke nor bearing is judged."
        return
    directions = {point.direction for point in on_body}
    if card.exciter is not None and not {"x", "y"} <= directions:
        yield (
            "Points in x and y are needed together to see the orbit and which way it turns: with "
            f"{', '.join(sorted(directions))} alone a wrong rotation is not seen."
        )
    if card.exciter is not None and "z" not in directions:
        yield "No point along the shaft (z): a cocked unit or a forced drive shaft shows poorly."
    if card.exciter is not None and all(point.mounted_on != "base" for point in card.points):
        yield "No point on the base: a shipping brace left in shows less clearly."
