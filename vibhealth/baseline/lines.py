"""A spectrum against its baseline, line by line: what stands out, and what chance allows.

Lines are compared over their local floor, so that neither another mount, nor a resonance that
moved with the temperature, nor a rougher background makes a line; levels are compared apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter
from scipy.stats import gamma

from vibhealth.baseline.reference import SpectrumStatistic, is_same_band
from vibhealth.baseline.tolerance import one_sided_factor
from vibhealth.errors import BaselineError
from vibhealth.model import PatternKind, PatternSpectrum
from vibhealth.signal.order_lines import ORDER_SPACING

__all__ = ["LineDifference", "LineSettings", "RaisedLine", "line_difference", "raised_lines"]

# From so many recordings on limits come from their spread (formal control-chart practice asks
# for ten consistent readings; common practice, no source).
FEWEST_FOR_SPREAD = 10
CONFIDENCE = 0.95
SAME_BAND = 1e-6
BAND_ORDERS = 1.0  # the spread of a line is at least the middle one of its neighbours
LOCK_REACH = 0.03  # orders about a multiple of half the shaft speed, and 0.1 % of the order
LOCK_SHARE = 0.001
MOST_LINES = 40
LEAST_APART_ORDERS = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSettings:
    """What a line may do before it is told.

    ``stated_db`` holds for baselines of fewer than ten recordings, ``least_db`` for all;
    ``false_alarm_probability`` is that of one false line in one spectrum of a recording;
    ``slip_percent`` how far a line may wander.
    """

    stated_db: float
    least_db: float
    false_alarm_probability: float
    slip_percent: float
    widening: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDifference:
    """One recording's spectrum against the baseline; arrays of shape (n_lines,).

    ``difference_db`` is each line over its floor against the largest of the baseline within the
    wander of a line; ``allowed_db`` what it may be before it is told; ``is_locked`` whether the
    line is a multiple of half the shaft speed.
    """

    kind: PatternKind
    unit: str
    order: NDArray[np.float64]
    shaft_frequency_hz: float
    amplitude: NDArray[np.float64]
    baseline_amplitude: NDArray[np.float64]
    difference_db: NDArray[np.float64]
    allowed_db: NDArray[np.float64]
    is_locked: NDArray[np.bool_]

    @property
    def beyond_db(self) -> NDArray[np.float64]:
        """How far beyond what is allowed; negative within."""
        return self.difference_db - self.allowed_db


@dataclass(frozen=True, slots=True, kw_only=True)
class RaisedLine:
    """A line that stands above the baseline, in ``shown`` of ``of`` recordings.

    ``difference_db``, ``allowed_db`` and ``amplitude`` are medians over those that show it.
    """

    kind: PatternKind
    unit: str
    order: float
    frequency_hz: float
    difference_db: float
    allowed_db: float
    amplitude: float
    baseline_amplitude: float
    is_locked: bool
    shown: int
    of: int


def line_difference(
    spectrum: PatternSpectrum,
    reference: SpectrumStatistic,
    *,
    shaft_frequency_hz: float,
    reference_shaft_hz: float,
    settings: LineSettings,
) -> LineDifference:
    """Compare one spectrum with the baseline's of the same kind.

    Parameters
    ----------
    spectrum : PatternSpectrum
        Of one recording.
    reference : SpectrumStatistic
        Of the same kind and band.
    shaft_frequency_hz, reference_shaft_hz : float
        Above 0. Lines that are fixed in Hz (mains, inverter) stand at another order at another
        speed: the baseline is looked up at the same frequency too.
    settings : LineSettings
        What a line may do.

    Returns
    -------
    LineDifference
        For fewer than ten recordings a line is allowed ``stated_db`` above the baseline (mean and
        one standard deviation); for ten
        and more the one-sided tolerance interval of its levels (`one_sided_factor`, confidence
        95 %), at a share that leaves ``false_alarm_probability`` to all lines together
        (Bonferroni). Never less than what the noise of one recording reaches with that
        probability (a mean of exponential values is gamma distributed).

    Raises
    ------
    BaselineError
        If kind, unit or band differ.
    """
    _refuse_other(spectrum, reference)
    size = min(spectrum.order.size, reference.order.size)
    order = spectrum.order[:size]
    above = spectrum.above_floor_db[:size]
    mask = _mask(reference, order, shaft_frequency_hz / reference_shaft_hz, settings.slip_percent)
    chance = settings.false_alarm_probability / size
    noise_db = 10 * np.log10(gamma.isf(chance, spectrum.n_averages) / spectrum.n_averages)
    allowed = settings.widening * _allowed(spectrum, reference, size, chance, settings)
    return LineDifference(
        kind=spectrum.kind,
        unit=spectrum.unit,
        order=order,
        shaft_frequency_hz=shaft_frequency_hz,
        amplitude=spectrum.amplitude[:size],
        baseline_amplitude=reference.amplitude[:size],
        difference_db=above - mask,
        allowed_db=np.maximum(np.maximum(allowed, settings.least_db), noise_db - mask),
        is_locked=_locked(order),
    )


def _refuse_other(spectrum: PatternSpectrum, reference: SpectrumStatistic) -> None:
    same_band = is_same_band(spectrum.band_hz, reference.band_hz, tolerance=SAME_BAND)
    if spectrum.kind != reference.kind or spectrum.unit != reference.unit or not same_band:
        msg = (
            f"{spectrum.kind} in {spectrum.unit} of band {spectrum.band_hz} cannot be compared "
            f"with {reference.kind} in {reference.unit} of band {reference.band_hz}; analyse both "
            "in one band and unit"
        )
        raise BaselineError(msg)


def _mask(
    reference: SpectrumStatistic, order: NDArray[np.float64], ratio: float, slip_percent: float
) -> NDArray[np.float64]:
    """Largest line of the baseline within a line's wander in orders, or at its own frequency.

    Of fewer than ten recordings their mean and one standard deviation count; of more the mean,
    since the tolerance interval has the spread.
    """
    above = reference.above_floor_db
    if reference.spread_db is not None and reference.n_recordings < FEWEST_FOR_SPREAD:
        above = above + reference.spread_db  # a line that comes and goes has a low mean
    spread = _dilated(above, slip_percent)[: order.size]
    at_frequency = np.interp(order * ratio, reference.order, maximum_filter1d(above, 3))
    mask: NDArray[np.float64] = np.maximum(np.maximum(spread, at_frequency), 0.0)
    return mask


def _dilated(values: NDArray[np.float64], slip_percent: float) -> NDArray[np.float64]:
    """Running maximum whose width grows with the order: one line and the slip to each side."""
    place = np.arange(values.size)
    reach = 1 + np.ceil(0.01 * slip_percent * (place + round(0.1 / ORDER_SPACING))).astype(np.int64)
    result = values.copy()
    for half in np.unique(reach):
        wide = maximum_filter1d(values, 2 * int(half) + 1)
        result[reach == half] = wide[reach == half]
    return result


def _allowed(
    spectrum: PatternSpectrum,
    reference: SpectrumStatistic,
    size: int,
    chance: float,
    settings: LineSettings,
) -> NDArray[np.float64]:
    spread = reference.spread_db
    if spread is None or reference.n_recordings < FEWEST_FOR_SPREAD:
        return np.full(size, settings.stated_db)
    width = round(BAND_ORDERS / ORDER_SPACING) | 1
    usual = np.maximum(spread, median_filter(spread, size=width, mode="reflect"))[:size]
    # A shorter recording scatters more than those of the baseline: 4.34 dB over the root of n.
    shorter = max(0.0, 1 / spectrum.n_averages - 1 / reference.n_averages)
    scatter = np.sqrt(usual**2 + (10 / np.log(10)) ** 2 * shorter)
    factor = one_sided_factor(reference.n_recordings, share=1 - chance, confidence=CONFIDENCE)
    allowed: NDArray[np.float64] = factor * scatter
    return allowed


def _locked(order: NDArray[np.float64]) -> NDArray[np.bool_]:
    away = np.abs(order - np.round(2 * order) / 2)
    locked: NDArray[np.bool_] = away <= LOCK_REACH + LOCK_SHARE * order
    return locked


def raised_lines(
    differences: Sequence[LineDifference], *, slip_percent: float
) -> tuple[RaisedLine, ...]:
    """Lines beyond what is allowed, of all recordings of a point together, farthest first.

    Parameters
    ----------
    differences : sequence of LineDifference
        Of one kind, one per recording.
    slip_percent : float
        How far a line may wander from recording to recording.

    Returns
    -------
    tuple of RaisedLine
        At most 40; each with the number of recordings in which a line about it is raised.
    """
    if not differences:
        return ()
    left = [difference.beyond_db.copy() for difference in differences]
    found: list[RaisedLine] = []
    while len(found) < MOST_LINES:
        tops = [float(np.max(beyond, initial=-np.inf)) for beyond in left]
        best = int(np.argmax(tops))
        if not tops[best] > 0:
            break
        order = float(differences[best].order[int(np.argmax(left[best]))])
        found.append(_raised(differences, left, order, slip_percent))
        for difference, beyond in zip(differences, left, strict=True):
            beyond[_about(difference, order, slip_percent)] = -np.inf
    return tuple(found)


def _about(difference: LineDifference, order: float, slip_percent: float) -> NDArray[np.bool_]:
    reach = max(LEAST_APART_ORDERS, 0.01 * slip_percent * order)
    about: NDArray[np.bool_] = np.abs(difference.order - order) <= reach
    return about


def _raised(
    differences: Sequence[LineDifference],
    left: Sequence[NDArray[np.float64]],
    order: float,
    slip_percent: float,
) -> RaisedLine:
    rows = []
    for difference, beyond in zip(differences, left, strict=True):
        near = np.flatnonzero(_about(difference, order, slip_percent))
        if near.size and beyond[near].max() > 0:
            place = int(near[np.argmax(beyond[near])])
            rows.append((difference, place))

    def middle(name: str) -> float:
        return float(np.median([getattr(difference, name)[place] for difference, place in rows]))

    first, place = max(rows, key=lambda row: row[0].beyond_db[row[1]])
    found = middle("order")
    return RaisedLine(
        kind=first.kind,
        unit=first.unit,
        order=found,
        frequency_hz=found * first.shaft_frequency_hz,
        difference_db=middle("difference_db"),
        allowed_db=middle("allowed_db"),
        amplitude=middle("amplitude"),
        baseline_amplitude=middle("baseline_amplitude"),
        is_locked=bool(first.is_locked[place]),
        shown=len(rows),
        of=len(differences),
    )
