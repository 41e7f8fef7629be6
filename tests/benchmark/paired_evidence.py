"""The same spall twice: what a wandering speed, or a strong working motion, costs in evidence.

Both recordings of a pair have the same seed; the mean difference of
``10 log10(evidence)`` comes with its standard error.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.benchmark.machines import (
    SPEED_RPM,
    TURNS,
    analyzed,
    random_card,
    recording_from,
    running,
)
from tests.benchmark.workers import run_trials
from vibhealth.card import MachineCard
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.model import Element, FamilyFinding
from vibhealth.simulate import Defect, simulate
from vibhealth.units import g_to_m_s2

__all__ = ["Pair", "motion", "speed_variation", "summarize"]

WANDER_PERCENT = 6.0  # peak to peak: 3 % to either side
TOLERANCE_PERCENT = 10.0  # of the card's nominal speed
# An exciter of about 5 g at its working speed, and an ordinary machine with some unbalance.
STROKES_MM = {"exciter": 6.0, "ordinary machine": None}
UNBALANCE_G = 1.0
IMPACT_M_S2 = 3.0

STRONG_MOTION_G = 5.0
BELOW_DB = 60.0
# Noise 20 times quieter than the simulator's own, so that so small a defect is found at all.
QUIET_OIL_G, QUIET_SENSOR_G = 0.0005, 0.00005


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Evidence for the outer ring without and with the hindrance; a reason where not judged."""

    seed: int
    evidence: tuple[float, float]
    found: tuple[bool, bool]
    not_judged: str = ""


def _outer(findings: Sequence[FamilyFinding]) -> FamilyFinding:
    return next(finding for finding in findings if finding.element is Element.OUTER_RING)


def _is_found(finding: FamilyFinding) -> bool:
    return finding.result.value in {"watch", "hold"}


def speed_pair(task: tuple[str, int, float]) -> Pair:
    """A steady and a wandering machine through the whole chain."""
    kind, seed, turns = task
    stroke_mm = STROKES_MM[kind]
    first_order_g = {"x": UNBALANCE_G} if stroke_mm is None else None
    card = random_card(np.random.default_rng([seed, 17]), "rotating", stroke_mm=stroke_mm)
    machine = card.machine.model_copy(update={"speed_tolerance_percent": TOLERANCE_PERCENT})
    card = card.model_copy(update={"machine": machine})
    findings, reasons = [], []
    for wander in (0.0, WANDER_PERCENT):
        settings = running(seed, turns, speed_wander_percent=wander, first_order_g=first_order_g)
        defect = Defect(element=Element.OUTER_RING, impact_m_s2=IMPACT_M_S2)
        recording = recording_from(simulate(card, defects=(defect,), settings=settings))
        analysis = analyze_recording(recording, card=card)
        if analysis.families_not_judged:
            reasons.append(f"{wander:g} %: {analysis.families_not_judged}")
        else:
            findings.append(_outer(analysis.families))
    if reasons:
        return Pair(
            seed=seed, evidence=(0.0, 0.0), found=(False, False), not_judged="; ".join(reasons)
        )
    return _pair(seed, findings)


def motion_pair(task: tuple[int, float]) -> Pair:
    """A still and a strongly shaking machine, the strikes 60 dB below the motion."""
    seed, turns = task
    card: MachineCard = random_card(np.random.default_rng([seed, 19]), "rotating")
    impact = g_to_m_s2(STRONG_MOTION_G) * 10 ** (-BELOW_DB / 20)
    findings = []
    for first_order_g in (0.0, STRONG_MOTION_G):
        settings = running(
            seed,
            turns,
            first_order_g={"x": first_order_g},
            oil_noise_g_rms=QUIET_OIL_G,
            sensor_noise_g_rms=QUIET_SENSOR_G,
            passage_m_s2=0.0,
        )
        defect = Defect(element=Element.OUTER_RING, impact_m_s2=impact)
        simulated = simulate(card, defects=(defect,), settings=settings)
        findings.append(
            _outer(analyzed(card, simulated.samples[0], shaft_hz=SPEED_RPM / 60).findings)
        )
    return _pair(seed, findings)


def _pair(seed: int, findings: Sequence[FamilyFinding]) -> Pair:
    return Pair(
        seed=seed,
        evidence=(findings[0].evidence, findings[1].evidence),
        found=(_is_found(findings[0]), _is_found(findings[1])),
    )


def summarize(pairs: Sequence[Pair]) -> dict[str, Any]:
    """Mean, standard error and median of the difference in dB; refused where evidence is missing."""
    judged = [pair for pair in pairs if not pair.not_judged]
    figures: dict[str, Any] = {
        "pairs": len(pairs),
        "not_judged": {str(pair.seed): pair.not_judged for pair in pairs if pair.not_judged},
        "found_without": sum(pair.found[0] for pair in judged),
        "found_with": sum(pair.found[1] for pair in judged),
    }
    silent = sum(min(pair.evidence) <= 0 for pair in judged)
    if silent:
        return figures | {"refused": f"the evidence is 0 in {silent} of {len(judged)} pairs"}
    if len(judged) < 2:
        return figures | {"refused": f"two judged pairs are needed, got {len(judged)}"}
    difference = [10 * math.log10(pair.evidence[1] / pair.evidence[0]) for pair in judged]
    return figures | {
        "difference_db": round(float(np.mean(difference)), 2),
        "standard_error_db": round(float(np.std(difference, ddof=1)) / len(judged) ** 0.5, 2),
        "median_db": round(float(np.median(difference)), 2),
        "smallest_db": round(min(difference), 2),
        "largest_db": round(max(difference), 2),
    }


def speed_variation(
    *, trials: int = 40, first_seed: int = 1, workers: int = 2, turns: float = TURNS
) -> dict[str, Any]:
    """The campaign: a speed that wanders by 6 % peak to peak against a constant one."""
    tasks = [(kind, first_seed + i, turns) for kind in STROKES_MM for i in range(trials)]
    pairs = run_trials(speed_pair, tasks, workers=workers)
    return {
        "turns": turns,
        "wander_percent": WANDER_PERCENT,
        "impact_m_s2": IMPACT_M_S2,
        "machines": {
            kind: summarize(pairs[i * trials : (i + 1) * trials])
            for i, kind in enumerate(STROKES_MM)
        },
    }


def motion(
    *, trials: int = 40, first_seed: int = 1, workers: int = 2, turns: float = TURNS
) -> dict[str, Any]:
    """The campaign: a working motion of 5 g, 60 dB above the strikes, against none."""
    tasks = [(first_seed + i, turns) for i in range(trials)]
    pairs = run_trials(motion_pair, tasks, workers=workers)
    return {
        "turns": turns,
        "first_order_g": STRONG_MOTION_G,
        "strikes_below_db": BELOW_DB,
        **summarize(pairs),
    }
