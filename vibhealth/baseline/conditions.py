"""Whether two sets of recordings of a point may be compared: same state, same means."""

from collections.abc import Iterator
from dataclasses import dataclass

from vibhealth.baseline.reference import Conditions
from vibhealth.model import CriterionResult
from vibhealth.units import hz_to_rpm

__all__ = ["ConditionFinding", "ConditionLimits", "compare_conditions"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionLimits:
    """From which difference on a comparison is said to be rough, and refused."""

    speed_watch_percent: float
    speed_hold_percent: float
    temperature_watch_c: float
    temperature_hold_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionFinding:
    """One condition: the same (pass), different and allowed for (watch), or no fair comparison.

    ``is_other_means`` says that sensor, mount or sampling rate are others, so that levels must
    be allowed a wider band.
    """

    id: str
    result: CriterionResult
    sentence: str
    advice: str = ""
    is_other_means: bool = False


def compare_conditions(
    now: Conditions, reference: Conditions, *, limits: ConditionLimits
) -> tuple[ConditionFinding, ...]:
    """Compare the conditions of recordings with those of their reference.

    Parameters
    ----------
    now, reference : Conditions
        Of the recordings that are judged, and of the baseline.
    limits : ConditionLimits
        When a difference is said, and when it forbids the comparison.

    Returns
    -------
    tuple of ConditionFinding
        Not judged where a fair comparison is not possible. What neither or only one of them
        states is said and compared with nothing.
    """
    return (
        _speed(now, reference, limits),
        _temperature(now, reference, limits),
        *_same_state(now, reference),
        *_same_means(now, reference),
    )


def _speed(now: Conditions, reference: Conditions, limits: ConditionLimits) -> ConditionFinding:
    is_, was = now.shaft_frequency_hz.middle, reference.shaft_frequency_hz.middle
    percent = 100 * (is_ / was - 1)
    words = (
        f"{hz_to_rpm(is_):.1f} r/min against {hz_to_rpm(was):.1f} in the reference "
        f"({_signed(percent)} %)"
    )
    if abs(percent) > limits.speed_hold_percent:
        return ConditionFinding(
            id="speed",
            result=CriterionResult.NOT_JUDGED,
            sentence=f"{words}, more than {limits.speed_hold_percent:g} % apart",
            advice="Run at the reference's speed and record again, or make a reference at this one.",
        )
    is_rough = abs(percent) > limits.speed_watch_percent
    result = CriterionResult.WATCH if is_rough else CriterionResult.PASS
    return ConditionFinding(id="speed", result=result, sentence=words)


def _signed(percent: float) -> str:
    """With its sign, and without one where it rounds to nothing."""
    return "0.0" if abs(percent) < 0.05 else f"{percent:+.1f}"


def _temperature(
    now: Conditions, reference: Conditions, limits: ConditionLimits
) -> ConditionFinding:
    if now.temperature_c is None or reference.temperature_c is None:
        return ConditionFinding(
            id="temperature",
            result=CriterionResult.PASS,
            sentence="housing temperature not stated in both, not compared",
        )
    away = now.temperature_c.middle - reference.temperature_c.middle
    words = (
        f"housing at {now.temperature_c.middle:.0f} °C against "
        f"{reference.temperature_c.middle:.0f} °C in the reference"
    )
    if away < -limits.temperature_hold_c:
        return ConditionFinding(
            id="temperature",
            result=CriterionResult.NOT_JUDGED,
            sentence=f"{words}: cold oil sounds otherwise",
            advice="Run warm until the housing levels, then record again.",
        )
    is_rough = abs(away) > limits.temperature_watch_c
    result = CriterionResult.WATCH if is_rough else CriterionResult.PASS
    return ConditionFinding(id="temperature", result=result, sentence=words)


def _same_state(now: Conditions, reference: Conditions) -> Iterator[ConditionFinding]:
    rows = (
        ("load", now.load, reference.load, "Record in the reference's state, empty or loaded."),
        ("direction", now.direction, reference.direction, "Check the point, its axis and channel."),
        ("unit", now.unit, reference.unit, "Give the calibration of both."),
        (
            "bearings",
            now.bearings,
            reference.bearings,
            "Is the card right? Then make a new reference.",
        ),
    )
    for id_, is_, was, advice in rows:
        if not is_ and not was:
            continue
        if is_ and was and is_ != was:
            yield ConditionFinding(
                id=id_,
                result=CriterionResult.NOT_JUDGED,
                sentence=f"{id_} is {is_}, in the reference {was}",
                advice=advice,
            )
        else:
            words = f"{id_} {is_}" if is_ == was else f"{id_} stated in one of them only"
            if id_ == "bearings" and is_ == was:
                words = "bearings as on the card"
            yield ConditionFinding(id=id_, result=CriterionResult.PASS, sentence=words)


def _same_means(now: Conditions, reference: Conditions) -> Iterator[ConditionFinding]:
    rows = (
        ("sensor", now.sensor, reference.sensor),
        ("mount", now.mount, reference.mount),
        (
            "sampling rate",
            f"{now.sampling_rate_hz:g} Hz",
            f"{reference.sampling_rate_hz:g} Hz",
        ),
    )
    for id_, is_, was in rows:
        if is_ and was and is_ != was:
            yield ConditionFinding(
                id=id_.replace(" ", "-"),
                result=CriterionResult.WATCH,
                sentence=f"another {id_} ({is_}, in the reference {was}): limits of levels widened",
                is_other_means=True,
            )
