"""Questions for figures: torques stage by stage, oil, guard clearance, temperature."""

import re
from datetime import datetime, timedelta

from vibhealth._toml import Value
from vibhealth.card import BoltGroup, MachineCard
from vibhealth.errors import JobError
from vibhealth.job._item import Phase
from vibhealth.job._question import Edit, Question, Reply
from vibhealth.job.record import JobRecord, TorqueSheet
from vibhealth.job.torque import FT_LB_NM, bolt_group_ids
from vibhealth.job.typed import typed_number, typed_numbers

__all__ = [
    "clearance_question",
    "oil_grade_question",
    "oil_volume_question",
    "temperature_question",
    "torque_questions",
]

UNIT = re.compile(r"(n\s*m|ft[\s.-]*lbf?)\.?$", re.IGNORECASE)
# The housing has levelled below 1 degree in ten minutes; a reading every ten minutes, not
# twice within five (common practice, no source).
LEVEL_C_PER_MIN = 0.1
SHORTEST_PAUSE = timedelta(minutes=5)


def torque_questions(card: MachineCard | None) -> list[Question]:
    """For each bolt group of the card: state of the threads, then one question per stage."""
    found: list[Question] = []
    for name, group in bolt_group_ids(card).items() if card is not None else ():
        found.append(_threads(name, group))
        found += [_stage(name, group, number) for number in range(len(group.torque_stages_nm))]
    return found


def _sheet(record: JobRecord, name: str) -> TorqueSheet:
    return record.torque.get(name, TorqueSheet())


def _threads(name: str, group: BoltGroup) -> Question:
    def edit(reply: Reply) -> Edit:
        known = {"d": "dry", "dry": "dry", "o": "oiled", "oiled": "oiled"}
        if group.lubrication:
            known |= {"y": group.lubrication, "yes": group.lubrication}
        threads = known.get(reply.text.lower())
        if threads is None:
            msg = f'"{reply.text[:40]}" is no answer; type dry / oiled'
            raise JobError(msg)
        changes = {("torque", name, "threads"): threads, **reply.signed("torque", name)}
        return Edit(said=threads, changes=changes)

    card_says = f" The card says {group.lubrication}." if group.lubrication else ""
    return Question(
        id=f"torque.{name}.threads",
        phase=Phase.BUILD,
        text=f"{group.name}: were the threads dry or oiled?",
        form=f"dry / oiled{f', y = {group.lubrication}' if group.lubrication else ''}",
        why="At the same torque an oiled thread stretches the bolt up to half as much again."
        + card_says,
        is_open=lambda record: not _sheet(record, name).threads,
        edit=edit,
    )


def _stage(name: str, group: BoltGroup, number: int) -> Question:
    torque_nm = group.torque_stages_nm[number]

    def rows(record: JobRecord) -> list[tuple[float, ...]]:
        given = list(_sheet(record, name).stages)
        return given + [()] * (len(group.torque_stages_nm) - len(given))

    def edit(reply: Reply) -> Edit:
        sheet, stages = _sheet(reply.record, name), rows(reply.record)
        unit = _unit(reply.text, sheet)
        stages[number] = _torques(reply.text, unit, torque_nm, group.count)
        changes = {
            ("torque", name, "stages"): tuple(stages),
            ("torque", name, "unit"): unit,
            **reply.signed("torque", name),
        }
        return Edit(said=_torque_text(stages[number], unit), changes=changes)

    return Question(
        id=f"torque.{name}.stages.{number + 1}",
        phase=Phase.BUILD,
        text=f"{group.name}, stage {number + 1} of {len(group.torque_stages_nm)}: which torque "
        f"had the {group.count} bolts?",
        form=f"y = {torque_nm:g} N m on all; else one torque for all, or {group.count}; "
        "behind it ft lb if so",
        why="Type what the wrench was set to, not what it should have been. Bolts in the order of "
        f"their numbers. The card says {torque_nm:g} N m.",
        is_open=lambda record: not rows(record)[number],
        edit=edit,
    )


def _unit(text: str, sheet: TorqueSheet) -> str:
    found = UNIT.search(text.strip())
    has_figures = any(sheet.stages)
    if found is None:
        return sheet.unit
    unit = "N m" if found[1].lower().startswith("n") else "ft lb"
    if has_figures and unit != sheet.unit:
        msg = f"the other stages of this group are in {sheet.unit}; give this one in {sheet.unit}"
        raise JobError(msg)
    return unit


def _torques(text: str, unit: str, torque_nm: float, count: int) -> tuple[float, ...]:
    figures = UNIT.sub("", text.strip()).strip()
    if figures.lower() in {"y", "yes"}:
        return (torque_nm if unit == "N m" else round(torque_nm / FT_LB_NM, 1),) * count
    torques = typed_numbers(figures)
    if len(torques) not in {1, count}:
        msg = f"{len(torques)} torques for {count} bolts; type one for all, or {count}"
        raise JobError(msg)
    return torques if len(torques) == count else torques * count


def _torque_text(row: tuple[float, ...], unit: str) -> str:
    if len(set(row)) == 1:
        return f"{row[0]:g} {unit} on {len(row)} bolts"
    return f"{', '.join(f'{torque:g}' for torque in row)} {unit}"


def oil_volume_question(key: str, phase: Phase, text: str, why: str) -> Question:
    """Litres drained or filled."""

    def edit(reply: Reply) -> Edit:
        litres = typed_number(reply.text)
        return Edit(said=f"{litres:g} l", changes={("oil", key): litres, **reply.signed("oil")})

    return Question(
        id=f"oil.{key}",
        phase=phase,
        text=text,
        form="litres",
        why=why,
        is_open=lambda record: getattr(record.oil, key) is None,
        edit=edit,
    )


def oil_grade_question(card: MachineCard | None) -> Question:
    """Grade of the new oil; ``y`` stands for that of the card."""
    grade = card.oil.grade if card is not None and card.oil is not None else None

    def edit(reply: Reply) -> Edit:
        is_card = grade is not None and reply.text.lower() in {"y", "yes"}
        said = grade if is_card and grade is not None else reply.text
        if said.lower() in {"y", "yes", "n", "no"}:
            msg = "the card states no grade to say yes or no to; type what stands on the drum"
            raise JobError(msg)
        return Edit(said=said, changes={("oil", "grade"): said, **reply.signed("oil")})

    return Question(
        id="oil.grade",
        phase=Phase.BUILD,
        text="Which oil was filled in?",
        form=f"as on the drum{f', y = {grade}' if grade else ''}",
        why="A wrong grade is not seen in any recording at first. Read the label on the drum.",
        is_open=lambda record: not record.oil.grade,
        edit=edit,
    )


def clearance_question(card: MachineCard | None) -> Question:
    """Gaps between moving parts and guard, all the way round."""
    least = card.guard.clearance_mm if card is not None and card.guard is not None else None

    def edit(reply: Reply) -> Edit:
        gaps = typed_numbers(reply.text)
        changes = {("clearance", "guard_mm"): gaps, **reply.signed("clearance")}
        return Edit(said=f"{', '.join(f'{gap:g}' for gap in gaps)} mm", changes=changes)

    card_says = f" The card asks for {least:g} mm." if least is not None else ""
    return Question(
        id="clearance.guard_mm",
        phase=Phase.BUILD,
        text="Which gaps has the guard, at 4 to 8 places all the way round, at rest?",
        form="mm, such as 16.5 15 17 16",
        why="The body swings several times its working stroke while starting and stopping. "
        f"Feeler or rule, locked out.{card_says}",
        is_open=lambda record: not record.clearance.guard_mm,
        edit=edit,
    )


def temperature_question() -> Question:
    """A reading of housing and surroundings, until the housing has levelled."""

    def edit(reply: Reply) -> Edit:
        figures = typed_numbers(reply.text)
        if len(figures) > 2:
            msg = f"housing and surroundings are asked for, not {len(figures)} numbers"
            raise JobError(msg)
        names = ("housing_c", "ambient_c")
        row: dict[str, Value] = {"at": reply.time, **dict(zip(names, figures, strict=False))}
        said = " and ".join(f"{figure:g} °C" for figure in figures)
        return Edit(said=said, row=("temperature", row))

    return Question(
        id="temperature",
        phase=Phase.START,
        text="How warm are the housing and the air beside it now?",
        form="°C, such as 41.5 18; again every ten minutes until it has levelled",
        why="A housing that keeps climbing has too much or too little oil, or a tight bearing. "
        "Same place each time, from outside the guard.",
        is_open=lambda record: not _levelled(record),
        edit=edit,
        not_before=_next_reading,
    )


def _levelled(record: JobRecord) -> bool:
    if len(record.temperature) < 2:
        return False
    before, last = record.temperature[-2:]
    minutes = (last.at - before.at) / timedelta(minutes=1)
    return last.housing_c - before.housing_c <= LEVEL_C_PER_MIN * minutes


def _next_reading(record: JobRecord) -> datetime | None:
    return record.temperature[-1].at + SHORTEST_PAUSE if record.temperature else None
