"""Baselines as terminal text and as plain JSON values."""

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from vibhealth.baseline import Baseline, Scalar, Status, Stored
from vibhealth.report._console import fact_rows, heading, item, printed, table
from vibhealth.report._wording import band, clean, number, quantity
from vibhealth.report.recording_view import Fact
from vibhealth.units import hz_to_rpm

__all__ = ["baseline_dict", "baseline_list_dict", "baseline_list_text", "baseline_text"]

Row = tuple[Stored, Baseline | None, str]


def _state(stored: Stored) -> str:
    if stored.status is Status.CANDIDATE:
        return "candidate"
    return "superseded" if stored.is_superseded else "in force"


def baseline_list_text(rows: Sequence[Row], *, width: int = 100, color: bool = False) -> str:
    """Baselines of a store as a table.

    Parameters
    ----------
    rows : sequence of (Stored, Baseline or None, str)
        Each folder, what it holds, or the sentence that says why it cannot be read.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours.

    Returns
    -------
    str
    """
    if not rows:
        return "No baseline is kept here. Make one with: vibhealth baseline make\n"
    listed = table("Machine", "Point", "Version", "State", "Made", "Accepted by", "Recordings")
    for stored, baseline, _ in rows:
        if baseline is None:
            names = map(clean, (*stored.path.parts[-3:-1], stored.path.name))
            listed.add_row(*map(Text, (*names, "DAMAGED", "", "", "")))
            continue
        cells = (
            clean(baseline.machine_id),
            clean(baseline.point),
            stored.path.name,
            _state(stored),
            f"{baseline.made_at:%Y-%m-%d}",
            clean(baseline.accepted_by) or "nobody yet",
            str(baseline.n_recordings),
        )
        listed.add_row(*map(Text, cells))
    faults = [item(clean(fault), bullet="×") for _, _, fault in rows if fault]
    invented = [b for _, b, _ in rows if b is not None and b.label]
    notes = [Text(f"{len(invented)} of them INVENTED: made by simulation.")] if invented else []
    return printed([listed, *faults, *notes], width=width, color=color)


def baseline_text(baseline: Baseline, *, width: int = 100, color: bool = False) -> str:
    """One baseline in full: who, when, conditions, levels, families.

    Parameters
    ----------
    baseline : Baseline
        As read.
    width : int
        Columns, at least 40.
    color : bool
        Whether to add terminal colours.

    Returns
    -------
    str
    """
    parts: list[RenderableType] = [
        Text(clean(f"{baseline.machine_name}: baseline of {baseline.name}"), style="bold"),
        *([Text(clean(baseline.label))] if baseline.label else []),
        *fact_rows(*_facts(baseline)),
        *heading("Levels and motion"),
        _levels(baseline.scalars),
    ]
    if baseline.families:
        parts += [*heading("Families"), _families(baseline)]
    parts += [*heading("Recordings")]
    for source in baseline.recordings:
        at = f", {source.start_time:%Y-%m-%d %H:%M}" if source.start_time else ""
        warm = f", {source.temperature_c:g} °C" if source.temperature_c is not None else ""
        words = (
            f"{source.name}: {source.duration_s:.0f} s, {hz_to_rpm(source.shaft_frequency_hz):.1f}"
        )
        parts.append(item(clean(f"{words} r/min{warm}{at}; sha256 {source.sha256[:16]}...")))
    return printed(parts, width=width, color=color)


def _facts(baseline: Baseline) -> Iterator[Fact]:
    conditions = baseline.conditions
    speeds = conditions.shaft_frequency_hz
    low, high = hz_to_rpm(speeds.low), hz_to_rpm(speeds.high)
    yield Fact(label="Accepted by", value=clean(baseline.accepted_by) or "nobody yet: a candidate")
    yield Fact(label="Made", value=f"{baseline.made_at:%Y-%m-%d %H:%M %Z}".rstrip())
    if baseline.flags:
        yield Fact(label="Against it", value=clean("; ".join(baseline.flags)))
    if baseline.note:
        yield Fact(label="Note", value=clean(baseline.note))
    yield Fact(label="Speed", value=f"{low:.1f} to {high:.1f} r/min")
    if conditions.temperature_c is not None:
        warm = conditions.temperature_c
        yield Fact(label="Housing", value=f"{warm.low:g} to {warm.high:g} °C")
    state = [conditions.load or "load not stated", conditions.direction]
    means = [conditions.sensor, conditions.mount, f"{conditions.sampling_rate_hz:g} Hz"]
    yield Fact(label="State", value=clean(", ".join(filter(None, state))))
    yield Fact(label="Means", value=clean(", ".join(filter(None, means))))
    if baseline.orbit is not None:
        orbit = baseline.orbit
        axes = f"{number(orbit.major_mm)} × {quantity(orbit.minor_mm, 'mm')}"
        yield Fact(label="Orbit", value=f"{axes}, {orbit.tilt_deg:.0f}°, {clean(orbit.direction)}")
    if baseline.digest:
        yield Fact(label="Digest", value=baseline.digest)


def _levels(scalars: Sequence[Scalar]) -> RenderableType:
    listed = table("Level", "Mean", "Spread", "Band")
    for scalar in scalars:
        if scalar.mean is None:
            continue
        spread = "" if scalar.spread_db is None else f"{scalar.spread_db:.1f} dB"
        where = "" if scalar.band_hz is None else band(scalar.band_hz)
        cells = (scalar.title, quantity(scalar.mean, scalar.unit), spread, where)
        listed.add_row(*map(Text, map(clean, cells)))
    return Padding(listed, (0, 0, 0, 2))


def _families(baseline: Baseline) -> RenderableType:
    listed = table("Bearing, element", "Order", "Depth, whitened", "Significant in")
    for family in baseline.families:
        readings = family.readings
        sure = sum(reading.false_alarm_probability <= 0.001 for reading in readings)
        order = readings[0].order
        cells = (
            f"{family.bearing}, {family.element.words}",
            f"{order:.3f}",
            f"{family.depth_whitened:.2f}",
            f"{sure} of {len(readings)}",
        )
        listed.add_row(*map(Text, map(clean, cells)))
    return Padding(listed, (0, 0, 0, 2))


def baseline_list_dict(rows: Sequence[Row]) -> dict[str, Any]:
    """Baselines of a store as plain JSON values.

    Parameters
    ----------
    rows : sequence of (Stored, Baseline or None, str)
        As for `baseline_list_text`.

    Returns
    -------
    dict
    """
    return {
        "schema_version": 1,
        "baselines": [
            {
                "path": str(stored.path),
                "state": "damaged" if baseline is None else _state(stored).replace(" ", "-"),
                "version": stored.version,
                "fault": fault or None,
                **({} if baseline is None else _identity(baseline)),
            }
            for stored, baseline, fault in rows
        ],
    }


def _identity(baseline: Baseline) -> dict[str, Any]:
    return {
        "machine_id": baseline.machine_id,
        "point": baseline.point,
        "status": baseline.status.value,
        "made_at": baseline.made_at,
        "accepted_by": baseline.accepted_by,
        "note": baseline.note,
        "flags": list(baseline.flags),
        "n_recordings": baseline.n_recordings,
        "digest": baseline.digest,
        "label": baseline.label,
    }


def baseline_dict(baseline: Baseline) -> dict[str, Any]:
    """One baseline as plain JSON values, its spectra aside (they stand in its CSV files).

    Parameters
    ----------
    baseline : Baseline
        As read.

    Returns
    -------
    dict
    """
    conditions = baseline.conditions
    speeds, warm = conditions.shaft_frequency_hz, conditions.temperature_c
    return {
        **_identity(baseline),
        "version": baseline.version,
        "path": baseline.path,
        "conditions": {
            "shaft_frequency_hz": [speeds.low, speeds.high],
            "temperature_c": None if warm is None else [warm.low, warm.high],
            "sampling_rate_hz": conditions.sampling_rate_hz,
            "unit": conditions.unit,
            "load": conditions.load,
            "direction": conditions.direction,
            "sensor": conditions.sensor,
            "mount": conditions.mount,
        },
        "levels": [
            {
                "id": s.id,
                "title": s.title,
                "unit": s.unit,
                "band_hz": s.band_hz,
                "mean": s.mean,
                "spread_db": s.spread_db,
                "values": s.values,
            }
            for s in baseline.scalars
        ],
        "families": [
            {
                "bearing": f.bearing,
                "element": f.element,
                "order": f.readings[0].order,
                "depth_whitened": f.depth_whitened,
            }
            for f in baseline.families
        ],
        "recordings": [
            {
                "name": r.name,
                "sha256": r.sha256,
                "duration_s": r.duration_s,
                "shaft_frequency_hz": r.shaft_frequency_hz,
                "start_time": r.start_time,
                "temperature_c": r.temperature_c,
                "moment": r.moment,
            }
            for r in baseline.recordings
        ],
    }
