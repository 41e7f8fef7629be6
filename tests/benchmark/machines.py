"""Invented machines for the campaigns: random bearings whose families can be told apart."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.bearing import blind_spots
from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.errors import GeometryError
from vibhealth.model import Calibration, Recording
from vibhealth.simulate import Resonance, SimulatedRecording, SimulationSettings

__all__ = [
    "LOADS",
    "RATE_HZ",
    "SPEED_RPM",
    "TURNS",
    "analyzed",
    "machine_card",
    "random_card",
    "recording_from",
    "running",
]

# Short recordings at a low rate, so that one search takes less than a second.
RATE_HZ = 8000.0
SPEED_RPM = 1200.0
TURNS = 450.0
# Slow change of speed that the chain takes as steady; anything faster is resampled first.
STEADY_WANDER_PERCENT = 0.05
RESONANCES = (
    Resonance(frequency_hz=1800.0, damping_ratio=0.04, gain=1.0),
    Resonance(frequency_hz=3000.0, damping_ratio=0.03, gain=0.6),
)
BEARING_BAND_HZ = (1000.0, 3900.0)

# Load columns: what the card says of ring and load.
LOADS: dict[str, dict[str, str]] = {
    "rotating": {"load_case": "rotating", "rotating_ring": "inner"},
    "stationary": {"load_case": "stationary", "rotating_ring": "inner"},
    "twice-per-turn": {"load_case": "twice-per-turn", "rotating_ring": "inner"},
    "outer-ring-turns": {"load_case": "stationary", "rotating_ring": "outer"},
}


def machine_card(
    geometry: dict[str, float], load: str, *, stroke_mm: float | None = None
) -> MachineCard:
    """A machine with one bearing and one point; with a stroke, one that shakes on purpose."""
    exciter = {"exciter": {"stroke_mm": {"x": stroke_mm, "y": stroke_mm}}}
    return MachineCard.model_validate(
        {
            **(exciter if stroke_mm is not None else {}),
            "schema_version": 1,
            "machine": {"id": "deck feeder F3", "nominal_speed_rpm": SPEED_RPM},
            "bearing": [{"name": "main", **geometry, **LOADS[load]}],
            "sensor": [
                {
                    "name": "A1",
                    "sensitivity_mv_per_g": 10.0,
                    "full_scale_v": 5.0,
                    "range_g": 50.0,
                    "usable_hz": [1.0, 4000.0],
                }
            ],
            "point": [{"name": "P1X", "direction": "x", "sensor": "A1", "channel": 1}],
            "analysis": {"bearing_band_hz": list(BEARING_BAND_HZ)},
        }
    )


def random_card(
    rng: np.random.Generator, load: str, *, stroke_mm: float | None = None
) -> MachineCard:
    """A random bearing without blind spots: no family on a shaft line or on another family.

    8 to 20 elements, 0.12 to 0.3 of the pitch circle in diameter, contact angle up to
    15 degrees: what rolling bearings are (common practice, no source).
    """
    while True:
        geometry = {
            "element_count": int(rng.integers(8, 21)),
            "element_diameter_mm": float(150.0 * rng.uniform(0.12, 0.3)),
            "pitch_diameter_mm": 150.0,
            "contact_angle_deg": float(rng.uniform(0.0, 15.0)),
        }
        try:
            card = machine_card(geometry, load, stroke_mm=stroke_mm)
            bearing = card.rolling_bearings()[0]
        except (GeometryError, ValueError):  # the elements would overlap
            continue
        spots = blind_spots(bearing, card.analysis.slip_percent)
        if not any(spot.kind in {"shaft-line", "coincidence"} for spot in spots):
            return card


def running(seed: int, turns: float = TURNS, **changes: Any) -> SimulationSettings:
    """How the machine of `machine_card` runs."""
    settings: dict[str, Any] = {
        "duration_s": turns * 60 / SPEED_RPM,
        "sampling_rate_hz": RATE_HZ,
        "speed_rpm": SPEED_RPM,
        "speed_wander_percent": STEADY_WANDER_PERCENT,
        "resonances": RESONANCES,
        "seed": seed,
    }
    return SimulationSettings(**(settings | changes))


def recording_from(simulated: SimulatedRecording) -> Recording:
    """The simulated point as if it had been read from a calibrated file."""
    return Recording(
        samples=simulated.samples[0],
        sampling_rate_hz=simulated.sampling_rate_hz,
        unit="m/s2",
        path="simulated",
        sha256="",
        point=simulated.points[0],
        direction=simulated.directions[0],
        calibration=Calibration(scale_m_s2=1.0, source="simulated in m/s2"),
    )


def analyzed(
    card: MachineCard,
    samples: NDArray[np.float64],
    *,
    rate_hz: float = RATE_HZ,
    shaft_hz: float = SPEED_RPM / 60,
    is_calibrated: bool = True,
) -> FamilyReport:
    """The search alone, at the true speed, with the default limits."""
    limits = Limits.default()
    report = find_families(
        samples,
        rate_hz,
        shaft_frequency_hz=shaft_hz,
        bearings=card.rolling_bearings(),
        slip_percent=card.analysis.slip_percent,
        limits=FamilyLimits(
            depth_watch=limits.value("depth_watch"),
            depth_present=limits.value("depth_present"),
            depth_hold=limits.value("depth_hold"),
            false_alarm_probability=limits.value("family_false_alarm_probability"),
        ),
        is_calibrated=is_calibrated,
    )
    if report.not_judged:
        msg = f"the search did not judge a recording: {report.not_judged}"
        raise RuntimeError(msg)
    return report
