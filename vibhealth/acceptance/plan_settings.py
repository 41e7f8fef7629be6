"""How to set the recorder for a machine: rate, seconds, range, resolution."""

import math
from dataclasses import dataclass

from vibhealth.card import MachineCard, Point, Sensor
from vibhealth.units import m_s2_to_g, throw_factor

__all__ = [
    "LARGEST_SHARE_OF_RANGE",
    "RATE_OVER_BAND",
    "PlannedPoint",
    "PlannedSensor",
    "RecorderSettings",
    "Swing",
    "planned_points",
    "planned_sensors",
    "recorder_settings",
    "swing",
]

# Usual ratio of sampling rate to usable band with an anti-alias filter; common practice, no source.
RATE_OVER_BAND = 2.56
# The working motion should leave half of the range to strikes; common practice, no source.
LARGEST_SHARE_OF_RANGE = 0.5
# Rates that recorders offer; common practice, no source.
USUAL_RATES_HZ = (
    1024, 2048, 2560, 4096, 5120, 6400, 8192, 10_240, 12_800, 16_384, 20_480, 25_600, 32_768,
    44_100, 48_000, 51_200, 65_536, 96_000, 102_400, 131_072, 192_000, 204_800,
)  # fmt: skip
# A recording for a decision is not shorter than this; common practice, no source.
LEAST_SECONDS = 60
# Strikes of a small spall at the sensor, g; common practice, no source.
SMALL_FAULT_G = (0.01, 0.05)
# Largest swing over the working motion where none was noted: one-degree-of-freedom model of a
# 20 Hz machine on isolators of 2.5 to 3.5 Hz, 2 to 10 % damped, started in 1 s to stopped in 30 s.
MODEL_SWING_RATIO = (2.5, 10.5)
BYTES_PER_SAMPLE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderSettings:
    """Rate and length, from the bearing band and the speed.

    ``turns`` are those of ``seconds``; ``least_seconds`` hold the turns below which nothing is
    judged; ``megabytes_per_channel`` is one recording of ``seconds`` at 24 bit.
    """

    bearing_band_hz: tuple[float, float]
    least_rate_hz: float
    rate_hz: float
    seconds: int
    turns: float
    least_seconds: int
    least_turns: float
    recordings: int
    megabytes_per_channel: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSensor:
    """What a sensor has to carry.

    ``expected_g`` is the largest peak of the working motion among its points, ``needed_g`` the
    range that leaves as much again to strikes, ``range_g`` the smaller of the ranges of sensor and
    recorder; None where the card does not tell. Steps are those of a converter of 16 and 24 bit.
    """

    name: str
    serial: str | None
    mount: str | None
    calibration: str | None
    usable_hz: tuple[float, float] | None
    expected_g: float | None
    needed_g: float | None
    range_g: float | None
    step_16_bit_g: float | None
    step_24_bit_g: float | None

    @property
    def share_of_range(self) -> float | None:
        """The working motion over the range."""
        if self.expected_g is None or self.range_g is None:
            return None
        return self.expected_g / self.range_g


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPoint:
    """A place to record; points of one ``sitting`` are recorded together."""

    name: str
    direction: str
    position: str | None
    mounted_on: str
    sensor: str
    channel: int
    expected_g: float | None
    sitting: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """How far the body swings to one side while starting and stopping, and what it reads there.

    Low and high are equal where the machine's own swing was noted; else they are those of a
    model. ``acceleration_g`` needs the isolators' frequency.
    """

    low_mm: float
    high_mm: float
    acceleration_g: float | None
    is_noted: bool


def recorder_settings(card: MachineCard) -> RecorderSettings:
    """Rate and length of a recording for a decision.

    Parameters
    ----------
    card : MachineCard
        Its bearing band, speed, and limits of turns and recordings.

    Returns
    -------
    RecorderSettings
    """
    least_rate = RATE_OVER_BAND * card.analysis.bearing_band_hz[1]
    hz, limits = card.nominal_shaft_frequency_hz, card.limits
    wanted, least = limits.value("recommended_turns"), limits.value("minimum_turns")
    seconds = max(LEAST_SECONDS, 10 * math.ceil(round(wanted / hz / 10, 9)))
    rate = _usual_rate(least_rate)
    return RecorderSettings(
        bearing_band_hz=card.analysis.bearing_band_hz,
        least_rate_hz=least_rate,
        rate_hz=rate,
        seconds=seconds,
        turns=seconds * hz,
        least_seconds=math.ceil(round(least / hz, 9)),
        least_turns=least,
        recordings=round(limits.value("recommended_recordings")),
        megabytes_per_channel=seconds * rate * BYTES_PER_SAMPLE / 1e6,
    )


def _usual_rate(least_hz: float) -> float:
    """The next usual rate; beyond the list the next thousand.

    >>> _usual_rate(25_600.0), _usual_rate(25_601.0), _usual_rate(512_000.5)
    (25600.0, 32768.0, 513000.0)
    """
    usual = next((rate for rate in USUAL_RATES_HZ if rate >= least_hz), None)
    return float(1000 * math.ceil(least_hz / 1000) if usual is None else usual)


def expected_g(card: MachineCard, point: Point) -> float | None:
    """Peak of the working motion at a point on the body, g; the largest axis for words."""
    strokes = card.exciter.stroke_mm if card.exciter else None
    if strokes is None or point.mounted_on != "body":
        return None
    stroke = strokes.along(point.direction)
    if point.direction not in {"x", "y", "z"}:
        stroke = max(value for _, value in strokes.axes())
    return None if stroke is None else throw_factor(stroke, card.machine.nominal_speed_rpm)


def planned_points(card: MachineCard) -> tuple[PlannedPoint, ...]:
    """The card's points; those that want the same channel are recorded one after another.

    Parameters
    ----------
    card : MachineCard
        As read.

    Returns
    -------
    tuple of PlannedPoint
        In the card's order; sittings are counted from 1.
    """
    taken: list[set[int]] = []
    points = []
    for point in card.points:
        free = next((n for n, channels in enumerate(taken) if point.channel not in channels), None)
        if free is None:
            taken.append(set())
            free = len(taken) - 1
        taken[free].add(point.channel)
        points.append(
            PlannedPoint(
                name=point.name,
                direction=point.direction,
                position=point.position,
                mounted_on=point.mounted_on,
                sensor=point.sensor,
                channel=point.channel,
                expected_g=expected_g(card, point),
                sitting=free + 1,
            )
        )
    return tuple(points)


def planned_sensors(card: MachineCard) -> tuple[PlannedSensor, ...]:
    """The sensors that the card's points use.

    Parameters
    ----------
    card : MachineCard
        As read.

    Returns
    -------
    tuple of PlannedSensor
    """
    used = {point.sensor for point in card.points}
    return tuple(_sensor(card, sensor) for sensor in card.sensors if sensor.name in used)


def _sensor(card: MachineCard, sensor: Sensor) -> PlannedSensor:
    found = [expected_g(card, point) for point in card.points if point.sensor == sensor.name]
    expected = max((value for value in found if value is not None), default=None)
    calibration = sensor.calibration()
    in_units = calibration is None or sensor.unit is not None
    full_scale = None if in_units or calibration is None else m_s2_to_g(calibration.scale_m_s2)
    ranges = [value for value in (sensor.range_g, full_scale) if value is not None]
    span = full_scale or sensor.range_g
    return PlannedSensor(
        name=sensor.name,
        serial=sensor.serial,
        mount=sensor.mount,
        calibration=None if calibration is None else calibration.source,
        usable_hz=sensor.usable_hz,
        expected_g=expected,
        needed_g=None if expected is None else expected / LARGEST_SHARE_OF_RANGE,
        range_g=min(ranges, default=None),
        step_16_bit_g=None if span is None else span / 2**15,
        step_24_bit_g=None if span is None else span / 2**23,
    )


def swing(card: MachineCard) -> Swing | None:
    """How far the body swings through its isolators' frequency.

    Parameters
    ----------
    card : MachineCard
        Its stroke, and where noted swing ratio and isolator frequency.

    Returns
    -------
    Swing or None
        None without a stated stroke.
    """
    exciter = card.exciter
    if exciter is None or exciter.stroke_mm is None:
        return None
    half = max(stroke for _, stroke in exciter.stroke_mm.axes()) / 2
    ratios = MODEL_SWING_RATIO
    if exciter.swing_ratio is not None:
        ratios = (exciter.swing_ratio, exciter.swing_ratio)
    working = throw_factor(2 * half, card.machine.nominal_speed_rpm)
    reads = None
    if exciter.isolator_frequency_hz is not None:
        slower = exciter.isolator_frequency_hz / card.nominal_shaft_frequency_hz
        reads = ratios[1] * working * slower**2
    return Swing(
        low_mm=ratios[0] * half,
        high_mm=ratios[1] * half,
        acceleration_g=reads,
        is_noted=exciter.swing_ratio is not None,
    )
