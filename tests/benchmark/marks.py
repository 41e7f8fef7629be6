"""One mark on a ring, or marks at every element spacing: does the finding tell which?"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.benchmark.counting import confusion, share
from tests.benchmark.kinematics import SLIP_PERCENT, bearing_card, twin_impacts
from tests.benchmark.machines import TURNS, analyzed, running
from tests.benchmark.workers import run_trials
from vibhealth.model import Element
from vibhealth.simulate import Defect, simulate

__all__ = ["Marked", "marks", "summarize"]

LOAD_CASES = ("rotating", "stationary")
RINGS = (Element.OUTER_RING, Element.INNER_RING)
PATTERNS = {False: "single-mark", True: "marks-at-every-element"}
N_MACHINES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One recording to make: where the marks are and how hard they strike."""

    load: str
    ring: Element
    all_round: bool
    machine: int
    impact_m_s2: float
    seed: int
    turns: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """The pattern that was simulated and the one that was told."""

    load: str
    ring: str
    wanted: str
    told: str
    seed: int

    @property
    def kind(self) -> str:
        """Row of the table."""
        return f"{self.load} {self.ring} {self.wanted}"


def marked(task: Task) -> Marked:
    """Simulate one ring's marks and read the pattern of its family."""
    rng = np.random.default_rng([task.seed, 13])
    card = bearing_card(task.load, task.machine)
    settings = running(task.seed, task.turns, cage_slip_percent=float(rng.uniform(*SLIP_PERCENT)))
    defect = Defect(
        element=task.ring, impact_m_s2=task.impact_m_s2, marks_at_every_element=task.all_round
    )
    simulated = simulate(card, defects=(defect,), settings=settings)
    findings = analyzed(card, simulated.samples[0]).findings
    own = next(finding for finding in findings if finding.element is task.ring)
    return Marked(
        load=task.load,
        ring=task.ring.value,
        wanted=PATTERNS[task.all_round],
        told=own.pattern,
        seed=task.seed,
    )


def summarize(results: list[Marked]) -> dict[str, Any]:
    """Right, empty and wrong per kind, and the table."""
    kinds: dict[str, Any] = {}
    for kind in dict.fromkeys(result.kind for result in results):
        group = [result for result in results if result.kind == kind]
        right = sum(result.told == result.wanted for result in group)
        empty = sum(result.told == "" for result in group)
        kinds[kind] = {
            "right": share(right, len(group)),
            "empty": share(empty, len(group)),
            "wrong": share(len(group) - right - empty, len(group)),
        }
    return {
        "kinds": kinds,
        "confusion": confusion((result.kind, result.told or "empty") for result in results),
    }


def marks(
    *,
    trials: int = 200,
    first_seed: int = 1,
    workers: int = 2,
    turns: float = TURNS,
    factor: float = 2.0,
) -> dict[str, Any]:
    """The campaign: ``trials`` per ring and pattern, half of them under each load."""
    n_machines = max(1, min(N_MACHINES, trials // 2))
    columns = [(load, machine, turns) for load in LOAD_CASES for machine in range(n_machines)]
    impacts = dict(zip(columns, run_trials(twin_impacts, columns, workers=workers), strict=True))
    tasks, refused = [], set()
    for ring in RINGS:
        for all_round in PATTERNS:
            for i in range(trials):
                load, machine = LOAD_CASES[i % 2], (i // 2) % n_machines
                impact = impacts[load, machine, turns].get(ring.value)
                if impact is None or not np.isfinite(impact):
                    refused.add(f"{load}, machine {machine}, {ring.value}")
                    continue
                tasks.append(
                    Task(
                        load=load,
                        ring=ring,
                        all_round=all_round,
                        machine=machine,
                        impact_m_s2=factor * impact,
                        seed=first_seed + i,
                        turns=turns,
                    )
                )
    return {
        "turns": turns,
        "impact_over_detectable": factor,
        "without_detectable_impact": sorted(refused),
        **summarize(run_trials(marked, tasks, workers=workers)),
    }
