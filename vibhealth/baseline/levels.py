"""How far a level may be above its baseline: stated factors, or the spread of ten and more."""

from dataclasses import dataclass

from vibhealth.baseline.lines import CONFIDENCE, FEWEST_FOR_SPREAD
from vibhealth.baseline.reference import Scalar
from vibhealth.baseline.tolerance import one_sided_factor

__all__ = ["REMOUNT_RATIO", "LevelLimits", "level_limits", "spread_limit_db"]

# A sensor that was taken off and put back reads the bearing band up to this factor apart (common
# practice, no source); limits from recordings of one mounting must leave room for it.
REMOUNT_RATIO = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelLimits:
    """Limits of a level as ratios over the baseline's mean, and where they come from."""

    mean: float
    watch_ratio: float
    hold_ratio: float
    source: str


def level_limits(  # noqa: PLR0913 (what is stated, and what widens it)
    scalar: Scalar,
    *,
    watch_ratio: float,
    hold_ratio: float,
    widening: float = 1.0,
    is_stud: bool = False,
    false_alarm_probability: float = 0.01,
) -> LevelLimits | None:
    """Limits of one level.

    Parameters
    ----------
    scalar : Scalar
        The baseline's values.
    watch_ratio, hold_ratio : float
        Stated factors, for fewer than ten recordings.
    widening : float
        1 for the same point and means, more for a sister or another sensor.
    is_stud : bool
        Whether the mount repeats, so that no room is left for a sensor put back.
    false_alarm_probability : float
        Share of good readings that may lie above the watch limit, for ten and more.

    Returns
    -------
    LevelLimits or None
        None where the baseline has no value. From ten recordings on the watch limit is the
        one-sided tolerance limit of the logarithms at confidence 95 %, times what putting back a
        sensor changes; the hold limit lies as far above it as the stated ones lie apart, but no
        higher than the stated one, or the watch limit if that is higher.
    """
    mean, spread_db, n = scalar.mean, scalar.spread_db, len(scalar.found)
    if mean is None:
        return None
    watch, source = watch_ratio, f"stated factors for {n} recording{'s' * (n != 1)}"
    if n >= FEWEST_FOR_SPREAD and spread_db is not None:
        above_db = spread_limit_db(spread_db, n, false_alarm_probability)
        watch = 10 ** (above_db / 20) * (1.0 if is_stud else REMOUNT_RATIO)
        source = (
            f"tolerance interval of {n} recordings (share {1 - false_alarm_probability:g}, "
            f"confidence {CONFIDENCE:g}; ISO 16269-6, from memory)"
        )
    # However much its recordings scatter, the hold limit is no laxer than the stated one.
    hold = min(watch * hold_ratio / watch_ratio, max(watch, hold_ratio))
    return LevelLimits(
        mean=mean, watch_ratio=widening * watch, hold_ratio=widening * hold, source=source
    )


def spread_limit_db(spread_db: float, n: int, false_alarm_probability: float) -> float:
    """How far above the mean the one-sided tolerance limit of levels lies, in dB."""
    return spread_db * one_sided_factor(n, share=1 - false_alarm_probability, confidence=CONFIDENCE)
