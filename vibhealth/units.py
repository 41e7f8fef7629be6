"""SI inside, the trade's units at the door: conversions and their constants."""

import math

__all__ = [
    "STANDARD_GRAVITY_M_S2",
    "amplitude_ratio_to_db",
    "g_to_m_s2",
    "hz_to_rpm",
    "m_s2_to_g",
    "peak_to_peak_mm_from_peak_m_s2",
    "power_ratio_to_db",
    "rpm_to_hz",
    "throw_factor",
]

# Exact by definition: 3rd General Conference on Weights and Measures (1901); ISO 80000-3.
STANDARD_GRAVITY_M_S2 = 9.80665


def g_to_m_s2(acceleration_g: float) -> float:
    """Convert an acceleration in g to m/s^2.

    >>> g_to_m_s2(1.0)
    9.80665
    """
    return acceleration_g * STANDARD_GRAVITY_M_S2


def m_s2_to_g(acceleration_m_s2: float) -> float:
    """Convert an acceleration in m/s^2 to g.

    >>> m_s2_to_g(9.80665)
    1.0
    """
    return acceleration_m_s2 / STANDARD_GRAVITY_M_S2


def rpm_to_hz(speed_rpm: float) -> float:
    """Convert a shaft speed in r/min to revolutions per second.

    >>> rpm_to_hz(978.0)
    16.3
    """
    return speed_rpm / 60.0


def hz_to_rpm(frequency_hz: float) -> float:
    """Convert a shaft frequency in Hz to r/min.

    >>> hz_to_rpm(16.3)
    978.0
    """
    return frequency_hz * 60.0


def peak_to_peak_mm_from_peak_m_s2(peak_m_s2: float, frequency_hz: float) -> float:
    """Peak-to-peak displacement in mm of a sinusoid of given peak acceleration.

    ``2 a / (2 pi f)^2``, in mm; ``frequency_hz`` must be positive.

    >>> peak_to_peak_mm_from_peak_m_s2(9.80665, 10.0)
    4.9681
    """
    return 2e3 * peak_m_s2 / (2.0 * math.pi * frequency_hz) ** 2


def throw_factor(stroke_peak_to_peak_mm: float, speed_rpm: float) -> float:
    """Peak acceleration in g of a circular or linear stroke.

    ``(stroke / 2) omega^2 / g``.

    >>> throw_factor(6.0, 978.0)
    3.209
    """
    return (
        0.5e-3
        * stroke_peak_to_peak_mm
        * (2.0 * math.pi * rpm_to_hz(speed_rpm)) ** 2
        / STANDARD_GRAVITY_M_S2
    )


def amplitude_ratio_to_db(ratio: float) -> float:
    """Level difference ``20 lg(ratio)`` of two field quantities (ISO 80000-8).

    >>> amplitude_ratio_to_db(2.0)
    6.0206
    """
    return 20.0 * math.log10(ratio)


def power_ratio_to_db(ratio: float) -> float:
    """Level difference ``10 lg(ratio)`` of two power quantities (ISO 80000-8).

    >>> power_ratio_to_db(2.0)
    3.0103
    """
    return 10.0 * math.log10(ratio)
