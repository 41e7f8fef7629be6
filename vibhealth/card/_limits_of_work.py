"""Limits of the work by hand: torque, clamp force, oil, clearance, temperature."""

from vibhealth.card._limit_rows import PRACTICE, Rows

__all__ = ["ROWS"]

ROWS: Rows = (
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
