"""From a run to the recording of it, with the truth: the same for steady runs, starts and stops."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vibhealth.simulate._assembly import (
    add_defects,
    add_fault,
    add_surroundings,
    bearing_truth,
    running,
)
from vibhealth.simulate._run import Run
from vibhealth.simulate._surroundings import Gap, clipped
from vibhealth.simulate.recording import SimulatedRecording, SimulationTruth
from vibhealth.simulate.settings import Defect

__all__ = ["recorded"]


def recorded(
    run: Run, gap: Gap, defects: Sequence[Defect]
) -> tuple[SimulatedRecording, NDArray[np.float64]]:
    """All that sounds in a run, as it is recorded, and the times at which the guard is struck."""
    struck = [run.machine.bearing_of(defect).name for defect in defects]
    samples = running(run)
    truths = add_defects(samples, run, defects, struck)
    add_surroundings(samples, run)
    guard_times_s = add_fault(samples, run)
    rate_hz = run.settings.sampling_rate_hz
    recording = SimulatedRecording(
        samples=clipped(gap.close(samples), run.settings),
        sampling_rate_hz=rate_hz,
        points=tuple(point.name for point in run.machine.points),
        directions=tuple(point.direction for point in run.machine.points),
        settings=run.settings,
        truth=SimulationTruth(
            mean_shaft_frequency_hz=run.machine.shaft_frequency_hz(run.settings),
            shaft_turns=gap.close(run.turns),
            shaft_frequency_hz=gap.close(run.shaft_hz),
            bearings=tuple(bearing_truth(motion) for motion in run.motions.values()),
            defects=tuple(gap.close_strikes(truth, rate_hz) for truth in truths),
        ),
    )
    return recording, guard_times_s
