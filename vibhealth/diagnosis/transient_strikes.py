"""Hard hits in a start or a stop that do not go on at steady speed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from vibhealth.model import Recording, RunSegment
from vibhealth.signal.filters import high_pass

__all__ = ["HitRecord", "hit_record", "hits_between", "steady_level", "strikes_per_turn"]

# Above the harmonics of the working motion (common practice, no source).
EDGE_ORDERS, LEAST_EDGE_HZ = 40.0, 400.0
# Peaks are read in frames of 4 ms; what follows within 25 ms is the same ring-down.
FRAME_S, RING_DOWN_S = 0.004, 0.025
# The background beside a peak is the median of the frames within 0.4 s on either side.
BACKGROUND_S = 0.8
# A hit stands this far above the background beside it and above all but the highest of the
# frames at steady speed (starting limits of this project, no published source; the highest
# of a minute of noise stands 2 times above the median of its frames).
LOCAL_FACTOR, STEADY_FACTOR, STEADY_QUANTILE = 5.0, 1.5, 0.998

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class HitRecord:
    """Peaks of the high band per frame, and the background beside them."""

    peak: Values
    background: Values
    frame_s: float
    edge_hz: float


def hit_record(recording: Recording, steady_hz: float) -> HitRecord | None:
    """Peaks of what lies above the working motion's harmonics.

    Parameters
    ----------
    recording : Recording
        Any unit.
    steady_hz : float
        Shaft frequency at speed, above 0.

    Returns
    -------
    HitRecord or None
        None where the sampling rate leaves no octave above the harmonics.
    """
    edge = max(EDGE_ORDERS * steady_hz, LEAST_EDGE_HZ)
    rate = recording.sampling_rate_hz
    if rate / 2 < 2 * edge:
        return None
    high = np.abs(high_pass(recording.samples, rate, edge_hz=edge))
    length = max(1, round(FRAME_S * rate))
    count = high.size // length
    peak = high[: count * length].reshape(count, length).max(axis=1)
    frame_s = length / rate
    size = 2 * round(BACKGROUND_S / frame_s / 2) + 1
    background = median_filter(peak, size=min(size, count), mode="nearest")
    return HitRecord(peak=peak, background=background, frame_s=frame_s, edge_hz=edge)


def hits_between(
    record: HitRecord, start_s: float, end_s: float, *, least: float
) -> list[tuple[float, float]]:
    """Time and peak of each hit in a stretch, one per ring-down.

    Parameters
    ----------
    record : HitRecord
        From `hit_record`.
    start_s, end_s : float
        The stretch.
    least : float
        Smallest peak that counts, whatever the background.

    Returns
    -------
    list of (time in s, peak)
    """
    first, last = int(start_s / record.frame_s), int(np.ceil(end_s / record.frame_s))
    peak, background = record.peak[first:last], record.background[first:last]
    above = np.flatnonzero((peak > LOCAL_FACTOR * background) & (peak > least))
    hits: list[tuple[float, float]] = []
    latest = -np.inf
    for frame in above:
        time = (first + frame + 0.5) * record.frame_s
        if time - latest <= RING_DOWN_S and hits:
            if peak[frame] > hits[-1][1]:
                hits[-1] = (hits[-1][0], float(peak[frame]))
        else:
            hits.append((float(time), float(peak[frame])))
        latest = time
    return hits


def steady_level(record: HitRecord, segments: tuple[RunSegment, ...]) -> float:
    """Peak that all but the highest frames at steady speed stay below; 0 without such frames."""
    frames = _steady_frames(record, segments)
    return float(np.quantile(frames, STEADY_QUANTILE)) * STEADY_FACTOR if frames.size else 0.0


def strikes_per_turn(
    record: HitRecord, segments: tuple[RunSegment, ...], *, steady_hz: float, least: float
) -> float:
    """How often hits as hard as that come while the speed is steady, per turn."""
    count, seconds = 0, 0.0
    for segment in segments:
        if segment.kind == "steady":
            count += len(hits_between(record, segment.start_s, segment.end_s, least=least))
            seconds += segment.end_s - segment.start_s
    return count / (seconds * steady_hz) if seconds > 0 else 0.0


def _steady_frames(record: HitRecord, segments: tuple[RunSegment, ...]) -> Values:
    parts = [
        record.peak[int(s.start_s / record.frame_s) : int(s.end_s / record.frame_s)]
        for s in segments
        if s.kind == "steady"
    ]
    return np.concatenate(parts) if parts else np.empty(0)
