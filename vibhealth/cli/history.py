"""``vibhealth history``: what was recorded, said, rebuilt and found, in one file."""

from dataclasses import asdict
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from vibhealth.cli import _options as option
from vibhealth.cli._history_add import How, add_sources
from vibhealth.cli._load import checked_speed, read_options
from vibhealth.cli._output import emit, talk, terminal_form
from vibhealth.cli._past import DEFAULT_STORE, StoreOption, past_of
from vibhealth.cli._run import ExitCode
from vibhealth.errors import InputError

if TYPE_CHECKING:
    from vibhealth.model import Past
    from vibhealth.store import AddResult, EntryKind, History

__all__ = ["history_app"]

history_app = typer.Typer(
    help="What was recorded, said, rebuilt and found: one file, only ever added to.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

ByOption = Annotated[str, typer.Option("--by", help="Name of the person who says so.")]
KINDS = {"r": "recording", "v": "verdict", "b": "rebuild", "o": "opened_unit"}


@history_app.command()
def add(
    sources: Annotated[
        list[Path],
        typer.Argument(metavar="RECORDING | FOLDER | JOB ...", help="What to add."),
    ],
    *,
    card: option.OptionalCardOption = None,
    store: StoreOption = DEFAULT_STORE,
    at: Annotated[
        str | None, typer.Option("--at", help="When recorded, if no sidecar says it; one moment.")
    ] = None,
    load: Annotated[
        Literal["empty", "loaded"] | None, typer.Option(help="If no sidecar says it.")
    ] = None,
    running_hours: Annotated[
        float | None, typer.Option(min=0, help="Hour counter, if no sidecar says it.")
    ] = None,
    point: option.PointOption = None,
    channel: option.ChannelOption = None,
    unit: option.UnitOption = None,
    rate: option.RateOption = None,
    speed_rpm: option.SpeedOption = None,
    full_scale_g: option.FullScaleGOption = None,
) -> None:
    """Analyse and keep recordings, whole folders of old ones, or a job with its verdict."""
    from vibhealth.card import read_card
    from vibhealth.store import History

    how = How(
        options=read_options(rate_hz=rate, unit=unit, full_scale_g=full_scale_g),
        point=point,
        channel=channel,
        speed_rpm=checked_speed(speed_rpm),
        recorded_at=None if at is None else _moment(at, "--at"),
        load=load or "",
        running_hours_h=running_hours,
    )
    the_card = None if card is None else read_card(card)
    with History.open(store, create=True) as history:
        added = add_sources(history, sources, the_card, how)
    emit(f"{store}: {added.new} added, {added.known} there already, {added.failed} left out")
    if added.undated:
        talk(
            f"{added.undated} without a date: kept, but in no trend; write start_time into the "
            "sidecar, or give --at, before adding"
        )
    if added.failed:
        raise typer.Exit(ExitCode.BAD_INPUT)


@history_app.command("list")
def list_(
    machine: Annotated[str | None, typer.Argument(help="Its id; without it all machines.")] = None,
    *,
    store: StoreOption = DEFAULT_STORE,
    json: option.JsonOption = False,
) -> None:
    """Machines of a history, or the entries of one in the order of time."""
    from vibhealth.report import dumps
    from vibhealth.report.history_text import entry_rows, machine_rows, rows_text
    from vibhealth.store import History

    if machine is None:
        with History.open(store) as history:
            rows = [
                machine_rows(name, history.recordings(name, descriptors=(), families=False),
                             history.verdicts(name), history.rebuilds(name))
                for name in history.machines()
            ]  # fmt: skip
        title = f"{store}: {len(rows)} machine{'s' * (len(rows) != 1)}"
    else:
        past = past_of(store, machine)
        rows = list(entry_rows([*past.recordings, *past.verdicts, *past.rebuilds, *past.opened]))
        title = f"{machine}: r recording, v verdict, b rebuild, o opened unit"
    width, color = terminal_form()
    emit(
        dumps({"schema_version": 1, "entries": rows})
        if json
        else rows_text(title, rows, width=width, color=color)
    )


@history_app.command()
def show(
    entry: Annotated[str, typer.Argument(metavar="ENTRY", help="As listed: r12, v3, b1, o1.")],
    *,
    store: StoreOption = DEFAULT_STORE,
    json: option.JsonOption = False,
) -> None:
    """Everything that is kept of one entry."""
    from vibhealth.report import dumps
    from vibhealth.report.history_text import entry_text
    from vibhealth.store import History

    kind, number = _entry(entry)
    with History.open(store) as history:
        found = _find(history, kind, number)
    if found is None:
        msg = f"{store}: there is no entry {entry}; see them with: vibhealth history list MACHINE"
        raise InputError(msg)
    facts = asdict(found)
    width, color = terminal_form()
    emit(
        dumps({"schema_version": 1, "kind": kind, **facts})
        if json
        else entry_text(f"{kind.words} {entry}", facts, width=width, color=color)
    )


@history_app.command()
def rebuild(
    machine: Annotated[str, typer.Argument(help="Id of the machine, as on its card.")],
    *,
    at: Annotated[str, typer.Option("--at", help="When the new unit started.")],
    reason: Annotated[
        Literal["planned", "condition", "failed", "unknown"],
        typer.Option(help="Why the old unit came out."),
    ],
    by: ByOption,
    store: StoreOption = DEFAULT_STORE,
    running_hours: Annotated[
        float | None, typer.Option(min=0, help="Hour counter of the machine at that moment.")
    ] = None,
    serial: Annotated[str, typer.Option(help="Of the new unit.")] = "",
    designation: Annotated[str, typer.Option(help="Of its bearings.")] = "",
    remark: Annotated[str, typer.Option(help="What else there is to say.")] = "",
    new: Annotated[bool, typer.Option("--new", help="The machine is new to this history.")] = False,
) -> None:
    """Note that a unit was exchanged: trends begin anew, and lives are counted from it."""
    from vibhealth.model import Rebuild, RebuildReason
    from vibhealth.store import History

    noted = Rebuild(
        machine=_machine(machine),
        at=_moment(at, "--at"),
        reason=RebuildReason(reason),
        by=_name(by),
        unit_serial=serial,
        bearing_designation=designation,
        running_hours_h=running_hours,
        remark=remark,
    )
    with History.open(store, create=True) as history:
        _refuse_unknown(history, noted.machine, is_new=new)
        _said("b", history.add_rebuild(noted), store)


@history_app.command()
def opened(
    machine: Annotated[str, typer.Argument(help="Id of the machine, as on its card.")],
    *,
    removed: Annotated[str, typer.Option("--removed", help="Date of the rebuild it came out at.")],
    bearing: Annotated[str, typer.Option(help="Name of the bearing on the card.")],
    damage: Annotated[
        str, typer.Option(help="In the words of ISO 15243, or no-damage; a wrong one lists them.")
    ],
    by: ByOption,
    element: Annotated[
        Literal["outer-ring", "inner-ring", "rolling-element", "cage"] | None,
        typer.Option(help="Which part was damaged."),
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", help="Day on which the unit was opened.")
    ] = None,
    store: StoreOption = DEFAULT_STORE,
    remark: Annotated[str, typer.Option(help="What else was seen.")] = "",
) -> None:
    """Note what was found in the unit that came out: the label of its last recordings."""
    from vibhealth.model import Damage, Element, OpenedUnit
    from vibhealth.store import History

    if damage not in {item.value for item in Damage}:
        msg = f"--damage: {damage!r} is none of {', '.join(item.value for item in Damage)}"
        raise InputError(msg)
    if (element is None) is not (damage == Damage.NONE.value):
        msg = "give --element with the part that was damaged, and none with no-damage"
        raise InputError(msg)
    with History.open(store) as history:
        noted = OpenedUnit(
            machine=_machine(machine),
            removed_at=_removal(history, machine, removed),
            bearing=bearing,
            element=None if element is None else Element(element),
            damage=Damage(damage),
            by=_name(by),
            opened_on=None if on is None else _moment(on, "--on").date(),
            remark=remark,
        )
        _said("o", history.add_opened_unit(noted), store)


@history_app.command()
def withdraw(
    entry: Annotated[str, typer.Argument(metavar="ENTRY", help="As listed: r12, v3, b1, o1.")],
    *,
    by: ByOption,
    reason: Annotated[str, typer.Option(help="Why it is wrong.")],
    store: StoreOption = DEFAULT_STORE,
) -> None:
    """Let a wrong entry count no more; it stays in the file, with who said so and why."""
    from vibhealth.store import History

    kind, number = _entry(entry)
    with History.open(store) as history:
        history.withdraw(kind, number, by=_name(by), reason=reason)
    emit(f"{entry} counts no more")


@history_app.command()
def export(
    target: Annotated[Path, typer.Argument(metavar="FILE", help="A .csv or a .json file.")],
    *,
    store: StoreOption = DEFAULT_STORE,
    overwrite: option.OverwriteOption = False,
) -> None:
    """Write recordings with their descriptors as CSV, or everything as JSON."""
    from vibhealth.store import History, export_csv, export_json

    writers = {".csv": export_csv, ".json": export_json}
    writer = writers.get(target.suffix.lower())
    if writer is None:
        msg = f"{target}: name a file that ends in .csv or .json"
        raise InputError(msg)
    with History.open(store) as history:
        emit(f"written: {writer(history, target, overwrite=overwrite)}")


@history_app.command()
def backup(
    target: Annotated[Path, typer.Argument(metavar="FILE", help="The copy.")],
    *,
    store: StoreOption = DEFAULT_STORE,
    overwrite: option.OverwriteOption = False,
) -> None:
    """Copy a history while it may be in use; the copy is checked."""
    from vibhealth.store import History, backup_history

    with History.open(store) as history:
        emit(f"written: {backup_history(history, target, overwrite=overwrite)}")


@history_app.command()
def check(*, store: StoreOption = DEFAULT_STORE) -> None:
    """Check every entry against its digest."""
    from vibhealth.store import History, check_integrity

    with History.open(store) as history:
        found = check_integrity(history)
    counts = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in found.checked.items())
    if not found.is_sound:
        msg = f"{store}: {'; '.join(found.problems[:5])}; go back to a backup"
        raise InputError(msg)
    emit(f"{store}: sound ({counts})")


@history_app.command()
def hits(
    card: Annotated[Path, typer.Argument(metavar="CARD", help="Machine card.")],
    *,
    store: StoreOption = DEFAULT_STORE,
    json: option.JsonOption = False,
) -> None:
    """What was said against what was found in opened units, and which limit to look at."""
    from vibhealth.card import read_card
    from vibhealth.outlook.hits import hit_table
    from vibhealth.report import dumps
    from vibhealth.report.history_text import hits_text

    the_card = read_card(card)
    name = the_card.machine.id
    past: Past = past_of(store, name)
    found = hit_table(past.recordings, past.rebuilds, past.opened, the_card.limits)
    width, color = terminal_form()
    emit(
        dumps({"schema_version": 1, "machine": name, **asdict(found)})
        if json
        else hits_text(name, found, width=width, color=color)
    )


def _entry(name: str) -> "tuple[EntryKind, int]":
    from vibhealth.store import EntryKind

    letter, number = name[:1], name[1:]
    if letter not in KINDS or not number.isdecimal():
        msg = f"{name!r} names no entry; as listed they are r12 (recording), v3, b1 or o1"
        raise InputError(msg)
    return EntryKind(KINDS[letter]), int(number)


def _find(history: "History", kind: "EntryKind", number: int) -> Any:
    read: Any = {
        "recording": history.recordings,
        "verdict": history.verdicts,
        "rebuild": history.rebuilds,
        "opened_unit": history.opened_units,
    }[kind.value]
    entries = (item for name in history.machines() for item in read(name, withdrawn=True))
    return next((item for item in entries if item.id == number), None)


def _refuse_unknown(history: "History", machine: str, *, is_new: bool) -> None:
    known = history.machines()
    if known and machine not in known and not is_new:
        msg = (
            f"machine {machine!r} is not in this history (it knows {', '.join(known)}); "
            "check the id, or give --new for a new machine"
        )
        raise InputError(msg)


def _said(letter: str, result: "AddResult", store: Path) -> None:
    there = "" if result.added else " was there already"
    emit(f"{store}: {letter}{result.id}{there}")


def _removal(history: "History", machine: str, text: str) -> datetime:
    """The rebuild of that day: a unit is opened that came out at a rebuild on record."""
    day = _moment(text, "--removed")
    rebuilds = history.rebuilds(machine)
    found = [item.at for item in rebuilds if item.at == day] or [
        item.at for item in rebuilds if item.at.date() == day.date()
    ]
    if len(found) > 1:
        msg = f"--removed: {machine} had {len(found)} rebuilds on {text}; give the time as well"
        raise InputError(msg)
    if not found:
        known = ", ".join(f"{item.at:%Y-%m-%d}" for item in rebuilds) or "none"
        msg = (
            f"--removed: no rebuild of {machine} on {text} (on record: {known}); note it first with: "
            f"vibhealth history rebuild {machine} --at {text} --reason ... --by ..."
        )
        raise InputError(msg)
    return found[0]


def _moment(text: str, option_name: str) -> datetime:
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        msg = (
            f"{option_name}: {text!r} is no date; write it as 2031-05-10 or 2031-05-10T08:00+02:00"
        )
        raise InputError(msg) from error
    if found.tzinfo is None:
        found = found.replace(tzinfo=UTC)
        if found.time() != datetime.min.time():
            talk(f"{option_name}: {text} has no time zone and is taken as UTC")
    if found.date() > date(2200, 1, 1) or found.date() < date(1950, 1, 1):
        msg = f"{option_name}: {text} lies outside 1950 to 2200; check the year"
        raise InputError(msg)
    return found


def _name(text: str) -> str:
    if not text.strip() or not any(c.isalpha() for c in text):
        msg = "--by: give the name of the person who says so"
        raise InputError(msg)
    return text.strip()


def _machine(text: str) -> str:
    if not text.strip():
        msg = "give the id of the machine, as on its card"
        raise InputError(msg)
    return text.strip()
