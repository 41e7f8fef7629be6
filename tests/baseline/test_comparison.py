"""Sides against the first one: values, families, spectra, and what is left out."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from vibhealth.baseline import (
    Baseline,
    ComparedValue,
    Comparison,
    ConditionLimits,
    FamilyReading,
    FamilyStatistic,
    LineSettings,
    Range,
    Scalar,
    Side,
    SpectrumStatistic,
    compare_sides,
)
from vibhealth.errors import BaselineError
from vibhealth.model import CriterionResult, Element

Make = Callable[..., Baseline]
MakeScalar = Callable[..., Scalar]
Flat = Callable[..., SpectrumStatistic]

CONDITIONS = ConditionLimits(
    speed_watch_percent=2.0,
    speed_hold_percent=5.0,
    temperature_watch_c=10.0,
    temperature_hold_c=20.0,
)
SETTINGS = LineSettings(stated_db=6.0, least_db=3.0, false_alarm_probability=0.01, slip_percent=1.5)
RTOL = 1e-9  # round-off of logarithms
BAND = (1000.0, 3900.0)


def at_speed(baseline: Baseline, hz: float) -> Baseline:
    conditions = replace(baseline.conditions, shaft_frequency_hz=Range(low=hz, high=hz))
    return replace(baseline, conditions=conditions)


def side(readings: Baseline, label: str = "now", kind: Any = "recording") -> Side:
    return Side(label=label, kind=kind, readings=readings)


def compared(*sides: Side) -> Comparison:
    return compare_sides(sides, conditions=CONDITIONS, settings=SETTINGS)


def value(comparison: Comparison, id_: str) -> ComparedValue:
    (found,) = (item for item in comparison.values if item.id == id_)
    return found


@pytest.fixture
def bare(make_baseline: Make) -> Make:
    """A baseline with only what is given."""

    def make(**changes: Any) -> Baseline:
        nothing: dict[str, Any] = {"scalars": (), "families": (), "spectra": ()}
        return at_speed(make_baseline(**nothing | changes), 16.0)

    return make


def test_one_side_is_refused(bare: Make) -> None:
    for sides in ((), (side(bare()),)):
        with pytest.raises(BaselineError) as caught:
            compared(*sides)
        assert str(caught.value) == "give at least two recordings or baselines to compare"


def test_the_same_side_twice_differs_in_nothing(make_baseline: Make) -> None:
    comparison = compared(side(make_baseline()), side(make_baseline()))
    assert [row.id for row in comparison.values] == ["a", "b", "c"]
    for row in comparison.values:
        for difference in row.differences_db:
            assert difference == (None if row.id == "c" else 0.0)
    assert all(d == 0.0 for row in comparison.families for d in row.differences_db)
    assert len(comparison.spectra) == 3
    for item in comparison.spectra:
        assert item.place == 1
        assert item.raised == ()
        assert (item.difference.difference_db <= 0).all()
    assert {f.result for f in comparison.conditions[0]} == {CriterionResult.PASS}
    assert comparison.not_compared == ()


def test_values_are_decibels_over_the_first_side(bare: Make, make_scalar: MakeScalar) -> None:
    """Of geometric means; sides are compared with the first, not with the one before."""
    levels = [(1.0, 4.0), (20.0,), (0.2, 0.2)]
    comparison = compared(*(side(bare(scalars=(make_scalar(*row, id="rms"),))) for row in levels))
    row = value(comparison, "rms")
    assert row.values == pytest.approx((2.0, 20.0, 0.2), rel=RTOL)
    assert row.differences_db == pytest.approx((0.0, 20.0, -20.0), rel=RTOL)
    assert not row.is_scaled


@pytest.mark.parametrize(
    "id_",
    [
        "first-order",
        "working-motion-rms",
        "working-motion-peak",
        "working-motion-peak-to-peak",
    ],
)
def test_motion_of_one_stroke_is_the_same_at_any_speed(
    bare: Make, make_scalar: MakeScalar, id_: str
) -> None:
    """Acceleration of a constant stroke goes with the square of the speed."""
    one = bare(scalars=(make_scalar(10.0, id=id_, band_hz=(8.0, 160.0)),))
    two = bare(scalars=(make_scalar(12.1, id=id_, band_hz=(8.8, 176.0)),))
    if id_ == "first-order":
        one, two = (replace(b, scalars=(replace(b.scalars[0], band_hz=None),)) for b in (one, two))
    row = value(compared(side(one), side(at_speed(two, 17.6))), id_)
    assert row.is_scaled
    assert row.differences_db == pytest.approx((0.0, 0.0), abs=1e-9)
    assert row.values == pytest.approx((10.0, 12.1), rel=RTOL)


def test_a_stroke_is_not_scaled(bare: Make, make_scalar: MakeScalar) -> None:
    sides = [bare(scalars=(make_scalar(size, id="stroke-mm", unit="mm"),)) for size in (5.0, 6.0)]
    row = value(compared(side(sides[0]), side(at_speed(sides[1], 17.6))), "stroke-mm")
    assert row.differences_db[1] == pytest.approx(20 * np.log10(1.2), rel=RTOL)


@pytest.mark.parametrize(
    ("band", "is_compared"),
    [(BAND, True), ((1010.0, 3930.0), True), ((1000.0, 5000.0), False), (None, False)],
)
def test_levels_of_other_bands_are_not_compared(
    bare: Make, make_scalar: MakeScalar, band: tuple[float, float] | None, *, is_compared: bool
) -> None:
    one = bare(scalars=(make_scalar(1.0, id="rms", band_hz=BAND),))
    two = bare(scalars=(make_scalar(2.0, id="rms", band_hz=band),))
    row = value(compared(side(one), side(two)), "rms")
    assert (row.differences_db[1] is not None) is is_compared
    assert row.values == (1.0, 2.0)


def test_a_value_that_one_side_lacks_is_left_open(bare: Make, make_scalar: MakeScalar) -> None:
    full, empty = bare(scalars=(make_scalar(1.0, id="rms"),)), bare()
    assert value(compared(side(full), side(empty)), "rms").values == (1.0, None)
    row = value(compared(side(empty), side(full), side(full)), "rms")
    assert row.values == (None, 1.0, 1.0)
    assert row.differences_db == (None, None, None)


def family(*readings: tuple[float, float], element: Element = Element.CAGE) -> FamilyStatistic:
    """Of whitened depths and their false-alarm probabilities."""
    return FamilyStatistic(
        bearing="upper",
        element=element,
        readings=tuple(
            FamilyReading(
                recording=place,
                order=0.4 + 0.001 * place,
                slip_percent=0.0,
                false_alarm_probability=chance,
                depth=depth,
                depth_whitened=depth,
                impact_m_s2=None,
                result="pass",
            )
            for place, (depth, chance) in enumerate(readings, start=1)
        ),
    )


def test_families_are_compared_by_their_whitened_depth(bare: Make) -> None:
    one = bare(families=(family((0.01, 0.4), (0.04, 0.002)),))
    two = bare(
        families=(
            family((0.2, 0.4), (0.2, 0.0009)),
            family((0.1, 1e-9), element=Element.INNER_RING),
        )
    )
    cage, inner = compared(side(one), side(two)).families
    assert cage.element is Element.CAGE
    assert cage.depths == pytest.approx((0.02, 0.2), rel=RTOL)
    assert cage.differences_db == pytest.approx((0.0, 20.0), rel=RTOL)
    assert cage.is_significant == (False, True)
    assert cage.orders == pytest.approx((0.401, 0.401))
    assert inner.depths[0] is None
    assert inner.depths[1] == pytest.approx(0.1, rel=RTOL)
    assert inner.differences_db == (None, None)
    assert inner.is_significant == (False, True)
    assert inner.orders[0] is None
    assert inner.orders[1] == pytest.approx(0.401)


def test_a_raised_line_is_told_at_its_side(bare: Make, make_flat: Flat) -> None:
    sides = [
        side(bare(spectra=(make_flat(lines=lines, n_averages=20.0),)), label)
        for label, lines in (("a", {}), ("b", {}), ("c", {7.14: 20.0}))
    ]
    comparison = compared(*sides)
    rows = [item for item in comparison.spectra if item.kind == "order-spectrum"]
    assert [item.place for item in rows] == [1, 2]
    assert rows[0].raised == ()
    (line,) = rows[1].raised
    assert line.order == pytest.approx(7.14)
    assert line.difference_db == pytest.approx(20.0, rel=RTOL)
    assert line.amplitude == pytest.approx(10.0, rel=RTOL)


def test_a_line_fixed_in_hz_is_looked_up_at_each_sides_speed(bare: Make, make_flat: Flat) -> None:
    """50 Hz at 16 and at 16.5 Hz; and the way back, so that no ratio stands upside down."""
    slow = bare(spectra=(make_flat(lines={3.12: 20.0}),))
    fast = at_speed(bare(spectra=(make_flat(lines={3.02: 20.0}),)), 16.5)
    for first, second in ((slow, fast), (fast, slow)):
        (item,) = compared(side(first), side(second)).spectra
        assert item.raised == ()


def test_spectra_that_one_side_lacks_are_named(bare: Make, make_flat: Flat) -> None:
    full, empty = bare(spectra=(make_flat(),)), bare()
    comparison = compared(side(full, "then"), side(empty, "now"))
    assert comparison.spectra == ()
    assert comparison.not_compared == (
        "not compared: now has no order spectrum",
        "not compared: then has no envelope spectrum",
        "not compared: then has no whitened envelope spectrum",
    )


def test_spectra_of_another_band_or_unit_are_named(bare: Make, make_flat: Flat) -> None:
    def envelope(band: tuple[float, float]) -> SpectrumStatistic:
        return make_flat(kind="envelope-spectrum", unit="1", band_hz=band)

    one = bare(spectra=(make_flat(), envelope(BAND)))
    two = bare(spectra=(make_flat(unit="counts"), envelope((500.0, 3900.0))))
    comparison = compared(side(one, "then"), side(two, "now"))
    assert comparison.spectra == ()
    assert comparison.not_compared[:2] == (
        "not compared: order spectrum, now was read in another band or unit",
        "not compared: envelope spectrum, now was read in another band or unit",
    )


def test_a_signature_is_compared_in_its_own_band_and_that_is_said(
    bare: Make, make_flat: Flat
) -> None:
    def envelope(band: tuple[float, float], **changes: Any) -> Baseline:
        return bare(
            spectra=(make_flat(kind="envelope-spectrum", unit="1", band_hz=band, **changes),)
        )

    one = envelope(BAND, lines={7.14: 20.0})
    two = envelope((1000.0, 10000.0))
    for first, second in (
        (side(two, "cage", "signature"), side(one, "now")),
        (side(two, "now"), side(one, "cage", "signature")),
    ):
        comparison = compared(first, second)
        (item,) = comparison.spectra
        assert [line.order for line in item.raised] == pytest.approx([7.14])
        words = f"envelope spectrum of {first.label} and {second.label}: read in different bands"
        assert any(text.startswith(words) for text in comparison.not_compared)


def test_conditions_are_those_of_each_side_after_the_first(bare: Make) -> None:
    comparison = compared(side(bare()), side(at_speed(bare(), 17.6)), side(bare()))
    speeds = [
        next(row.result for row in rows if row.id == "speed") for rows in comparison.conditions
    ]
    assert speeds == [CriterionResult.NOT_JUDGED, CriterionResult.PASS]


def test_the_mean_of_many_scatters_less(bare: Make, make_flat: Flat) -> None:
    """Chance allows a mean of four recordings what it allows four times the averages."""
    first = bare(spectra=(make_flat(n_averages=1.0),))
    settings = replace(SETTINGS, stated_db=0.0, least_db=0.0)
    allowed = []
    for n_recordings, n_averages in ((4, 1.0), (1, 4.0)):
        now = bare(spectra=(make_flat(n_recordings=n_recordings, n_averages=n_averages),))
        comparison = compare_sides(
            [side(first), side(now)], conditions=CONDITIONS, settings=settings
        )
        allowed.append(comparison.spectra[0].difference.allowed_db)
    np.testing.assert_array_equal(allowed[0], allowed[1])
