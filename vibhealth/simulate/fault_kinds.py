"""The mistakes of a rebuild by name: what each does to the machine, drawn anew for every seed.

Sizes are common practice, no source: each is drawn over a range such that one seed is one machine.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate.course import Course
from vibhealth.simulate.machine_fault import MachineFault
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["FAULTS", "FaultPlan", "draw_fault"]

Samples = NDArray[np.float64]
Rng = np.random.Generator


def _as_recorded(samples: Samples) -> Samples:
    return samples


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultPlan:
    """One mistake on one machine, for all recordings of its start-up.

    Parameters
    ----------
    settings : mapping
        Settings of the simulation to change, by name.
    defects : tuple of Defect
        Defects of the bearing.
    run_up_factor, coast_down_factor : float
        Time to speed, and to standstill, over that of a good machine.
    dwell_s : float
        How long a soft start creeps through the isolator frequency.
    noise_growth : float
        Rolling noise of each recording over that of the one before.
    temperature_rise_c : float
        How much warmer the housing gets.
    as_recorded : callable
        What the recorder makes of the samples of all points.
    name : str
        Key of `FAULTS`, empty for a good machine.
    """

    settings: Mapping[str, Any] = field(default_factory=dict)
    defects: tuple[Defect, ...] = ()
    run_up_factor: float = 1.0
    coast_down_factor: float = 1.0
    dwell_s: float = 0.0
    noise_growth: float = 1.0
    temperature_rise_c: float = 0.0
    as_recorded: Callable[[Samples], Samples] = _as_recorded
    name: str = ""

    def applied_to(self, settings: SimulationSettings) -> SimulationSettings:
        """Settings of a good machine with the changes of the mistake.

        Factors of the good machine's own `MachineFault` (its strokes, base and isolators)
        stay and multiply those of the mistake.
        """
        changes = dict(self.settings)
        if "fault" in changes:
            changes["fault"] = _both(settings.fault, changes["fault"])
        return replace(settings, **changes)

    def course_of(self, course: Course) -> Course:
        """Course of a good machine as the mistake changes it."""
        return replace(
            course,
            run_up_s=self.run_up_factor * course.run_up_s,
            coast_down_s=self.coast_down_factor * course.coast_down_s,
            dwell_s=course.dwell_s + self.dwell_s,
        )


def _both(usual: MachineFault, mistake: MachineFault) -> MachineFault:
    axes = {*usual.stroke_factor, *mistake.stroke_factor}
    return replace(
        mistake,
        stroke_factor={
            axis: usual.stroke_factor.get(axis, 1.0) * mistake.stroke_factor.get(axis, 1.0)
            for axis in sorted(axes)
        },
        base_gain=usual.base_gain * mistake.base_gain,
        isolator_factor=usual.isolator_factor * mistake.isolator_factor,
    )


def _brace(_: MachineCard, rng: Rng) -> FaultPlan:
    braced = {axis: float(rng.uniform(0.4, 0.8)) for axis in _some_axes(rng)}
    fault = MachineFault(
        stroke_factor=braced,
        harmonic_gain=float(rng.uniform(2.0, 4.0)),
        hits_per_turn=int(rng.integers(1, 3)),
        hit_m_s2=float(rng.uniform(8.0, 30.0)),
        base_gain=float(rng.uniform(3.0, 10.0)),
        isolator_factor=float(rng.uniform(1.3, 2.0)),
    )
    return FaultPlan(settings={"fault": fault}, coast_down_factor=float(rng.uniform(0.6, 0.9)))


def _stop(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(
        stroke_factor={axis: float(rng.uniform(0.8, 0.95)) for axis in ("x", "y")},
        stop_gap=float(rng.uniform(0.3, 0.75)),
        stop_softness=float(rng.uniform(0.15, 0.4)),
        stop_m_s2=float(rng.uniform(10.0, 40.0)),
        base_gain=float(rng.uniform(2.0, 6.0)),
    )
    half = float(rng.uniform(0.005, 0.03)) if rng.random() < 0.5 else 0.0
    return FaultPlan(settings={"fault": fault, "half_order_ratio": half})


def _loose_bolts(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(hits_per_turn=1, hit_m_s2=float(rng.uniform(5.0, 20.0)))
    return FaultPlan(settings={"fault": fault, "looseness": float(rng.uniform(0.35, 0.9))})


def _rattle(_: MachineCard, rng: Rng) -> FaultPlan:
    return FaultPlan(settings={"rattle_m_s2": float(rng.uniform(15.0, 60.0))})


def _rub(_: MachineCard, rng: Rng) -> FaultPlan:
    is_heavy = rng.random() < 0.4
    fault = MachineFault(
        stop_gap=float(rng.uniform(0.75, 0.92)),
        stop_softness=float(rng.uniform(0.5, 0.8)),
        rub_m_s2_rms=float(rng.uniform(1.5, 6.0)),
        rub_share_of_turn=float(rng.uniform(0.1, 0.3)),
    )
    half = float(rng.uniform(0.015, 0.05)) if is_heavy else 0.0
    return FaultPlan(
        settings={"fault": fault, "half_order_ratio": half},
        coast_down_factor=float(rng.uniform(0.65, 0.9)),
    )


def _guard_at_start(card: MachineCard, rng: Rng) -> FaultPlan:
    stroke = card.exciter.stroke_mm if card.exciter is not None else None
    pairs = stroke.axes() if stroke is not None else ()
    working_mm = max((value / 2 for axis, value in pairs if axis != "z"), default=1.0)
    fault = MachineFault(
        guard_clearance_mm=working_mm * float(rng.uniform(1.3, 2.0)),
        guard_m_s2=float(rng.uniform(15.0, 60.0)),
    )
    return FaultPlan(settings={"fault": fault})


def _reversed(_: MachineCard, _rng: Rng) -> FaultPlan:
    return FaultPlan(settings={"fault": MachineFault(is_reversed=True)})


def _eccentric(_: MachineCard, rng: Rng) -> FaultPlan:
    factor = float(rng.uniform(0.6, 0.8) if rng.random() < 0.5 else rng.uniform(1.2, 1.45))
    factors = dict.fromkeys(("x", "y", "z"), factor)
    return FaultPlan(settings={"fault": MachineFault(stroke_factor=factors, base_gain=factor)})


def _starved(_: MachineCard, rng: Rng) -> FaultPlan:
    return FaultPlan(
        settings={
            "starvation": float(rng.uniform(0.35, 0.9)),
            "oil_noise_g_rms": float(rng.uniform(0.03, 0.05)),
        },
        noise_growth=float(rng.uniform(1.12, 1.3)),
        temperature_rise_c=float(rng.uniform(8.0, 20.0)),
    )


def _grit(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(
        grit_per_second=float(rng.uniform(2.0, 10.0)), grit_m_s2=float(rng.uniform(2.0, 6.0))
    )
    return FaultPlan(
        settings={"fault": fault, "oil_noise_g_rms": float(rng.uniform(0.026, 0.05))},
        temperature_rise_c=float(rng.uniform(0.0, 5.0)),
    )


def _brinelled(_: MachineCard, rng: Rng) -> FaultPlan:
    ring = Element.OUTER_RING if rng.random() < 0.5 else Element.INNER_RING
    impact = float(rng.uniform(2.0, 6.0))
    return FaultPlan(
        defects=(Defect(element=ring, impact_m_s2=impact, marks_at_every_element=True),)
    )


def _cocked(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(
        axial_gain=float(rng.uniform(2.5, 5.0)),
        axial_second_order_gain=float(rng.uniform(2.5, 6.0)),
        second_order_gain=float(rng.uniform(1.2, 2.0)),
        stroke_factor={"x": float(rng.uniform(1.03, 1.1)), "y": float(rng.uniform(0.9, 0.97))},
        orbit_turn_deg=float(rng.choice([-1.0, 1.0]) * rng.uniform(8.0, 20.0)),
        ring_distortion=float(rng.uniform(0.05, 0.15)),
    )
    return FaultPlan(settings={"fault": fault}, temperature_rise_c=float(rng.uniform(6.0, 15.0)))


def _coupling(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(
        axial_gain=float(rng.uniform(2.0, 4.0)),
        axial_second_order_gain=float(rng.uniform(3.0, 8.0)),
        second_order_gain=float(rng.uniform(2.0, 4.0)),
        motor_gain=float(rng.uniform(2.0, 5.0)),
    )
    return FaultPlan(
        settings={"fault": fault, "coupling_modulation": float(rng.uniform(0.15, 0.4))}
    )


def _isolator(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(
        stroke_factor={"x": float(rng.uniform(1.04, 1.15)), "y": float(rng.uniform(0.82, 0.95))},
        orbit_turn_deg=float(rng.choice([-1.0, 1.0]) * rng.uniform(12.0, 35.0)),
        axial_gain=float(rng.uniform(3.0, 8.0)),
        isolator_factor=float(rng.uniform(0.7, 0.87)),
        wobble=float(rng.uniform(0.05, 0.15)),
        base_gain=float(rng.uniform(1.0, 2.5)),
    )
    return FaultPlan(settings={"fault": fault})


def _drive(card: MachineCard, rng: Rng) -> FaultPlan:
    share = 1 + float(rng.choice([-1.0, 1.0]) * rng.uniform(0.04, 0.12))
    settings = {
        "speed_rpm": card.machine.nominal_speed_rpm * share,
        "inverter_hz": float(rng.uniform(2100.0, 3100.0)),
        "inverter_supply_hz": 50.0 * share,
        "inverter_g": float(rng.uniform(0.01, 0.05)),
        "oil_noise_g_rms": 0.02 * share**2,  # bearing load goes with the speed squared
    }
    return FaultPlan(settings=settings)


def _sensitivity(_: MachineCard, rng: Rng) -> FaultPlan:
    factor = float(rng.choice([9.80665, 1 / 9.80665, 10.0, 0.1, 2.54, 1 / 2.54, 1e-2]))
    return FaultPlan(as_recorded=lambda samples: factor * samples)


def _axes(card: MachineCard, rng: Rng) -> FaultPlan:
    on_body = [n for n, point in enumerate(card.points) if point.mounted_on == "body"]
    if len(on_body) < 2:
        msg = f"axes-swapped needs two points on the body, the card has {len(on_body)}"
        raise SettingsError(msg)
    first, second = (int(n) for n in rng.choice(on_body, size=2, replace=False))
    order = list(range(len(card.points)))
    order[first], order[second] = second, first
    return FaultPlan(as_recorded=lambda samples: samples[order])


def _drags(_: MachineCard, rng: Rng) -> FaultPlan:
    return FaultPlan(
        run_up_factor=float(rng.uniform(1.25, 1.8)),
        coast_down_factor=float(rng.uniform(0.4, 0.65)),
        temperature_rise_c=float(rng.uniform(8.0, 18.0)),
    )


def _beat(_: MachineCard, rng: Rng) -> FaultPlan:
    fault = MachineFault(
        beat_depth=float(rng.uniform(0.08, 0.35)), beat_hz=float(rng.uniform(0.15, 1.0))
    )
    return FaultPlan(settings={"fault": fault})


def _slow_start(_: MachineCard, rng: Rng) -> FaultPlan:
    return FaultPlan(
        run_up_factor=float(rng.uniform(1.8, 3.0)), dwell_s=float(rng.uniform(2.0, 5.0))
    )


def _some_axes(rng: Rng) -> tuple[str, ...]:
    return (("x",), ("y",), ("x", "y"))[int(rng.integers(0, 3))]


_KINDS: dict[str, tuple[str, Callable[[MachineCard, Rng], FaultPlan]]] = {
    "shipping-brace-left-in": ("A shipping brace still bridges the isolators.", _brace),
    "locating-stop-not-released": ("The body strikes a locating stop every turn.", _stop),
    "unit-bolts-loose": ("Bolts of the bearing unit do not hold.", _loose_bolts),
    "guard-rattles": ("The guard is loose and strikes once per turn.", _rattle),
    "guard-rubs": ("The guard rubs for a part of every turn.", _rub),
    "guard-strikes-at-start": ("The guard is struck only in the swing.", _guard_at_start),
    "turns-the-wrong-way": ("Two phases of the motor are swapped.", _reversed),
    "eccentric-set-wrong": ("The eccentric weight or its lead is set wrong.", _eccentric),
    "oil-starved": ("Too little oil, or none.", _starved),
    "grit": ("Hard particles are in the bearing.", _grit),
    "brinelled": ("A ring has marks at the spacing of the elements.", _brinelled),
    "seat-cocked": ("The unit sits askew on its seat.", _cocked),
    "coupling-misfit": ("The drive shaft is fitted badly.", _coupling),
    "isolator-broken": ("One isolator is broken, the body rocks.", _isolator),
    "drive-at-wrong-frequency": ("The inverter runs at the wrong frequency.", _drive),
    "sensitivity-wrong": ("The sensitivity or unit of the recorder is wrong.", _sensitivity),
    "axes-swapped": ("Two cables of the recorder are swapped.", _axes),
    "drags": ("The bearing drags: tight, or too much oil.", _drags),
    "shafts-beat": ("Two shafts have lost their synchronism.", _beat),
    "slow-start": ("A soft start dwells in the swing of the isolators.", _slow_start),
}

FAULTS: Mapping[str, str] = {name: words for name, (words, _) in _KINDS.items()}


def draw_fault(card: MachineCard, *, fault: str | None, seed: int) -> FaultPlan:
    """Draw how a named mistake shows on one machine.

    Parameters
    ----------
    card : MachineCard
        The machine.
    fault : str or None
        Key of `FAULTS`; None for a good machine.
    seed : int
        At least 0; another machine for each.

    Returns
    -------
    FaultPlan

    Raises
    ------
    SettingsError
        If the name is unknown, or the card lacks what the mistake needs.
    """
    if fault is None:
        return FaultPlan()
    if fault not in _KINDS:
        msg = f"fault must be one of {', '.join(_KINDS)}, got {fault!r}"
        raise SettingsError(msg)
    number = list(_KINDS).index(fault)
    plan = _KINDS[fault][1](card, np.random.default_rng([seed, 1000 + number]))
    return replace(plan, name=fault)
