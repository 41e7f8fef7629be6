"""Torque sheets against the card: which groups, how many bolts, plausible for the unit."""

import re
from statistics import median
from typing import TYPE_CHECKING

from vibhealth.card import BoltGroup, MachineCard
from vibhealth.card._types import Location
from vibhealth.card._words import nearest

if TYPE_CHECKING:
    from vibhealth.job.record import JobRecord, TorqueSheet

__all__ = ["FT_LB_NM", "bolt_group_ids", "torque_faults"]

Fault = tuple[Location, str, object]

# 1 ft lbf = 0.3048 m x 4.4482216152605 N (both exact: the international foot and pound,
# and standard gravity; NIST SP 811, appendix B.8).
FT_LB_NM = 1.3558179483314004
UNIT_NM = {"N m": 1.0, "ft lb": FT_LB_NM}
# Figures are rounded to a few per cent; 3/4 of a torque must still be tellable from ft lb (0.738).
SAME_RATIO = 0.015
# A torque outside half to twice the card's figure is a slip of the pen; no source.
LEAST_RATIO, LARGEST_RATIO = 0.5, 2.0


def bolt_group_ids(card: MachineCard) -> dict[str, BoltGroup]:
    """Short names of the card's bolt groups, as they head the torque sheets.

    Lower case letters and digits with hyphens; a second group of the same short
    name gets a number.

    Parameters
    ----------
    card : MachineCard
        Checked card.

    Returns
    -------
    dict of str to BoltGroup
        In the card's order.
    """
    groups: dict[str, BoltGroup] = {}
    for group in card.bolts:
        base = re.sub(r"[^a-z0-9]+", "-", group.name.lower()).strip("-") or "bolts"
        name, number = base, 1
        while name in groups:
            number += 1
            name = f"{base}-{number}"
        groups[name] = group
    return groups


def torque_faults(record: "JobRecord", card: MachineCard) -> list[Fault]:
    """What in the torque sheets cannot belong to this card.

    Parameters
    ----------
    record : JobRecord
        Each of its tables is valid in itself.
    card : MachineCard
        The card beside it.

    Returns
    -------
    list of (location, rule, value found)
    """
    groups = bolt_group_ids(card)
    faults: list[Fault] = []
    for name, sheet in record.torque.items():
        if name in groups:
            faults += _sheet_faults(name, sheet, groups[name])
        else:
            hint = nearest(name, groups) if groups else " (the card has no [[bolt_group]])"
            faults.append((("torque", name), f"is no bolt group of {card.path}{hint}", "a table"))
    return faults


def _sheet_faults(name: str, sheet: "TorqueSheet", group: BoltGroup) -> list[Fault]:
    stages = group.torque_stages_nm
    where: Location = ("torque", name, "stages")
    if len(sheet.stages) > len(stages):
        rule = f"must have a row for each of the card's {_number(len(stages), 'stage')}, not more"
        return [(where, rule, _number(len(sheet.stages), "row"))]
    faults: list[Fault] = []
    for number, (row, stage_nm) in enumerate(zip(sheet.stages, stages, strict=False)):
        if row and len(row) != group.count:
            rule = f"must give a torque for each of the {_number(group.count, 'bolt')} of the card"
            faults.append(((*where, number), rule, _number(len(row), "torque")))
        elif row:
            faults += _implausible((*where, number), row, stage_nm, sheet.unit)
    return faults


def _implausible(
    where: Location, row: tuple[float, ...], stage_nm: float, unit: str
) -> list[Fault]:
    ratios = [torque * UNIT_NM[unit] / stage_nm for torque in row]
    card_says = f"the card says {stage_nm / UNIT_NM[unit]:.4g} {unit}"
    for other, ratio in (("ft lb", 1 / FT_LB_NM), ("N m", FT_LB_NM)):
        if other != unit and abs(median(ratios) / ratio - 1) <= SAME_RATIO:
            rule = (
                f"looks like {other}, not {unit} ({card_says}); put the unit right, or the figures"
            )
            return [(where, rule, median(row))]
    for bolt, (torque, ratio) in enumerate(zip(row, ratios, strict=True)):
        if not LEAST_RATIO <= ratio <= LARGEST_RATIO:
            rule = f"is implausible for this stage ({card_says}); put it right"
            return [((*where, bolt), rule, torque)]
    return []


def _number(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"
