"""One recording of a machine with a mistake, steady or with a start and a stop."""

from collections.abc import Sequence
from dataclasses import replace

from vibhealth.card import MachineCard
from vibhealth.simulate.course import Course
from vibhealth.simulate.exciter import simulate
from vibhealth.simulate.fault_kinds import FaultPlan
from vibhealth.simulate.recording import SimulatedRecording
from vibhealth.simulate.settings import Defect, SimulationSettings
from vibhealth.simulate.start_stop import simulate_course

__all__ = ["simulate_plan"]


def simulate_plan(
    card: MachineCard,
    *,
    plan: FaultPlan,
    settings: SimulationSettings | None = None,
    course: Course | None = None,
    defects: Sequence[Defect] = (),
) -> SimulatedRecording:
    """Recording of a machine on which a mistake was made, as the recorder delivers it.

    Parameters
    ----------
    card : MachineCard
        The machine.
    plan : FaultPlan
        Result of `draw_fault`; it wins over what ``settings`` and ``course`` say.
    settings : SimulationSettings or None
        Of the good machine; None for the defaults.
    course : Course or None
        Of the good machine; None for a machine that runs throughout.
    defects : sequence of Defect
        Beside those of the plan.

    Returns
    -------
    SimulatedRecording
        Samples in m/s^2, shape (n_points, n_samples); its truth is that of the machine.

    Raises
    ------
    SettingsError
        As `simulate`.
    """
    changed = plan.applied_to(settings or SimulationSettings())
    struck = (*plan.defects, *defects)
    if course is None:
        simulated = simulate(card, defects=struck, settings=changed)
    else:
        simulated = simulate_course(
            card, course=plan.course_of(course), defects=struck, settings=changed
        )
    return replace(simulated, samples=plan.as_recorded(simulated.samples), fault=plan.name)
