"""The planner's page from a history of INVENTED readings: a year of F3, with one rebuild."""

import math
import random
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from vibhealth.card import read_card
from vibhealth.model import (
    CriterionResult,
    Damage,
    Descriptor,
    Element,
    HistoryFamily,
    HistoryRecording,
    OpenedUnit,
    Rebuild,
    RebuildReason,
)
from vibhealth.outlook.planner import Past, machine_outlook
from vibhealth.report.planner_text import page_text
from vibhealth.report.planner_view import planner_page
from vibhealth.store import History

START = datetime(2030, 6, 3, 8, tzinfo=UTC)
LIVES_H = (9_800, 14_300, 12_100, 7_900)  # of the units before, INVENTED


def reading(day: float, level: float, depth: float) -> HistoryRecording:
    """One INVENTED visit, as `vibhealth history add` would keep it."""
    result = CriterionResult.PASS
    if depth >= 0.15:
        result = CriterionResult.HOLD if depth >= 0.3 else CriterionResult.WATCH
    family = HistoryFamily(
        bearing="upper", element=Element.OUTER_RING, order=7.1, frequency_hz=115.7,
        false_alarm_probability=1e-6 if depth >= 0.15 else 0.4, depth=depth,
        depth_whitened=depth, depth_interval=(0.85 * depth, 1.18 * depth), impact_m_s2=None,
        present=depth >= 0.3, blind_spot=False, result=result,
    )  # fmt: skip
    band = Descriptor(
        id="bearing-band-block-median", title="median rms of 50 ms blocks, bearing band",
        value=level, unit="m/s2", band_hz=(1000.0, 10000.0),
    )  # fmt: skip
    return HistoryRecording(
        machine="F3", sha256=f"{int(day * 1000):064x}", channel=1, path=f"day-{day:.0f}.wav",
        point="P1X", direction="x", stage="unstated", moment=None,
        recorded_at=START + timedelta(days=day), running_hours_h=44_100 + 20 * day, load="empty",
        temperature_c=46.0, shaft_frequency_hz=16.3, sampling_rate_hz=25_600.0, duration_s=60.0,
        unit="m/s2", unusable_because="", masked="", descriptors=(band,), families=(family,),
        card_sha256="", tool_version="invented",
    )  # fmt: skip


def invented_year() -> list[HistoryRecording]:
    """Visits every ten days; a mark on the outer ring begins to grow after 230 days."""
    rng = random.Random(7)  # noqa: S311 - invented readings, no secret
    visits = []
    for day in range(2, 345, 10):
        grown = 0.04 * math.exp(max(day - 230, 0) * 0.0145)
        noise = math.exp(rng.gauss(0, 0.09))
        visits.append(
            reading(day, 0.42 * math.exp(rng.gauss(0, 0.06)) + 0.4 * (grown - 0.04), grown * noise)
        )
    visits.append(replace(reading(333, 1.6, 0.03), load="loaded", sha256="f" * 64))
    return visits


def fill(history: History) -> None:
    """Units that came out before, what was found in them, and the visits since."""
    hours, at = 44_100 - sum(LIVES_H), START - timedelta(days=sum(LIVES_H) / 20)
    for number, life in enumerate((0, *LIVES_H)):
        hours, at = hours + life, at + timedelta(days=life / 20)
        reason = RebuildReason.PLANNED if number == 2 else RebuildReason.FAILED
        history.add_rebuild(
            Rebuild(machine="F3", at=at, reason=reason, by="T. Technician", running_hours_h=hours)
        )
    history.add_opened_unit(
        OpenedUnit(
            machine="F3", removed_at=at, bearing="upper", element=Element.OUTER_RING,
            damage=Damage.SUBSURFACE_FATIGUE, by="W. Workshop",
        )
    )  # fmt: skip
    history.add_recordings(invented_year())


if __name__ == "__main__":
    card = read_card(Path(__file__).with_name("F3.toml"))
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
    found = machine_outlook(card, past, as_of=date(2031, 5, 14))
    page = planner_page(found, generated_at="an INVENTED history", version="example")
    print(page_text(page, width=100, color=False))
