"""What trend and outlook share: the history of a machine, dates, and where documents go."""

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth.errors import InputError

if TYPE_CHECKING:
    from vibhealth.outlook.planner import Past

__all__ = ["StoreOption", "given_day", "past_of"]

DEFAULT_STORE = Path("vibhealth-history.sqlite")

StoreOption = Annotated[
    Path, typer.Option("--store", help="The history; made by: vibhealth history add.")
]


def past_of(
    store: Path, machine: str, *, wanted: "set[str] | None" = None, may_be_new: bool = False
) -> "Past":
    """Everything that the history knows of a machine, with the descriptors that are wanted.

    ``may_be_new``: nothing, instead of a refusal, where the machine is not in it.

    Raises
    ------
    StoreError
        If there is no such history, or it cannot be read.
    InputError
        If it does not know the machine.
    """
    from vibhealth.outlook.planner import Past
    from vibhealth.store import History

    with History.open(store) as history:
        known = history.machines()
        if machine not in known and may_be_new:
            return Past()
        if machine not in known:
            there = f"it knows {', '.join(known)}" if known else "it is empty"
            msg = (
                f"{store}: machine {machine!r} is not in this history ({there}); add its "
                "recordings with: vibhealth history add RECORDING --card CARD"
            )
            raise InputError(msg)
        return Past(
            recordings=history.recordings(machine, descriptors=wanted),
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
