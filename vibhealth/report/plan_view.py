"""A recording plan in words: every number rounded, every sentence made, nothing rendered."""

import math
from dataclasses import dataclass

from vibhealth.acceptance import CAUTIONS
from vibhealth.acceptance.plan import RecordingPlan
from vibhealth.acceptance.plan_settings import SMALL_FAULT_G, PlannedPoint, PlannedSensor
from vibhealth.acceptance.plan_steps import STEADY_RULES, PlanStep

__all__ = ["PlanSection", "PlanStepView", "PlanView", "plan_view"]

MOUNT = (
    "Stud in spot-faced bare metal, or a bonded pad with a stud. Not on paint, not on a cover, "
    "not on the guard; no hand-held probe. A flat magnet only to look, tethered."
)
CABLE = (
    "Tie it down within 50 to 100 mm of the sensor on the moving body, then a free loop to a fixed "
    "clamp: no pull anywhere in the swing, nothing that can catch it."
)
TRIAL = (
    "Record 10 s first: the largest peak, strikes of material included, must stay below 70 % of "
    "the range; else take the next larger range."
)
BY_HAND = (
    "About a third of the mistakes in a rebuild cannot be seen in vibration at all (a cut seal, the "
    "wrong oil, oiled threads at a dry torque): the job record is the other half."
)
SOURCES = (
    "Rate, length, range, mounting and order of events: common practice, no source, except the "
    "limits of the card and 82 °C (US Army TM 5-3895-374-24-2, p. 3-1287). g from stroke: "
    "(stroke / 2) (2 pi f)^2 / 9.80665."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStepView:
    """One event with things to tick, and a line to fill in per recording or temperature."""

    title: str
    when: str
    what: str
    ticks: tuple[str, ...]
    recordings: int
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSection:
    """A part of the sheet: sentences, a table, items, things to tick, in this order.

    ``is_boxed`` marks what must not be overlooked; rows of a table with ``has_ticks`` are ticked.
    """

    title: str
    paragraphs: tuple[str, ...] = ()
    headers: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    items: tuple[str, ...] = ()
    ticks: tuple[str, ...] = ()
    steps: tuple[PlanStepView, ...] = ()
    has_ticks: bool = False
    is_boxed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """The whole sheet."""

    title: str
    subtitle: str
    sections: tuple[PlanSection, ...]
    foot: str


def plan_view(plan: RecordingPlan, *, version: str) -> PlanView:
    """Word a plan.

    Parameters
    ----------
    plan : RecordingPlan
        From `recording_plan`.
    version : str
        Of the program, for the foot.

    Returns
    -------
    PlanView
        The same plan gives the same view.
    """
    sections = (
        PlanSection(title="Before you touch the machine", items=CAUTIONS, is_boxed=True),
        PlanSection(title="Stop at once and lock out", items=plan.stop_signs, is_boxed=True),
        _before_you_go(plan),
        _settings(plan),
        _points(plan),
        PlanSection(
            title="Order of events",
            paragraphs=(STEADY_RULES,),
            steps=tuple(_step(plan, step) for step in plan.steps),
        ),
        PlanSection(
            title="Write down",
            paragraphs=("* needed for the decision",),
            ticks=tuple(f"{'* ' if needed else ''}{text}" for text, needed in plan.write_down),
        ),
        *_bearings(plan),
    )
    return PlanView(
        title=f"Recording plan: {plan.machine_name} ({plan.machine_id})",
        subtitle=f"{plan.nominal_speed_rpm:g} r/min = {plan.shaft_frequency_hz:.2f} turns per "
        f"second; {_number(len(plan.points), 'point')}"
        + ("" if plan.has_exciter else "; an ordinary machine, without an exciter"),
        sections=tuple(sections),
        foot=f"{SOURCES} Card {plan.card or 'not on disk'}"
        + (f", SHA-256 {plan.card_sha256}" if plan.card_sha256 else "")
        + f"; vibhealth {version}.",
    )


def _number(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _before_you_go(plan: RecordingPlan) -> PlanSection:
    gaps = [f"Not on the card: {gap.key}. It costs: {gap.cost}." for gap in plan.gaps]
    return PlanSection(
        title="Put right before you go",
        paragraphs=() if plan.warnings or gaps else ("Nothing stands out.",),
        ticks=(*plan.warnings, *gaps),
    )


def _settings(plan: RecordingPlan) -> PlanSection:
    settings = plan.settings
    low, high = settings.bearing_band_hz
    rate = (
        f"{settings.rate_hz:g} Hz per channel, anti-alias filter on (bearing band {low:g} to "
        f"{high:g} Hz: at least {settings.least_rate_hz:g} Hz)"
    )
    length = (
        f"{settings.seconds} s = {settings.turns:.0f} turns; never below "
        f"{settings.least_seconds} s = {settings.least_turns:g} turns"
    )
    rows = [
        ("Sampling rate", rate),
        ("Length", length),
        ("Number", f"{_number(settings.recordings, 'recording')}, at least 2 min apart"),
        *(row for sensor in plan.sensors for row in _sensor_rows(sensor)),
        *_swing_rows(plan),
        ("Mount", MOUNT),
        ("Cable", CABLE),
        ("Trial", TRIAL),
        ("Data", _data_words(plan)),
    ]
    return PlanSection(title="Set the recorder", headers=("What", "How"), rows=tuple(rows))


def _sensor_rows(sensor: PlannedSensor) -> list[tuple[str, str]]:
    name = f"{sensor.name}, serial {sensor.serial}" if sensor.serial else sensor.name
    calibration = sensor.calibration or "no calibration on the card"
    return [
        (f"Sensor {name}", f"{calibration.split(': ')[-1]}; {_usable(sensor)}"),
        ("  range", _range_words(sensor)),
        ("  resolution", _resolution_words(sensor)),
    ]


def _usable(sensor: PlannedSensor) -> str:
    if sensor.usable_hz is None:
        return "usable band not on the card"
    return f"usable {sensor.usable_hz[0]:g} to {sensor.usable_hz[1]:g} Hz"


def _range_words(sensor: PlannedSensor) -> str:
    has = "not on the card" if sensor.range_g is None else f"±{sensor.range_g:g} g"
    if sensor.expected_g is None or sensor.needed_g is None:
        return f"{has}; the working motion here is not known from the card"
    words = f"{has}; working motion {sensor.expected_g:.2f} g peak, so at least ±{sensor.needed_g:.1f} g"
    if sensor.share_of_range is None:
        return words
    return f"{words} (it takes {100 * sensor.share_of_range:.0f} % of the range)"


def _resolution_words(sensor: PlannedSensor) -> str:
    low, high = SMALL_FAULT_G
    if sensor.step_16_bit_g is None or sensor.step_24_bit_g is None:
        return "24 bit; what 16 bit would cost is not known without a range"
    return (
        f"24 bit: steps of {_small(sensor.step_24_bit_g)} g. 16 bit has steps of "
        f"{_small(sensor.step_16_bit_g)} g; a small bearing fault strikes with {low:g} to {high:g} g"
    )


def _small(value: float) -> str:
    """Two digits, never with an exponent.

    >>> _small(0.0000596), _small(0.01526)
    ('0.00006', '0.015')
    """
    digits = max(0, 1 - math.floor(math.log10(value)))
    return f"{value:.{digits}f}".rstrip("0")


def _swing_rows(plan: RecordingPlan) -> list[tuple[str, str]]:
    if plan.swing is None:
        return []
    swing = plan.swing
    how_far = f"{swing.high_mm:.0f} mm to one side"
    if not swing.is_noted:
        how_far = f"{swing.low_mm:.0f} to {swing.high_mm:.0f} mm to one side (by a model)"
    words = f"The body swings {how_far} at its isolators' frequency"
    if swing.acceleration_g is not None:
        words += f", and reads about {swing.acceleration_g:.1f} g there"
    if plan.guard_clearance_mm is not None:
        words += f"; the gap at the guard should be {plan.guard_clearance_mm:g} mm: check that it"
        words += " exceeds the swing"
    return [("Start, stop", f"{words}. Leave the cable that much.")]


def _data_words(plan: RecordingPlan) -> str:
    sittings = max(point.sitting for point in plan.points)
    steady = sum(step.recordings for step in plan.steps)
    total = steady * len(plan.points) * plan.settings.megabytes_per_channel
    words = (
        f"{plan.settings.megabytes_per_channel:.1f} MB per channel and recording at 24 bit, about "
        f"{total:.0f} MB in all ({_number(steady, 'recording')}"
    )
    return words + (f", each in {sittings} sittings)" if sittings > 1 else ")")


def _points(plan: RecordingPlan) -> PlanSection:
    sittings = max(point.sitting for point in plan.points)
    paragraphs = [
        "A point is a painted ring with a stamped name and an arrow; a photo. It never moves."
    ]
    if sittings > 1:
        paragraphs.append(
            f"Some points share a channel: record in {sittings} sittings, lock out to move sensors."
        )
    return PlanSection(
        title="Points",
        paragraphs=tuple(paragraphs),
        headers=("Point", "Where", "Direction", "Sensor", "Channel", "1x peak", "Sitting"),
        rows=tuple(_point_row(point) for point in plan.points),
        has_ticks=True,
    )


def _point_row(point: PlannedPoint) -> tuple[str, ...]:
    directions = {"x": "x, radial", "y": "y, radial, 90° from x", "z": "z, along the shaft"}
    return (
        point.name,
        point.position or f"on the {point.mounted_on}",
        directions.get(point.direction, point.direction),
        point.sensor,
        str(point.channel),
        "-" if point.expected_g is None else f"{point.expected_g:.2f} g",
        str(point.sitting),
    )


def _step(plan: RecordingPlan, step: PlanStep) -> PlanStepView:
    what = ""
    if step.recordings:
        what = f"{_number(step.recordings, 'recording')}{_length(step)} into {step.folder}/"
    sittings = max(point.sitting for point in plan.points)
    return PlanStepView(
        title=step.title,
        when=step.when,
        what=what,
        ticks=step.to_do,
        recordings=step.recordings * sittings,
        readings=step.readings,
    )


def _length(step: PlanStep) -> str:
    if step.seconds is None:
        return ", as long as it takes,"
    if step.turns is None:
        return f" of about {step.seconds} s"
    return f" of {step.seconds} s ({step.turns:.0f} turns)"


def _bearings(plan: RecordingPlan) -> list[PlanSection]:
    rows = [
        (
            bearing.name,
            row.element.words,
            f"{row.order:.3f}",
            f"{row.frequency_hz:.1f} Hz",
            f"{row.frequency_low_hz:.1f} to {row.frequency_high_hz:.1f} Hz",
        )
        for bearing in plan.bearings
        for row in bearing.rows
    ]
    spots = [spot for bearing in plan.bearings for spot in bearing.blind_spots]
    if plan.has_exciter:
        spots.append(
            "While starting and stopping no bearing is judged; strikes, swing and times are."
        )
    return [
        PlanSection(
            title="What will be looked for",
            paragraphs=()
            if rows
            else ("The card has no bearing: no bearing fault is looked for.",),
            headers=("Bearing", "Element", "Order", "Strikes at", "With slip") if rows else (),
            rows=tuple(rows),
        ),
        PlanSection(title="What cannot be seen", items=(*spots, BY_HAND)),
    ]
