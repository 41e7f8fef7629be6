"""Where the lines of each defect stand, and which side bands the way of the load gives them."""

from vibhealth.bearing import frequency_table
from vibhealth.model import BearingGeometry, LoadCase, RollingBearing
from vibhealth.units import rpm_to_hz

bearing = RollingBearing(
    name="upper",
    geometry=BearingGeometry(element_count=17, element_diameter_mm=26.0, pitch_diameter_mm=160.0),
    element_count=17,
    load_case=LoadCase.ROTATING,
)
for row in frequency_table(bearing, rpm_to_hz(978.0), slip_percent=1.5):
    bands = ", ".join(f"{band.spacing_order:.3g}x {band.strength}" for band in row.side_bands)
    print(f"{row.label:5} {row.order:7.4f}x {row.frequency_hz:7.2f} Hz  side bands: {bands}")
