"""Limits of the outlook: when a trend may be extrapolated, and which points belong together."""

from vibhealth.card._limit_rows import PRACTICE, Rows

__all__ = ["ROWS"]

ROWS: Rows = (
    (
        "trend_least_points",
        6.0,
        "1",
        (5, 1000),
        "visits in the same state before a date is extrapolated",
        PRACTICE,
    ),
    (
        "trend_least_span_days",
        21.0,
        "d",
        (1, 3650),
        "days these visits must cover",
        PRACTICE,
    ),
    (
        "trend_run_in_h",
        24.0,
        "h",
        (0, 1000),
        "after a rebuild: a new unit settles, its recordings are shown and not fitted",
        PRACTICE,
    ),
    (
        "trend_level_action_ratio",
        2.5,
        "1",
        (1.1, 100),
        "bearing-band level over that of the first visits since the rebuild: act",
        "8 dB, a change of class in ISO 2372 and VDI 2056 (from memory)",
    ),
    (
        "trend_level_early_ratio",
        1.6,
        "1",
        (1.05, 100),
        "bearing-band level over that of the first visits since the rebuild: early sign",
        "4 dB, one grade of ISO 2372 and VDI 2056 (from memory)",
    ),
    (
        "trend_temperature_spread_c",
        10.0,
        "degC",
        (1, 100),
        "housing temperature away from the median of the trend: another state",
        PRACTICE,
    ),
    (
        "trend_stop_ratio",
        3.0,
        "1",
        (1.1, 100),
        "reading over the action level: do not wait for the window",
        PRACTICE,
    ),
)
