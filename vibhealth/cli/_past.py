"""What trend and outlook share: the history of a machine, dates, and where documents go."""

from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from vibhealth.errors import InputError

if TYPE_CHECKING:
    from vibhealth.model import Past
    from vibhealth.store import History

__all__ = ["StoreOption", "given_day", "past_of", "trend_past_of"]

DEFAULT_STORE = Path("vibhealth-history.sqlite")

StoreOption = Annotated[
    Path, typer.Option("--store", help="The history; made by: vibhealth history add.")
]


def past_of(store: Path, machine: str) -> "Past":
    """What the history knows of a machine, but for the descriptors.

    Raises
    ------
    StoreError
        If there is no such history, or it cannot be read.
    InputError
        If it does not know the machine.
    """
    from vibhealth.store import History

    with History.open(store) as history:
        _check_known(history, machine)
        return _past(history, machine, descriptors=(), families=True)


def trend_past_of(
    store: Path, machine: str, *, as_of: date | None = None, may_be_new: bool = False
) -> "Past":
    """What the trends and the outlook of a machine need: thousands of recordings within a second.

    Of the descriptors the level, of the families those seen lately, up to the end of ``as_of``.
    ``may_be_new``: nothing, instead of a refusal, where the machine is not in the history.

    Raises
    ------
    StoreError
        If there is no such history, or it cannot be read.
    InputError
        If it does not know the machine.
    """
    from vibhealth.model import Past
    from vibhealth.outlook.trend import LEVEL, RECENT
    from vibhealth.store import History

    with History.open(store) as history:
        if may_be_new and machine not in history.machines():
            return Past()
        _check_known(history, machine)
        until = None if as_of is None else datetime.combine(as_of, time.max, tzinfo=UTC)
        seen = history.families_seen(machine, until=until, latest=RECENT)
        return _past(history, machine, descriptors=(LEVEL,), families=seen)


def _check_known(history: "History", machine: str) -> None:
    known = history.machines()
    if machine not in known:
        there = f"it knows {', '.join(known)}" if known else "it is empty"
        msg = (
            f"{history.path}: machine {machine!r} is not in this history ({there}); add its "
            "recordings with: vibhealth history add RECORDING --card CARD"
        )
        raise InputError(msg)


def _past(
    history: "History", machine: str, *, descriptors: tuple[str, ...], families: Any
) -> "Past":
    from vibhealth.model import Past

    return Past(
        recordings=history.recordings(machine, descriptors=descriptors, families=families),
        verdicts=history.verdicts(machine),
        rebuilds=history.rebuilds(machine),
        opened=history.opened_units(machine),
    )


def given_day(text: str | None, option: str) -> date:
    """A day as written, today without one.

    Raises
    ------
    InputError
        If it is no date.
    """
    if text is None:
        return datetime.now(UTC).date()
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        msg = f"{option}: {text!r} is no date; write it as 2031-05-10"
        raise InputError(msg) from error
