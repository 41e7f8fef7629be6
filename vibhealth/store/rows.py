"""From the nouns of the model to rows; a number that is not one (NaN) is stored as empty."""

import json
import math
from datetime import datetime

from vibhealth.errors import StoreError
from vibhealth.model import (
    Descriptor,
    HistoryFamily,
    HistoryRecording,
    HistoryVerdict,
    OpenedUnit,
    Rebuild,
)
from vibhealth.store.digest import Cell
from vibhealth.store.entry import Entry
from vibhealth.store.times import time_text

__all__ = ["opened_unit_entry", "rebuild_entry", "recording_entry", "text", "verdict_entry"]


def text(value: str, *, name: str, needed: bool = False) -> str:
    r"""Text that the file can hold: signs outside Unicode (of odd file names) are escaped.

    >>> text("a\udc80b", name="path")
    'a\\udc80b'
    """
    clean = str(value).encode("utf-8", "backslashreplace").decode("utf-8")
    if needed and not clean.strip():
        msg = f"{name} must not be empty: say it, the history cannot be read without"
        raise StoreError(msg)
    return clean


def recording_entry(recording: HistoryRecording) -> Entry:
    """Row of one recording with its descriptors and families.

    Raises
    ------
    StoreError
        If machine or SHA-256 is empty, or a time has no time zone.
    """
    it = recording
    return Entry(
        table="recording",
        machine=text(it.machine, name="machine", needed=True),
        row=(
            text(it.sha256, name="sha256 of a recording", needed=True),
            int(it.channel),
            text(it.path, name="path"),
            _optional(it.point),
            _optional(it.direction),
            text(it.stage, name="stage"),
            _optional(it.moment),
            _time(it.recorded_at, "recorded_at"),
            _number(it.running_hours_h),
            text(it.load, name="load"),
            _number(it.temperature_c),
            _number(it.shaft_frequency_hz),
            _number(it.sampling_rate_hz),
            _number(it.duration_s),
            text(it.unit, name="unit"),
            text(it.unusable_because, name="unusable_because"),
            text(it.masked, name="masked"),
            text(it.card_sha256, name="card_sha256"),
            text(it.tool_version, name="tool_version"),
        ),
        children=(
            tuple(_descriptor(descriptor) for descriptor in it.descriptors),
            tuple(_family(family) for family in it.families),
        ),
    )


def verdict_entry(verdict: HistoryVerdict) -> Entry:
    """Row of one verdict with the recordings it rests on.

    Raises
    ------
    StoreError
        If machine or verdict is empty, or a time has no time zone.
    """
    it, override = verdict, verdict.override
    answered: tuple[Cell, ...] = (None, None, None, None)
    if override is not None:
        answered = (
            text(override.by, name="by"),
            text(override.reason, name="reason"),
            _time(override.at, "time of the override"),
            int(override.is_valid),
        )
    return Entry(
        table="verdict",
        machine=text(it.machine, name="machine", needed=True),
        row=(
            text(it.verdict, name="verdict", needed=True),
            _optional(it.hold),
            text(it.headline, name="headline"),
            json.dumps([str(reason) for reason in it.reasons]),
            text(it.check, name="check"),
            _time(it.decided_on, "decided_on"),
            text(it.job_sha256, name="job_sha256"),
            json.dumps([[str(bearing), str(element)] for bearing, element in it.named]),
            *answered,
            text(it.tool_version, name="tool_version"),
        ),
        children=(tuple((text(sha256, name="sha256"),) for sha256 in it.recordings),),
    )


def rebuild_entry(rebuild: Rebuild) -> Entry:
    """Row of one rebuild.

    Raises
    ------
    StoreError
        If machine or ``by`` is empty, or ``at`` has no time zone.
    """
    it = rebuild
    return Entry(
        table="rebuild",
        machine=text(it.machine, name="machine", needed=True),
        row=(
            time_text(it.at, name="time of a rebuild"),
            str(it.reason),
            text(it.by, name="by (who says so)", needed=True),
            text(it.unit_serial, name="unit_serial"),
            text(it.bearing_designation, name="bearing_designation"),
            _number(it.running_hours_h),
            text(it.remark, name="remark"),
        ),
    )


def opened_unit_entry(unit: OpenedUnit) -> Entry:
    """Row of what was found in one opened unit.

    Raises
    ------
    StoreError
        If machine, bearing or ``by`` is empty, or ``removed_at`` has no time zone.
    """
    it = unit
    return Entry(
        table="opened_unit",
        machine=text(it.machine, name="machine", needed=True),
        row=(
            time_text(it.removed_at, name="removed_at"),
            text(it.bearing, name="bearing", needed=True),
            _optional(it.element),
            str(it.damage),
            text(it.by, name="by (who says so)", needed=True),
            None if it.opened_on is None else it.opened_on.isoformat(),
            text(it.remark, name="remark"),
        ),
    )


def _descriptor(it: Descriptor) -> tuple[Cell, ...]:
    low, high = (None, None) if it.band_hz is None else it.band_hz
    return (
        text(it.id, name="id"),
        text(it.title, name="title"),
        _number(it.value),
        text(it.unit, name="unit"),
        _number(low),
        _number(high),
    )


def _family(it: HistoryFamily) -> tuple[Cell, ...]:
    low, high = (None, None) if it.depth_interval is None else it.depth_interval
    return (
        text(it.bearing, name="bearing"),
        str(it.element),
        _number(it.order),
        _number(it.frequency_hz),
        _number(it.false_alarm_probability),
        _number(it.depth),
        _number(it.depth_whitened),
        _number(low),
        _number(high),
        _number(it.impact_m_s2),
        int(it.present),
        int(it.blind_spot),
        str(it.result),
    )


def _optional(value: str | None) -> str | None:
    return None if value is None else text(value, name="text")


def _number(value: float | None) -> float | None:
    """A float that reads back equal: NaN as empty, -0.0 as 0.0 (the file keeps no sign of it)."""
    return None if value is None or math.isnan(value) else float(value) + 0.0


def _time(value: datetime | None, name: str) -> str | None:
    return None if value is None else time_text(value, name=name)
