"""The commented template of a job record, made for one machine card."""

import textwrap

from vibhealth._toml import toml_value
from vibhealth.card import BoltGroup, MachineCard
from vibhealth.job._item import JobItem, Phase
from vibhealth.job.cautions import CAUTIONS, GENERAL_CAUTIONS
from vibhealth.job.items import ITEMS, items_of
from vibhealth.job.torque import bolt_group_ids
from vibhealth.model import Hold

__all__ = ["PHASE_TITLES", "job_template"]

WIDTH = 98

PHASE_TITLES: dict[Phase, str] = {
    Phase.AS_FOUND: "AS FOUND, before the rebuild",
    Phase.STRIP: "STRIPPING",
    Phase.BUILD: "BUILDING",
    Phase.PRE_START: "BEFORE THE FIRST START",
    Phase.START: "FIRST START",
    Phase.HOUR_1: "AFTER 1 HOUR",
    Phase.HOUR_8: "AFTER 8 HOURS",
    Phase.HOUR_24: "AFTER 24 HOURS",
    Phase.DAY_7: "AFTER 7 DAYS",
}
NO_MEANS = {
    Hold.STOP_NOW: "STOP NOW, lock out",
    Hold.FIX: "put it right before going on",
    Hold.MEASURE_AGAIN: "it is missing in the decision; measure where still possible",
}

HEAD = """\
Job record: what was done and seen by hand and eye when the bearing unit of {name} was rebuilt.

Answer at the machine, one question after the other: vibhealth job ask FOLDER
or fill this in with a text editor. What stays empty ("" or [ ]) is not given, and counts as
not checked, never as good. Answers: "yes" | "no" | "not checked"; "yes" is always the good one.
Times without quotes, with the offset from UTC, such as 2031-03-05T13:00:00+01:00
Your own comments (lines that start with #) stay when vibhealth writes into this file."""

JOB = """\
[job]
machine = {machine:<22}# as on the machine card
card = {card:<25}# the machine card: its file beside this one
unit_serial = ""                # serial number of the bearing unit now built in
bearing_designation = ""        # as stamped on the new bearings
rebuilt_by = ""                 # who answers for the work
braces_removed_by = ""          # who took the shipping braces out
rebuild_finished = ""           # date and time
machine_started = ""            # date and time of the first start; the later checks count from it
load = ""                       # "empty" | "loaded": while the recordings were made
point_checked = "not checked"   # same marked points and directions as before the rebuild?
noise = ""                      # in plain words: what it sounds like, where, when
remarks = ""
"""

OIL = """\
[oil]
grade = ""                      # as on the drum{grade}
drained_l = ""                  # litres that came out
filled_l = ""                   # litres that went in{volume}
by = ""
at = ""
remark = ""
"""

CLEARANCE = """\
[clearance]
guard_mm = []                   # mm, gaps all the way round at rest, such as [16.0, 15.5, 17.0]{least}
by = ""
at = ""
remark = ""
"""

TAIL = """\
Temperatures: a row for every ten minutes of the first hour, copied from this example.
The housing has levelled when it rises less than 1 °C in ten minutes.
[[temperature]]
at = 2031-03-05T13:10:00+01:00
housing_c = 31.5
ambient_c = 18.0

To run on against a HOLD needs a name and a reason. Nobody can override a sign to stop.
[override]
by = ""
reason = ""
at = 2031-03-05T15:00:00+01:00"""


def job_template(card: MachineCard, *, card_name: str) -> str:
    """Commented TOML of an empty job record in which every question is explained.

    Parameters
    ----------
    card : MachineCard
        Of the machine; its bolt groups head the torque sheets.
    card_name : str
        Name of the card's file beside the record.

    Returns
    -------
    str
        Passes `read_job` as it stands, with nothing answered.
    """
    parts = [
        _comment(HEAD.format(name=card.machine.name)),
        _comment("\n".join(_caution(caution) for caution in GENERAL_CAUTIONS)),
        "schema_version = 1              # edition of this file's layout; always 1\n",
        JOB.format(machine=toml_value(card.machine.id), card=toml_value(card_name)),
    ]
    for phase in Phase:
        parts.append(_heading(phase))
        for item in items_of(phase):
            parts += [_item(item), *_sheets(item, card)]
    return "\n".join([*parts, _comment(TAIL)])


def _comment(text: str) -> str:
    return "".join(f"# {line}".rstrip() + "\n" for line in text.splitlines())


def _caution(text: str) -> str:
    return textwrap.fill(f"! {text}", WIDTH - 2, subsequent_indent="  ")


def _heading(phase: Phase) -> str:
    title = f"======== {PHASE_TITLES[phase]} ({phase}) "
    lines = [title.ljust(WIDTH - 2, "="), *(_caution(text) for text in CAUTIONS[phase])]
    return _comment("\n".join(lines))


def _item(item: JobItem) -> str:
    number = ITEMS.index(item) + 1
    text = [
        textwrap.fill(f"{number}. {item.question}", WIDTH - 2),
        textwrap.fill(f"Why: {item.why}", WIDTH - 2, initial_indent="   ", subsequent_indent="   "),
        f'   "no" means: {NO_MEANS[item.no_means]}.',
    ]
    keys = 'answer = "not checked"\nby = ""\nat = ""\nremark = ""\n'
    return f"{_comment(chr(10).join(text))}[check.{item.id}]\n{keys}"


def _sheets(item: JobItem, card: MachineCard) -> list[str]:
    """The tables with figures that belong behind an item."""
    if item.id == "bolts-staged":
        return [_torque(name, group) for name, group in bolt_group_ids(card).items()]
    if item.id == "guard-clearance":
        least = f"; the card asks for {card.guard.clearance_mm:g}" if card.guard else ""
        return [CLEARANCE.format(least=least)]
    if item.id == "oil-filled":
        grade = f"; the card says {card.oil.grade}" if card.oil and card.oil.grade else ""
        volume = f"; the card says {card.oil.volume_l:g}" if card.oil and card.oil.volume_l else ""
        return [OIL.format(grade=grade, volume=volume)]
    return []


def _torque(name: str, group: BoltGroup) -> str:
    stages = ", ".join(f"{stage:g}" for stage in group.torque_stages_nm)
    kind = " ".join(word for word in (group.thread, group.grade) if word)
    facts = [
        (
            f"Torque sheet of {group.name}: {group.count} bolts{f' {kind}' if kind else ''}, "
            f"card: {stages} N m, threads {group.lubrication or 'not stated'}, "
            f"{'new bolts' if group.single_use else 'bolts may be used again'}."
        ),
        "stages: one row per stage, in it one torque per bolt, in the order of their numbers,",
        f"such as [{', '.join(['120.0'] * min(group.count, 3))}, ...]; [] is a stage not given.",
    ]
    rows = "".join("  [],\n" for _ in group.torque_stages_nm)
    keys = (
        'unit = "N m"                    # "N m" | "ft lb": as set on the wrench\n'
        'threads = ""                    # "dry" | "oiled": as they were tightened\n'
        'wrench = ""                     # number on the torque wrench\n'
        'new_bolts = "not checked"\n'
        'repeat_pass = "not checked"     # last stage repeated until no bolt moved\n'
        f'stages = [\n{rows}]\nby = ""\nat = ""\nremark = ""\n'
    )
    return f"{_comment(chr(10).join(facts))}[torque.{name}]\n{keys}"
