"""The limits themselves: id, default, unit, allowed range, meaning, source."""

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["BY_ID", "LIMIT_DEFINITIONS", "ORDERED", "WHOLE", "LimitDefinition"]

PRACTICE = "starting value, common practice, no source"
MANUAL = "US Army TM 5-3895-374-24-2, p. 3-1287: above 180 °F (82 °C) a screen's bearing overheats"

DATA_SETS = (
    "starting value; seeded and healthy recordings of the CWRU Bearing Data Center: below it, "
    "records show families of elements that carry no defect"
)

MIDWAY = (
    f"{PRACTICE}; midway between depth_watch and depth_hold: nothing below depth_watch counts as "
    "found"
)
SWING_MODEL = (
    f"{PRACTICE}; one-degree-of-freedom model, isolators 2 to 10 % damped: up to 10.5 where a stop "
    "takes 30 s"
)
WOULD = "that would have been found, significant and of at least watch size"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitDefinition:
    """One limit: default (None: not applied unless given), range and source."""

    id: str
    default: float | None
    unit: str
    low: float
    high: float
    source: str
    meaning: str


TABLE: tuple[tuple[str, float | None, str, tuple[float, float], str, str], ...] = (
    (
        "speed_watch_percent",
        2.0,
        "%",
        (0.01, 50),
        "shaft speed away from nominal, either way",
        PRACTICE,
    ),
    (
        "speed_hold_percent",
        3.0,
        "%",
        (0.01, 50),
        "shaft speed away from nominal; the machine's speed_tolerance_percent where larger",
        PRACTICE,
    ),
    (
        "speed_variation_watch_percent",
        1.0,
        "%",
        (0.001, 50),
        "peak-to-peak change of speed within one recording",
        PRACTICE,
    ),
    (
        "speed_variation_hold_percent",
        5.0,
        "%",
        (0.001, 50),
        "peak-to-peak change of speed within one recording",
        PRACTICE,
    ),
    (
        "stroke_watch_percent",
        10.0,
        "%",
        (0.01, 100),
        "stroke away from the stated stroke; the exciter's stroke_tolerance_percent",
        PRACTICE,
    ),
    (
        "stroke_hold_percent",
        15.0,
        "%",
        (0.01, 100),
        "stroke away from the stated stroke; 1.5 times the exciter's stroke_tolerance_percent",
        PRACTICE,
    ),
    (
        "harmonic_ratio_watch",
        0.25,
        "1",
        (0.001, 100),
        "2x to 10x acceleration, root sum square, over 1x",
        PRACTICE,
    ),
    (
        "harmonic_ratio_hold",
        0.5,
        "1",
        (0.001, 100),
        "2x to 10x acceleration, root sum square, over 1x",
        PRACTICE,
    ),
    (
        "half_order_ratio_watch",
        0.01,
        "1",
        (1e-05, 100),
        "0.5x, 1.5x and 2.5x acceleration over 1x",
        PRACTICE,
    ),
    (
        "half_order_ratio_hold",
        0.05,
        "1",
        (1e-05, 100),
        "0.5x, 1.5x and 2.5x acceleration over 1x",
        PRACTICE,
    ),
    (
        "one_sided_watch",
        0.05,
        "1",
        (0.001, 1),
        "how much farther the motion reaches to one side, over its whole travel",
        PRACTICE,
    ),
    (
        "one_sided_hold",
        0.10,
        "1",
        (0.001, 1),
        "how much farther the motion reaches to one side, over its whole travel",
        PRACTICE,
    ),
    (
        "third_order_ratio_watch",
        0.01,
        "1",
        (1e-05, 100),
        "1/3x and 2/3x acceleration over 1x",
        PRACTICE,
    ),
    (
        "third_order_ratio_hold",
        0.05,
        "1",
        (1e-05, 100),
        "1/3x and 2/3x acceleration over 1x",
        PRACTICE,
    ),
    (
        "beat_watch_percent",
        5.0,
        "%",
        (0.01, 200),
        "slow change of the stroke within one recording",
        PRACTICE,
    ),
    (
        "beat_hold_percent",
        10.0,
        "%",
        (0.01, 200),
        "slow change of the stroke within one recording",
        PRACTICE,
    ),
    (
        "wobble_ratio_watch",
        0.02,
        "1",
        (1e-05, 10),
        "slow displacement below 1x over that at 1x",
        PRACTICE,
    ),
    (
        "wobble_ratio_hold",
        0.05,
        "1",
        (1e-05, 10),
        "slow displacement below 1x over that at 1x",
        PRACTICE,
    ),
    (
        "stroke_drift_watch_percent",
        5.0,
        "%",
        (0.01, 200),
        "spread of the stroke among the recordings of a point",
        PRACTICE,
    ),
    (
        "stroke_drift_hold_percent",
        10.0,
        "%",
        (0.01, 200),
        "spread of the stroke among the recordings of a point",
        PRACTICE,
    ),
    (
        "axial_ratio_watch",
        0.15,
        "1",
        (0.001, 10),
        "1x along the shaft over that across it, where the card states no stroke along it",
        PRACTICE,
    ),
    (
        "axial_ratio_hold",
        0.30,
        "1",
        (0.001, 10),
        "1x along the shaft over that across it, where the card states no stroke along it",
        PRACTICE,
    ),
    (
        "axial_harmonic_ratio_watch",
        0.06,
        "1",
        (0.001, 10),
        "2x and 3x acceleration along the shaft over 1x across it",
        PRACTICE,
    ),
    (
        "axial_harmonic_ratio_hold",
        0.12,
        "1",
        (0.001, 10),
        "2x and 3x acceleration along the shaft over 1x across it",
        PRACTICE,
    ),
    (
        "base_ratio_watch",
        0.05,
        "1",
        (0.0001, 10),
        "stroke of the base over that of the body",
        PRACTICE,
    ),
    (
        "base_ratio_hold",
        0.10,
        "1",
        (0.0001, 10),
        "stroke of the base over that of the body",
        PRACTICE,
    ),
    (
        "orbit_axes_watch_percent",
        10.0,
        "%",
        (0.1, 100),
        "ratio of the orbit's axes away from that of the card's strokes",
        PRACTICE,
    ),
    (
        "orbit_axes_hold_percent",
        15.0,
        "%",
        (0.1, 100),
        "ratio of the orbit's axes away from that of the card's strokes",
        PRACTICE,
    ),
    (
        "orbit_tilt_watch_deg",
        5.0,
        "deg",
        (0.1, 90),
        "tilt of the orbit's long axis away from the card's",
        PRACTICE,
    ),
    (
        "orbit_tilt_hold_deg",
        10.0,
        "deg",
        (0.1, 90),
        "tilt of the orbit's long axis away from the card's",
        PRACTICE,
    ),
    (
        "motion_since_before_watch_ratio",
        1.5,
        "1",
        (1, 1000),
        "harmonics, or motion along the shaft, over those before the rebuild",
        PRACTICE,
    ),
    (
        "motion_since_before_hold_ratio",
        2.0,
        "1",
        (1, 1000),
        "harmonics, or motion along the shaft, over those before the rebuild",
        PRACTICE,
    ),
    (
        "random_hits_watch",
        2.0,
        "hits/100 turns",
        (0.01, 100000),
        "hard hits at random in the bearing band, recorded empty",
        PRACTICE,
    ),
    (
        "random_hits_hold",
        5.0,
        "hits/100 turns",
        (0.01, 100000),
        "hard hits at random in the bearing band, recorded empty",
        PRACTICE,
    ),
    (
        "high_frequency_drift_watch",
        1.10,
        "1",
        (1.001, 100),
        "bearing-band level of the last warm recording of a check over that of the first",
        PRACTICE,
    ),
    (
        "high_frequency_drift_hold",
        1.25,
        "1",
        (1.001, 100),
        "bearing-band level of the last warm recording of a check over that of the first",
        PRACTICE,
    ),
    (
        "transient_strikes_hold",
        2.0,
        "strikes",
        (1, 1000),
        "hard strikes in one start or stop that do not come at working speed",
        PRACTICE,
    ),
    (
        "swing_watch_ratio",
        1.2,
        "1",
        (1, 100),
        "largest swing while starting or stopping over the one noted when the machine was good",
        PRACTICE,
    ),
    (
        "swing_hold_ratio",
        1.5,
        "1",
        (1, 100),
        "largest swing while starting or stopping over the one noted when the machine was good",
        PRACTICE,
    ),
    (
        "swing_unstated_hold_ratio",
        12.0,
        "1",
        (1, 1000),
        "largest swing while starting or stopping over that at speed, where none was ever noted",
        SWING_MODEL,
    ),
    (
        "run_up_watch_ratio",
        1.2,
        "1",
        (1, 100),
        "time to working speed over the one noted when the machine was good",
        PRACTICE,
    ),
    (
        "run_up_hold_ratio",
        1.5,
        "1",
        (1, 100),
        "time to working speed over the one noted when the machine was good",
        PRACTICE,
    ),
    (
        "coast_down_watch_ratio",
        0.8,
        "1",
        (0.01, 1),
        "time to standstill over the one noted when the machine was good",
        PRACTICE,
    ),
    (
        "coast_down_hold_ratio",
        0.7,
        "1",
        (0.01, 1),
        "time to standstill over the one noted when the machine was good",
        PRACTICE,
    ),
    (
        "isolator_frequency_watch_percent",
        10.0,
        "%",
        (0.1, 100),
        "isolator frequency away from the card's",
        PRACTICE,
    ),
    (
        "isolator_frequency_hold_percent",
        20.0,
        "%",
        (0.1, 100),
        "isolator frequency away from the card's",
        PRACTICE,
    ),
    (
        "depth_watch",
        0.15,
        "1",
        (0.001, 10),
        "modulation depth of a family, whitened record",
        PRACTICE,
    ),
    (
        "depth_present",
        0.3,
        "1",
        (0.001, 10),
        "modulation depth from which a family is named as present",
        DATA_SETS,
    ),
    (
        "depth_hold",
        0.3,
        "1",
        (0.001, 10),
        "modulation depth of a family, whitened record",
        PRACTICE,
    ),
    (
        "family_false_alarm_probability",
        0.001,
        "1",
        (1e-09, 0.1),
        "a family counts as significant below this, everything that was searched included",
        PRACTICE,
    ),
    (
        "detectable_depth_watch",
        0.225,
        "1",
        (0.001, 10),
        f"smallest modulation depth {WOULD}",
        MIDWAY,
    ),
    (
        "detectable_depth_hold",
        0.3,
        "1",
        (0.001, 10),
        f"smallest modulation depth {WOULD}",
        PRACTICE,
    ),
    (
        "detectable_impact_hold_m_s2",
        None,
        "m/s2",
        (0.0001, 10000.0),
        f"smallest strike at the sensor {WOULD}",
        "not applied unless the card gives it",
    ),
    (
        "minimum_turns",
        400.0,
        "turns",
        (50, 1000000.0),
        "shortest recording that is judged",
        PRACTICE,
    ),
    (
        "recommended_turns",
        1000.0,
        "turns",
        (50, 10000000.0),
        "length of a recording for a decision",
        PRACTICE,
    ),
    (
        "minimum_recordings",
        1.0,
        "recordings",
        (1, 100),
        "as-left recordings of a point that are judged",
        PRACTICE,
    ),
    (
        "recommended_recordings",
        3.0,
        "recordings",
        (1, 100),
        "as-left recordings of a point for a decision",
        PRACTICE,
    ),
    (
        "high_frequency_spread_ratio",
        1.5,
        "1",
        (1.001, 100),
        "largest over smallest bearing-band level among recordings of one point",
        PRACTICE,
    ),
    (
        "high_frequency_ratio_watch",
        1.6,
        "1",
        (0.01, 1000),
        "bearing-band level as-left over as-found",
        PRACTICE,
    ),
    (
        "high_frequency_ratio_hold",
        2.5,
        "1",
        (0.01, 1000),
        "bearing-band level as-left over as-found",
        PRACTICE,
    ),
    (
        "temperature_hold_c",
        82.0,
        "degC",
        (20, 200),
        "housing temperature; the machine's temperature_limit_c where given",
        MANUAL,
    ),
    (
        "worse_than_before_db",
        3.0,
        "dB",
        (0.1, 60),
        "a quantity of the as-left recording above that of the as-found one",
        PRACTICE,
    ),
    (
        "clipped_samples_hold",
        5.0,
        "samples",
        (1, 1000000000.0),
        "clipped samples in a recording",
        PRACTICE,
    ),
    (
        "torque_tolerance_hold_percent",
        5.0,
        "%",
        (0.1, 50),
        "torque of a bolt away from the card's figure of that stage, either way",
        PRACTICE,
    ),
    (
        "preload_watch_ratio",
        0.8,
        "1",
        (0.05, 1.5),
        "clamp force of a bolt over its proof load",
        "starting value; published torque tables aim at 0.75, a torque 5 % too high makes 0.79",
    ),
    (
        "preload_hold_ratio",
        0.9,
        "1",
        (0.05, 1.5),
        "clamp force of a bolt over its proof load",
        f"{PRACTICE}; at 1 a bolt may stretch for good",
    ),
    (
        "oil_volume_hold_percent",
        10.0,
        "%",
        (0.1, 100),
        "litres filled in away from the card's volume, either way",
        PRACTICE,
    ),
    (
        "minimum_guard_clearances",
        4.0,
        "places",
        (1, 100),
        "places round the guard at which the gap is measured",
        PRACTICE,
    ),
    (
        "guard_swing_watch_ratio",
        0.8,
        "1",
        (0.01, 10),
        "largest swing to one side while starting or stopping over the smallest gap at the guard",
        PRACTICE,
    ),
    (
        "guard_swing_hold_ratio",
        1.0,
        "1",
        (0.01, 10),
        "largest swing to one side while starting or stopping over the smallest gap at the guard",
        "geometry: from 1 on the body can reach the guard",
    ),
    (
        "temperature_rise_watch_c",
        45.0,
        "degC",
        (1, 200),
        "housing temperature above the surroundings",
        PRACTICE,
    ),
    (
        "temperature_rise_hold_c",
        60.0,
        "degC",
        (1, 200),
        "housing temperature above the surroundings",
        f"{PRACTICE}; 82 °C on a day of 22 °C",
    ),
    (
        "temperature_climb_hold_c_per_min",
        2.0,
        "degC/min",
        (0.05, 50),
        "climb of the housing temperature after the first ten minutes of running",
        PRACTICE,
    ),
    (
        "temperature_levelled_hold_c",
        1.0,
        "degC/10 min",
        (0.05, 50),
        "change of the housing temperature over the last 20 minutes or more",
        PRACTICE,
    ),
    (
        "minimum_running_minutes",
        30.0,
        "min",
        (1, 1440),
        "running time before a machine counts as warm",
        PRACTICE,
    ),
)

LIMIT_DEFINITIONS: tuple[LimitDefinition, ...] = tuple(
    LimitDefinition(
        id=name, default=default, unit=unit, low=low, high=high, source=source, meaning=meaning
    )
    for name, default, unit, (low, high), meaning, source in TABLE
)

BY_ID: Mapping[str, LimitDefinition] = {limit.id: limit for limit in LIMIT_DEFINITIONS}

# Worse the smaller they are: hold lies below watch.
FALLING = ("coast_down_watch_ratio",)

# (first, second): first must not exceed second.
ORDERED: tuple[tuple[str, str], ...] = (
    *(
        (limit.id, limit.id.replace("_watch", "_hold"))
        for limit in LIMIT_DEFINITIONS
        if limit.id.replace("_watch", "_hold") in BY_ID
        and "_watch" in limit.id
        and limit.id not in FALLING
    ),
    *((limit_id.replace("_watch", "_hold"), limit_id) for limit_id in FALLING),
    ("depth_watch", "depth_present"),
    ("depth_present", "depth_hold"),
    ("minimum_turns", "recommended_turns"),
    ("minimum_recordings", "recommended_recordings"),
)
WHOLE = {
    "minimum_recordings",
    "recommended_recordings",
    "clipped_samples_hold",
    "minimum_guard_clearances",
}
