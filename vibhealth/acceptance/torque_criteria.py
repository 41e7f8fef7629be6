"""Criteria of the bolts: every bolt at every stage, and the clamp force it comes to."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from vibhealth.acceptance._evidence import graded
from vibhealth.acceptance._job_line import UNSIGNED, job_line, signed_by
from vibhealth.acceptance._words import and_list
from vibhealth.card import BoltGroup, Limits, MachineCard
from vibhealth.errors import InputError
from vibhealth.job import JobRecord, TorqueSheet
from vibhealth.job.preload import (
    NUT_FACTOR,
    preload_ratio,
    read_thread,
)
from vibhealth.job.torque import FT_LB_NM, bolt_group_ids
from vibhealth.model import Criterion, CriterionResult, MachineCheck

__all__ = ["torque_criteria"]

UNIT_NM = {"N m": 1.0, "ft lb": FT_LB_NM}
CARD = "card, bolt_group"
MAKER = f"{CARD}; single-use bolts are common in exciters, a screen maker's manual, 3.1.6 to 3.1.8"
REPEAT = "last stage repeated until nothing moves: ASME PCC-1, from memory"

LOOSE = MachineCheck(
    step="bolts",
    mistake="a bolt is loose, or was missed",
    check="Check the torque of every bolt; look for witness marks at the joint.",
    seen_by_vibration="fairly",
)
STRETCHED = MachineCheck(
    step="bolts",
    mistake="bolts stretched by too much torque",
    check="Ask dry or oiled; measure a bolt's length against a new one; replace all of the group.",
    seen_by_vibration="poorly",
)
AGAIN = (
    "Lock out. Loosen the group, then tighten it in the card's stages in an alternating pattern; "
    "repeat the last stage until nothing moves."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """One bolt group, its sheet, and what both are judged by."""

    id: str
    card: BoltGroup
    sheet: TorqueSheet
    limits: Limits

    @property
    def rows(self) -> list[tuple[float, ...]]:
        """Torques in N m, one row per stage of the card; a stage not given is empty."""
        factor = UNIT_NM[self.sheet.unit]
        given = [tuple(torque * factor for torque in row) for row in self.sheet.stages]
        return given + [()] * (len(self.card.torque_stages_nm) - len(given))

    @property
    def tolerance_percent(self) -> float:
        """How far a torque may be off."""
        return self.limits.value("torque_tolerance_hold_percent")

    def shown(self, torque_nm: float) -> str:
        """A torque in N m, and in the unit of the sheet where that is another."""
        if self.sheet.unit == "N m":
            return f"{torque_nm:.4g} N m"
        return f"{torque_nm:.4g} N m ({torque_nm / UNIT_NM[self.sheet.unit]:.4g} {self.sheet.unit})"


def torque_criteria(job: JobRecord, card: MachineCard, limits: Limits) -> list[Criterion]:
    """Judge the torque sheets of all bolt groups of the card.

    Parameters
    ----------
    job : JobRecord
        Its ``[torque.*]`` tables.
    card : MachineCard
        Stages, thread, grade and lubrication of each group.
    limits : Limits
        In force.

    Returns
    -------
    list of Criterion
        Three per group: torques, how they were tightened, clamp force.
    """
    criteria = []
    for name, group in bolt_group_ids(card).items():
        sheet = job.torque.get(name, TorqueSheet())
        one = _Group(id=name, card=group, sheet=sheet, limits=limits)
        criteria += [_torques(one, signed_by(job, sheet.by)), _practice(one), _preload(one)]
    if not criteria:
        criteria.append(
            job_line(
                "torque",
                "Torque of the bolts",
                result=CriterionResult.WATCH,
                value="not compared",
                source=CARD,
                advice="The card names no bolts: write the maker's stages on it ([[bolt_group]]).",
            )
        )
    return criteria


def _torques(group: _Group, name: str) -> Criterion:
    """Every bolt at every stage within the tolerance, no bolt missed."""
    faults, open_ = list(_faults(group)), list(_open(group, name))
    result = CriterionResult.NOT_JUDGED if open_ else CriterionResult.PASS
    if faults:
        result = CriterionResult.HOLD
    worst = max((away for row in _away(group) for away in row), key=abs, default=0.0)
    return job_line(
        f"torque-{group.id}",
        f"Torque of {group.card.name}",
        result=result,
        value=round(worst, 1) + 0.0,
        unit="%",
        limit=f"± {group.tolerance_percent:g} % of "
        + ", ".join(f"{stage:g}" for stage in group.card.torque_stages_nm)
        + " N m",
        source=f"{CARD}.torque_stages_nm; tolerance: "
        + group.limits.source("torque_tolerance_hold_percent"),
        reason=" ".join(faults or open_),
        advice=AGAIN if faults else f"Look at the torque sheet of {group.card.name}. {UNSIGNED}",
        detail=" ".join([*faults, *open_]),
        checks=(LOOSE,) if faults else (),
    )


def _away(group: _Group) -> list[list[float]]:
    """Per stage and bolt, how far the torque is off, in %; rounded, so that a limit is a limit."""
    return [
        [round(100 * (torque / stage - 1), 6) for torque in row]
        for row, stage in zip(group.rows, group.card.torque_stages_nm, strict=False)
    ]


def _open(group: _Group, name: str) -> Iterator[str]:
    """What is still to be written down."""
    rows, stages = group.rows, len(group.card.torque_stages_nm)
    missing = [str(number) for number, row in enumerate(rows[:stages], start=1) if not row]
    if len(missing) == stages:
        yield (
            f"NOT CHECKED: torque of {group.card.name} ({group.card.count} bolts). Answer needed "
            "before PASS."
        )
    elif missing:
        yield (
            f"NOT CHECKED: torque of {group.card.name} at stage {and_list(missing)} of {stages}. "
            "Answer needed before PASS."
        )
    elif not name:
        yield f"NO NAME beside the torque sheet of {group.card.name}."


def _faults(group: _Group) -> Iterator[str]:
    """What is wrong with the figures, in the order of the stages."""
    name, count, stages = group.card.name, group.card.count, group.card.torque_stages_nm
    if len(group.rows) > len(stages):
        yield f"{name} was torqued in {len(group.rows)} stages, the card has {len(stages)}."
    if _is_out_of_order(group):
        yield f"The stages of {name} were not done in the card's order."
        return
    for number, (row, away, stage) in enumerate(
        zip(group.rows, _away(group), stages, strict=False), start=1
    ):
        if row and len(row) != count:
            how = f"{count - len(row)} missed" if len(row) < count else "too many"
            yield f"{name}, stage {number}: {len(row)} torques for {count} bolts, {how}."
        off = [bolt for bolt, value in enumerate(away) if abs(value) > group.tolerance_percent]
        if off:
            bolt = max(off, key=lambda place: abs(away[place]))
            more = f", and {len(off) - 1} more bolts" if len(off) > 1 else ""
            yield (
                f"{name}, stage {number}: bolt {bolt + 1} got {group.shown(row[bolt])}, the card "
                f"says {group.shown(stage)} ({away[bolt]:+.0f} %){more}."
            )


def _is_out_of_order(group: _Group) -> bool:
    """Whether a stage came before one that should be lower: told by the middle of each row."""
    middles = [sorted(row)[len(row) // 2] for row in group.rows if row]
    slack = 1 - group.tolerance_percent / 100
    return any(later < slack * earlier for earlier, later in itertools.pairwise(middles))


def _practice(group: _Group) -> Criterion:
    """New bolts where they are single-use, the repeat pass, the state of the threads."""
    faults, open_ = [], []
    name, sheet = group.card.name, group.sheet
    if group.card.single_use and sheet.new_bolts == "no":
        faults.append(f"Old bolts went into {name}: they are for one use only.")
    elif group.card.single_use and sheet.new_bolts == "not checked":
        open_.append("new bolts")
    if sheet.repeat_pass == "no":
        faults.append(f"The last stage of {name} was not repeated until nothing moved.")
    elif sheet.repeat_pass == "not checked":
        open_.append("repeat pass")
    if not sheet.threads:
        open_.append("threads dry or oiled")
    elif group.card.lubrication is not None and sheet.threads != group.card.lubrication:
        faults.append(_lubrication_words(group))
    result = CriterionResult.NOT_JUDGED if open_ else CriterionResult.PASS
    if faults:
        result = CriterionResult.HOLD
    asked = f"NOT CHECKED: {', '.join(open_)} ({name}). Answer needed before PASS."
    return job_line(
        f"bolts-{group.id}",
        f"Bolts of {name}: new, state of the threads, repeat pass",
        result=result,
        value=f"new: {sheet.new_bolts}, threads: {sheet.threads or 'not told'}, repeat pass: "
        f"{sheet.repeat_pass}",
        limit=f"{'new, ' if group.card.single_use else ''}"
        f"{group.card.lubrication or 'dry or oiled'}, repeated",
        source=f"{MAKER}; {REPEAT}",
        reason=" ".join([*faults, *([asked] if open_ else [])]),
        advice=_practice_advice(group) if faults else "Ask who did it, then answer in the record.",
        detail=f"wrench {sheet.wrench}" if sheet.wrench else "no torque wrench named",
        checks=(STRETCHED,) if _is_too_tight(group) else (LOOSE,) if faults else (),
    )


def _is_too_tight(group: _Group) -> bool:
    return (group.card.lubrication, group.sheet.threads) == ("dry", "oiled")


def _practice_advice(group: _Group) -> str:
    if _is_too_tight(group) or (group.card.single_use and group.sheet.new_bolts == "no"):
        return (
            "Lock out. Put in new bolts of the card's grade, threads as the card says, and tighten "
            "in its stages."
        )
    return AGAIN


def _lubrication_words(group: _Group) -> str:
    """What the wrong state of the threads does to the clamp force."""
    meant, found = group.card.lubrication or "dry", group.sheet.threads or "dry"
    factor = NUT_FACTOR[meant] / NUT_FACTOR[found]
    ratio = _ratio(group)
    share = "" if isinstance(ratio, str) else f", {100 * ratio:.0f} % of proof load"
    return (
        f"{group.card.name}: {found} threads at the {meant} torque: about {factor:.2f} times the "
        f"preload{share}."
    )


def _ratio(group: _Group) -> float | str:
    """Largest clamp force over proof load, or why it is not known."""
    card, state = group.card, group.sheet.threads or group.card.lubrication
    missing = [key for key in ("thread", "grade") if getattr(card, key) is None]
    if missing or card.thread is None or card.grade is None:
        return f"the card gives no {and_list(missing)}"
    if state is None:
        return "nobody wrote down whether the threads were dry or oiled"
    torques = [torque for row in group.rows for torque in row]
    if not torques:
        return "no torque is written down"
    try:
        return preload_ratio(max(torques), read_thread(card.thread), card.grade, state)
    except InputError as error:
        return str(error)


def _preload(group: _Group) -> Criterion:
    """Clamp force over proof load: the figure that a wrong grade, unit or oil shows up in."""
    id_, name = f"preload-{group.id}", group.card.name
    limits, ratio = group.limits, _ratio(group)
    hold = limits.value("preload_hold_ratio")
    title, source = f"Clamp force of {name}", limits.source("preload_hold_ratio")
    if isinstance(ratio, str):
        return job_line(
            id_,
            title,
            result=CriterionResult.WATCH,
            value=f"not computed: {ratio}",
            limit=hold,
            source=source,
            advice="Write thread and grade of the bolts on the card, like 'M20' and '10.9'.",
        )
    result = graded(ratio, limits.value("preload_watch_ratio"), hold)
    state = group.sheet.threads or group.card.lubrication
    words = f"{name}: {state} threads at this torque pull to {100 * ratio:.0f} % of proof load"
    return job_line(
        id_,
        title,
        result=result,
        value=ratio,
        unit="1",
        limit=hold,
        source=source,
        reason=f"{words}, {100 * hold:.0f} % is the limit: the bolts may be stretched.",
        advice="Lock out. Check torque, unit, grade and threads against the card; put in new bolts "
        "and tighten in stages.",
        detail=f"{words}; a torque hits its clamp force to about ±25 to 30 % (from memory)",
        checks=(STRETCHED,),
    )
