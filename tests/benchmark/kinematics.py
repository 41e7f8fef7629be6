"""Every element under every load: is a defect of twice the detectable size named rightly?

The detectable size is what the chain itself states (``detectable_impact_m_s2``) for a
healthy twin: the same bearing, load and noise without the defect. A few random bearings
per load column, each with its own twin.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from tests.benchmark.counting import confusion, share
from tests.benchmark.machines import (
    LOADS,
    SPEED_RPM,
    TURNS,
    analyzed,
    random_card,
    recording_from,
    running,
)
from tests.benchmark.naming import OUTCOMES, is_found, named_words, outcome
from tests.benchmark.workers import run_trials
from vibhealth.card import MachineCard
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.model import Element
from vibhealth.simulate import Defect, simulate

__all__ = ["CELLS", "Cell", "Named", "cell_of", "kinematics", "summarize"]

N_MACHINES = 20
TWIN_SEED = 900_001
SLIP_PERCENT = (0.2, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One load column and one element."""

    load: str
    element: Element

    @property
    def name(self) -> str:
        """As given on the command line."""
        return f"{self.load}:{self.element.value}"


CELLS = tuple(Cell(load=load, element=element) for load in LOADS for element in Element)


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What the search said of one seeded recording."""

    cell: str
    seed: int
    machine: int
    outcome: str
    named: str
    found: bool
    others_held: tuple[str, ...]


def cell_of(name: str) -> Cell:
    """The cell of a name such as ``rotating:cage``."""
    for cell in CELLS:
        if cell.name == name:
            return cell
    msg = f"cell must be one of {', '.join(cell.name for cell in CELLS)}, got {name!r}"
    raise ValueError(msg)


@lru_cache(maxsize=64)
def bearing_card(load: str, machine: int) -> MachineCard:
    """Random bearing number ``machine`` under a load."""
    return random_card(np.random.default_rng([20240501, machine]), load)


def twin_impacts(task: tuple[str, int, float]) -> dict[str, float | None]:
    """Detectable impact of each element in the healthy twin of a machine."""
    load, machine, turns = task
    card = bearing_card(load, machine)
    simulated = simulate(card, settings=running(TWIN_SEED + machine, turns))
    analysis = analyze_recording(recording_from(simulated), card=card, given_speed_rpm=SPEED_RPM)
    return {row.element.value: row.detectable_impact_m_s2 for row in analysis.sensitivity}


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One seeded recording to make and search."""

    cell: Cell
    seed: int
    machine: int
    impact_m_s2: float
    turns: float


def named_in(task: Task) -> Named:
    """Simulate a defect and say what the search named."""
    rng = np.random.default_rng([task.seed, 11])
    card = bearing_card(task.cell.load, task.machine)
    settings = running(task.seed, task.turns)
    settings = replace(settings, cage_slip_percent=float(rng.uniform(*SLIP_PERCENT)))
    defect = Defect(element=task.cell.element, impact_m_s2=task.impact_m_s2)
    simulated = simulate(card, defects=(defect,), settings=settings)
    findings = analyzed(card, simulated.samples[0]).findings
    return Named(
        cell=task.cell.name,
        seed=task.seed,
        machine=task.machine,
        outcome=outcome(findings, task.cell.element),
        named=named_words(findings),
        found=is_found(findings, task.cell.element),
        others_held=tuple(
            finding.element.value
            for finding in findings
            if finding.element is not task.cell.element
            and finding.result.value == "hold"
            and task.cell.element.value not in finding.ambiguous_with
        ),
    )


def summarize(trials: list[Named]) -> dict[str, Any]:
    """Shares per cell, and who was named as what."""
    cells: dict[str, Any] = {}
    for name in dict.fromkeys(trial.cell for trial in trials):
        group = [trial for trial in trials if trial.cell == name]
        counts = {word: sum(t.outcome == word for t in group) for word in OUTCOMES}
        cells[name] = {
            **{word: share(count, len(group)) for word, count in counts.items()},
            "at_watch_or_hold": share(sum(t.found for t in group), len(group)),
            "another_element_held_too": share(sum(bool(t.others_held) for t in group), len(group)),
            "wrong_seeds": [[t.machine, t.seed, t.named] for t in group if t.outcome == "wrong"][
                :20
            ],
        }
    return {"cells": cells, "confusion": confusion((t.cell, t.named) for t in trials)}


def kinematics(
    *,
    trials: int = 200,
    first_seed: int = 1,
    workers: int = 2,
    turns: float = TURNS,
    cells: tuple[Cell, ...] = CELLS,
    n_machines: int = N_MACHINES,
    factor: float = 2.0,
) -> dict[str, Any]:
    """The campaign: ``trials`` per cell, spread over the machines."""
    columns = [
        (load, machine, turns)
        for load in dict.fromkeys(cell.load for cell in cells)
        for machine in range(min(n_machines, trials))
    ]
    impacts = dict(zip(columns, run_trials(twin_impacts, columns, workers=workers), strict=True))
    tasks, refused = [], []
    for cell in cells:
        for i in range(trials):
            machine = i % n_machines
            impact = impacts[cell.load, machine, turns].get(cell.element.value)
            if impact is None or not np.isfinite(impact):
                refused.append(f"{cell.name}, machine {machine}")
                continue
            tasks.append(
                Task(
                    cell=cell,
                    seed=first_seed + i,
                    machine=machine,
                    impact_m_s2=factor * impact,
                    turns=turns,
                )
            )
    named = run_trials(named_in, tasks, workers=workers)
    return {
        "turns": turns,
        "impact_over_detectable": factor,
        "detectable_impact_m_s2": {
            f"{load}, machine {machine}": values for (load, machine, _), values in impacts.items()
        },
        "without_detectable_impact": sorted(set(refused)),
        **summarize(named),
    }
