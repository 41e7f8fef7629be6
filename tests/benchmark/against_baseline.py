"""Machines against their own baseline: how often a healthy one is held, and a worse one is not.

Each machine is drawn anew: bearing, resonances, lines fixed in Hz, gear, a weak line of its own.
Its baseline comes from three recordings; then it is recorded again at another speed (up to
3 % off), temperature (up to 9 °C off: another oil noise, resonances that moved) and with the
sensor put back (a factor of up to 1.5 above 500 Hz, up or down). Every verdict is that of one
recording, the hardest case: no second one can outvote it.
"""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from tests.benchmark.counting import share
from tests.benchmark.machines import RATE_HZ, SPEED_RPM, random_card, recording_from, running
from tests.benchmark.workers import run_trials
from vibhealth.acceptance import judge
from vibhealth.baseline import Baseline, build_baseline
from vibhealth.card import MachineCard
from vibhealth.diagnosis import analyze_recording
from vibhealth.model import CriterionResult, Element, Recording, RecordingAnalysis, Stage
from vibhealth.simulate import Defect, Resonance, simulate

__all__ = ["WORSE", "Machine", "Outcome", "against_baseline", "compared_machine"]

TURNS = 600.0
N_BASELINE = 3
N_HEALTHY = 10
STROKE_MM = 5.0
SPEED_REACH = 0.029
TEMPERATURE_REACH_C = 9.0
REMOUNT_RATIO = 1.5
REMOUNT_HZ = (450.0, 550.0)
NOISE_PER_C = 0.02
STIFFNESS_PER_C = 0.001
DAY = datetime(2026, 3, 2, 9, tzinfo=UTC)
WARM_C = 48.0

# What is worse in a machine, and the ids of criteria one of which must hold.
WORSE = ("grown-line", "new-outer-ring", "new-inner-ring", "rough", "unknown-line")
SMALL, GROWN = 0.12, 4.0  # impact of a weak line in m/s^2, and how many times it grows


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """One machine: its card, what is constant in it, and its own weak line."""

    seed: int
    card: MachineCard
    settings: dict[str, Any]
    defects: tuple[Defect, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Verdict of one recording, and which criteria did not pass."""

    machine: int
    what: str
    verdict: str
    held: tuple[str, ...]
    watched: tuple[str, ...]


def drawn_machine(seed: int) -> Machine:
    """Draw a machine: three resonances, lines of its own in some."""
    rng = np.random.default_rng([seed, 51])
    resonances = tuple(
        Resonance(
            frequency_hz=float(frequency),
            damping_ratio=float(rng.uniform(0.02, 0.06)),
            gain=float(rng.uniform(0.3, 1.0)),
        )
        for frequency in np.sort(rng.uniform(900.0, 3600.0, 3))
    )
    settings: dict[str, Any] = {
        "resonances": resonances,
        "noise_modulation": float(rng.uniform(0.1, 0.5)),
        "oil_noise_g_rms": float(rng.uniform(0.01, 0.04)),
        "harmonic_ratios": tuple(rng.uniform(0.002, 0.03, 9)),
        "machine_seed": seed,
    }
    if rng.random() < 1 / 3:
        settings |= {"mains_hz": 50.0, "mains_g": float(rng.uniform(0.002, 0.02))}
    if rng.random() < 1 / 3:
        settings |= {"inverter_hz": float(rng.uniform(2000, 3500)), "inverter_g": 0.01}
    if rng.random() < 1 / 3:
        settings |= {"gear_teeth": int(rng.integers(23, 60)), "gear_g": 0.01}
    weak = rng.random() < 1 / 3
    card = random_card(rng, "rotating", stroke_mm=STROKE_MM)
    defects = (Defect(element=Element.OUTER_RING, impact_m_s2=SMALL),) if weak else ()
    return Machine(seed=seed, card=card, settings=settings, defects=defects)


def _recorded(
    machine: Machine,
    number: int,
    *,
    is_moved: bool,
    defects: tuple[Defect, ...] | None = None,
    rough: float = 1.0,
    line_order: float | None = None,
) -> RecordingAnalysis:
    """Recording ``number`` of a machine; ``is_moved`` in another state with the sensor put back."""
    rng = np.random.default_rng([machine.seed, number, 52])
    away = float(rng.uniform(-1, 1)) * (1.0 if is_moved else 0.1)
    warmer_c = float(rng.uniform(-1, 1)) * TEMPERATURE_REACH_C * (1.0 if is_moved else 0.2)
    gain = float(np.exp(rng.uniform(-1, 1) * np.log(REMOUNT_RATIO))) if is_moved else 1.0
    stiff = 1 - STIFFNESS_PER_C * warmer_c
    speed_rpm = SPEED_RPM * (1 + SPEED_REACH * away)
    changes = machine.settings | {
        "speed_rpm": speed_rpm,
        "cage_slip_percent": float(rng.uniform(0.4, 0.9)),
        "oil_noise_g_rms": rough
        * machine.settings["oil_noise_g_rms"]
        * float(np.exp(-NOISE_PER_C * warmer_c)),
        "resonances": tuple(
            replace(r, frequency_hz=min(stiff * r.frequency_hz, 3900.0))
            for r in machine.settings["resonances"]
        ),
    }
    simulated = simulate(
        machine.card,
        defects=machine.defects if defects is None else defects,
        settings=running(100_000 * machine.seed + number, TURNS, **changes),
    )
    recording = recording_from(simulated)
    samples = recording.samples
    if line_order is not None:
        above = samples - _remounted(samples, 0.0)
        samples = samples + above * _hum(samples.size, line_order * speed_rpm / 60, rng)
    return analyze_recording(
        _labelled(recording, _remounted(samples, gain), number, WARM_C + warmer_c),
        card=machine.card,
    )


def _hum(size: int, frequency_hz: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Modulation of the bearing's band by a quarter: something turns beside the bearing."""
    turns = frequency_hz * np.arange(size) / RATE_HZ + rng.random()
    hum: NDArray[np.float64] = 0.25 * np.cos(2 * np.pi * turns)
    return hum


def _remounted(samples: NDArray[np.float64], gain: float) -> NDArray[np.float64]:
    """Everything above the edge times a gain, what lies below as it was."""
    frequency_hz = fft.rfftfreq(samples.size, 1 / RATE_HZ)
    step = np.clip((frequency_hz - REMOUNT_HZ[0]) / (REMOUNT_HZ[1] - REMOUNT_HZ[0]), 0, 1)
    lines = fft.rfft(samples) * gain**step
    return np.asarray(fft.irfft(lines, samples.size), dtype=np.float64)


def _labelled(
    recording: Recording, samples: NDArray[np.float64], number: int, temperature_c: float
) -> Recording:
    return replace(
        recording,
        samples=samples,
        path=f"recording {number}",
        sha256=f"{number:064x}",
        temperature_c=temperature_c,
        remarks=(("load", "empty"),),
    )


def compared_machine(seed: int) -> list[Outcome]:
    """Baseline of a machine, ten healthy recordings, and one of each way to be worse."""
    machine = drawn_machine(seed)
    before = [_recorded(machine, number, is_moved=False) for number in range(N_BASELINE)]
    baseline = build_baseline(
        before, card=machine.card, made_at=DAY, accepted_by="A. Example", note="campaign"
    )
    outcomes = [
        _outcome(machine, baseline, "healthy", _recorded(machine, 10 + number, is_moved=True))
        for number in range(N_HEALTHY)
    ]
    rng = np.random.default_rng([seed, 53])
    for place, what in enumerate(WORSE):
        worse = _worse(machine, what, 50 + place, rng)
        outcomes.append(_outcome(machine, baseline, what, worse))
    return outcomes


def _worse(machine: Machine, what: str, number: int, rng: np.random.Generator) -> RecordingAnalysis:
    if what == "rough":
        return _recorded(machine, number, is_moved=True, rough=8.0)
    if what == "unknown-line":
        order = float(rng.integers(2, 12)) + float(rng.uniform(0.15, 0.35))
        return _recorded(machine, number, is_moved=True, line_order=order)
    element = Element.INNER_RING if what == "new-inner-ring" else Element.OUTER_RING
    defect = Defect(element=element, impact_m_s2=SMALL * GROWN)
    return _recorded(machine, number, is_moved=True, defects=(defect,))


def _outcome(
    machine: Machine, baseline: Baseline, what: str, analysis: RecordingAnalysis
) -> Outcome:
    left = replace(analysis, recording=replace(analysis.recording, stage=Stage.AS_LEFT))
    assessment = judge([], [left], card=machine.card, baselines=[baseline])
    bad = {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}
    return Outcome(
        machine=machine.seed,
        what=what,
        verdict=assessment.verdict.value,
        held=tuple(c.id for c in assessment.criteria if c.result in bad),
        watched=tuple(c.id for c in assessment.criteria if c.result is CriterionResult.WATCH),
    )


def against_baseline(trials: int = 50, first_seed: int = 1, workers: int = 2) -> dict[str, Any]:
    """``trials`` machines; ten healthy recordings of each, and one of every way to be worse."""
    groups = run_trials(compared_machine, range(first_seed, first_seed + trials), workers=workers)
    outcomes = [outcome for group in groups for outcome in group]
    return {
        "machines": trials,
        "held": {
            what: share(
                sum(o.verdict == "HOLD" for o in outcomes if o.what == what),
                sum(o.what == what for o in outcomes),
            )
            for what in ("healthy", *WORSE)
        },
        "held_by": {
            what: dict(Counter(id_ for o in outcomes if o.what == what for id_ in o.held))
            for what in ("healthy", *WORSE)
        },
        "watched_healthy": dict(
            Counter(id_ for o in outcomes if o.what == "healthy" for id_ in o.watched)
        ),
        "healthy_held": [
            {"machine": o.machine, "by": o.held}
            for o in outcomes
            if o.what == "healthy" and o.verdict == "HOLD"
        ],
    }
