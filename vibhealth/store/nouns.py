"""From rows back to the nouns of the model."""

import json
import math
from collections.abc import Sequence
from datetime import date
from typing import Any

from vibhealth.model import (
    CriterionResult,
    Damage,
    Descriptor,
    Element,
    HistoryFamily,
    HistoryOverride,
    HistoryRecording,
    HistoryVerdict,
    OpenedUnit,
    Rebuild,
    RebuildReason,
)
from vibhealth.store.entry import EntryKind, Withdrawal
from vibhealth.store.times import time_of

__all__ = [
    "descriptor_of",
    "family_of",
    "opened_unit_of",
    "rebuild_of",
    "recording_of",
    "verdict_of",
    "withdrawal_of",
]

Row = tuple[Any, ...]

_ELEMENTS = {element.value: element for element in Element}
_RESULTS = {result.value: result for result in CriterionResult}


def descriptor_of(row: Row) -> Descriptor:
    """Descriptor of a row of table ``descriptor``."""
    id_, title, value, unit, low, high = row
    return Descriptor(
        id=id_,
        title=title,
        value=math.nan if value is None else value,
        unit=unit,
        band_hz=None if low is None else (low, high),
    )


def family_of(row: Row) -> HistoryFamily:
    """Family of a row of table ``family``."""
    return HistoryFamily(
        bearing=row[0],
        element=_ELEMENTS[row[1]],
        order=_nan(row[2]),
        frequency_hz=_nan(row[3]),
        false_alarm_probability=_nan(row[4]),
        depth=_nan(row[5]),
        depth_whitened=_nan(row[6]),
        depth_interval=None if row[7] is None else (row[7], row[8]),
        impact_m_s2=row[9],
        present=bool(row[10]),
        blind_spot=bool(row[11]),
        result=_RESULTS[row[12]],
    )


def recording_of(
    row: Row, descriptors: Sequence[Descriptor], families: Sequence[HistoryFamily]
) -> HistoryRecording:
    """Recording of (id, machine, columns of table ``recording``)."""
    return HistoryRecording(
        id=row[0],
        machine=row[1],
        sha256=row[2],
        channel=row[3],
        path=row[4],
        point=row[5],
        direction=row[6],
        stage=row[7],
        moment=row[8],
        recorded_at=None if row[9] is None else time_of(row[9]),
        running_hours_h=row[10],
        load=row[11],
        temperature_c=row[12],
        shaft_frequency_hz=row[13],
        sampling_rate_hz=_nan(row[14]),
        duration_s=_nan(row[15]),
        unit=row[16],
        unusable_because=row[17],
        masked=row[18],
        card_sha256=row[19],
        tool_version=row[20],
        descriptors=tuple(descriptors),
        families=tuple(families),
    )


def verdict_of(row: Row, recordings: Sequence[str]) -> HistoryVerdict:
    """Verdict of (id, machine, columns of table ``verdict``)."""
    override = None
    if row[10] is not None:
        override = HistoryOverride(
            by=row[10],
            reason=row[11],
            at=None if row[12] is None else time_of(row[12]),
            is_valid=bool(row[13]),
        )
    return HistoryVerdict(
        id=row[0],
        machine=row[1],
        verdict=row[2],
        hold=row[3],
        headline=row[4],
        reasons=tuple(json.loads(row[5])),
        check=row[6],
        decided_on=None if row[7] is None else time_of(row[7]),
        job_sha256=row[8],
        named=tuple((bearing, element) for bearing, element in json.loads(row[9])),
        override=override,
        tool_version=row[14],
        recordings=tuple(recordings),
    )


def rebuild_of(row: Row) -> Rebuild:
    """Rebuild of (id, machine, columns of table ``rebuild``)."""
    return Rebuild(
        id=row[0],
        machine=row[1],
        at=time_of(row[2]),
        reason=RebuildReason(row[3]),
        by=row[4],
        unit_serial=row[5],
        bearing_designation=row[6],
        running_hours_h=row[7],
        remark=row[8],
    )


def opened_unit_of(row: Row) -> OpenedUnit:
    """Opened unit of (id, machine, columns of table ``opened_unit``)."""
    return OpenedUnit(
        id=row[0],
        machine=row[1],
        removed_at=time_of(row[2]),
        bearing=row[3],
        element=None if row[4] is None else _ELEMENTS[row[4]],
        damage=Damage(row[5]),
        by=row[6],
        opened_on=None if row[7] is None else date.fromisoformat(row[7]),
        remark=row[8],
    )


def withdrawal_of(row: Row) -> Withdrawal:
    """Withdrawal of (id, machine, columns of table ``withdrawal``, added_at)."""
    return Withdrawal(
        id=row[0],
        machine=row[1],
        kind=EntryKind(row[2]),
        entry_id=row[3],
        by=row[4],
        reason=row[5],
        at=time_of(row[6]),
    )


def _nan(value: float | None) -> float:
    return math.nan if value is None else value
