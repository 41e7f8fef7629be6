"""Two or more recordings, baselines or signatures side by side, the first one as reference."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from vibhealth.baseline.conditions import ConditionFinding, ConditionLimits, compare_conditions
from vibhealth.baseline.lines import (
    LineDifference,
    LineSettings,
    RaisedLine,
    line_difference,
    raised_lines,
)
from vibhealth.baseline.reference import Baseline, SpectrumStatistic, is_same_band
from vibhealth.errors import BaselineError
from vibhealth.model import PATTERN_KINDS, Element, PatternKind, PatternSpectrum
from vibhealth.units import amplitude_ratio_to_db

__all__ = [
    "ComparedFamily",
    "ComparedSpectrum",
    "ComparedValue",
    "Comparison",
    "Side",
    "compare_sides",
]

# Accelerations of a constant stroke go with the square of the speed.
GOES_WITH_SPEED_SQUARED = (
    "first-order",
    "working-motion-rms",
    "working-motion-peak",
    "working-motion-peak-to-peak",
)
SIGNIFICANT = 0.001
SAME_BAND = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of those compared: what it is called, what it is, what was read."""

    label: str
    kind: Literal["recording", "baseline", "signature"]
    readings: Baseline
    meaning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedValue:
    """One level or motion value of every side; None where a side has none.

    ``differences_db`` are against the first side, with the speed taken out where
    ``is_scaled``; a difference of levels read in different bands is None.
    """

    id: str
    title: str
    unit: str
    values: tuple[float | None, ...]
    differences_db: tuple[float | None, ...]
    is_scaled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedFamily:
    """One defect family of every side: whitened depth, and whether it is significant."""

    bearing: str
    element: Element
    orders: tuple[float | None, ...]
    depths: tuple[float | None, ...]
    is_significant: tuple[bool, ...]
    differences_db: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedSpectrum:
    """One kind of spectrum of one side (``place`` among the sides) against the first."""

    place: int
    kind: PatternKind
    difference: LineDifference
    raised: tuple[RaisedLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """All sides with what differs; ``conditions`` belong to the sides after the first."""

    sides: tuple[Side, ...]
    conditions: tuple[tuple[ConditionFinding, ...], ...]
    values: tuple[ComparedValue, ...]
    families: tuple[ComparedFamily, ...]
    spectra: tuple[ComparedSpectrum, ...]
    not_compared: tuple[str, ...] = ()


def compare_sides(
    sides: Sequence[Side], *, conditions: ConditionLimits, settings: LineSettings
) -> Comparison:
    """Compare every side with the first.

    Parameters
    ----------
    sides : sequence of Side
        Two or more; the first is the reference.
    conditions : ConditionLimits
        When states differ too much for a fair comparison: said, nothing is left out.
    settings : LineSettings
        What a line may do; its limits are the significance band of the differences.

    Returns
    -------
    Comparison

    Raises
    ------
    BaselineError
        If there are fewer than two sides.
    """
    if len(sides) < 2:
        msg = "give at least two recordings or baselines to compare"
        raise BaselineError(msg)
    first, *others = sides
    spectra, missing = _spectra(first, others, settings)
    return Comparison(
        sides=tuple(sides),
        conditions=tuple(
            compare_conditions(
                side.readings.conditions, first.readings.conditions, limits=conditions
            )
            for side in others
        ),
        values=tuple(_values(sides)),
        families=tuple(_families(sides)),
        spectra=tuple(spectra),
        not_compared=tuple(missing),
    )


def _values(sides: Sequence[Side]) -> Iterator[ComparedValue]:
    known = {scalar.id: scalar for side in sides for scalar in side.readings.scalars}
    reference_hz = sides[0].readings.conditions.shaft_frequency_hz.middle
    for id_, scalar in known.items():
        found = [side.readings.scalar(id_) for side in sides]
        values = tuple(item.mean if item is not None else None for item in found)
        first = found[0]
        is_scaled = id_ in GOES_WITH_SPEED_SQUARED
        differences: list[float | None] = []
        for side, item, value in zip(sides, found, values, strict=True):
            same_band = (
                item is not None
                and first is not None
                and is_same_band(item.band_hz, first.band_hz, tolerance=SAME_BAND)
            )
            # The band of the working motion is one in orders: it follows the speed.
            if not value or not values[0] or not (same_band or id_.startswith("working-motion")):
                differences.append(None)
                continue
            ratio = value / values[0]
            if is_scaled:
                ratio *= (reference_hz / side.readings.conditions.shaft_frequency_hz.middle) ** 2
            differences.append(amplitude_ratio_to_db(ratio))
        yield ComparedValue(
            id=id_,
            title=scalar.title,
            unit=scalar.unit,
            values=values,
            differences_db=tuple(differences),
            is_scaled=is_scaled,
        )


def _families(sides: Sequence[Side]) -> Iterator[ComparedFamily]:
    keys = dict.fromkeys((f.bearing, f.element) for side in sides for f in side.readings.families)
    for bearing, element in keys:
        found = [side.readings.family(bearing, element) for side in sides]
        depths = tuple(item.depth_whitened if item is not None else None for item in found)
        yield ComparedFamily(
            bearing=bearing,
            element=element,
            orders=tuple(item.readings[0].order if item is not None else None for item in found),
            depths=depths,
            is_significant=tuple(
                item is not None
                and any(r.false_alarm_probability <= SIGNIFICANT for r in item.readings)
                for item in found
            ),
            differences_db=tuple(
                amplitude_ratio_to_db(depth / depths[0]) if depth and depths[0] else None
                for depth in depths
            ),
        )


def _spectra(
    first: Side, others: Sequence[Side], settings: LineSettings
) -> tuple[list[ComparedSpectrum], list[str]]:
    """Spectra that both sides have in one band, and why others are left out."""
    found: list[ComparedSpectrum] = []
    missing: list[str] = []
    for place, side in enumerate(others, start=1):
        for kind in PATTERN_KINDS:
            was, is_ = first.readings.spectrum(kind), side.readings.spectrum(kind)
            words = kind.replace("-", " ")
            if was is None or is_ is None:
                lacking = first if was is None else side
                missing.append(f"not compared: {lacking.label} has no {words}")
                continue
            if "signature" in {first.kind, side.kind} and is_.band_hz != was.band_hz:
                missing.append(
                    f"{words} of {first.label} and {side.label}: read in different bands, compared "
                    "for the look of it"
                )
                is_ = replace(is_, band_hz=was.band_hz)
            try:
                difference = line_difference(
                    _as_pattern(is_),
                    was,
                    shaft_frequency_hz=side.readings.conditions.shaft_frequency_hz.middle,
                    reference_shaft_hz=first.readings.conditions.shaft_frequency_hz.middle,
                    settings=settings,
                )
            except BaselineError:
                missing.append(
                    f"not compared: {words}, {side.label} was read in another band or unit"
                )
                continue
            found.append(
                ComparedSpectrum(
                    place=place,
                    kind=kind,
                    difference=difference,
                    raised=raised_lines([difference], slip_percent=settings.slip_percent),
                )
            )
    return found, list(dict.fromkeys(missing))


def _as_pattern(statistic: SpectrumStatistic) -> PatternSpectrum:
    """The mean of several recordings as one spectrum."""
    return PatternSpectrum(
        kind=statistic.kind,
        unit=statistic.unit,
        order=statistic.order,
        amplitude=statistic.amplitude,
        floor=statistic.floor,
        n_averages=statistic.n_averages * statistic.n_recordings,
        band_hz=statistic.band_hz,
    )
