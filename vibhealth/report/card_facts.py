"""What a machine card implies, as JSON-able facts: numbers, words, nothing rendered."""

from collections.abc import Sequence
from typing import Any

from vibhealth._check import check_positive
from vibhealth.acceptance.plan_settings import LARGEST_SHARE_OF_RANGE, RATE_OVER_BAND
from vibhealth.bearing import (
    BlindSpot,
    FrequencyRow,
    blind_spots,
    defect_orders,
    frequency_table,
)
from vibhealth.card import MachineCard, Point, Sensor
from vibhealth.model import LoadCase, RollingBearing
from vibhealth.units import hz_to_rpm, m_s2_to_g, rpm_to_hz, throw_factor

__all__ = ["bearing_frequencies_dict", "card_check_dict", "frequencies_dict", "load_case_words"]

# Above resonance an exciter's moment equals body mass times amplitude; figures that disagree by
# more than this share are a slip of the pen. Common practice, no source.
LARGEST_MOMENT_MISMATCH = 0.25
# Nearer to its isolator resonance than this ratio a body does not keep its stroke when its
# speed wanders; common practice, no source.
SMALLEST_SPEED_RATIO = 2.0

LOAD_CASE_WORDS = {
    LoadCase.ROTATING: (
        "the load turns with the shaft (unbalance drive): a fault of the ring that stands still "
        "shows strong side bands at 1x, one of the ring that turns only weak ones"
    ),
    LoadCase.STATIONARY: (
        "the load keeps its direction (ordinary machine): a fault of the ring that turns shows "
        "strong side bands at 1x, one of the ring that stands still none"
    ),
    LoadCase.TWICE_PER_TURN: (
        "the load swings twice per turn (two counter-turning shafts): both rings show strong "
        "side bands at 2x, so these alone name no ring"
    ),
    LoadCase.UNKNOWN: (
        "how the load moves is not stated: faults are found, but no ring is named from side bands"
    ),
}


def load_case_words(bearing: RollingBearing) -> str:
    """The load case in a sentence that fits the ring that turns.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.

    Returns
    -------
    str
    """
    return LOAD_CASE_WORDS[bearing.load_case]


def bearing_frequencies_dict(
    bearing: RollingBearing,
    shaft_frequency_hz: float,
    slip_percent: float,
    *,
    others: Sequence[RollingBearing] = (),
) -> dict[str, Any]:
    """Orders, frequencies, side bands and blind spots of one bearing.

    Parameters
    ----------
    bearing : RollingBearing
        From a card, or made on the spot.
    shaft_frequency_hz : float
        Above 0.
    slip_percent : float
        Half width of the search, 0 to 5.
    others : sequence of RollingBearing, optional
        Further bearings of the machine.

    Returns
    -------
    dict
        JSON-able; keys carry units.

    Raises
    ------
    InputError
        If the shaft frequency is not above 0 or the slip lies outside 0 to 5.
    """
    rows = frequency_table(bearing, shaft_frequency_hz, slip_percent)
    return {
        "name": bearing.name,
        "element_count": bearing.element_count,
        "rows": bearing.rows,
        "rotating_ring": bearing.rotating_ring.value,
        "load_case": bearing.load_case.value,
        "load_case_words": load_case_words(bearing),
        "rolling_element_spin_order": defect_orders(bearing).rolling_element,
        "elements": [_row_facts(row, shaft_frequency_hz) for row in rows],
        "blind_spots": [
            _spot_facts(spot) for spot in blind_spots(bearing, slip_percent, others=others)
        ],
    }


def _row_facts(row: FrequencyRow, shaft_frequency_hz: float) -> dict[str, Any]:
    return {
        "element": row.element.value,
        "label": row.label,
        "order": row.order,
        "order_low": row.order_low,
        "order_high": row.order_high,
        "frequency_hz": row.frequency_hz,
        "frequency_low_hz": row.frequency_low_hz,
        "frequency_high_hz": row.frequency_high_hz,
        "side_bands": [
            {
                "spacing_order": band.spacing_order,
                "spacing_hz": band.spacing_order * shaft_frequency_hz,
                "strength": band.strength,
                "origin": band.origin,
            }
            for band in row.side_bands
        ],
    }


def _spot_facts(spot: BlindSpot) -> dict[str, Any]:
    return {
        "kind": spot.kind,
        "element": None if spot.element is None else spot.element.value,
        "order": spot.order,
        "at_order": spot.at_order,
        "other_bearing": spot.other_bearing,
        "other_element": None if spot.other_element is None else spot.other_element.value,
        "sentence": spot.sentence,
    }


def frequencies_dict(card: MachineCard, speed_rpm: float | None = None) -> dict[str, Any]:
    """Defect orders and frequencies of all bearings of a card.

    Parameters
    ----------
    card : MachineCard
        As read.
    speed_rpm : float, optional
        Above 0; the nominal speed without it.

    Returns
    -------
    dict
        JSON-able; ``bearings`` holds one `bearing_frequencies_dict` each.

    Raises
    ------
    InputError
        If ``speed_rpm`` is not above 0.
    """
    speed = card.machine.nominal_speed_rpm if speed_rpm is None else speed_rpm
    shaft_hz = rpm_to_hz(check_positive(speed, name="speed_rpm"))
    bearings, slip = card.rolling_bearings(), card.analysis.slip_percent
    return {
        "schema_version": 1,
        "machine": {"id": card.machine.id, "name": card.machine.name},
        "card": {"path": card.path, "sha256": card.sha256},
        "shaft_speed_rpm": float(speed),
        "shaft_frequency_hz": shaft_hz,
        "slip_percent": slip,
        "bearings": [
            bearing_frequencies_dict(bearing, shaft_hz, slip, others=bearings)
            for bearing in bearings
        ],
    }


def card_check_dict(card: MachineCard) -> dict[str, Any]:
    """Everything a card implies before anyone records.

    Parameters
    ----------
    card : MachineCard
        As read.

    Returns
    -------
    dict
        JSON-able: `frequencies_dict` at nominal speed, and ``motion``,
        ``recording``, ``sensors``, ``not_judged``, ``cautions``, ``limits``.
    """
    return {
        **frequencies_dict(card),
        "motion": _motion(card),
        "recording": _recording(card),
        "sensors": [_sensor(card, sensor) for sensor in card.sensors],
        "not_judged": _not_judged(card),
        "cautions": _cautions(card),
        "limits": [
            {
                "id": row.id,
                "value": row.value,
                "unit": row.unit,
                "source": row.source,
                "meaning": row.meaning,
            }
            for row in card.limits.rows
        ],
    }


def _motion(card: MachineCard) -> dict[str, Any] | None:
    exciter = card.exciter
    if exciter is None:
        return None
    axes = exciter.stroke_mm.axes() if exciter.stroke_mm else ()
    return {
        "axes": [
            {
                "axis": axis,
                "stroke_mm": stroke,
                "acceleration_g": throw_factor(stroke, card.machine.nominal_speed_rpm),
            }
            for axis, stroke in axes
        ],
        "orbit_direction": exciter.orbit_direction,
        "isolator_speed_rpm": exciter.isolator_frequency_hz
        and hz_to_rpm(exciter.isolator_frequency_hz),
    }


def _recording(card: MachineCard) -> dict[str, Any]:
    turns, shaft_hz = card.limits, card.nominal_shaft_frequency_hz
    return {
        "sampling_rate_hz_at_least": RATE_OVER_BAND * card.analysis.bearing_band_hz[1],
        "bearing_band_hz": list(card.analysis.bearing_band_hz),
        "seconds_at_least": turns.value("minimum_turns") / shaft_hz,
        "seconds_recommended": turns.value("recommended_turns") / shaft_hz,
        "recordings_recommended": turns.value("recommended_recordings"),
    }


def _expected_g(card: MachineCard, point: Point) -> float | None:
    """Peak of the 1x acceleration in g that a point should show; largest axis for words."""
    strokes = card.exciter.stroke_mm if card.exciter else None
    if strokes is None:
        return None
    stroke = strokes.along(point.direction)
    if point.direction not in {"x", "y", "z"}:
        stroke = max(value for _, value in strokes.axes())
    return None if stroke is None else throw_factor(stroke, card.machine.nominal_speed_rpm)


def _sensor(card: MachineCard, sensor: Sensor) -> dict[str, Any]:
    expected = [
        value
        for point in card.points
        if point.sensor == sensor.name and (value := _expected_g(card, point)) is not None
    ]
    calibration = sensor.calibration()
    in_units = sensor.unit is not None
    full_scale = None if calibration is None or in_units else m_s2_to_g(calibration.scale_m_s2)
    ranges = [value for value in (sensor.range_g, full_scale) if value is not None]
    return {
        "name": sensor.name,
        "calibration": None if calibration is None else calibration.source,
        "range_g": sensor.range_g,
        "full_scale_g": full_scale,
        "expected_g": max(expected, default=None),
        "share_of_range": max(expected) / min(ranges) if expected and ranges else None,
    }


def _not_judged(card: MachineCard) -> list[str]:
    lines = []
    if not card.bearings:
        lines.append("Bearing faults: the card has no [[bearing]] with geometry or orders.")
    lines += [
        f"Rolling elements of bearing {bearing.name!r}: orders.rolling_element is not given."
        for bearing in card.rolling_bearings()
        if defect_orders(bearing).rolling_element is None
    ]
    if not card.sensors:
        lines.append("Anything in m/s^2, g or mm: the card has no [[sensor]].")
    lines += [
        f"Anything in m/s^2, g or mm from sensor {sensor.name!r}: it has no calibration."
        for sensor in card.sensors
        if sensor.calibration() is None
    ]
    if card.exciter is not None and card.exciter.stroke_mm is None:
        lines.append("Stroke: exciter.stroke_mm is not given.")
    elif card.exciter is not None:
        lines += [
            f"Stroke at point {point.name!r}: exciter.stroke_mm has no {point.direction}."
            for point in card.points
            if _expected_g(card, point) is None
        ]
    is_line = card.exciter is not None and card.exciter.shafts == 2
    if card.exciter is not None and card.exciter.orbit_direction is None and not is_line:
        lines.append("Direction of the orbit: exciter.orbit_direction is not given.")
    if not card.points:
        lines.append("Which point a recording belongs to: the card has no [[point]].")
    return lines


def _cautions(card: MachineCard) -> list[str]:
    return [
        *_exciter_cautions(card),
        *_shaft_cautions(card),
        *(line for sensor in card.sensors for line in _sensor_cautions(card, sensor)),
        *(
            f"Bearing {bearing.name!r}: {load_case_words(bearing)}; state load_case."
            for bearing in card.rolling_bearings()
            if bearing.load_case is LoadCase.UNKNOWN
        ),
    ]


def _exciter_cautions(card: MachineCard) -> list[str]:
    exciter, lines = card.exciter, []
    if exciter is None:
        return []
    axes = exciter.stroke_mm.axes() if exciter.stroke_mm else ()
    largest = max((stroke for _, stroke in axes), default=0.0)
    if card.guard is not None and largest and card.guard.clearance_mm <= largest / 2:
        lines.append(
            f"Guard clearance {card.guard.clearance_mm:g} mm is not above half the stroke "
            f"({largest / 2:g} mm): in steady running the parts would touch."
        )
    if exciter.isolator_frequency_hz is not None:
        ratio = card.nominal_shaft_frequency_hz / exciter.isolator_frequency_hz
        if ratio < SMALLEST_SPEED_RATIO:
            lines.append(
                f"Nominal speed is only {ratio:.2f} times the isolator frequency: check both."
            )
    if exciter.unbalance_kg_m and exciter.body_mass_kg and largest:
        moment = exciter.body_mass_kg * largest / 2000
        if abs(exciter.unbalance_kg_m - moment) > LARGEST_MOMENT_MISMATCH * moment:
            lines.append(
                f"Unbalance {exciter.unbalance_kg_m:g} kg m disagrees with body mass times half "
                f"the stroke, {moment:.3g} kg m: check the three."
            )
    return lines


def _shaft_cautions(card: MachineCard) -> list[str]:
    """What of the number of shafts, the orbit and the load cases does not go together."""
    if card.exciter is None:
        return []
    shafts, lines = card.exciter.shafts, []
    if shafts == 2 and card.exciter.orbit_direction is not None:
        lines.append(
            "Two counter-turning shafts move the body along a line: take orbit_direction off, or "
            "put shafts right."
        )
    odd = LoadCase.ROTATING if shafts == 2 else LoadCase.TWICE_PER_TURN
    lines += [
        f"Bearing {bearing.name!r}: load_case {bearing.load_case.value} does not go with {shafts} "
        f"shaft{'s' if shafts == 2 else ''}: check both, it decides which ring is named."
        for bearing in card.rolling_bearings()
        if bearing.load_case is odd
    ]
    return lines


def _sensor_cautions(card: MachineCard, sensor: Sensor) -> list[str]:
    lines, facts = [], _sensor(card, sensor)
    share, top = facts["share_of_range"], card.analysis.bearing_band_hz[1]
    if share is not None and share > LARGEST_SHARE_OF_RANGE:
        lines.append(
            f"Sensor {sensor.name!r}: the working motion ({facts['expected_g']:.2f} g) takes "
            f"{100 * share:.0f} % of the smaller of sensor and recorder range; strikes on top of "
            "it would clip, and clipping makes a bearing look healthier."
        )
    if sensor.usable_hz is not None:
        low, high = sensor.usable_hz
        if high < top:
            lines.append(
                f"Sensor {sensor.name!r} is usable to {high:g} Hz, below the top of the bearing "
                f"band ({top:g} Hz): lower the band or change sensor or mounting."
            )
        if low > card.nominal_shaft_frequency_hz:
            lines.append(
                f"Sensor {sensor.name!r} is usable from {low:g} Hz only, above the shaft "
                f"frequency ({card.nominal_shaft_frequency_hz:.2f} Hz): stroke cannot be judged."
            )
    return lines
