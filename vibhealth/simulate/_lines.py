"""Hum in the bearing band that is no bearing: inverter lines, gear mesh, a bent coupling."""

import numpy as np
from numpy.typing import NDArray

from vibhealth.simulate.settings import SimulationSettings
from vibhealth.units import g_to_m_s2

__all__ = ["coupling_modulation", "gear_mesh", "inverter_lines"]

# Amplitudes over the carrier's at multiples of the supply frequency to either side of the switching
# frequency and of its double: a pulse-width modulated voltage has its lines in such groups, spaced
# by whole multiples of the supply frequency (D. G. Holmes and T. A. Lipo, Pulse Width Modulation
# for Power Converters, 2003, ch. 3, from memory); how high each is, is common practice, no source.
_GROUPS = (
    {0: 1.0, 1: 0.15, 2: 0.5, 3: 0.08, 4: 0.25},
    {0: 0.3, 1: 0.4, 2: 0.1, 3: 0.2, 4: 0.05},
)
# Mesh harmonics over the first, and how a pinion a little out of round modulates the mesh once
# per turn: amplitude as a share, phase in radians (common practice, no source).
_MESH_HARMONICS = (1.0, 0.5, 0.25)
_MESH_SWING = 0.3
_MESH_PHASE_RAD = 0.4
# A bent coupling pulls two and three times per turn (common practice, no source).
_COUPLING_SHARES = {2: 1.0, 3: 0.5}


def inverter_lines(
    time_s: NDArray[np.float64], settings: SimulationSettings, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Switching frequency, its double, and side bands at multiples of the supply frequency.

    Lines at or above half the sampling rate are left out, as a recorder's filter does.
    """
    lines = np.zeros_like(time_s)
    if settings.inverter_hz is None:
        return lines
    nyquist_hz = settings.sampling_rate_hz / 2
    for multiple, group in enumerate(_GROUPS, start=1):
        for number, share in group.items():
            for sign in (1,) if number == 0 else (1, -1):
                frequency_hz = (
                    multiple * settings.inverter_hz + sign * number * settings.inverter_supply_hz
                )
                phase = 2 * np.pi * rng.random()
                if 0 < frequency_hz < nyquist_hz:
                    lines += share * np.cos(2 * np.pi * frequency_hz * time_s + phase)
    lines *= g_to_m_s2(settings.inverter_g)
    return lines


def gear_mesh(
    shaft_turns: NDArray[np.float64],
    highest_shaft_hz: float,
    settings: SimulationSettings,
    rng: np.random.Generator,
) -> NDArray[np.float64]:
    """Tooth mesh and its harmonics below half the sampling rate, swinging once per turn."""
    mesh = np.zeros_like(shaft_turns)
    if settings.gear_teeth == 0:
        return mesh
    swing_turns, wobble_turns = rng.random(2)
    swing = 1 + _MESH_SWING * np.cos(2 * np.pi * (shaft_turns - swing_turns))
    wobble_rad = _MESH_PHASE_RAD * np.cos(2 * np.pi * (shaft_turns - wobble_turns))
    for number, share in enumerate(_MESH_HARMONICS, start=1):
        phase = 2 * np.pi * rng.random()
        if number * settings.gear_teeth * highest_shaft_hz < settings.sampling_rate_hz / 2:
            angle = 2 * np.pi * settings.gear_teeth * shaft_turns + wobble_rad
            mesh += share * np.cos(number * angle + phase)
    mesh *= g_to_m_s2(settings.gear_g) * swing
    return mesh


def coupling_modulation(
    shaft_turns: NDArray[np.float64], settings: SimulationSettings
) -> NDArray[np.float64]:
    """How a bent coupling modulates the rolling noise: 2x and 3x, zero on average."""
    shape = sum(
        share * np.cos(2 * np.pi * number * shaft_turns)
        for number, share in _COUPLING_SHARES.items()
    )
    return np.asarray(settings.coupling_modulation * shape, dtype=np.float64)
