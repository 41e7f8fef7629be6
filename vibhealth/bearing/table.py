"""The defect frequencies of a bearing as rows, for people and for JSON."""

from dataclasses import dataclass

from vibhealth._check import check_positive
from vibhealth.bearing.kinematics import check_slip_percent, defect_orders, slip_range
from vibhealth.bearing.side_bands import SideBand, side_bands
from vibhealth.model import Element, RollingBearing

__all__ = ["FrequencyRow", "frequency_table"]

LABELS = {
    Element.CAGE: "FTF",
    Element.OUTER_RING: "BPFO",
    Element.INNER_RING: "BPFI",
    Element.ROLLING_ELEMENT: "2BSF",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FrequencyRow:
    """Where a defect of one element is looked for: orders, Hz, slip range, side bands."""

    element: Element
    label: str
    order: float
    order_low: float
    order_high: float
    frequency_hz: float
    frequency_low_hz: float
    frequency_high_hz: float
    side_bands: tuple[SideBand, ...]


def frequency_table(
    bearing: RollingBearing, shaft_frequency_hz: float, slip_percent: float
) -> tuple[FrequencyRow, ...]:
    """Rows for cage, outer ring, inner ring and rolling element, in this order.

    Parameters
    ----------
    bearing : RollingBearing
        The bearing as the card describes it.
    shaft_frequency_hz : float
        Above 0.
    slip_percent : float
        Half width of the search, 0 to 5.

    Returns
    -------
    tuple of FrequencyRow
        The rolling element's row is its *strike* order, twice the spin; it is left
        out where the card gives no spin.

    Raises
    ------
    InputError
        If the shaft frequency is not above 0 or the slip lies outside 0 to 5.

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
    >>> [(row.label, row.frequency_hz) for row in frequency_table(bearing, 20.0, 1.0)]
    [('FTF', 7.5), ('BPFO', 60.0), ('BPFI', 100.0), ('2BSF', 75.0)]
    """
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    check_slip_percent(slip_percent)
    orders = defect_orders(bearing)
    rows = []
    for element, label in LABELS.items():
        order, ends = orders.strike_order(element), slip_range(bearing, element, slip_percent)
        if order is None or ends is None:
            continue
        low, high = ends
        rows.append(
            FrequencyRow(
                element=element,
                label=label,
                order=order,
                order_low=low,
                order_high=high,
                frequency_hz=order * shaft_hz,
                frequency_low_hz=low * shaft_hz,
                frequency_high_hz=high * shaft_hz,
                side_bands=side_bands(bearing, element),
            )
        )
    return tuple(rows)
