"""Several recordings of one point in the order of time: was the machine warm and settled.

Limits whose comment names no source are starting limits of this project, common practice
without a published source.
"""

from collections.abc import Sequence

import numpy as np
from scipy import signal

from vibhealth._check import check_positive
from vibhealth.diagnosis.quality_facts import Outcome, hold, not_judged, passed, watch
from vibhealth.errors import InputError
from vibhealth.model import QualityFinding, Recording

__all__ = ["band_level", "check_series"]

# Largest change of the level in the bearing band, first to last, that counts as steady, and the
# part of it by which a level may move against the drift.
LEVEL_DRIFT = 1.25
BACKWARD_SHARE = 0.05
# A housing that still warms up, in degrees Celsius per ten minutes; smaller changes in all are
# what a thermometer reads from one time to the next.
TEMPERATURE_SLOPE_C, SMALLEST_CHANGE_C = 1.0, 1.0
BLOCK_S = 0.05
HIGHEST_SHARE_OF_NYQUIST = 0.98
ADVICE = (
    "Let the machine run until the housing temperature changes by less than 1 °C in 10 minutes "
    "(30 to 60 minutes), then record all of them again."
)


def band_level(recording: Recording, band_hz: tuple[float, float]) -> float | None:
    """Median of the rms values that 50 ms pieces have in a band, which single hits do not move.

    Parameters
    ----------
    recording : Recording
        One channel.
    band_hz : tuple of float
        ``0 < low < high``; cut to what rate and sensor show.

    Returns
    -------
    float or None
        In the unit of the samples; None where less than half of the band was recorded.

    Raises
    ------
    InputError
        If the band breaks its rule.
    """
    low_hz, high_hz = band_hz
    if not 0 < low_hz < high_hz < np.inf:
        msg = f"band_hz must satisfy 0 < low < high, got {band_hz}"
        raise InputError(msg)
    rate = check_positive(recording.sampling_rate_hz, name="sampling_rate_hz")
    usable = recording.sensor_usable_hz or (0.0, np.inf)
    low = max(low_hz, usable[0])
    high = min(high_hz, usable[1], HIGHEST_SHARE_OF_NYQUIST * rate / 2)
    size = round(BLOCK_S * rate)
    if high - low < 0.5 * (high_hz - low_hz) or recording.samples.size < 2 * size:
        return None
    frequency, _, power = signal.spectrogram(
        recording.samples, rate, window="hann", nperseg=size, noverlap=0, detrend="linear"
    )
    inside = (frequency >= low) & (frequency <= high)
    spacing = float(frequency[1])
    return float(np.sqrt(np.median(power[inside].sum(axis=0)) * spacing))


def check_series(
    recordings: Sequence[Recording],
    *,
    bearing_band_hz: tuple[float, float] | None,
    level_drift: float = LEVEL_DRIFT,
) -> tuple[QualityFinding, ...]:
    """Check that a machine was warm and settled while its recordings were made.

    Parameters
    ----------
    recordings : sequence of Recording
        Of one point in one state, in the order of time, at least two.
    bearing_band_hz : tuple of float or None
        Where the level is followed; None leaves it out.
    level_drift : float
        Largest steady change of the level, first to last, above 1.

    Returns
    -------
    tuple of QualityFinding
        ``level-course`` (the level rises or falls steadily: hold from three recordings on,
        with two a watch) and ``temperature-course`` (the stated temperatures change by
        more than 1 °C in 10 minutes: hold; a missing one or time: not judged).

    Raises
    ------
    InputError
        If there are fewer than two recordings, or they are of several points.
    """
    if len(recordings) < 2:
        msg = f"a series needs at least two recordings of one point, got {len(recordings)}"
        raise InputError(msg)
    points = {(recording.point, recording.direction) for recording in recordings}
    if len(points) > 1:
        names = ", ".join(sorted(str(point) for point, _ in points))
        msg = f"a series must be of one point, got {names}; give one point at a time"
        raise InputError(msg)
    level = _level_course(recordings, bearing_band_hz, level_drift)
    outcomes = (
        ("level-course", "High-frequency level settled", level),
        ("temperature-course", "Housing temperature settled", _temperatures(recordings)),
    )
    return tuple(
        QualityFinding(id=name, title=title, result=o.result, detail=o.detail, advice=o.advice)
        for name, title, o in outcomes
    )


def _level_course(
    recordings: Sequence[Recording], band_hz: tuple[float, float] | None, drift: float
) -> Outcome:
    if band_hz is None:
        return not_judged("No bearing band is given.", "Write the bearing band on the card.")
    if len({(recording.unit, recording.sampling_rate_hz) for recording in recordings}) > 1:
        return not_judged(
            "Units or sampling rates differ, so levels cannot be compared.",
            "Record a point always with the same settings.",
        )
    found = [band_level(recording, band_hz) for recording in recordings]
    levels = np.array([level for level in found if level])
    if levels.size < len(recordings):
        return not_judged("The bearing band was not recorded in all of them.", "Record faster.")
    change = float(levels[-1] / levels[0])
    words = (
        f"From the first to the last of {levels.size} recordings the level in the bearing band "
        f"changes by {100 * (change - 1):+.0f} % (limit {100 * (drift - 1):.0f} % if steady)"
    )
    steps = np.diff(np.log(levels)) * np.sign(np.log(change))
    is_steady = bool(np.all(steps > -BACKWARD_SHARE * abs(np.log(change))))
    if max(change, 1 / change) <= drift or not is_steady:
        return passed(f"{words}.")
    text = f"{words}, step by step the same way: the machine was not settled."
    return hold(text, ADVICE) if levels.size > 2 else watch(text, ADVICE)


def _temperatures(recordings: Sequence[Recording]) -> Outcome:
    advice = "Write start_time and temperature_c beside each recording."
    stated = [
        (recording.start_time, recording.temperature_c)
        for recording in recordings
        if recording.start_time is not None and recording.temperature_c is not None
    ]
    if len(stated) < len(recordings):
        return not_judged("Temperature or start time of a recording is not stated.", advice)
    if len({time.utcoffset() is None for time, _ in stated}) > 1:
        return not_judged("Some start times have a time zone and some have none.", advice)
    minutes = np.array([(time - stated[0][0]).total_seconds() / 60 for time, _ in stated])
    degrees = np.array([value for _, value in stated])
    if np.ptp(minutes) <= 0:
        return not_judged("All recordings state the same start time.", advice)
    slope = 10 * float(np.polyfit(minutes - minutes.mean(), degrees, 1)[0])
    words = (
        f"The stated temperature changes by {slope:+.1f} °C in 10 minutes, "
        f"{np.ptp(degrees):.1f} °C in all (limit {TEMPERATURE_SLOPE_C:g} °C in 10 minutes)"
    )
    if abs(slope) > TEMPERATURE_SLOPE_C and np.ptp(degrees) > SMALLEST_CHANGE_C:
        return hold(f"{words}: the machine was not warm.", ADVICE)
    return passed(f"{words}.")
