"""``[[bearing]]``: geometry or given orders, checked against what a bearing can be."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from vibhealth.card._types import CardModel, Faults, Location, Positive, Text, Whole
from vibhealth.errors import GeometryError
from vibhealth.model import BearingGeometry, DefectOrders, LoadCase, Ring, RollingBearing

__all__ = ["Bearing", "GivenOrders"]

# Published orders are rounded, and makers' bearings of one size differ by one or two per cent
# (Smith and Randall, MSSP 64-65, 2015, 100-131, p. 102, for the slip of that size; the limit
# itself: common practice, no source).
LARGEST_MISMATCH = 0.03
# A spin order cannot exceed (1 - g^2) / (2 g), reached at contact angle 0. Rounded orders make
# g uncertain; the mistake this catches, a strike order given as spin, is a factor of two.
SPIN_ALLOWANCE = 1.3

Fault = tuple[Location, str, object]


class GivenOrders(CardModel):
    """``orders``: multiples of the shaft speed, as a maker or a data set states them."""

    outer_ring: Positive
    inner_ring: Positive
    cage: Annotated[Positive, Field(lt=1)] | None = None
    rolling_element: Positive | None = None


class Bearing(CardModel):
    """One rolling bearing: how it is built, which ring turns, how its load moves."""

    name: Text
    designation: Text | None = None
    element_type: Literal["ball", "roller"] | None = None
    element_count: Annotated[Whole, Field(ge=3, le=500)] | None = None
    element_diameter_mm: Positive | None = None
    pitch_diameter_mm: Positive | None = None
    contact_angle_deg: Annotated[float, Field(strict=True, ge=0, lt=90)] | None = None
    orders: GivenOrders | None = None
    rows: Annotated[Whole, Field(ge=1, le=4)] = 1
    rotating_ring: Ring = Ring.INNER
    load_case: LoadCase = LoadCase.UNKNOWN
    dynamic_load_rating_kn: Positive | None = None
    static_load_rating_kn: Positive | None = None
    fatigue_load_limit_kn: Positive | None = None
    equivalent_load_kn: Positive | None = None

    @model_validator(mode="after")
    def _can_be_built(self) -> "Bearing":
        faults = self._order_faults(self.orders) if self.orders else self._geometry_faults()
        if faults:
            raise Faults(faults)
        return self

    def _geometry_faults(self) -> list[Fault]:
        needed = ("element_count", "element_diameter_mm", "pitch_diameter_mm")
        missing = [key for key in needed if getattr(self, key) is None]
        if len(missing) == len(needed):
            rule = (
                f"needs either {', '.join(needed)} or orders; leave the whole [[bearing]] out "
                "if neither is known"
            )
            return [((), rule, None)]
        if missing:
            return [((key,), "is required beside the other geometry keys", None) for key in missing]
        try:
            self._geometry()
        except GeometryError as error:
            return [((), str(error), None)]
        return []

    def _order_faults(self, orders: GivenOrders) -> list[Fault]:
        beside = ("element_diameter_mm", "pitch_diameter_mm", "contact_angle_deg")
        faults: list[Fault] = [
            ((key,), "must be left out where orders are given", getattr(self, key))
            for key in beside
            if getattr(self, key) is not None
        ]
        if orders.outer_ring >= orders.inner_ring:
            rule = (
                f"must be above orders.outer_ring ({orders.outer_ring:g}), since more elements "
                "pass the inner ring per turn; are the two swapped?"
            )
            return [*faults, (("orders", "inner_ring"), rule, orders.inner_ring)]
        return faults + self._sum_faults(orders) + self._cage_faults(orders) + _spin_faults(orders)

    def _sum_faults(self, orders: GivenOrders) -> list[Fault]:
        total, count = orders.outer_ring + orders.inner_ring, self._count(orders)
        if count >= 3 and abs(total - count) <= LARGEST_MISMATCH * count:
            return []
        target = f"element_count = {count}" if self.element_count else "a whole number from 3 up"
        rule = (
            f"outer_ring + inner_ring must be within 3 % of {target}, since BPFO + BPFI = Z "
            "whatever the cage slips"
        )
        return [(("orders",), rule, f"{orders.outer_ring:g} + {orders.inner_ring:g} = {total:g}")]

    def _cage_faults(self, orders: GivenOrders) -> list[Fault]:
        expected = self._derived_cage(orders)
        if orders.cage is None or abs(orders.cage - expected) <= LARGEST_MISMATCH * expected:
            return []
        formula = "outer_ring / Z" if self.rotating_ring is Ring.INNER else "1 - outer_ring / Z"
        rule = (
            f"must be within 3 % of {formula} = {expected:.4g} for a turning "
            f"{self.rotating_ring.value} ring, since each element passes once per cage turn"
        )
        return [(("orders", "cage"), rule, orders.cage)]

    def _count(self, orders: GivenOrders | None) -> int:
        if self.element_count is not None or orders is None:
            return self.element_count or 0
        return round(orders.outer_ring + orders.inner_ring)

    def _derived_cage(self, orders: GivenOrders) -> float:
        against_outer = orders.outer_ring / max(self._count(orders), 1)
        return against_outer if self.rotating_ring is Ring.INNER else 1 - against_outer

    def _geometry(self) -> BearingGeometry:
        return BearingGeometry(
            element_count=self.element_count or 0,
            element_diameter_mm=self.element_diameter_mm or 0.0,
            pitch_diameter_mm=self.pitch_diameter_mm or 0.0,
            contact_angle_deg=self.contact_angle_deg or 0.0,
        )

    def rolling_bearing(self) -> RollingBearing:
        """The bearing as the other layers know it; a missing cage order is derived.

        Returns
        -------
        RollingBearing
            With ``geometry`` or with ``given_orders``; a cage order that the card
            does not give is outer-ring order / Z (turning outer ring: 1 minus that).
        """
        given = None if self.orders is None else self._given_orders(self.orders)
        return RollingBearing(
            name=self.name,
            geometry=self._geometry() if self.orders is None else None,
            given_orders=given,
            element_count=self._count(self.orders),
            rotating_ring=self.rotating_ring,
            load_case=self.load_case,
            rows=self.rows,
        )

    def _given_orders(self, orders: GivenOrders) -> DefectOrders:
        return DefectOrders(
            cage=orders.cage or self._derived_cage(orders),
            outer_ring=orders.outer_ring,
            inner_ring=orders.inner_ring,
            rolling_element=orders.rolling_element,
        )


def _spin_faults(orders: GivenOrders) -> list[Fault]:
    if orders.rolling_element is None:
        return []
    gamma = (orders.inner_ring - orders.outer_ring) / (orders.inner_ring + orders.outer_ring)
    largest = (1 - gamma**2) / (2 * gamma)
    if orders.rolling_element <= SPIN_ALLOWANCE * largest:
        return []
    rule = (
        f"must be the spin order, at most about {largest:.3g} with these ring orders; "
        "is it the strike order, twice the spin?"
    )
    return [(("orders", "rolling_element"), rule, orders.rolling_element)]
