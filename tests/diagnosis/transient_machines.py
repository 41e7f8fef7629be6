"""Machines that start and stop, solved here and not by the package under test.

A body on springs under a rotating unbalance, one degree of freedom:
``x'' + 2 zeta w x' + w^2 x = e (omega^2 cos phi + alpha sin phi)``, discretised exactly for a
force that is linear between samples.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, cont2discrete, lfilter, sosfilt, ss2tf

from vibhealth.card import MachineCard
from vibhealth.model import Recording

Array = NDArray[np.float64]
Kind = Literal["run-up", "coast-down"]

RATE_HZ = 5120.0
STEADY_M_S2 = 40.0
SETTLED_SHARE, FIRST_SHARE = 0.05, 0.005  # of the steady displacement: stands still, moves
STRIKE_HZ, STRIKE_DECAY_S = 1400.0, 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What is made: one start or stop."""

    kind: Kind
    ramp_s: float
    isolator_hz: float
    damping: float
    shaft_hz: float
    shape: str = "linear"
    lead_s: float = 3.0  # standstill before a start, or steady running before a stop
    tail_s: float = 8.0  # steady running after a start, or standstill after a stop
    noise: float = 0.05
    harmonics: float = 0.04
    strikes_s: tuple[float, ...] = ()
    strike_m_s2: float = 30.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """The recording, and the truth."""

    recording: Recording
    displacement: Array
    shaft_hz: Array
    time_s: Array
    duration_s: float
    swing_ratio: float


def speed(machine: Machine, time_s: Array) -> Array:
    """Shaft frequency over time."""
    part = np.clip((time_s - machine.lead_s) / machine.ramp_s, 0, 1)
    share = {
        "linear": part,
        "smooth": 0.5 - 0.5 * np.cos(np.pi * part),
        "motor": 1 - (1 - part) ** 2 if machine.kind == "run-up" else part * (1.5 - 0.5 * part),
    }[machine.shape]
    return machine.shaft_hz * (share if machine.kind == "run-up" else 1 - share)


def respond(shaft_hz: Array, machine: Machine, unbalance_m: float, phase: float) -> list[Array]:
    """Displacement and acceleration from the steady state of the first sample on, and phase."""
    omega = 2 * np.pi * shaft_hz
    turned = phase + np.concatenate([[0], np.cumsum(0.5 * (omega[1:] + omega[:-1])) / RATE_HZ])
    alpha = np.gradient(omega, 1 / RATE_HZ)
    force = unbalance_m * (omega**2 * np.cos(turned) + alpha * np.sin(turned))
    own, zeta = 2 * np.pi * machine.isolator_hz, machine.damping
    before = round(7 / (zeta * own) * RATE_HZ)
    earlier = turned[0] + omega[0] * np.arange(-before, 0) / RATE_HZ
    force = np.concatenate([unbalance_m * omega[0] ** 2 * np.cos(earlier), force])
    system = np.array([[0.0, 1.0], [-(own**2), -2 * zeta * own]])
    found = []
    for row, direct in (([1.0, 0.0], 0.0), ([-(own**2), -2 * zeta * own], 1.0)):
        plant = (system, np.array([[0.0], [1.0]]), np.array([row]), np.array([[direct]]))
        *matrices, _ = cont2discrete(plant, 1 / RATE_HZ, method="foh")
        numerator, denominator = ss2tf(*matrices)
        found.append(lfilter(numerator[0], denominator, force)[before:])
    return [*found, turned]


def make(machine: Machine) -> Made:
    """Make a start or a stop, with harmonics, noise and strikes."""
    rng = np.random.default_rng(machine.seed)
    total_s = machine.lead_s + machine.ramp_s + machine.tail_s
    time_s = np.arange(round(total_s * RATE_HZ)) / RATE_HZ
    shaft_hz = speed(machine, time_s)
    full = 2 * np.pi * machine.shaft_hz
    unbalance_m = STEADY_M_S2 / full**2
    moved, samples, turned = respond(shaft_hz, machine, unbalance_m, rng.uniform(0, 2 * np.pi))
    rest = 0 if machine.kind == "run-up" else -1
    omega, alpha = 2 * np.pi * shaft_hz, np.gradient(2 * np.pi * shaft_hz, 1 / RATE_HZ)
    for k in (2, 3):
        size, angle = machine.harmonics * unbalance_m / k**2, k * turned + rng.uniform(0, 6)
        samples = samples - size * ((k * omega) ** 2 * np.cos(angle) + k * alpha * np.sin(angle))
        moved = moved + size * (np.cos(angle) - np.cos(angle[rest]))
    white = rng.standard_normal((2, time_s.size))
    rolling = sosfilt(butter(2, 100, "high", fs=RATE_HZ, output="sos"), white[1])
    samples = samples + machine.noise * (0.2 * white[0] + (omega / full) ** 2 * rolling) + 0.05
    for strike_s in machine.strikes_s:
        _strike(samples, strike_s, machine.strike_m_s2)
    ratio = machine.shaft_hz / machine.isolator_hz
    steady_m = unbalance_m * ratio**2 / np.hypot(1 - ratio**2, 2 * machine.damping * ratio)
    away = np.abs(moved)
    at_speed = np.flatnonzero(shaft_hz >= 0.98 * machine.shaft_hz) / RATE_HZ
    if machine.kind == "run-up":
        duration_s = at_speed[0] - np.flatnonzero(away > FIRST_SHARE * steady_m)[0] / RATE_HZ
    else:
        duration_s = np.flatnonzero(away > SETTLED_SHARE * steady_m)[-1] / RATE_HZ - at_speed[-1]
    return Made(
        recording=recording_of(samples),
        displacement=moved,
        shaft_hz=shaft_hz,
        time_s=time_s,
        duration_s=float(duration_s),
        swing_ratio=float(away.max() / steady_m),
    )


def _strike(samples: Array, time_s: float, size: float) -> None:
    """A ring-down without a net push on the body."""
    first, time = round(time_s * RATE_HZ), np.arange(round(0.02 * RATE_HZ)) / RATE_HZ
    phase = -np.arctan(2 * np.pi * STRIKE_HZ * STRIKE_DECAY_S)
    ring = np.exp(-time / STRIKE_DECAY_S) * np.sin(2 * np.pi * STRIKE_HZ * time + phase)
    samples[first : first + time.size] += size * ring


def recording_of(samples: Array, rate_hz: float = RATE_HZ) -> Recording:
    return Recording(
        samples=samples,
        sampling_rate_hz=rate_hz,
        unit="m/s2",
        path="start.wav",
        sha256="0" * 64,
    )


def card_of(shaft_hz: float) -> MachineCard:
    return MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {"id": "F3", "nominal_speed_rpm": 60 * shaft_hz},
            "exciter": {},
        }
    )


def random_machine(seed: int, kind: Kind) -> Machine:
    """Speed 12 to 30 Hz, isolators 2 to 5 Hz, damping 2 to 10 %, all shapes of ramps."""
    rng = np.random.default_rng(seed)
    shortest, longest = (0.5, 10.0) if kind == "run-up" else (4.0, 30.0)
    ramp_s = float(np.exp(rng.uniform(np.log(shortest), np.log(longest))))
    isolator_hz, damping = rng.uniform(2, 5), rng.uniform(0.02, 0.10)
    dies_s = 7 / (damping * 2 * np.pi * isolator_hz)
    machine = Machine(
        kind=kind,
        ramp_s=ramp_s,
        isolator_hz=isolator_hz,
        damping=damping,
        shaft_hz=rng.uniform(12, 30),
        shape=str(rng.choice(["linear", "smooth", "motor"])),
        lead_s=3.0 if kind == "run-up" else rng.uniform(5, 12),
        tail_s=rng.uniform(5, 12) if kind == "run-up" else max(6.0, dies_s),
        noise=rng.uniform(0.02, 0.15),
        seed=seed,
    )
    time_s = np.arange(0, machine.lead_s + ramp_s, 0.01)
    ratio = speed(machine, time_s) / isolator_hz
    near_s = float(time_s[(ratio > 0.6) & (ratio < 1.8)].mean())
    strikes_s = tuple(near_s + n / isolator_hz for n in range(int(rng.integers(0, 5))))
    return replace(machine, strikes_s=strikes_s)
