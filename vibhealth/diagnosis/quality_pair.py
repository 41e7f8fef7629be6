"""Faults between recordings: the same file twice, wrong order, changed set-up."""

import hashlib
from collections.abc import Callable, Sequence
from itertools import combinations, product

from vibhealth.diagnosis.quality_facts import Outcome, hold, not_judged, passed, watch
from vibhealth.model import QualityFinding, Recording

__all__ = ["check_pair", "digests", "is_same", "name_of"]

SETUP_REMARKS = ("sensor", "mount", "load")


def check_pair(
    before: Sequence[Recording], after: Sequence[Recording]
) -> tuple[QualityFinding, ...]:
    """Check that recordings from before and after the rebuild can be compared.

    Parameters
    ----------
    before, after : sequence of Recording
        As found and as left; either may be empty.

    Returns
    -------
    tuple of QualityFinding
        ``same-recording`` (one recording given as before and as after: hold),
        ``duplicates`` (the same recording twice in a stage: hold),
        ``start-times`` (one after the rebuild began before one of the before
        recordings: hold; a missing time: not judged) and ``set-up`` (another
        sampling rate, calibration, sensor or direction at the same point: watch).

    Notes
    -----
    Two recordings are the same when digest and channel of their files agree, or
    all their samples do. Channels of one file are different recordings.
    """
    checks: tuple[tuple[str, str, Callable[[_Sides], Outcome]], ...] = (
        ("same-recording", "Before and after are different recordings", _same_recording),
        ("duplicates", "No recording is given twice", _duplicates),
        ("start-times", "Before was recorded before after", _start_times),
        ("set-up", "Before and after were recorded in the same way", _set_up),
    )
    sides = tuple(before), tuple(after)
    outcomes = ((name, title, check(sides)) for name, title, check in checks)
    return tuple(
        QualityFinding(id=name, title=title, result=o.result, detail=o.detail, advice=o.advice)
        for name, title, o in outcomes
    )


_Sides = tuple[tuple[Recording, ...], tuple[Recording, ...]]


def name_of(recording: Recording) -> str:
    """Path of a recording, with its channel where the file has several."""
    place = f" channel {recording.channel}" if recording.n_channels > 1 else ""
    return f"{recording.path}{place}"


def digests(recordings: Sequence[Recording]) -> list[str]:
    """SHA-256 of the samples of each recording, whatever its file."""
    return [hashlib.sha256(recording.samples.tobytes()).hexdigest() for recording in recordings]


def is_same(first: Recording, second: Recording, of_samples: tuple[str, str]) -> bool:
    """Whether two recordings are one: by file and channel, or by the digests of their samples."""
    same_file = bool(first.sha256) and first.sha256 == second.sha256
    return (same_file and first.channel == second.channel) or of_samples[0] == of_samples[1]


def _same_recording(sides: _Sides) -> Outcome:
    pairs = product(*(zip(side, digests(side), strict=True) for side in sides))
    same = [(a, b) for (a, digest), (b, other) in pairs if is_same(a, b, (digest, other))]
    if same:
        first, second = same[0]
        return hold(
            f"{name_of(first)} (before) and {name_of(second)} (after) hold the same samples; "
            f"{len(same)} such pair{'s' * (len(same) != 1)} (limit 0).",
            "Choose the right files, or record again after the rebuild.",
        )
    return passed("No recording is given as before and as after.")


def _duplicates(sides: _Sides) -> Outcome:
    same = [
        (a, b)
        for side in sides
        for (a, digest), (b, other) in combinations(zip(side, digests(side), strict=True), 2)
        if is_same(a, b, (digest, other))
    ]
    if same:
        first, second = same[0]
        return hold(
            f"{name_of(first)} and {name_of(second)} of one stage hold the same samples; "
            f"{len(same)} such pair{'s' * (len(same) != 1)} (limit 0).",
            "One recording counts once: remove the copy, or record again.",
        )
    return passed("No recording is given twice within a stage.")


def _start_times(sides: _Sides) -> Outcome:
    recordings = [recording for side in sides for recording in side]
    missing = [recording for recording in recordings if recording.start_time is None]
    advice = "Write start_time, with or without time zone but alike, beside each recording."
    if not all(sides):
        return not_judged("There is no recording of one of the two stages.", "Record both stages.")
    if missing:
        return not_judged(f"The start time of {name_of(missing[0])} is not known.", advice)
    times = [[(r.start_time, r) for r in side if r.start_time is not None] for side in sides]
    if len({time.utcoffset() is None for side in times for time, _ in side}) > 1:
        return not_judged("Some start times have a time zone and some have none.", advice)
    last, last_before = max(times[0], key=lambda item: item[0])
    first, first_after = min(times[1], key=lambda item: item[0])
    if first <= last:
        return hold(
            f"{name_of(first_after)} (after) began at {first.isoformat()}, not later than "
            f"{name_of(last_before)} (before) at {last.isoformat()}.",
            "Check the recorder's clock and which files are before and after.",
        )
    return passed(
        f"The last before began at {last.isoformat()}, the first after at {first.isoformat()}."
    )


def _set_up(sides: _Sides) -> Outcome:
    changes = [
        change
        for first, second in product(*sides)
        if first.point == second.point and first.direction == second.direction
        for change in _changes(first, second)
    ]
    if changes:
        return watch(
            f"{'; '.join(dict.fromkeys(changes))}.",
            "Levels at high frequency are not comparable: use the same rate, sensor, range and "
            "mount at a point before and after.",
        )
    return passed("Sampling rate, calibration, sensor and direction agree point by point.")


def _changes(first: Recording, second: Recording) -> list[str]:
    """What differs between two recordings of one point, in words."""
    point = f" at {first.point}" if first.point else ""
    facts: dict[str, tuple[object, object]] = {
        "sampling rate in Hz": (first.sampling_rate_hz, second.sampling_rate_hz),
        "unit": (first.unit, second.unit),
        "calibration factor in m/s2": (_scale(first), _scale(second)),
        "sensor range in m/s2": (first.sensor_range_m_s2, second.sensor_range_m_s2),
        "usable band of the sensor in Hz": (first.sensor_usable_hz, second.sensor_usable_hz),
    }
    before, after = dict(first.remarks), dict(second.remarks)
    facts |= {key: (before.get(key), after.get(key)) for key in SETUP_REMARKS}
    return [
        f"{name}{point}: {old if old is not None else 'not stated'} before, "
        f"{new if new is not None else 'not stated'} after"
        for name, (old, new) in facts.items()
        if old != new
    ]


def _scale(recording: Recording) -> float | None:
    return None if recording.calibration is None else recording.calibration.scale_m_s2
