"""A bearing recorded until it fails: when do the signs come, and do the dates hold?

Invented recordings (`simulate.run_to_failure`), analysed in full, kept in a history, and read by
the planner's functions after every one. The truth of a date range is the first visit from which
the depth stays at its action level, known only at the end.
"""

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from tests.benchmark.degradation import CARD
from tests.benchmark.workers import run_trials
from vibhealth.card import MachineCard
from vibhealth.diagnosis import analyze_recording
from vibhealth.model import Calibration, Element, HistoryRecording, Outlook, Recording, Sign
from vibhealth.outlook.planner import Past, machine_outlook
from vibhealth.outlook.trend import family_trend
from vibhealth.simulate import SimulationSettings, run_to_failure
from vibhealth.store import History
from vibhealth.store.from_results import history_recording

__all__ = ["life_to_failure"]

ELEMENTS = (Element.OUTER_RING, Element.INNER_RING)
N_RECORDINGS = 40
DURATION_S = 30.0


def card_with_stroke() -> MachineCard:
    """The campaigns' card as an exciter."""
    table = CARD.model_dump(by_alias=True, exclude_none=True)
    table["exciter"] = {"stroke_mm": {"x": 6.0, "y": 6.0}}
    table["machine"]["nominal_speed_rpm"] = 978.0
    table["limits"] = {}
    return MachineCard.model_validate(table)


def lived(card: MachineCard, element: Element, seed: int) -> list[tuple[HistoryRecording, bool]]:
    """All recordings of one life as the history keeps them, with whether they were damaged."""
    found = []
    settings = SimulationSettings(duration_s=DURATION_S, sampling_rate_hz=25_600.0)
    for life in run_to_failure(
        card, element=element, n_recordings=N_RECORDINGS, seed=seed, settings=settings
    ):
        recording = Recording(
            samples=life.simulated.samples[0],
            sampling_rate_hz=life.simulated.sampling_rate_hz,
            unit="m/s2",
            path=f"{life.index}.wav",
            sha256=f"{seed:032x}{life.index:032x}",
            point="P1X",
            direction="x",
            calibration=Calibration(scale_m_s2=1.0, source="simulated"),
            start_time=life.recorded_at,
            temperature_c=life.temperature_c,
            running_hours_h=life.running_hours_h,
            remarks=(("load", "empty"),),
        )
        analysis = analyze_recording(recording, card=card, with_sensitivity=False)
        kept = history_recording(analysis, machine="F3", card_sha256="", tool_version="0")
        found.append((kept, life.is_damaged))
    return found


def _one_life(task: tuple[Element, int]) -> dict[str, Any]:
    element, seed = task
    card = card_with_stroke()
    rows = lived(card, element, seed)
    with (
        tempfile.TemporaryDirectory() as folder,
        History.open(Path(folder) / "history.sqlite", create=True) as history,
    ):
        history.add_recordings(row for row, _ in rows)
        stored = history.recordings("F3")
    asked = [
        machine_outlook(card, Past(recordings=stored), as_of=at.date())
        for at in (row.recorded_at for row in stored)
        if at is not None
    ]
    onset = next(n for n, (_, is_damaged) in enumerate(rows) if is_damaged)
    early = _first(asked, {Sign.EARLY, Sign.CLEAR, Sign.STOP})
    clear = _first(asked, {Sign.CLEAR, Sign.STOP})
    reached = _reached(stored, card, element)
    ranges = [
        (n, trend.crossing)
        for n, outlook in enumerate(asked)
        for trend in outlook.trends
        if trend.element is element and trend.crossing.earliest is not None
    ]
    held = sum(
        c.earliest is not None and c.latest is not None
        and reached is not None and c.earliest <= reached.date() <= c.latest
        for _, c in ranges
    )  # fmt: skip
    return {
        "element": element.value,
        "seed": seed,
        "first damaged recording": onset + 1,
        "first early sign": None if early is None else early + 1,
        "first clear sign": None if clear is None else clear + 1,
        "recordings": N_RECORDINGS,
        "sign while sound": early is not None and early < onset,
        "early before the middle of the damage": early is not None
        and early < (onset + N_RECORDINGS) / 2,
        "clear before the end": clear is not None and clear < N_RECORDINGS - 1,
        "ranges given": len(ranges),
        "ranges that held": held,
        "given after": [n + 1 for n, _ in ranges],
    }


def _first(asked: list[Outlook], signs: set[Sign]) -> int | None:
    return next((n for n, outlook in enumerate(asked) if outlook.sign in signs), None)


def _reached(
    stored: tuple[HistoryRecording, ...], card: MachineCard, element: Element
) -> datetime | None:
    """The visit from which two of three and all later medians stand at the action level."""
    trend = family_trend(stored, card, bearing="upper", element=element)
    used = [p for p in trend.points if not p.left_out_because]
    action = trend.action_level or 0.0
    for place, point in enumerate(used):
        following = [p.value for p in used[place : place + 3]]
        if point.value >= action and sum(v >= action for v in following) >= min(2, len(following)):
            return point.at
    return None


def life_to_failure(*, trials: int = 2, first_seed: int = 1, workers: int = 2) -> dict[str, Any]:
    """Signs and date ranges over ``trials`` lives of each ring."""
    tasks = [(e, seed) for e in ELEMENTS for seed in range(first_seed, first_seed + trials)]
    return {"lives": run_trials(_one_life, tasks, workers=workers)}
