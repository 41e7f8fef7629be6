"""What to simulate: the defects, the machine's state, the faults of the recording."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate._ranges import check_range
from vibhealth.simulate.machine_fault import MachineFault

__all__ = ["Defect", "Resonance", "SimulationSettings"]

# Allowed range of each plain number: low, high, whether low itself is allowed.
_RANGES: dict[str, tuple[float, float, bool]] = {
    "duration_s": (0.0, 3600.0, False),
    "sampling_rate_hz": (200.0, 1e6, True),
    "speed_rpm": (0.0, 60_000.0, False),
    "speed_wander_percent": (0.0, 10.0, True),
    "half_order_ratio": (0.0, 1.0, True),
    "looseness": (0.0, 1.0, True),
    "oil_noise_g_rms": (0.0, 100.0, True),
    "sensor_noise_g_rms": (0.0, 100.0, True),
    "noise_modulation": (0.0, 1.0, True),
    "passage_modulation": (0.0, 1.0, True),
    "passage_m_s2": (0.0, 100.0, True),
    "starvation": (0.0, 1.0, True),
    "cage_slip_percent": (-5.0, 5.0, True),
    "slip_jitter_percent": (0.0, 10.0, True),
    "slip_walk_percent": (0.0, 10.0, True),
    "load_factor": (0.05, 10.0, True),
    "path_modulation": (0.0, 1.0, True),
    "strike_scatter": (0.0, 1.0, True),
    "material_strikes_per_second": (0.0, 1000.0, True),
    "material_strike_m_s2": (0.0, 1000.0, True),
    "rattle_m_s2": (0.0, 10_000.0, True),
    "clip_g": (0.0, 10_000.0, False),
    "mains_hz": (0.0, 1000.0, False),
    "mains_g": (0.0, 100.0, True),
    "inverter_hz": (0.0, 5e5, False),
    "inverter_g": (0.0, 100.0, True),
    "inverter_supply_hz": (0.0, 1000.0, False),
    "gear_g": (0.0, 100.0, True),
    "coupling_modulation": (0.0, 0.5, True),
    "isolator_frequency_hz": (0.0, 100.0, False),
    "isolator_damping_ratio": (0.0, 0.5, False),
}
_COUNTS = ("seed", "machine_seed", "dropped_samples", "gear_teeth")
_MAY_BE_NONE = ("speed_rpm", "clip_g", "mains_hz", "inverter_hz", "isolator_frequency_hz")


@dataclass(frozen=True, slots=True, kw_only=True)
class Resonance:
    """One structural resonance that strikes and rolling noise excite.

    Parameters
    ----------
    frequency_hz : float
        Undamped natural frequency, above 0 and below half the sampling rate.
    damping_ratio : float
        Above 0, below 1.
    gain : float
        Relative amplitude of its decaying sine, above 0.

    Raises
    ------
    SettingsError
        If a value is outside its range.
    """

    frequency_hz: float
    damping_ratio: float = 0.04
    gain: float = 1.0

    def __post_init__(self) -> None:
        check_range("frequency_hz", self.frequency_hz, 0.0, 5e5, low_allowed=False)
        check_range("damping_ratio", self.damping_ratio, 0.0, 0.999, low_allowed=False)
        check_range("gain", self.gain, 0.0, 1e6, low_allowed=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """A defect of one element of one bearing.

    Parameters
    ----------
    element : Element
        The part that carries the defect.
    bearing : str or None
        Name of the bearing on the card; None for the first one.
    impact_m_s2 : float
        Zero-to-peak acceleration at the sensor of the strongest strikes (middle
        of the load zone, shortest path), above 0.
    marks_at_every_element : bool
        Marks of a ring at the spacing of the elements (brinelling all round):
        all elements strike together. Rings only.
    place_deg : float
        Where the defect sits on its ring or cage, from the middle of the load
        zone (or the x direction) at shaft angle 0. A mark on the arc of the
        turning ring that never enters the load zone stays silent.

    Raises
    ------
    SettingsError
        If the impact is not above 0, or marks all round are asked of a part
        that is not a ring.
    """

    element: Element
    bearing: str | None = None
    impact_m_s2: float = 0.5
    marks_at_every_element: bool = False
    place_deg: float = 0.0

    def __post_init__(self) -> None:
        check_range("impact_m_s2", self.impact_m_s2, 0.0, 1e5, low_allowed=False)
        check_range("place_deg", self.place_deg, -360.0, 360.0)
        rings = (Element.OUTER_RING, Element.INNER_RING)
        if self.marks_at_every_element and self.element not in rings:
            msg = (
                "marks_at_every_element needs element outer-ring or inner-ring, "
                f"got {self.element.value}"
            )
            raise SettingsError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationSettings:
    """How the invented machine runs and how it is recorded.

    Levels are plausible for a deck feeder of a few g (common practice, no
    source); every one can be set.

    Parameters
    ----------
    duration_s, sampling_rate_hz : float
        Length and rate of the recording; at least 2 samples.
    seed : int
        At least 0. Same card, defects and settings: same samples, bit by bit.
        Each contribution has its own random stream, so that a defect can be
        added to an otherwise unchanged recording.
    speed_rpm : float or None
        Mean speed; None for 0.5 % below the nominal speed of the card.
    speed_wander_percent : float
        Peak-to-peak slow change of speed (a random walk pulled back to the mean,
        and hunting) over the mean.
    first_order_g : mapping of direction to float, or None
        Amplitude of the 1x acceleration per direction; None for that of the
        card's stroke.
    harmonic_ratios : tuple of float
        Amplitudes of 2x, 3x, … over 1x, each in [0, 1].
    half_order_ratio : float
        Amplitude of 0.5x over 1x; 1.5x and 2.5x get 0.6 and 0.4 of it.
    looseness : float
        0 (all bolts hold) to 1: raises the harmonics up to sixfold and adds half
        orders of up to 10 % of 1x.
    oil_noise_g_rms : float
        Rolling and oil noise, coloured by the resonances, mostly above 500 Hz.
    sensor_noise_g_rms : float
        White noise of sensor and amplifier.
    noise_modulation : float
        Depth with which the load zone, sweeping past the sensor, modulates the
        rolling noise.
    passage_modulation : float
        Depth with which the elements that pass the sensor modulate it.
    passage_m_s2 : float
        Amplitude of the force along the load vector that swings as elements pass
        below it: what a healthy bearing shows in the raw spectrum.
    starvation : float
        0 (well oiled) to 1 (dry): noise above 3 kHz rises by up to 20 dB.
    cage_slip_percent : float
        Mean slip of the cage against pure rolling.
    slip_jitter_percent : float
        Standard deviation of each strike's place, in percent of the strike
        spacing; independent from strike to strike, so it does not add up.
    slip_walk_percent : float
        Standard deviation by which the cage gains or loses from one element
        spacing to the next, in percent of the spacing; adds up to a random walk
        that all elements of the bearing share.
    resonances : tuple of Resonance
        Each below half the sampling rate.
    load_factor : float
        Width of the load zone: 0.5 reaches 90 degrees to either side, above 1
        all elements are loaded (preload).
    path_modulation : float
        How much weaker a strike on the far side of the bearing arrives, 0 to 1.
    strike_scatter : float
        Each strike has a strength drawn evenly from [1 - scatter, 1].
    material_strikes_per_second : float
        Mean rate of falling material, at random moments.
    material_strike_m_s2 : float
        Smallest material strike; the others follow a heavy-tailed law.
    rattle_m_s2 : float
        Peak of a guard that hits once per turn.
    clip_g : float or None
        Where the converter clips.
    dropped_samples : int
        Samples lost in one gap in the middle third of the recording.
    mains_hz, mains_g : float or None, float
        Frequency and amplitude of mains pick-up; None for no pick-up.
    inverter_hz, inverter_g : float or None, float
        Switching frequency of an inverter, below half the sampling rate, and the
        amplitude of its line, fixed in Hz whatever the shaft does; None for a
        direct drive. The double and the side bands are lower.
    inverter_supply_hz : float
        What the inverter gives the motor: distance of the side bands.
    gear_teeth : int
        Teeth of a gear on the shaft, its mesh below half the sampling rate; 0 for
        none.
    gear_g : float
        Amplitude of the mesh, which swings once per turn.
    coupling_modulation : float
        Depth with which a bent coupling modulates the rolling noise at 2x, half of
        it at 3x.
    isolator_frequency_hz : float or None
        Natural frequency of the body on its isolators; None for that of the card, or
        3.1 Hz. It shows when the machine starts and stops.
    isolator_damping_ratio : float
        Damping ratio of the body on its isolators, above 0, at most 0.5.
    machine_seed : int or None
        Recordings of the same machine share it: the phases of the harmonics and the
        places of hits and rubs go by it; None for ``seed``. At least 0.
    fault : MachineFault
        What a mistake does to motion and noise; nothing by default.

    Raises
    ------
    SettingsError
        If a value is outside its range.
    """

    duration_s: float = 60.0
    sampling_rate_hz: float = 25_600.0
    seed: int = 1
    speed_rpm: float | None = None
    speed_wander_percent: float = 0.15
    first_order_g: Mapping[str, float] | None = None
    harmonic_ratios: tuple[float, ...] = (
        0.04,
        0.025,
        0.015,
        0.012,
        0.01,
        0.008,
        0.006,
        0.005,
        0.004,
    )
    half_order_ratio: float = 0.0
    looseness: float = 0.0
    oil_noise_g_rms: float = 0.02
    sensor_noise_g_rms: float = 0.0005
    noise_modulation: float = 0.3
    passage_modulation: float = 0.01
    passage_m_s2: float = 0.05
    starvation: float = 0.0
    cage_slip_percent: float = 0.6
    slip_jitter_percent: float = 0.5
    slip_walk_percent: float = 0.5
    resonances: tuple[Resonance, ...] = (
        Resonance(frequency_hz=2800.0, damping_ratio=0.04, gain=1.0),
        Resonance(frequency_hz=5200.0, damping_ratio=0.03, gain=0.6),
        Resonance(frequency_hz=8600.0, damping_ratio=0.025, gain=0.35),
    )
    load_factor: float = 0.4
    path_modulation: float = 0.5
    strike_scatter: float = 0.1
    material_strikes_per_second: float = 0.0
    material_strike_m_s2: float = 2.0
    rattle_m_s2: float = 0.0
    clip_g: float | None = None
    dropped_samples: int = 0
    mains_hz: float | None = None
    mains_g: float = 0.05
    inverter_hz: float | None = None
    inverter_g: float = 0.05
    inverter_supply_hz: float = 50.0
    gear_teeth: int = 0
    gear_g: float = 0.05
    coupling_modulation: float = 0.0
    isolator_frequency_hz: float | None = None
    isolator_damping_ratio: float = 0.05
    machine_seed: int | None = None
    fault: MachineFault = field(default_factory=MachineFault)

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name in _RANGES and not (value is None and item.name in _MAY_BE_NONE):
                low, high, low_allowed = _RANGES[item.name]
                check_range(item.name, value, low, high, low_allowed=low_allowed)
        for ratio in self.harmonic_ratios:
            check_range("harmonic_ratios", ratio, 0.0, 1.0)
        for direction, amplitude in (self.first_order_g or {}).items():
            check_range(f"first_order_g[{direction!r}]", amplitude, 0.0, 1000.0)
        self._check_counts()
        self._check_resonances()
        self._check_lines()

    @property
    def n_samples(self) -> int:
        """Samples of each point in the recording."""
        return round(self.duration_s * self.sampling_rate_hz)

    def _check_counts(self) -> None:
        for name in _COUNTS:
            value = getattr(self, name)
            if value is not None and value < 0:
                msg = f"{name} must be at least 0, got {value}"
                raise SettingsError(msg)
        if self.n_samples < 2:
            msg = (
                f"duration_s must give at least 2 samples at {self.sampling_rate_hz:g} Hz, "
                f"got {self.duration_s:g}"
            )
            raise SettingsError(msg)
        if self.dropped_samples > self.n_samples // 3:
            msg = (
                f"dropped_samples must be at most a third of the recording "
                f"({self.n_samples // 3}), got {self.dropped_samples}"
            )
            raise SettingsError(msg)

    def _check_resonances(self) -> None:
        if not self.resonances:
            msg = "resonances must hold at least one resonance, got none"
            raise SettingsError(msg)
        nyquist_hz = self.sampling_rate_hz / 2
        for resonance in self.resonances:
            if resonance.frequency_hz >= nyquist_hz:
                msg = (
                    f"resonances must lie below half the sampling rate ({nyquist_hz:g} Hz), "
                    f"got {resonance.frequency_hz:g} Hz: raise sampling_rate_hz or give others"
                )
                raise SettingsError(msg)

    def _check_lines(self) -> None:
        nyquist_hz = self.sampling_rate_hz / 2
        if self.inverter_hz is not None and self.inverter_hz >= nyquist_hz:
            msg = (
                f"inverter_hz must lie below half the sampling rate ({nyquist_hz:g} Hz), "
                f"got {self.inverter_hz:g}: raise sampling_rate_hz or give a lower one"
            )
            raise SettingsError(msg)
