"""What a mistake of a rebuild does to the motion and the noise of the machine."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

from vibhealth.simulate._ranges import check_range

__all__ = ["MachineFault"]

# Allowed range of each plain number, both ends allowed.
_RANGES: dict[str, tuple[float, float]] = {
    "orbit_turn_deg": (-90.0, 90.0),
    "axial_gain": (0.0, 100.0),
    "harmonic_gain": (0.0, 100.0),
    "second_order_gain": (0.0, 100.0),
    "axial_second_order_gain": (0.0, 100.0),
    "base_gain": (0.0, 100.0),
    "motor_gain": (0.0, 100.0),
    "stop_gap": (-1.0, 10.0),
    "stop_softness": (0.0, 1.0),
    "stop_m_s2": (0.0, 1e4),
    "hits_per_turn": (0.0, 20.0),
    "hit_m_s2": (0.0, 1e4),
    "rub_m_s2_rms": (0.0, 1e3),
    "rub_share_of_turn": (0.01, 1.0),
    "guard_m_s2": (0.0, 1e4),
    "grit_per_second": (0.0, 1000.0),
    "grit_m_s2": (0.0, 1e4),
    "ring_distortion": (0.0, 1.0),
    "beat_depth": (0.0, 1.0),
    "beat_hz": (0.0, 100.0),
    "isolator_factor": (0.1, 10.0),
    "wobble": (0.0, 10.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFault:
    """Effects of a mistake on the invented machine; the defaults change nothing.

    Parameters
    ----------
    stroke_factor : mapping of direction to float
        Stroke over that of a good machine, for the directions it names, at least 0.
    orbit_turn_deg : float
        Turns the orbit in the plane of x and y.
    is_reversed : bool
        The shaft turns the other way round.
    axial_gain, axial_second_order_gain : float
        Factor of the 1x, and of 2x over it, along z; 3x gets the square root of the latter.
    harmonic_gain, second_order_gain : float
        Factor of all harmonics, and of 2x alone along x and y on top of it.
    base_gain, motor_gain : float
        Factor of the motion of base and motor.
    stop_gap : float or None
        Where something stops the body along +x, over the steady amplitude along
        x; None for nothing in the way.
    stop_softness : float
        Share of the way beyond the gap that the body still goes: 0 for a hard stop.
    stop_m_s2 : float
        Peak of the structure's answer to a contact at the steady speed's largest velocity.
    hits_per_turn, hit_m_s2 : float
        Hits at fixed shaft angles and their peak; a whole number of them.
    rub_m_s2_rms, rub_share_of_turn : float
        Broadband scraping once per turn, and for which part of the turn.
    guard_clearance_mm : float or None
        Distance of a guard that stands in one radial direction and is struck when the
        displacement reaches it; None: never.
    guard_m_s2 : float
        Peak of a guard strike at the steady speed's largest velocity.
    grit_per_second, grit_m_s2 : float
        Rate of random spikes from hard particles in the bearing, and their median size.
    ring_distortion : float
        Depth with which elements that pass a distorted outer ring modulate the rolling
        noise, itself modulated twice per turn.
    beat_depth, beat_hz : float
        Depth and rate of a slow beat of the 1x.
    isolator_factor : float
        Isolator frequency over that of a good machine.
    wobble : float
        Random rocking at the isolator frequency: rms displacement over the 1x amplitude.

    Raises
    ------
    SettingsError
        If a value is outside its range.
    """

    stroke_factor: Mapping[str, float] = field(default_factory=dict)
    orbit_turn_deg: float = 0.0
    is_reversed: bool = False
    axial_gain: float = 1.0
    axial_second_order_gain: float = 1.0
    harmonic_gain: float = 1.0
    second_order_gain: float = 1.0
    base_gain: float = 1.0
    motor_gain: float = 1.0
    stop_gap: float | None = None
    stop_softness: float = 0.2
    stop_m_s2: float = 0.0
    hits_per_turn: int = 0
    hit_m_s2: float = 0.0
    rub_m_s2_rms: float = 0.0
    rub_share_of_turn: float = 0.2
    guard_clearance_mm: float | None = None
    guard_m_s2: float = 20.0
    grit_per_second: float = 0.0
    grit_m_s2: float = 2.0
    ring_distortion: float = 0.0
    beat_depth: float = 0.0
    beat_hz: float = 0.5
    isolator_factor: float = 1.0
    wobble: float = 0.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name in _RANGES and value is not None:
                check_range(item.name, value, *_RANGES[item.name])
        if self.guard_clearance_mm is not None:
            check_range("guard_clearance_mm", self.guard_clearance_mm, 0.0, 1e3, low_allowed=False)
        for direction, factor in self.stroke_factor.items():
            check_range(f"stroke_factor[{direction!r}]", factor, 0.0, 100.0)
