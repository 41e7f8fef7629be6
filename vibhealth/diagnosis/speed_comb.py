"""Speed of a machine without a big 1x motion, from the comb of its shaft harmonics.

Where no line stands out by itself, all multiples of the true shaft frequency
together do, in the spectrum of the record and in the envelope spectrum of its
whitened twin. Each course of speed is scored by the summed logarithms of the line
powers over their local floor, each line limited so that one strong line (twice
mains, a gear) cannot decide. It is believed where decoy combs in the same recording
say that chance does not reach it, and nothing else explains its lines.
"""

from collections.abc import Generator, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.speed_course import CourseSearch, search_course
from vibhealth.diagnosis.speed_doubts import explained_by, is_double, lobe_of, other_spacing
from vibhealth.diagnosis.speed_field import N_HARMONICS, SlowSignals, comb_field
from vibhealth.units import hz_to_rpm

__all__ = ["CombSpeed", "comb_speeds"]

SHORTEST_TURNS = 30
# Segments looked at, in turns; None is the whole record, for a speed that does not vary.
SEGMENT_TURNS = (None, 96, 24)
# The search goes this far beyond the card's tolerance, with the second demand.
WIDEST_PERCENT = 10.0
# Probability that the best of all speeds searched is no shaft speed: one wrong speed in a
# thousand recordings that show none; a hundredth of that outside the card's tolerance, where a
# machine seldom turns (starting limits of this project, no published source).
FALSE_SPEED_PROBABILITY = 1e-3
FALSE_SPEED_PROBABILITY_OUTSIDE = 1e-5
# Share of the best comb's excess that another speed may reach: two equal machines reach 1,
# the lines that two combs share 1/3 at most (every third line).
LARGEST_RIVAL = 0.6
# Two lengths of segment that find speeds this far apart have found two combs.
OTHER_SPEED_PERCENT = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CombSpeed:
    """Best course of speed, and why it is not to be believed, if so.

    Attributes
    ----------
    shaft_frequency_hz : float
        Mean over the segments.
    false_speed_probability : float
        That the best of all speeds searched scores as much without any comb.
    rival : float
        Excess over the decoys that the best clearly different speed reaches, as a share.
    uncertainty_percent : float
        Half width of the course at half of its excess.
    doubt : str
        Why the speed is not confirmed, empty when it is.
    centre_s, course_hz : ndarray, shape (n_segments,)
        One value where the whole record was taken at once.
    """

    shaft_frequency_hz: float
    false_speed_probability: float
    rival: float
    uncertainty_percent: float
    doubt: str
    centre_s: NDArray[np.float64]
    course_hz: NDArray[np.float64]


def comb_speeds(
    slow: SlowSignals, *, nominal_hz: float, tolerance_percent: float
) -> Iterator[CombSpeed]:
    """Courses of speed whose harmonics stand out most, near the nominal speed.

    First up to 10 % off with the higher demand, so that a machine off its card is
    seen; then within the tolerance.

    Parameters
    ----------
    slow : SlowSignals
        From `slow_signals`.
    nominal_hz : float
        Shaft frequency about which is searched, above 0.
    tolerance_percent : float
        Half width of the search with the lower demand, above 0.

    Yields
    ------
    CombSpeed
        All without a doubt, the longest segments (the sharpest lines) first; or the
        most significant one with its doubt. Nothing where the record is under 30
        turns long.
    """
    turns = slow.samples.shape[-1] / slow.rate_hz * nominal_hz
    if turns < SHORTEST_TURNS:
        return
    fields = [
        comb_field(slow, nominal_hz=nominal_hz, segment_turns=length)
        for length in SEGMENT_TURNS
        if length is None or turns >= 2 * length
    ]
    widest = max(WIDEST_PERCENT, tolerance_percent)
    wide = [search_course(field, nominal_hz, widest) for field in fields]
    demand = FALSE_SPEED_PROBABILITY
    if tolerance_percent < widest:
        demand = FALSE_SPEED_PROBABILITY_OUTSIDE
    doubtful = yield from _undoubted(wide, wide, demand, nominal_hz)
    if doubtful and tolerance_percent < widest:
        near = [search_course(field, nominal_hz, tolerance_percent) for field in fields]
        doubtful = yield from _undoubted(near, wide, FALSE_SPEED_PROBABILITY, nominal_hz)
    if doubtful:
        yield min(doubtful, key=lambda found: found.false_speed_probability)


def _undoubted(
    searches: list[CourseSearch], wide: list[CourseSearch], demand: float, nominal_hz: float
) -> Generator[CombSpeed, None, list[CombSpeed]]:
    """Yield what has no doubt; return the doubtful ones if all are."""
    doubtful = []
    for search, wide_search in zip(searches, wide, strict=True):
        # Searched in each length of segment, near and wide.
        probability = min(1.0, 2 * len(searches) * search.probability)
        found = _judged(search, wide_search, probability, demand, nominal_hz)
        other_hz = None if searches is wide else _better_elsewhere(found, wide)
        if not found.doubt and other_hz is not None:
            found = replace(
                found,
                doubt=f"a comb of {hz_to_rpm(other_hz):.1f} r/min stands out more than that of "
                f"{hz_to_rpm(found.shaft_frequency_hz):.1f} r/min, which lies nearer to the card",
            )
        if found.doubt:
            doubtful.append(found)
        else:
            yield found
    return doubtful if len(doubtful) == len(searches) else []


def _better_elsewhere(found: CombSpeed, wide: list[CourseSearch]) -> float | None:
    """Speed of a wide search that chance explains less, and that is another speed."""
    for search in wide:
        other_hz = float(search.frequency_hz[search.path].mean())
        away_percent = 100 * abs(other_hz / found.shaft_frequency_hz - 1)
        probability = min(1.0, 2 * len(wide) * search.probability)
        if away_percent > OTHER_SPEED_PERCENT and probability < found.false_speed_probability:
            return other_hz
    return None


def _judged(
    search: CourseSearch, wide: CourseSearch, probability: float, demand: float, nominal_hz: float
) -> CombSpeed:
    course_hz = search.frequency_hz[search.path]
    lobe = lobe_of(search.field, course_hz, wide)
    course_hz = course_hz + lobe.shift_hz
    mean_hz = float(course_hz.mean())
    doubt = ""
    if probability > demand:
        doubt = (
            f"no comb of shaft harmonics stands out (best {hz_to_rpm(mean_hz):.1f} r/min, by chance "
            f"with probability {probability:.2g}, limit {demand:g})"
        )
    elif not search.frequency_hz[0] <= mean_hz <= search.frequency_hz[-1]:
        doubt = f"the best comb lies at the edge of the search, at {hz_to_rpm(mean_hz):.1f} r/min"
    elif lobe.rival > LARGEST_RIVAL:
        doubt = (
            f"another comb stands out {100 * lobe.rival:.0f} % as much as that of "
            f"{hz_to_rpm(mean_hz):.1f} r/min"
        )
    elif (multiple := explained_by(search)) is not None:
        doubt = _words_of_rest(multiple, mean_hz)
    elif (spacing_hz := other_spacing(search, wide, nominal_hz)) is not None:
        doubt = (
            f"lines {hz_to_rpm(spacing_hz):.1f} r/min apart, which are no multiples of it, stand out "
            f"more than those of {hz_to_rpm(mean_hz):.1f} r/min"
        )
    elif is_double(search.field, course_hz):
        doubt = (
            f"the lines halfway between those of {hz_to_rpm(mean_hz):.1f} r/min are as strong: it may "
            "turn at half of that"
        )
    return CombSpeed(
        shaft_frequency_hz=mean_hz,
        false_speed_probability=probability,
        rival=lobe.rival,
        uncertainty_percent=100 * lobe.half_width_hz / mean_hz,
        doubt=doubt,
        centre_s=search.field.centre_s,
        course_hz=course_hz,
    )


def _words_of_rest(multiple: int, mean_hz: float) -> str:
    if multiple == 2:
        return f"only even multiples of {hz_to_rpm(mean_hz):.1f} r/min stand out: it may turn at twice that"
    which = "one multiple" if 2 * multiple > N_HARMONICS or multiple == 1 else "every "
    if which == "every ":
        which += {3: "third"}.get(multiple, f"{multiple}th") + " multiple"
    return (
        f"only {which} of {hz_to_rpm(mean_hz):.1f} r/min stands out, which need not be the shaft's"
    )
