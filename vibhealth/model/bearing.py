"""What a bearing is: geometry or given orders, which ring turns, how the load turns."""

import math
from dataclasses import dataclass
from enum import StrEnum

from vibhealth.errors import GeometryError

__all__ = ["BearingGeometry", "DefectOrders", "Element", "LoadCase", "Ring", "RollingBearing"]


class Ring(StrEnum):
    """The ring that turns with the shaft."""

    INNER = "inner"
    OUTER = "outer"


class LoadCase(StrEnum):
    """How the radial load vector moves, seen from the machine's frame."""

    ROTATING = "rotating"
    STATIONARY = "stationary"
    TWICE_PER_TURN = "twice-per-turn"
    UNKNOWN = "unknown"


class Element(StrEnum):
    """The four parts of a rolling bearing that can carry a defect."""

    OUTER_RING = "outer-ring"
    INNER_RING = "inner-ring"
    ROLLING_ELEMENT = "rolling-element"
    CAGE = "cage"

    @property
    def words(self) -> str:
        """The element's name in running text.

        >>> Element.OUTER_RING.words
        'outer ring'
        """
        return self.value.replace("-", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingGeometry:
    """Internal geometry of a rolling bearing; refuses what cannot be built.

    Parameters
    ----------
    element_count : int
        Rolling elements per row, at least 3.
    element_diameter_mm, pitch_diameter_mm : float
        Above 0; only their ratio matters, but both must be in the same unit.
    contact_angle_deg : float
        0 to below 90.

    Raises
    ------
    GeometryError
        If a value is outside its range, or the elements would overlap on the
        pitch circle (then one diameter is probably in inches).
    """

    element_count: int
    element_diameter_mm: float
    pitch_diameter_mm: float
    contact_angle_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.element_count < 3:
            msg = f"element_count must be at least 3, got {self.element_count}"
            raise GeometryError(msg)
        for name in ("element_diameter_mm", "pitch_diameter_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                msg = f"{name} must be a finite number above 0, got {value}"
                raise GeometryError(msg)
        if not 0 <= self.contact_angle_deg < 90:
            msg = f"contact_angle_deg must lie in [0, 90), got {self.contact_angle_deg}"
            raise GeometryError(msg)
        chord_mm = self.pitch_diameter_mm * math.sin(math.pi / self.element_count)
        if self.element_diameter_mm >= chord_mm:
            msg = (
                f"{self.element_count} elements of {self.element_diameter_mm:g} mm overlap on a "
                f"pitch circle of {self.pitch_diameter_mm:g} mm (room for {chord_mm:.4g} mm each); "
                "check for mixed mm and inch values or swapped diameters"
            )
            raise GeometryError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectOrders:
    """Orders (multiples of the shaft frequency) of the four elements.

    ``rolling_element`` is the *spin* order (BSF); a spall on an element strikes
    both raceways each turn, so its defect is looked for at twice that. It is
    None where orders were given without it: then it is not searched.
    """

    cage: float
    outer_ring: float
    inner_ring: float
    rolling_element: float | None

    def strike_order(self, element: Element) -> float | None:
        """Order at which a defect of this element strikes; None if not known.

        >>> DefectOrders(
        ...     cage=0.4, outer_ring=3.2, inner_ring=4.8, rolling_element=2.4
        ... ).strike_order(Element.ROLLING_ELEMENT)
        4.8
        """
        spin = self.rolling_element
        return {
            Element.OUTER_RING: self.outer_ring,
            Element.INNER_RING: self.inner_ring,
            Element.ROLLING_ELEMENT: spin if spin is None else 2 * spin,
            Element.CAGE: self.cage,
        }[element]


@dataclass(frozen=True, slots=True, kw_only=True)
class RollingBearing:
    """One bearing of the machine, as the card describes it.

    Exactly one of ``geometry`` and ``given_orders`` is set. ``element_count``
    is the geometry's, or with given orders the nearest whole number to
    ``outer_ring + inner_ring`` (BPFO + BPFI = Z whatever the cage slips) unless
    the card states it.
    """

    name: str
    geometry: BearingGeometry | None = None
    given_orders: DefectOrders | None = None
    element_count: int
    rotating_ring: Ring = Ring.INNER
    load_case: LoadCase = LoadCase.UNKNOWN
    rows: int = 1

    def __post_init__(self) -> None:
        if (self.geometry is None) == (self.given_orders is None):
            msg = f"bearing {self.name!r} needs either its geometry or its orders, not both"
            raise GeometryError(msg)
