"""What these bearings cannot show at this speed ratio: known before anyone records."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from vibhealth.bearing.kinematics import check_slip_percent, defect_orders, slip_range
from vibhealth.model import Element, RollingBearing

__all__ = ["BlindSpot", "blind_spots"]

# Closer than this to a whole or half order a family and its mirror image (every line at
# Z - order) cannot be told from shaft lines in a record of some hundred turns, even
# without slip. Common practice, no source.
SHAFT_LINE_MARGIN = 0.03
# Orders of two bearings that agree to this share are the same to any recording.
SAME_BEARING = 1e-3

Kind = Literal["shaft-line", "harmonic", "coincidence", "same-bearing", "rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindSpot:
    """One thing that cannot be told apart, and a sentence that says so.

    ``kind`` is ``"shaft-line"`` (a real blind spot: the family may sit on a whole
    or half order), ``"harmonic"`` (only its higher lines do), ``"coincidence"``
    (two elements), ``"same-bearing"`` (two bearings) or ``"rows"``. ``order`` is
    the strike order without slip, ``at_order`` what it meets.
    """

    bearing: str
    element: Element | None
    kind: Kind
    order: float | None
    at_order: float | None
    other_bearing: str | None = None
    other_element: Element | None = None
    sentence: str


def blind_spots(
    bearing: RollingBearing, slip_percent: float, *, others: Sequence[RollingBearing] = ()
) -> tuple[BlindSpot, ...]:
    """Families of a bearing that meet shaft lines, each other, or another bearing's.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.
    slip_percent : float
        Half width of the slip range, 0 to 5.
    others : sequence of RollingBearing, optional
        Further bearings of the machine; the same name is skipped.

    Returns
    -------
    tuple of BlindSpot
        ``"shaft-line"`` where an element's strike order meets a whole or half order
        within its slip range (or comes within 0.03 of one without slip);
        ``"harmonic"`` where only its third harmonic meets a whole order (the second
        does so exactly where the first meets a half order); ``"coincidence"`` where
        two elements' strike orders lie within the slip range of each other;
        ``"same-bearing"`` and ``"rows"`` where sources cannot be told apart at all.

    Raises
    ------
    InputError
        If ``slip_percent`` lies outside 0 to 5.

    Examples
    --------
    >>> from vibhealth.model import BearingGeometry
    >>> bearing = RollingBearing(
    ...     name="upper",
    ...     geometry=BearingGeometry(
    ...         element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ...     ),
    ...     element_count=8,
    ... )
    >>> [(spot.element.value, spot.at_order) for spot in blind_spots(bearing, 1.0)]
    [('outer-ring', 3.0), ('inner-ring', 5.0)]
    """
    check_slip_percent(slip_percent)
    spots = [
        spot
        for element in (Element.OUTER_RING, Element.INNER_RING, Element.ROLLING_ELEMENT)
        if (spot := _on_shaft_line(bearing, element, slip_percent)) is not None
    ]
    spots += _coincidences(bearing, slip_percent)
    if bearing.rows > 1:
        spots.append(_rows(bearing))
    spots += [
        _same_bearing(bearing, other)
        for other in others
        if other.name != bearing.name and _same_orders(bearing, other)
    ]
    return tuple(spots)


def _nearest_multiple(low: float, high: float, step: float) -> float | None:
    """The multiple of ``step`` nearest to the middle of [low, high], if one lies inside."""
    nearest = step * round(0.5 * (low + high) / step)
    return nearest if low <= nearest <= high and nearest > 0 else None


def _on_shaft_line(
    bearing: RollingBearing, element: Element, slip_percent: float
) -> BlindSpot | None:
    ends = slip_range(bearing, element, slip_percent)
    order = defect_orders(bearing).strike_order(element)
    if ends is None or order is None:
        return None
    low = min(ends[0], order - SHAFT_LINE_MARGIN)
    high = max(ends[1], order + SHAFT_LINE_MARGIN)
    met = _nearest_multiple(low, high, 0.5)
    if met is not None:
        kind: Kind = "shaft-line"
        sentence = _shaft_line_sentence(bearing, element, order, met)
    else:
        third = _nearest_multiple(3 * low, 3 * high, 1.0)
        if third is None:
            return None
        kind, met = "harmonic", third
        sentence = (
            f"The third harmonic of the {element.words} of bearing {bearing.name!r} "
            f"({3 * order:.3f}x) can meet the shaft's {third:g}x; its first two lines stay clear."
        )
    return BlindSpot(
        bearing=bearing.name,
        element=element,
        kind=kind,
        order=order,
        at_order=met,
        sentence=sentence,
    )


def _shaft_line_sentence(
    bearing: RollingBearing, element: Element, order: float, met: float
) -> str:
    slip = 100 * (met - order) / order
    when = "without any slip" if abs(slip) < 0.05 else f"at {slip:+.1f} % from the computed order"
    line = f"shaft's {met:g}x" if float(met).is_integer() else f"half order {met:g}x"
    mirror = "" if float(met).is_integer() else ", where its side bands also fall on each other"
    return (
        f"Blind spot: a fault of the {element.words} of bearing {bearing.name!r} strikes at "
        f"{order:.3f}x and {when} sits on the {line}{mirror}; a fault there can hide."
    )


def _coincidences(bearing: RollingBearing, slip_percent: float) -> list[BlindSpot]:
    kinematic = defect_orders(bearing)
    elements = (Element.OUTER_RING, Element.INNER_RING, Element.ROLLING_ELEMENT)
    spots = []
    for first, second in itertools.combinations(elements, 2):
        one, two = kinematic.strike_order(first), kinematic.strike_order(second)
        if one is None or two is None:
            continue
        apart_percent = 100 * abs(one - two) / min(one, two)
        if apart_percent > slip_percent:
            continue
        spots.append(
            BlindSpot(
                bearing=bearing.name,
                element=first,
                kind="coincidence",
                order=one,
                at_order=two,
                other_bearing=bearing.name,
                other_element=second,
                sentence=(
                    f"{first.words.capitalize()} ({one:.3f}x) and {second.words} ({two:.3f}x) of "
                    f"bearing {bearing.name!r} strike {apart_percent:.1f} % apart, within the "
                    f"slip range: a line there means {first.words} or {second.words}."
                ),
            )
        )
    return spots


def _rows(bearing: RollingBearing) -> BlindSpot:
    return BlindSpot(
        bearing=bearing.name,
        element=None,
        kind="rows",
        order=None,
        at_order=None,
        sentence=(
            f"The {bearing.rows} rows of bearing {bearing.name!r} strike at the same orders: "
            "one sensor cannot say which row is at fault."
        ),
    )


def _same_orders(bearing: RollingBearing, other: RollingBearing) -> bool:
    pairs = (
        (bearing_order, other_order)
        for element in (Element.OUTER_RING, Element.INNER_RING)
        if (bearing_order := defect_orders(bearing).strike_order(element)) is not None
        and (other_order := defect_orders(other).strike_order(element)) is not None
    )
    return all(math.isclose(one, two, rel_tol=SAME_BEARING) for one, two in pairs)


def _same_bearing(bearing: RollingBearing, other: RollingBearing) -> BlindSpot:
    return BlindSpot(
        bearing=bearing.name,
        element=None,
        kind="same-bearing",
        order=None,
        at_order=None,
        other_bearing=other.name,
        sentence=(
            f"Bearings {bearing.name!r} and {other.name!r} strike at the same orders: only the "
            "level at two measurement points can say which of them is at fault."
        ),
    )
