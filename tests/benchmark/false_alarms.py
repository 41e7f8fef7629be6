"""Healthy recordings: how often the search calls chance a family.

Four kinds of noise. No passage of elements (``passage_modulation`` and ``passage_m_s2``
are 0): those are real lines of a healthy bearing, not chance. A bearing drawn anew for
every seed, without blind spots.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.benchmark.counting import share
from tests.benchmark.machines import TURNS, analyzed, random_card, running
from tests.benchmark.workers import run_trials
from vibhealth.simulate import simulate

__all__ = ["KINDS", "Alarm", "false_alarms", "healthy_alarm", "summarize"]

KINDS = ("white", "coloured", "modulated", "material-strikes")
LEVELS = (0.001, 0.01, 0.05)
ROLLING_LOADS = ("rotating", "twice-per-turn")  # a stationary load moves no load zone
SHOWN_SEEDS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """What the search said of one healthy recording."""

    kind: str
    seed: int
    probability: float
    element: str
    results: tuple[str, ...]


def healthy_alarm(task: tuple[str, int, float]) -> Alarm:
    """Simulate one healthy recording of a kind and search it."""
    kind, seed, turns = task
    rng = np.random.default_rng([seed, KINDS.index(kind), 7])
    loads = ROLLING_LOADS if kind == "modulated" else ("rotating", "stationary", "twice-per-turn")
    card = random_card(rng, str(rng.choice(loads)))
    settings = running(seed, turns, passage_modulation=0.0, passage_m_s2=0.0, **_noise(kind, rng))
    simulated = simulate(card, settings=settings)
    findings = analyzed(card, simulated.samples[0]).findings
    least = min(findings, key=lambda finding: finding.false_alarm_probability)
    return Alarm(
        kind=kind,
        seed=seed,
        probability=least.false_alarm_probability,
        element=least.element.value,
        results=tuple(finding.result.value for finding in findings),
    )


def _noise(kind: str, rng: np.random.Generator) -> dict[str, Any]:
    if kind == "white":
        return {"oil_noise_g_rms": 0.0, "sensor_noise_g_rms": 0.02, "noise_modulation": 0.0}
    if kind == "modulated":
        return {"noise_modulation": float(rng.uniform(0.2, 0.7))}
    if kind == "material-strikes":
        return {
            "noise_modulation": 0.0,
            "material_strikes_per_second": float(np.exp(rng.uniform(np.log(5), np.log(100)))),
            "material_strike_m_s2": float(np.exp(rng.uniform(np.log(0.5), np.log(5)))),
        }
    return {"noise_modulation": 0.0}


def summarize(alarms: list[Alarm]) -> dict[str, Any]:
    """Rates per kind and pooled, and the seeds to look at."""
    groups = {kind: [alarm for alarm in alarms if alarm.kind == kind] for kind in KINDS}
    groups = {"pooled": alarms} | {kind: group for kind, group in groups.items() if group}
    loud = [alarm for alarm in alarms if alarm.probability <= LEVELS[0]]
    return {
        "rates": {name: _rates(group) for name, group in groups.items()},
        "below_first_level": [
            {"kind": a.kind, "seed": a.seed, "element": a.element, "probability": a.probability}
            for a in sorted(loud, key=lambda alarm: alarm.probability)[:SHOWN_SEEDS]
        ],
    }


def _rates(alarms: list[Alarm]) -> dict[str, Any]:
    rates: dict[str, Any] = {
        f"probability_at_most_{level:g}": share(
            sum(alarm.probability <= level for alarm in alarms), len(alarms)
        )
        for level in LEVELS
    }
    for result, others in (("watch", {"watch", "hold"}), ("hold", {"hold"})):
        count = sum(bool(others & set(alarm.results)) for alarm in alarms)
        rates["watch_or_hold" if result == "watch" else "hold"] = share(count, len(alarms))
    return rates


def false_alarms(
    *, trials: int = 2000, first_seed: int = 1, workers: int = 2, turns: float = TURNS
) -> dict[str, Any]:
    """The campaign: a quarter of the trials of each kind."""
    tasks = [(KINDS[i % len(KINDS)], first_seed + i, turns) for i in range(trials)]
    alarms = run_trials(healthy_alarm, tasks, workers=workers)
    return {"turns": turns, **summarize(alarms)}
