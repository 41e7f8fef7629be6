"""The load that a shaking body puts on the bearings of its exciter.

FAG, The Design of Rolling Bearing Mountings, WL 00 200/5, examples 91 and 97 to 100: force of a
mass on a circle, shared between the bearings, times 1.2.
"""

import math

from vibhealth._check import check_positive
from vibhealth.errors import InputError
from vibhealth.units import rpm_to_hz

__all__ = [
    "MACHINE_FACTOR",
    "body_force_kn",
    "equivalent_load_kn",
    "swinging_force_kn",
    "unbalance_force_kn",
]

# FAG WL 00 200/5, examples 91 and 97 to 100 (fz); NSK gives the same for vibrating machines (fw).
MACHINE_FACTOR = 1.2
SHARE_OF_LARGEST = 0.68
SHARE_OF_SMALLEST = 0.32


def unbalance_force_kn(unbalance_kg_m: float, speed_rpm: float) -> float:
    """Force of a turning unbalance, ``F = U w^2``.

    Parameters
    ----------
    unbalance_kg_m : float
        Static moment, mass times distance of its centre from the shaft axis, in kg m; above 0.
    speed_rpm : float
        Shaft speed in r/min, above 0.

    Returns
    -------
    float
        Force in kN (mechanics; with two shafts that of both together if ``unbalance_kg_m`` is).

    Raises
    ------
    InputError
        For a value that is not above 0.

    Examples
    --------
    >>> unbalance_force_kn(2.46, 978.0)
    25.803
    """
    moment = check_positive(unbalance_kg_m, name="unbalance_kg_m")
    omega = 2.0 * math.pi * rpm_to_hz(check_positive(speed_rpm, name="speed_rpm"))
    return moment * omega**2 / 1000.0


def body_force_kn(body_mass_kg: float, stroke_radius_mm: float, speed_rpm: float) -> float:
    """Force that keeps a body on its path, ``F = m r w^2``.

    Parameters
    ----------
    body_mass_kg : float
        Mass that shakes, in kg; above 0.
    stroke_radius_mm : float
        Half the peak-to-peak stroke, in mm; above 0.
    speed_rpm : float
        Shaft speed in r/min, above 0.

    Returns
    -------
    float
        Force in kN. Exactly the force in the bearings for the mass without the eccentric masses;
        for all that shakes it equals that of the unbalance, a little more (freely suspended body:
        ``m_all r = U``).

    Raises
    ------
    InputError
        For a value that is not above 0.

    Examples
    --------
    >>> body_force_kn(820.0, 3.0, 978.0)
    25.803
    """
    mass = check_positive(body_mass_kg, name="body_mass_kg")
    radius = check_positive(stroke_radius_mm, name="stroke_radius_mm")
    return unbalance_force_kn(mass * radius / 1000.0, speed_rpm)


def equivalent_load_kn(
    force_kn: float, *, bearings: int, machine_factor: float = MACHINE_FACTOR
) -> float:
    """Dynamic equivalent load P of one of several bearings that share a force equally.

    Parameters
    ----------
    force_kn : float
        Whole force in kN, above 0.
    bearings : int
        How many carry it, 1 or more.
    machine_factor : float
        Allowance for what shakes beside the intended motion; 1 or more.

    Returns
    -------
    float
        P in kN.

    Raises
    ------
    InputError
        For a force not above 0, no bearing, or a factor below 1.

    Notes
    -----
    FAG WL 00 200/5, examples 91 and 97 to 100.

    Examples
    --------
    >>> equivalent_load_kn(238.0, bearings=4, machine_factor=1.0)
    59.5
    """
    force = check_positive(force_kn, name="force_kn")
    if bearings < 1:
        msg = f"bearings must be 1 or more, got {bearings}"
        raise InputError(msg)
    if not (math.isfinite(machine_factor) and machine_factor >= 1):
        msg = f"machine_factor must be 1 or more, got {machine_factor}"
        raise InputError(msg)
    return machine_factor * force / bearings


def swinging_force_kn(largest_kn: float, smallest_kn: float) -> float:
    """Constant force that wears like one that swings between two values each half turn.

    Of two counter-turning shafts the bearings carry most across the line of motion, where the
    body stands still, and least along it, where the eccentric masses are drawn back with it.

    Parameters
    ----------
    largest_kn, smallest_kn : float
        The two forces in kN; above 0, and not the other way round.

    Returns
    -------
    float
        ``0.68 Fmax + 0.32 Fmin`` in kN.

    Raises
    ------
    InputError
        For a force not above 0, or a smallest force above the largest.

    Notes
    -----
    FAG WL 00 200/5, example 98. A rule: the mean of F^(10/3) over a sine-shaped swing gives
    0.695, 0.725, 0.768, 0.828, 0.906 of Fmax at Fmin / Fmax = 0, 0.2, 0.4, 0.6, 0.8, against
    0.680, 0.744, 0.808, 0.872, 0.936 of the rule, which is thus 2 % low for a small Fmin and
    else up to 5 % high.

    Examples
    --------
    >>> swinging_force_kn(73.34, 59.76)
    68.99
    """
    largest = check_positive(largest_kn, name="largest_kn")
    smallest = check_positive(smallest_kn, name="smallest_kn")
    if smallest > largest:
        msg = f"smallest_kn must not be above largest_kn ({largest:g}), got {smallest:g}; swapped?"
        raise InputError(msg)
    return SHARE_OF_LARGEST * largest + SHARE_OF_SMALLEST * smallest
