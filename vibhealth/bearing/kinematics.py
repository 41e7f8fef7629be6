"""Bearing kinematics: from geometry and ring speeds to defect orders and back from cage speed."""

import math
from dataclasses import dataclass

from vibhealth.errors import InputError
from vibhealth.model import BearingGeometry, DefectOrders, Element, Ring, RollingBearing

__all__ = [
    "LARGEST_SLIP_PERCENT",
    "DefectFrequencies",
    "check_slip_percent",
    "defect_orders",
    "kinematic_frequencies_hz",
    "orders_at_cage",
    "ring_orders",
    "slip_range",
]

# Slip of one or two per cent is usual (Randall and Antoni, MSSP 25(2), 2011, 485-520);
# beyond five the bearing is not the one on the card. Common practice, no source for the five.
LARGEST_SLIP_PERCENT = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectFrequencies:
    """Cage rotation (signed), ring passing rates and element spin, all in Hz."""

    cage_hz: float
    outer_ring_hz: float
    inner_ring_hz: float
    rolling_element_hz: float


def check_slip_percent(slip_percent: float) -> float:
    """Return a slip range between 0 and 5 % or refuse it.

    Parameters
    ----------
    slip_percent : float
        Half width of the search around the kinematic cage speed, 0 to 5.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If the value is not finite or lies outside that range.
    """
    value = float(slip_percent)
    if not 0 <= value <= LARGEST_SLIP_PERCENT:  # also refuses NaN
        msg = f"slip_percent must lie between 0 and {LARGEST_SLIP_PERCENT:g}, got {slip_percent}"
        raise InputError(msg)
    return value


def kinematic_frequencies_hz(
    geometry: BearingGeometry, *, inner_hz: float, outer_hz: float
) -> DefectFrequencies:
    r"""Defect frequencies of pure rolling when either ring, or both, turn.

    With :math:`\gamma = (D_w / D_{pw}) \cos\alpha` and ring speeds
    :math:`f_i, f_o` (negative: the other way round),

    .. math::

        f_c = \tfrac12 [f_i (1 - \gamma) + f_o (1 + \gamma)], \quad
        \mathrm{BPFO} = Z |f_c - f_o|, \quad
        \mathrm{BPFI} = Z |f_i - f_c|, \quad
        \mathrm{BSF} = \frac{D_{pw}}{2 D_w} (1 - \gamma^2) |f_i - f_o|.

    Parameters
    ----------
    geometry : BearingGeometry
        Validated; only the ratio of the diameters matters.
    inner_hz, outer_hz : float
        Speeds of inner and outer ring in revolutions per second, signed, finite.

    Returns
    -------
    DefectFrequencies
        In Hz; ``cage_hz`` keeps its sign, ``rolling_element_hz`` is the spin.

    Raises
    ------
    InputError
        If a ring speed is not finite.

    References
    ----------
    .. [1] T. A. Harris, Rolling Bearing Analysis, 4th ed., Wiley 2001, chapter on
       internal speeds (from memory; the formulas are re-derived in the tests from
       rolling without sliding).

    Examples
    --------
    >>> geometry = BearingGeometry(
    ...     element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ... )
    >>> kinematic_frequencies_hz(geometry, inner_hz=20.0, outer_hz=0.0)
    DefectFrequencies(cage_hz=7.5, outer_ring_hz=60.0, inner_ring_hz=100.0,
                      rolling_element_hz=37.5)
    """
    for name, value in (("inner_hz", inner_hz), ("outer_hz", outer_hz)):
        if not math.isfinite(value):
            msg = f"{name} must be a finite number, got {value}"
            raise InputError(msg)
    ratio = geometry.element_diameter_mm / geometry.pitch_diameter_mm
    gamma = ratio * math.cos(math.radians(geometry.contact_angle_deg))
    cage = 0.5 * (inner_hz * (1 - gamma) + outer_hz * (1 + gamma))
    return DefectFrequencies(
        cage_hz=cage,
        outer_ring_hz=geometry.element_count * abs(cage - outer_hz),
        inner_ring_hz=geometry.element_count * abs(inner_hz - cage),
        rolling_element_hz=(1 - gamma**2) / (2 * ratio) * abs(inner_hz - outer_hz),
    )


def ring_orders(bearing: RollingBearing) -> tuple[float, float]:
    """Orders at which inner and outer ring turn: (1, 0), or (0, 1) for a turning outer ring.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.

    Returns
    -------
    tuple of float
        Inner ring first.
    """
    return (1.0, 0.0) if bearing.rotating_ring is Ring.INNER else (0.0, 1.0)


def defect_orders(bearing: RollingBearing) -> DefectOrders:
    """Orders of the four elements per turn of the shaft, without slip.

    Parameters
    ----------
    bearing : RollingBearing
        With geometry the orders are computed (`kinematic_frequencies_hz` at one
        turn per second of the turning ring); given orders are returned as given.

    Returns
    -------
    DefectOrders
        ``rolling_element`` is the spin; a spall on it strikes at twice that
        (`DefectOrders.strike_order`).

    Notes
    -----
    Pure rolling is assumed. Slip of one or two per cent is usual [1]_: search a
    range (`slip_range`), never one line.

    References
    ----------
    .. [1] R. B. Randall and J. Antoni, "Rolling element bearing diagnostics - a
       tutorial", Mechanical Systems and Signal Processing 25(2), 2011, 485-520.

    Examples
    --------
    A quarter ratio gives orders that can be checked by hand:

    >>> geometry = BearingGeometry(
    ...     element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ... )
    >>> defect_orders(RollingBearing(name="upper", geometry=geometry, element_count=8))
    DefectOrders(cage=0.375, outer_ring=3.0, inner_ring=5.0, rolling_element=1.875)
    """
    if bearing.given_orders is not None:
        return bearing.given_orders
    assert bearing.geometry is not None  # noqa: S101  # RollingBearing holds exactly one of the two
    inner, outer = ring_orders(bearing)
    at_one = kinematic_frequencies_hz(bearing.geometry, inner_hz=inner, outer_hz=outer)
    return DefectOrders(
        cage=at_one.cage_hz,
        outer_ring=at_one.outer_ring_hz,
        inner_ring=at_one.inner_ring_hz,
        rolling_element=at_one.rolling_element_hz,
    )


def orders_at_cage(bearing: RollingBearing, cage_order: float) -> DefectOrders:
    r"""Orders of the elements when the cage turns at a measured order.

    The rings count elements, so they follow the cage exactly: outer ring
    :math:`Z|c - f_o|`, inner ring :math:`Z|f_i - c|`, and their sum stays
    :math:`Z` whatever the cage slips. The spin is that of the slip-free bearing
    with this cage speed, :math:`\gamma' = 1 - 2c`, that is, scaled by
    :math:`(1 - \gamma'^2) / (1 - \gamma^2)`: an approximation, since an element
    may also slide on its own axis. Given orders are scaled by the same ratios, so
    the kinematic cage order returns exactly what the card states.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.
    cage_order : float
        Turns of the cage per turn of the shaft, above 0 and below 1.

    Returns
    -------
    DefectOrders
        ``rolling_element`` is None where the card does not give it.

    Raises
    ------
    InputError
        If ``cage_order`` lies outside (0, 1).

    Examples
    --------
    One per cent of slip lowers the outer ring's order by what it raises the inner's:

    >>> geometry = BearingGeometry(
    ...     element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ... )
    >>> bearing = RollingBearing(name="upper", geometry=geometry, element_count=8)
    >>> slipped = orders_at_cage(bearing, 0.375 * 0.99)
    >>> slipped.outer_ring, slipped.inner_ring
    (2.97, 5.03)
    """
    if not 0 < cage_order < 1:
        msg = f"cage_order must lie between 0 and 1 (not included), got {cage_order}"
        raise InputError(msg)
    kinematic = defect_orders(bearing)
    inner, outer = ring_orders(bearing)
    to_outer = abs(cage_order - outer) / abs(kinematic.cage - outer)
    to_inner = abs(inner - cage_order) / abs(inner - kinematic.cage)
    spin = kinematic.rolling_element
    return DefectOrders(
        cage=cage_order,
        outer_ring=kinematic.outer_ring * to_outer,
        inner_ring=kinematic.inner_ring * to_inner,
        # 1 - (1 - 2c)^2 = 4 c (1 - c), and one ring stands while the other turns at 1.
        rolling_element=None if spin is None else spin * to_outer * to_inner,
    )


def slip_range(
    bearing: RollingBearing, element: Element, slip_percent: float
) -> tuple[float, float] | None:
    """Lowest and highest strike order of an element within the slip range.

    Rings and cage follow one cage speed, which may differ from the kinematic one
    by ``slip_percent`` of the cage's motion against the fixed ring; so outer and
    inner ring move by the same absolute amount, in opposite directions. An element
    may also slide on its own axis: its strike order gets the plain percentage.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.
    element : Element
        Which of its four parts.
    slip_percent : float
        0 to 5.

    Returns
    -------
    tuple of float or None
        Orders, low first; None where the card gives no order for the element.

    Raises
    ------
    InputError
        If ``slip_percent`` lies outside 0 to 5.

    Examples
    --------
    >>> geometry = BearingGeometry(
    ...     element_count=8, element_diameter_mm=10.0, pitch_diameter_mm=40.0
    ... )
    >>> bearing = RollingBearing(name="upper", geometry=geometry, element_count=8)
    >>> slip_range(bearing, Element.INNER_RING, 1.0)
    (4.97, 5.03)
    """
    share = check_slip_percent(slip_percent) / 100
    kinematic = defect_orders(bearing)
    order = kinematic.strike_order(element)
    if order is None:
        return None
    if element is Element.ROLLING_ELEMENT:
        return order * (1 - share), order * (1 + share)
    reach = kinematic.cage * share
    ends = [
        orders_at_cage(bearing, kinematic.cage + sign * reach).strike_order(element) or 0.0
        for sign in (-1, 1)
    ]
    return min(ends), max(ends)
