"""Geometry and load case to orders, side bands, families and blind spots."""

from vibhealth.bearing.blind_spots import BlindSpot, blind_spots
from vibhealth.bearing.kinematics import (
    LARGEST_SLIP_PERCENT,
    DefectFrequencies,
    check_slip_percent,
    defect_orders,
    kinematic_frequencies_hz,
    orders_at_cage,
    ring_orders,
    slip_range,
)
from vibhealth.bearing.side_bands import CombLine, SideBand, family_orders, side_bands
from vibhealth.bearing.table import FrequencyRow, frequency_table

__all__ = [
    "LARGEST_SLIP_PERCENT",
    "BlindSpot",
    "CombLine",
    "DefectFrequencies",
    "FrequencyRow",
    "SideBand",
    "blind_spots",
    "check_slip_percent",
    "defect_orders",
    "family_orders",
    "frequency_table",
    "kinematic_frequencies_hz",
    "orders_at_cage",
    "ring_orders",
    "side_bands",
    "slip_range",
]
