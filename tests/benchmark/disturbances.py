"""What falls, rattles and hums beside the bearing: found, said to be masked, or missed.

Each kind once on a healthy machine and once on one with a defect of the outer ring, of
twice the size that the undisturbed healthy twin states as detectable.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.benchmark.counting import share
from tests.benchmark.kinematics import SLIP_PERCENT, bearing_card, twin_impacts
from tests.benchmark.machines import SPEED_RPM, TURNS, recording_from, running
from tests.benchmark.naming import is_found
from tests.benchmark.workers import run_trials
from vibhealth.card import Limits
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.model import Element, RecordingAnalysis
from vibhealth.simulate import Defect, simulate

__all__ = ["KINDS", "Disturbed", "disturbances", "summarize"]

KINDS: dict[str, dict[str, Any]] = {
    "nothing": {},
    "5 strikes per second": {"material_strikes_per_second": 5.0},
    "20 strikes per second": {"material_strikes_per_second": 20.0},
    "100 strikes per second": {"material_strikes_per_second": 100.0},
    "guard at 1x": {"rattle_m_s2": 20.0},
    "inverter": {"inverter_hz": 2400.0, "inverter_g": 0.05},
}
LOAD = "rotating"
ELEMENT = Element.OUTER_RING
N_MACHINES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One recording to make; an impact of 0 is a healthy one."""

    kind: str
    machine: int
    impact_m_s2: float
    seed: int
    turns: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbed:
    """What the chain said."""

    kind: str
    is_defective: bool
    found: bool
    any_hold: bool
    masked: bool
    too_coarse: bool
    disturbances: tuple[str, ...]
    seed: int

    @property
    def answer(self) -> str:
        """``found``, ``masked`` or ``clean``."""
        if self.found:
            return "found"
        return "masked" if self.masked or self.too_coarse else "clean"


def disturbed(task: Task) -> Disturbed:
    """Simulate one disturbed machine and run the whole chain."""
    rng = np.random.default_rng([task.seed, 23])
    card = bearing_card(LOAD, task.machine)
    settings = running(
        task.seed,
        task.turns,
        cage_slip_percent=float(rng.uniform(*SLIP_PERCENT)),
        **KINDS[task.kind],
    )
    defects: tuple[Defect, ...] = ()
    if task.impact_m_s2 > 0:
        defects = (Defect(element=ELEMENT, impact_m_s2=task.impact_m_s2),)
    simulated = simulate(card, defects=defects, settings=settings)
    analysis = analyze_recording(recording_from(simulated), card=card, given_speed_rpm=SPEED_RPM)
    return Disturbed(
        kind=task.kind,
        is_defective=bool(defects),
        found=is_found(analysis.families, ELEMENT),
        any_hold=any(family.result.value == "hold" for family in analysis.families),
        masked=bool(analysis.masked),
        too_coarse=_is_too_coarse(analysis),
        disturbances=tuple(item.id for item in analysis.disturbances),
        seed=task.seed,
    )


def _is_too_coarse(analysis: RecordingAnalysis) -> bool:
    """Whether no defect of the size that holds could have been shown, by the chain's own word."""
    limit = Limits.default().value("detectable_depth_hold")
    row = next((row for row in analysis.sensitivity if row.element is ELEMENT), None)
    return row is None or row.detectable_depth > limit


def summarize(results: list[Disturbed]) -> dict[str, Any]:
    """Shares of each answer, per kind, clean and defective apart."""
    cells: dict[str, Any] = {}
    for kind in dict.fromkeys(result.kind for result in results):
        group = [result for result in results if result.kind == kind]
        bad = [result for result in group if result.is_defective]
        good = [result for result in group if not result.is_defective]
        cells[kind] = {
            "defective: found": share(sum(r.answer == "found" for r in bad), len(bad)),
            "defective: masked": share(sum(r.answer == "masked" for r in bad), len(bad)),
            "defective: called clean": share(sum(r.answer == "clean" for r in bad), len(bad)),
            "clean: at hold": share(sum(r.any_hold for r in good), len(good)),
            "clean: masked": share(sum(r.answer == "masked" for r in good), len(good)),
            "named_disturbances": {
                name: sum(name in r.disturbances for r in group)
                for name in sorted({name for r in group for name in r.disturbances})
            },
            "missed_seeds": [r.seed for r in bad if r.answer == "clean"][:20],
        }
    return {"cells": cells}


def disturbances(
    *,
    trials: int = 40,
    first_seed: int = 1,
    workers: int = 2,
    turns: float = TURNS,
    factor: float = 2.0,
) -> dict[str, Any]:
    """The campaign: ``trials`` healthy and as many defective machines per kind."""
    columns = [(LOAD, machine, turns) for machine in range(min(N_MACHINES, trials))]
    twins = run_trials(twin_impacts, columns, workers=workers)
    impacts = [twin.get(ELEMENT.value) for twin in twins]
    sizes = [impact if impact and np.isfinite(impact) else None for impact in impacts]
    tasks = [
        Task(
            kind=kind,
            machine=i % N_MACHINES,
            impact_m_s2=factor * size * is_defective,
            seed=first_seed + i,
            turns=turns,
        )
        for kind in KINDS
        for is_defective in (False, True)
        for i in range(trials)
        if (size := sizes[i % N_MACHINES]) is not None
    ]
    return {
        "turns": turns,
        "impact_over_detectable": factor,
        "detectable_impact_m_s2": impacts,
        **summarize(run_trials(disturbed, tasks, workers=workers)),
    }
