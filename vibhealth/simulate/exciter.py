"""The invented exciter: one function from card, defects and settings to samples."""

from collections.abc import Sequence

import numpy as np

from vibhealth.card import MachineCard
from vibhealth.simulate._machine import machine_of
from vibhealth.simulate._recorded import recorded
from vibhealth.simulate._run import Run, Stream, bearing_motions, rng_of
from vibhealth.simulate._shaft import make_shaft_angle
from vibhealth.simulate._surroundings import make_gap
from vibhealth.simulate.recording import SimulatedRecording
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["simulate"]


def simulate(
    card: MachineCard,
    *,
    defects: Sequence[Defect] = (),
    settings: SimulationSettings | None = None,
) -> SimulatedRecording:
    """Recording of an invented machine with the chosen defects, or clean.

    The shaft turns with a wandering speed, the cage slips and walks; every
    strike of a defect is placed where an element meets it, as strong as the
    load at that place of the load zone and the way to the sensor make it, and
    answered by decaying sines placed between the samples.

    Parameters
    ----------
    card : MachineCard
        Nominal speed, stroke, orbit direction, bearings with their load case,
        measurement points.
    defects : sequence of Defect
        None for a healthy machine; several may be given, of one bearing or more.
    settings : SimulationSettings or None
        None for the defaults.

    Returns
    -------
    SimulatedRecording
        Samples in m/s^2, shape (n_points, n_samples), with the truth.

    Raises
    ------
    SettingsError
        If a defect names a bearing that the card does not have, a bearing of
        unknown load case, or a rolling element of unknown order; or if a gear
        meshes at or above half the sampling rate.

    References
    ----------
    .. [1] P. D. McFadden and J. D. Smith, "Model for the vibration produced by a
       single point defect in a rolling element bearing", Journal of Sound and
       Vibration 96(1), 1984, 69-82.
    .. [2] J. Antoni and R. B. Randall, "A stochastic model for simulation and
       diagnostics of rolling element bearings with localized faults", Journal of
       Vibration and Acoustics 125(3), 2003, 282-289 (random slip).
    """
    settings = settings or SimulationSettings()
    machine = machine_of(card)
    gap = make_gap(settings, rng_of(settings, Stream.GAP))
    n_samples = settings.n_samples + gap.length
    time_s = np.arange(n_samples) / settings.sampling_rate_hz
    shaft = make_shaft_angle(
        machine.shaft_frequency_hz(settings),
        n_samples / settings.sampling_rate_hz,
        settings.speed_wander_percent,
        rng_of(settings, Stream.SPEED),
    )
    run = Run(
        machine=machine,
        settings=settings,
        shaft=shaft,
        motions=bearing_motions(machine, shaft, settings),
        time_s=time_s,
        turns=shaft.turns_at(time_s),
        shaft_hz=shaft.frequency_at(time_s),
    )
    return recorded(run, gap, defects)[0]
