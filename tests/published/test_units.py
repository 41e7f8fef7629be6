"""Conversions between acceleration, velocity and displacement of one sinusoid.

Exact from omega = 2 pi f and standard gravity 9.80665 m/s^2 (3rd CGPM 1901); the figures are
those printed on every vibration slide rule. Throw factor: r omega^2 / g, with the stroke in mm
K = stroke n^2 / 1 788 519 (a constant of 18e6 seen in print is wrong by a factor of ten).
"""

import numpy as np
import pytest

from vibhealth.signal import integrate_spectrum
from vibhealth.units import (
    amplitude_ratio_to_db,
    g_to_m_s2,
    peak_to_peak_mm_from_peak_m_s2,
    throw_factor,
)


@pytest.mark.parametrize(
    ("frequency_hz", "velocity_mm_s", "displacement_pp_um"),
    [
        (10.0, 156.078, 4968.1),
        (25.0, 62.431, 794.90),
        (50.0, 31.216, 198.72),
        (100.0, 15.608, 49.681),
        (1000.0, 1.5608, 0.4968),
    ],
)
def test_one_g_peak(frequency_hz: float, velocity_mm_s: float, displacement_pp_um: float) -> None:
    """Tolerances: half a unit of the last printed digit (four or five digits, 1e-4 relative)."""
    one_g = [g_to_m_s2(1.0)]
    velocity = integrate_spectrum(one_g, [frequency_hz], 1, 1.0)[0]
    displacement = integrate_spectrum(one_g, [frequency_hz], 2, 1.0)[0]
    assert 1e3 * velocity == pytest.approx(velocity_mm_s, rel=1e-4)
    assert 2e6 * displacement == pytest.approx(displacement_pp_um, rel=1e-4)
    assert 1e3 * peak_to_peak_mm_from_peak_m_s2(one_g[0], frequency_hz) == pytest.approx(
        displacement_pp_um, rel=1e-4
    )


def test_constants_of_the_slide_rule() -> None:
    """v = 1560.777 a / f in mm/s; d = 496 810.7 a / f^2 and 318.310 v / f in um peak to peak."""
    one_g_at_1_hz = [g_to_m_s2(1.0)]
    velocity = integrate_spectrum(one_g_at_1_hz, [1.0], 1, 0.1)[0]
    displacement = integrate_spectrum(one_g_at_1_hz, [1.0], 2, 0.1)[0]
    assert 1e3 * velocity == pytest.approx(1560.777, abs=5e-4)
    assert 2e6 * displacement == pytest.approx(496_810.7, abs=5e-2)
    assert 2e3 * displacement / velocity == pytest.approx(318.310, abs=5e-4)


def test_one_g_at_a_thousand_radians_per_second() -> None:
    """159.155 Hz: 9.80665 mm/s and um, 6.9343 mm/s rms (6.9344 is seen too), 19.613 um p-p."""
    frequency = [1000.0 / (2 * np.pi)]
    assert frequency[0] == pytest.approx(159.155, abs=5e-4)
    velocity = integrate_spectrum([9.80665], frequency, 1, 1.0)[0]
    displacement = integrate_spectrum([9.80665], frequency, 2, 1.0)[0]
    assert 1e3 * velocity == pytest.approx(9.80665, rel=1e-12)
    assert 1e6 * displacement == pytest.approx(9.80665, rel=1e-12)
    assert 1e3 * velocity / np.sqrt(2) == pytest.approx(6.9343, abs=5e-5)
    assert 2e6 * displacement == pytest.approx(19.613, abs=5e-4)


@pytest.mark.parametrize("stroke_mm", [2.0, 6.0, 11.0])
@pytest.mark.parametrize("speed_rpm", [750.0, 978.0])
def test_throw_factor(stroke_mm: float, speed_rpm: float) -> None:
    found = throw_factor(stroke_mm, speed_rpm)
    assert found == pytest.approx(stroke_mm * speed_rpm**2 / 1_788_519, rel=1e-6)
    assert found != pytest.approx(stroke_mm * speed_rpm**2 / 18e6, rel=0.5)


@pytest.mark.parametrize(
    ("ratio", "level_db"), [(1.995, 6.0), (2.512, 8.0), (3.162, 10.0), (3.981, 12.0), (10.0, 20.0)]
)
def test_decibels(ratio: float, level_db: float) -> None:
    """Four printed digits: 0.5e-3 / 1.995 is 0.0022 dB."""
    assert amplitude_ratio_to_db(ratio) == pytest.approx(level_db, abs=0.0022)
