"""Limits of speed, stroke and the ratios of the motion."""

from vibhealth.card._limit_rows import PRACTICE, Rows

__all__ = ["ROWS"]

ROWS: Rows = (
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
)
