"""The planner's page from a history of INVENTED readings: a year of F3 since its last rebuild."""

import tempfile
from datetime import UTC, datetime
from pathlib import Path

from vibhealth.card import read_card
from vibhealth.model import Past
from vibhealth.outlook.planner import machine_outlook
from vibhealth.report.planner_text import page_text
from vibhealth.report.planner_view import planner_page
from vibhealth.simulate import past_readings
from vibhealth.store import History

CARD = Path(__file__).with_name("F3.toml")
TODAY = datetime(2031, 5, 14, 8, tzinfo=UTC)


def fill(history: History) -> None:
    """Units that came out before, what was found in them, and the visits since: all INVENTED."""
    history.add_past(
        past_readings(read_card(CARD), until=TODAY)
    )  # real ones: vibhealth history add


if __name__ == "__main__":
    with (
        tempfile.TemporaryDirectory() as folder,
        History.open(Path(folder) / "history.sqlite", create=True) as history,
    ):
        fill(history)
        past = Past(
            recordings=history.recordings("F3"),
            rebuilds=history.rebuilds("F3"),
            opened=history.opened_units("F3"),
        )
    found = machine_outlook(read_card(CARD), past, as_of=TODAY.date())
    page = planner_page(found, generated_at="an INVENTED history", version="example")
    print(page_text(page, width=100, color=False))
