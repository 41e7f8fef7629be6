"""What to record on a machine, how, and in which order: computed from its card."""

from dataclasses import dataclass

from vibhealth.acceptance.cautions import CAUTIONS
from vibhealth.acceptance.plan_gaps import PlanGap, plan_gaps, plan_warnings
from vibhealth.acceptance.plan_settings import (
    PlannedPoint,
    PlannedSensor,
    RecorderSettings,
    Swing,
    planned_points,
    planned_sensors,
    recorder_settings,
    swing,
)
from vibhealth.acceptance.plan_steps import WRITE_DOWN, PlanStep, plan_steps, stop_signs
from vibhealth.bearing import FrequencyRow, blind_spots, frequency_table
from vibhealth.card import MachineCard
from vibhealth.errors import CardError

__all__ = ["BearingPlan", "RecordingPlan", "recording_plan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingPlan:
    """What will be looked for in a bearing, and what it cannot show at this speed ratio."""

    name: str
    rows: tuple[FrequencyRow, ...]
    blind_spots: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingPlan:
    """Everything to take along on paper.

    ``gaps`` are keys that the card lacks, ``warnings`` what does not fit; both empty
    in a full card.
    """

    machine_id: str
    machine_name: str
    card: str
    card_sha256: str
    has_exciter: bool
    nominal_speed_rpm: float
    shaft_frequency_hz: float
    settings: RecorderSettings
    points: tuple[PlannedPoint, ...]
    sensors: tuple[PlannedSensor, ...]
    swing: Swing | None
    guard_clearance_mm: float | None
    steps: tuple[PlanStep, ...]
    bearings: tuple[BearingPlan, ...]
    warnings: tuple[str, ...]
    gaps: tuple[PlanGap, ...]
    stop_signs: tuple[str, ...]
    write_down: tuple[tuple[str, bool], ...]
    cautions: tuple[str, ...]


def recording_plan(card: MachineCard) -> RecordingPlan:
    """Plan the recordings of a rebuild.

    Parameters
    ----------
    card : MachineCard
        With at least one measurement point.

    Returns
    -------
    RecordingPlan

    Raises
    ------
    CardError
        If the card names no point: there is nothing to plan.
    """
    if not card.points:
        msg = (
            f"{card.path or 'the card'}: a plan needs at least one [[point]], found none; write "
            "where the sensor sits, its direction, sensor and channel ('vibhealth card new' shows "
            "how)"
        )
        raise CardError(msg)
    settings = recorder_settings(card)
    return RecordingPlan(
        machine_id=card.machine.id,
        machine_name=card.machine.name,
        card=card.path,
        card_sha256=card.sha256,
        has_exciter=card.exciter is not None,
        nominal_speed_rpm=card.machine.nominal_speed_rpm,
        shaft_frequency_hz=card.nominal_shaft_frequency_hz,
        settings=settings,
        points=planned_points(card),
        sensors=planned_sensors(card),
        swing=swing(card),
        guard_clearance_mm=None if card.guard is None else card.guard.clearance_mm,
        steps=plan_steps(card, settings),
        bearings=_bearings(card),
        warnings=plan_warnings(card),
        gaps=plan_gaps(card),
        stop_signs=stop_signs(card.limits),
        write_down=WRITE_DOWN,
        cautions=CAUTIONS,
    )


def _bearings(card: MachineCard) -> tuple[BearingPlan, ...]:
    everything, slip = card.rolling_bearings(), card.analysis.slip_percent
    return tuple(
        BearingPlan(
            name=bearing.name,
            rows=frequency_table(bearing, card.nominal_shaft_frequency_hz, slip),
            blind_spots=tuple(
                spot.sentence for spot in blind_spots(bearing, slip, others=everything)
            ),
        )
        for bearing in everything
    )
