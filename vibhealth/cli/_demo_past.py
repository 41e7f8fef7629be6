"""The planner's part of the demo: an invented past, and the outlook four weeks before the rebuild."""

from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from vibhealth.model import Outlook

__all__ = ["AS_OF", "HISTORY", "STOPS", "make_history", "outlook_before"]

HISTORY = "history.sqlite"
AS_OF = date(2031, 2, 7)  # the jobs of the demo start on 5 March
STOPS = (date(2031, 2, 15), date(2031, 3, 5), date(2031, 5, 10))


def make_history(card: Path, store: Path) -> None:
    """Fill a history with readings of a year and with the units that ran before, all invented.

    Parameters
    ----------
    card : Path
        The demo's card.
    store : Path
        The history; one that is there is added to.
    """
    from vibhealth.card import read_card
    from vibhealth.simulate import past_readings
    from vibhealth.store import History

    until = datetime.combine(AS_OF, time(8), tzinfo=UTC)
    with History.open(store, create=True) as history:
        history.add_past(past_readings(read_card(card), until=until))


def outlook_before(card: Path, store: Path) -> "Outlook":
    """What the planner was told before the rebuild.

    Parameters
    ----------
    card, store : Path
        As of `make_history`.

    Returns
    -------
    Outlook
    """
    from vibhealth.card import read_card
    from vibhealth.cli._past import trend_past_of
    from vibhealth.outlook.planner import machine_outlook

    the_card = read_card(card)
    past = trend_past_of(store, the_card.machine.id, as_of=AS_OF)
    return machine_outlook(the_card, past, as_of=AS_OF, windows=STOPS)
