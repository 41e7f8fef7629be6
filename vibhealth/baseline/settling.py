"""Signs that a set of recordings was taken while the machine still settled.

A limit set from such readings is a classic source of false alarms (common practice, no source):
grease and oil find their place, temperature levels, bearings run in over the first day.
"""

from collections.abc import Iterator, Sequence

from vibhealth.model import Moment, RecordingAnalysis, Stage

__all__ = ["settling_flags"]

EARLY = {Moment.HOUR_1: "1 h", Moment.HOUR_8: "8 h"}
LEVEL = "bearing-band-block-median"
# Starting values, common practice, no source: warm means that it moves by less than this, and
# recordings of one state agree by less than this factor (the card's high_frequency_spread_ratio).
LARGEST_WARMING_C = 5.0
LARGEST_LEVEL_RATIO = 1.5


def settling_flags(analyses: Sequence[RecordingAnalysis]) -> tuple[str, ...]:
    """What says that the machine still settled, one sentence part each; empty where nothing does.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Of one point.

    Returns
    -------
    tuple of str
    """
    return tuple(_flags(analyses))


def _flags(analyses: Sequence[RecordingAnalysis]) -> Iterator[str]:
    early = {
        EARLY[a.recording.moment]
        for a in analyses
        if a.recording.moment in EARLY and a.recording.stage is not Stage.AS_FOUND
    }
    if early:
        yield f"recordings of the check at {' and '.join(sorted(early))} are among them, while the machine settles"
    if any(a.recording.stage is Stage.AS_FOUND for a in analyses):
        yield "recordings as found, before a rebuild, are among them"
    warmth = [t for a in analyses if (t := a.recording.temperature_c) is not None]
    if warmth and max(warmth) - min(warmth) > LARGEST_WARMING_C:
        yield (
            f"the housing was between {min(warmth):g} and {max(warmth):g} °C in them (limit "
            f"{LARGEST_WARMING_C:g} °C apart)"
        )
    levels = [d.value for a in analyses for d in a.descriptors if d.id == LEVEL and d.value > 0]
    if levels and max(levels) / min(levels) > LARGEST_LEVEL_RATIO:
        yield (
            f"the bearing-band level differs by a factor {max(levels) / min(levels):.2f} among "
            f"them (limit {LARGEST_LEVEL_RATIO:g})"
        )
