"""Invented histories of growing damage: do the date ranges hold the truth, are signs false?

Three shapes: exponential (half of them over the floor of a healthy machine), a step and then
growth, none. Each is read from its visits alone, through the functions that serve the planner.
The truth is the day on which the course without scatter reaches the action level.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmark.counting import share
from tests.benchmark.workers import run_trials
from vibhealth.card import MachineCard
from vibhealth.model import (
    CriterionResult,
    Descriptor,
    Element,
    HistoryFamily,
    HistoryRecording,
    Sign,
    Trend,
)
from vibhealth.outlook.condition import condition_of
from vibhealth.outlook.trend import family_trend, level_trend

__all__ = ["CARD", "SHAPES", "History", "degradation", "history_of", "read_history", "recording_at"]

SHAPES = ("exponential", "step-then-growth", "none")
START = datetime(2031, 1, 6, 8, tzinfo=UTC)
HEALTHY_DEPTH, ACTION_DEPTH = 0.04, 0.30
ACTION_RATIO = 2.5
SHAFT_HZ = 16.3
CARD = MachineCard.model_validate(
    {
        "schema_version": 1,
        "machine": {"id": "F3", "name": "Deck feeder F3", "nominal_speed_rpm": 60 * SHAFT_HZ},
        "bearing": [
            {
                "name": "upper",
                "element_count": 17,
                "element_diameter_mm": 26.0,
                "pitch_diameter_mm": 160.0,
                "load_case": "rotating",
            }
        ],
        "sensor": [{"name": "A1", "unit": "m/s2"}],
        "point": [{"name": "P1X", "direction": "x", "sensor": "A1", "channel": 1}],
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Days and readings of the visits, and the day on which the action level is reached."""

    shape: str
    is_level: bool
    days: NDArray[np.float64]
    values: NDArray[np.float64]
    reached: float


def history_of(shape: str, seed: int) -> History:
    """One invented history of a level or of a modulation depth, drawn by its seed."""
    rng = np.random.default_rng([seed, SHAPES.index(shape)])
    is_level = bool(seed % 2)
    life, interval = rng.uniform(120, 500), rng.uniform(4, 12)
    days = np.cumsum(rng.uniform(0.6, 1.4, int(life / interval) + 2) * interval)
    days -= days[0]
    height = np.log(ACTION_RATIO if is_level else ACTION_DEPTH / HEALTHY_DEPTH)
    course = _course(shape, life, height, rng)
    scatter = rng.uniform(0.05, 0.2)
    noise = scatter * rng.standard_t(5, len(days)) / np.sqrt(5 / 3)
    base = rng.uniform(0.5, 2.0) if is_level else HEALTHY_DEPTH
    return History(
        shape=shape,
        is_level=is_level,
        days=days,
        values=base * np.exp(course(days) + noise),
        reached=np.inf if shape == "none" else life,
    )


def _course(
    shape: str, life: float, height: float, rng: np.random.Generator
) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Logarithm over the healthy value; ``height`` at the end of ``life``."""
    if shape == "none":
        return np.zeros_like
    if shape == "step-then-growth":
        onset, jump = rng.uniform(0.3, 0.6) * life, rng.uniform(0.1, 0.5) * height
        return lambda t: np.where(
            t < onset, 0.0, jump + (height - jump) * (t - onset) / (life - onset)
        )
    if rng.random() < 0.5:
        return lambda t: height * t / life
    rate = rng.uniform(3, 6) / life
    damage = np.expm1(height) / np.expm1(rate * life)
    return lambda t: np.log1p(damage * np.expm1(rate * t))


def recording_at(day: float, value: float, *, is_level: bool, number: int) -> HistoryRecording:
    """One invented reading as the history keeps it."""
    level = Descriptor(
        id="bearing-band-block-median",
        title="level",
        value=value if is_level else 1.0,
        unit="m/s2",
        band_hz=(1000.0, 10000.0),
    )
    depth = HEALTHY_DEPTH if is_level else value
    result = CriterionResult.PASS
    if depth >= 0.15:
        result = CriterionResult.HOLD if depth >= ACTION_DEPTH else CriterionResult.WATCH
    family = HistoryFamily(
        bearing="upper",
        element=Element.OUTER_RING,
        order=7.1,
        frequency_hz=7.1 * SHAFT_HZ,
        false_alarm_probability=1e-9 if depth >= 0.15 else 0.3,
        depth=depth,
        depth_whitened=depth,
        depth_interval=(0.8 * depth, 1.25 * depth),
        impact_m_s2=None,
        present=result is CriterionResult.HOLD,
        blind_spot=False,
        result=result,
    )
    return HistoryRecording(
        machine="F3",
        sha256=f"{number:064x}",
        channel=1,
        path=f"{number}.wav",
        point="P1X",
        direction="x",
        stage="unstated",
        moment=None,
        recorded_at=START + timedelta(days=day),
        running_hours_h=20 * day,
        load="empty",
        temperature_c=45.0,
        shaft_frequency_hz=SHAFT_HZ,
        sampling_rate_hz=25600.0,
        duration_s=60.0,
        unit="m/s2",
        unusable_because="",
        masked="",
        descriptors=(level,),
        families=(family,),
        card_sha256="",
        tool_version="0",
    )


def recordings_of(history: History) -> list[HistoryRecording]:
    """All visits of a history."""
    pairs = zip(history.days.tolist(), history.values.tolist(), strict=True)
    return [
        recording_at(day, value, is_level=history.is_level, number=number)
        for number, (day, value) in enumerate(pairs)
    ]


def read_history(recordings: list[HistoryRecording], *, is_level: bool) -> tuple[Trend, Sign]:
    """The trend of the quantity in question and the sign, from these visits alone."""
    level = level_trend(recordings, CARD)
    depth = family_trend(recordings, CARD, bearing="upper", element=Element.OUTER_RING)
    as_of = max(r.recorded_at for r in recordings if r.recorded_at is not None)
    sign = condition_of((level, depth), CARD, as_of=as_of).sign
    return (level if is_level else depth), sign


def _asked(task: tuple[str, int]) -> dict[str, Any]:
    """One history, asked at a random moment; one without a trend, after every visit."""
    shape, seed = task
    history = history_of(shape, seed)
    recordings = recordings_of(history)
    rng = np.random.default_rng([seed, 77])
    end = min(history.reached, float(history.days[-1]))
    now = rng.uniform(0.35, 0.97) * end
    there = [r for r, day in zip(recordings, history.days, strict=True) if day <= now]
    trend, _ = read_history(there, is_level=history.is_level)
    crossing = trend.crossing
    found = {"shape": shape, "given": crossing.earliest is not None}
    if crossing.earliest is not None and crossing.latest is not None:
        truth = None
        if np.isfinite(history.reached):
            truth = (START + timedelta(days=history.reached)).date()
        found["place"] = (
            "after" if truth is None or truth > crossing.latest
            else "before" if truth < crossing.earliest else "within"
        )  # fmt: skip
        found["width_over_ahead"] = (crossing.latest - crossing.earliest).days / max(
            (crossing.latest - (START + timedelta(days=now)).date()).days, 1
        )
    if shape == "none":
        signs = [
            read_history(recordings[:n], is_level=history.is_level)[1]
            for n in range(1, len(recordings) + 1)
        ]
        found["false_clear"] = any(s in {Sign.CLEAR, Sign.STOP} for s in signs)
        found["false_early"] = Sign.EARLY in signs
    return found


def degradation(*, trials: int = 334, first_seed: int = 1, workers: int = 2) -> dict[str, Any]:
    """Coverage of the date ranges, and false signs, over ``trials`` histories of each shape."""
    tasks = [(s, seed) for s in SHAPES for seed in range(first_seed, first_seed + trials)]
    found = run_trials(_asked, tasks, workers=workers)
    given = [f for f in found if f["given"]]
    report: dict[str, Any] = {
        "histories": len(found),
        "held": share(sum(f["place"] == "within" for f in given), len(given)),
    }
    for shape in SHAPES:
        own = [f for f in found if f["shape"] == shape]
        with_range = [f for f in own if f["given"]]
        places = [f["place"] for f in with_range]
        report[shape] = {
            "range given": share(len(with_range), len(own)),
            "held": share(places.count("within"), len(places)),
            "reached before the range": places.count("before"),
            "reached after the range": places.count("after"),
        }
        if with_range:
            widths = [f["width_over_ahead"] for f in with_range]
            report[shape]["median width over time ahead"] = round(float(np.median(widths)), 2)
    quiet = [f for f in found if f["shape"] == "none"]
    report["none"]["false clear sign, asked after every visit"] = share(
        sum(f["false_clear"] for f in quiet), len(quiet)
    )
    report["none"]["false early sign, asked after every visit"] = share(
        sum(f["false_early"] for f in quiet), len(quiet)
    )
    return report
