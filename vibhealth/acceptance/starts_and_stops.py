"""What of a recording is steady running, and what of it is a start or a stop."""

from dataclasses import dataclass

from vibhealth.card import MachineCard
from vibhealth.diagnosis.transients import analyze_transients, run_segments, steady_part
from vibhealth.errors import VibhealthError
from vibhealth.model import Moment, Recording, TransientAnalysis

__all__ = ["Prepared", "prepare"]

TRANSIENT_MOMENTS = (Moment.RUN_UP, Moment.COAST_DOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """The steady stretch of a recording (all of it where it holds no start or stop).

    ``steady`` is None where nothing of it is steady running.
    """

    steady: Recording | None
    transients: TransientAnalysis | None


def prepare(recording: Recording, card: MachineCard) -> Prepared:
    """Cut a recording into steady running and starts or stops.

    Parameters
    ----------
    recording : Recording
        With its stage, and its moment where one is known.
    card : MachineCard
        An ordinary machine's recording is left whole, but for those of a start or stop.

    Returns
    -------
    Prepared
        A recording of the moments run-up and coast-down always has ``transients``,
        and no ``steady`` part: the machine is not warm in it.
    """
    is_start_or_stop = recording.moment in TRANSIENT_MOMENTS
    if card.exciter is None:
        return Prepared(steady=None if is_start_or_stop else recording, transients=None)
    try:
        segments = run_segments(
            recording,
            nominal_hz=card.nominal_shaft_frequency_hz,
            tolerance_percent=card.machine.speed_tolerance_percent,
        )
    except VibhealthError as error:  # too short or silent: the checks of the recording say so
        if not is_start_or_stop:
            return Prepared(steady=recording, transients=None)
        unread = TransientAnalysis(
            recording=recording, segments=(), transients=(), map=None, not_judged=str(error)
        )
        return Prepared(steady=None, transients=unread)
    moves = any(segment.kind in {"run-up", "coast-down"} for segment in segments)
    transients = None
    if moves or is_start_or_stop:
        transients = analyze_transients(recording, card=card)
    if is_start_or_stop:
        return Prepared(steady=None, transients=transients)
    part = steady_part(recording, segments) if moves else recording
    return Prepared(steady=part, transients=transients)
