"""Side bands of a defect family: from who moves against load and sensor, not from a table.

A strike's *strength* follows the load at the place where it happens, so it changes
at ``|f_place - f_load|``; its *path* to the sensor changes at ``|f_place - f_sensor|``
(McFadden and Smith, J. Sound Vib. 96(1), 1984, 69-82, for a stationary load; Su and
Lin, J. Sound Vib. 155(1), 1992, 75-84, for unbalance; both from memory). The place
of an outer-ring defect turns with the outer ring, of an inner-ring defect with the
inner ring, of a rolling-element or cage defect with the cage. The sensor sits on the
frame. With a load that turns with the shaft the rule of ordinary machines is thereby
swapped: the outer ring gets the strong side bands.
"""

from dataclasses import dataclass
from typing import Literal

from vibhealth.bearing.kinematics import defect_orders, ring_orders
from vibhealth.errors import InputError
from vibhealth.model import Element, LoadCase, RollingBearing

__all__ = ["CombLine", "SideBand", "family_orders", "side_bands"]

Strength = Literal["strong", "weak"]
Origin = Literal["load", "path", "load and path"]

# Spacings closer than this are the same one; orders are of size one, so this is round-off.
SAME_ORDER = 1e-9
# Strong side bands show twice on each side, weak ones once: common practice, no source.
SIDE_BANDS_STRONG, SIDE_BANDS_WEAK = 2, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBand:
    """Spacing of one pair of side bands in orders, how strong, and from what."""

    spacing_order: float
    strength: Strength
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class CombLine:
    """One line of a family: ``order = harmonic * strike order + side_band * spacing_order``.

    ``side_band`` is 0 for a centre line (``spacing_order`` is then 0 too). The cage
    has no carrier of its own: its lines are multiples of the spacings, with
    ``side_band`` 0 and ``spacing_order`` the order they are multiples of.
    """

    order: float
    harmonic: int
    side_band: int
    spacing_order: float
    strength: Strength


def _place_order(bearing: RollingBearing, element: Element) -> float:
    inner, outer = ring_orders(bearing)
    if element is Element.OUTER_RING:
        return outer
    if element is Element.INNER_RING:
        return inner
    return defect_orders(bearing).cage


def _bands(*, place: float, load_case: LoadCase) -> list[SideBand]:
    """Spacings for one known load case; the sensor stands still (order 0)."""
    path = abs(place)
    bands: list[SideBand] = []
    if load_case is LoadCase.TWICE_PER_TURN:
        bands.append(SideBand(spacing_order=2.0, strength="strong", origin="load"))
        turning = SideBand(spacing_order=abs(place - 1.0), strength="weak", origin="load")
        along_path = SideBand(spacing_order=path, strength="weak", origin="path")
        return [*bands, *_moving([turning, along_path])]
    load = abs(place - (1.0 if load_case is LoadCase.ROTATING else 0.0))
    if abs(load - path) < SAME_ORDER:
        together = SideBand(spacing_order=load, strength="strong", origin="load and path")
        return _moving([together])
    return _moving(
        [
            SideBand(spacing_order=load, strength="strong", origin="load"),
            SideBand(spacing_order=path, strength="weak", origin="path"),
            *_both(load, path),
        ]
    )


def _both(load: float, path: float) -> list[SideBand]:
    """The product of two modulations, where both exist, has their sum as well."""
    if min(load, path) < SAME_ORDER:
        return []
    return [SideBand(spacing_order=load + path, strength="weak", origin="load and path")]


def _moving(bands: list[SideBand]) -> list[SideBand]:
    return [band for band in bands if band.spacing_order > SAME_ORDER]


def _merged(bands: list[SideBand], element: Element) -> tuple[SideBand, ...]:
    """One entry per spacing, the strong ones first; equal spacings keep the strongest.

    Whole orders say nothing of a cage: it has no line of its own beside them, and the
    shaft has.
    """
    if element is Element.CAGE:
        bands = [b for b in bands if abs(b.spacing_order - round(b.spacing_order)) > SAME_ORDER]
    kept: list[SideBand] = []
    for band in sorted(bands, key=lambda band: (band.strength != "strong", band.spacing_order)):
        if all(abs(band.spacing_order - other.spacing_order) > SAME_ORDER for other in kept):
            kept.append(band)
    return tuple(kept)


def side_bands(bearing: RollingBearing, element: Element) -> tuple[SideBand, ...]:
    """Spacings of the side bands that a defect of this element shows.

    Parameters
    ----------
    bearing : RollingBearing
        Its load case and turning ring decide.
    element : Element
        For the cage the spacings are the orders at which it shows itself, since a
        cage defect strikes nothing: it modulates what is there.

    Returns
    -------
    tuple of SideBand
        Strong ones first. Empty where neither load nor path changes at the defect
        (outer ring fixed, load stationary). With an unknown load case: the union of
        all cases, all of it weak, so that no ring can be named from it.

    Notes
    -----
    ``rotating`` is a load that turns with the shaft. ``twice-per-turn`` is the load
    of two counter-turning shafts: its size swings at 2x on both rings (strong); its
    direction also turns, more or less evenly, so lines at ``|f_place - 1|`` are weak.

    Examples
    --------
    Under an unbalance load it is the outer ring that gets the strong side bands:

    >>> from vibhealth.model import BearingGeometry
    >>> bearing = RollingBearing(
    ...     name="upper",
    ...     geometry=BearingGeometry(
    ...         element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ...     ),
    ...     element_count=8,
    ...     load_case=LoadCase.ROTATING,
    ... )
    >>> [(band.spacing_order, band.strength) for band in side_bands(bearing, Element.OUTER_RING)]
    [(1.0, 'strong')]
    >>> [(band.spacing_order, band.strength) for band in side_bands(bearing, Element.INNER_RING)]
    [(1.0, 'weak')]
    """
    place = _place_order(bearing, element)
    if bearing.load_case is not LoadCase.UNKNOWN:
        return _merged(_bands(place=place, load_case=bearing.load_case), element)
    known = (LoadCase.ROTATING, LoadCase.STATIONARY, LoadCase.TWICE_PER_TURN)
    union = [band for case in known for band in _bands(place=place, load_case=case)]
    return _merged(
        [
            SideBand(spacing_order=band.spacing_order, strength="weak", origin=band.origin)
            for band in union
        ],
        element,
    )


def family_orders(
    bearing: RollingBearing, element: Element, *, harmonics: int = 3
) -> tuple[CombLine, ...]:
    """Orders of the lines that belong to a defect of this element, without slip.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.
    element : Element
        Which of its four parts.
    harmonics : int, optional
        Multiples of the strike order, 1 or more.

    Returns
    -------
    tuple of CombLine
        Centre lines with two side bands on each side at the strong spacings and one
        at the weak ones, ascending by order, only orders above 0. Empty where the
        card gives no order for the element.

    Raises
    ------
    InputError
        If ``harmonics`` is below 1.

    Examples
    --------
    >>> from vibhealth.model import BearingGeometry
    >>> bearing = RollingBearing(
    ...     name="upper",
    ...     geometry=BearingGeometry(
    ...         element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ...     ),
    ...     element_count=8,
    ...     load_case=LoadCase.ROTATING,
    ... )
    >>> [line.order for line in family_orders(bearing, Element.OUTER_RING, harmonics=1)]
    [1.0, 2.0, 3.0, 4.0, 5.0]
    """
    if harmonics < 1:
        msg = f"harmonics must be at least 1, got {harmonics}"
        raise InputError(msg)
    bands = side_bands(bearing, element)
    strike = defect_orders(bearing).strike_order(element)
    if strike is None:
        return ()
    if element is Element.CAGE:
        lines = _cage_lines(bands, harmonics)
    else:
        lines = _comb(strike, bands, harmonics)
    return tuple(sorted(lines, key=lambda line: line.order))


def _comb(strike: float, bands: tuple[SideBand, ...], harmonics: int) -> list[CombLine]:
    lines = []
    for harmonic in range(1, harmonics + 1):
        centre = harmonic * strike
        lines.append(
            CombLine(
                order=centre, harmonic=harmonic, side_band=0, spacing_order=0.0, strength="strong"
            )
        )
        for band in bands:
            reach = SIDE_BANDS_STRONG if band.strength == "strong" else SIDE_BANDS_WEAK
            lines += [
                CombLine(
                    order=centre + number * band.spacing_order,
                    harmonic=harmonic,
                    side_band=number,
                    spacing_order=band.spacing_order,
                    strength=band.strength,
                )
                for number in (*range(-reach, 0), *range(1, reach + 1))
                if centre + number * band.spacing_order > SAME_ORDER
            ]
    return lines


def _cage_lines(bands: tuple[SideBand, ...], harmonics: int) -> list[CombLine]:
    """Multiples of the cage's own spacings."""
    return [
        CombLine(
            order=harmonic * band.spacing_order,
            harmonic=harmonic,
            side_band=0,
            spacing_order=band.spacing_order,
            strength=band.strength,
        )
        for band in bands
        for harmonic in range(1, harmonics + 1)
    ]
