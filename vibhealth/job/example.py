"""An INVENTED record with every question answered, for demonstration and tests."""

import math
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path

from vibhealth._toml import Value
from vibhealth.card import MachineCard
from vibhealth.job._item import DUE, Phase
from vibhealth.job.editing import edited, with_row
from vibhealth.job.items import ITEMS
from vibhealth.job.reading import RECORD
from vibhealth.job.template import job_template
from vibhealth.job.torque import bolt_group_ids

__all__ = ["filled_record"]

INVENTED = "# INVENTED: nobody did this work; a record for demonstration and tests.\n"
# When the phases are answered, counted from the start of the machine; invented.
ANSWERED: dict[Phase, timedelta] = {
    Phase.AS_FOUND: timedelta(hours=-30),
    Phase.STRIP: timedelta(hours=-24),
    Phase.BUILD: timedelta(hours=-3),
    Phase.PRE_START: timedelta(minutes=-10),
    Phase.START: timedelta(minutes=10),
    **{Phase(moment.value): after for moment, after in DUE.items()},
}
FINISHED = timedelta(hours=-2)
# Housing that levels: first-order rise from the surroundings; invented.
AMBIENT_C, RISE_C, TIME_CONSTANT_MIN = 18.0, 34.0, 15.0
READINGS_MIN = tuple(range(0, 61, 10))
DRAINED_SHARE = 0.97


def filled_record(
    card: MachineCard,
    *,
    by: str,
    at: datetime,
    until: Phase = Phase.DAY_7,
    no: Mapping[str, str] | None = None,
) -> str:
    """An INVENTED job record: every question answered yes, torques as the card says.

    Parameters
    ----------
    card : MachineCard
        Of the machine; its file is to stand beside the record under its own name.
    by : str
        Who is said to have answered.
    at : datetime
        First start of the machine, with offset or without; all other times follow.
    until : Phase, optional
        Last phase answered; later ones stay open.
    no : mapping of str to str, optional
        Items answered "no" instead, with their remark.

    Returns
    -------
    str
        Text of a ``job.toml`` that `read_job` accepts beside that card.
    """
    phases = list(Phase)[: list(Phase).index(until) + 1]
    changes: dict[tuple[str, ...], Value] = {}
    for item in ITEMS:
        if item.phase in phases:
            table = ("check", item.id)
            changes[*table, "answer"] = "no" if item.id in (no or {}) else "yes"
            changes |= _signed(table, by, at + ANSWERED[item.phase])
            changes[*table, "remark"] = (no or {}).get(item.id, "")
    if Phase.BUILD in phases:
        changes |= {**_job(card, by, at), **_figures(card, by, at + ANSWERED[Phase.BUILD])}
    text = INVENTED + job_template(card, card_name=Path(card.path or "card.toml").name)
    text = edited(text, changes, path=Path(RECORD))
    if Phase.START not in phases:
        return text
    started: dict[tuple[str, ...], Value] = {
        ("job", "machine_started"): at,
        ("job", "load"): "empty",
        ("job", "point_checked"): "yes",
    }
    return _with_temperatures(edited(text, started, path=Path(RECORD)), at)


def _signed(table: tuple[str, ...], by: str, at: datetime) -> dict[tuple[str, ...], Value]:
    return {(*table, "by"): by, (*table, "at"): at}


def _job(card: MachineCard, by: str, at: datetime) -> dict[tuple[str, ...], Value]:
    named = [bearing.designation for bearing in card.bearings if bearing.designation]
    facts: dict[str, Value] = {
        "unit_serial": "INVENTED-1",
        "bearing_designation": ", ".join(named) or "INVENTED",
        "rebuilt_by": by,
        "braces_removed_by": by,
        "rebuild_finished": at + FINISHED,
    }
    return {("job", key): value for key, value in facts.items()}


def _figures(card: MachineCard, by: str, at: datetime) -> dict[tuple[str, ...], Value]:
    changes: dict[tuple[str, ...], Value] = {}
    for name, group in bolt_group_ids(card).items():
        table = ("torque", name)
        rows = tuple((torque,) * group.count for torque in group.torque_stages_nm)
        changes |= {
            (*table, "threads"): group.lubrication or "dry",
            (*table, "wrench"): "INVENTED-2",
            (*table, "new_bolts"): "yes",
            (*table, "repeat_pass"): "yes",
            (*table, "stages"): rows,
            **_signed(table, by, at),
        }
    volume = card.oil.volume_l if card.oil and card.oil.volume_l else 4.0
    grade = card.oil.grade if card.oil and card.oil.grade else "INVENTED 220"
    gap = card.guard.clearance_mm if card.guard else 15.0
    changes |= {
        ("oil", "grade"): grade,
        ("oil", "drained_l"): round(DRAINED_SHARE * volume, 2),
        ("oil", "filled_l"): volume,
        **_signed(("oil",), by, at),
        ("clearance", "guard_mm"): (gap + 1.0, gap + 2.5, gap + 1.5, gap + 2.0),
        **_signed(("clearance",), by, at),
    }
    return changes


def _with_temperatures(text: str, at: datetime) -> str:
    for minutes in READINGS_MIN:
        rise = RISE_C * (1 - math.exp(-minutes / TIME_CONSTANT_MIN))
        row: dict[str, Value] = {
            "at": at + timedelta(minutes=minutes),
            "housing_c": round(AMBIENT_C + rise, 1),
            "ambient_c": AMBIENT_C,
        }
        text = with_row(text, "temperature", row, path=Path(RECORD))
    return text
