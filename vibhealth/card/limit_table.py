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
)

LIMIT_DEFINITIONS: tuple[LimitDefinition, ...] = tuple(
    LimitDefinition(
        id=name, default=default, unit=unit, low=low, high=high, source=source, meaning=meaning
    )
    for name, default, unit, (low, high), meaning, source in TABLE
)

BY_ID: Mapping[str, LimitDefinition] = {limit.id: limit for limit in LIMIT_DEFINITIONS}

# (first, second): first must not exceed second.
ORDERED: tuple[tuple[str, str], ...] = (
    *(
        (limit.id, limit.id.replace("_watch", "_hold"))
        for limit in LIMIT_DEFINITIONS
        if limit.id.replace("_watch", "_hold") in BY_ID and "_watch" in limit.id
    ),
    ("depth_watch", "depth_present"),
    ("depth_present", "depth_hold"),
    ("minimum_turns", "recommended_turns"),
    ("minimum_recordings", "recommended_recordings"),
)
WHOLE = {"minimum_recordings", "recommended_recordings", "clipped_samples_hold"}
