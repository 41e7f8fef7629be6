"""Limits of the bearing, of sensitivity and of the recordings."""

from vibhealth.card._limit_rows import PRACTICE, Rows

__all__ = ["ROWS"]

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

ROWS: Rows = (
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
