"""Lines against a baseline: what chance allows, what stands out, what may wander."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from vibhealth.baseline import (
    LineDifference,
    LineSettings,
    SpectrumStatistic,
    line_difference,
    one_sided_factor,
    raised_lines,
)
from vibhealth.errors import BaselineError
from vibhealth.model import PatternSpectrum

Spectrum = Callable[..., PatternSpectrum]
Flat = Callable[..., SpectrumStatistic]

SHAFT_HZ = 16.0
USUAL = LineSettings(stated_db=6.0, least_db=3.0, false_alarm_probability=0.01, slip_percent=1.5)
# Nothing but chance limits a line.
CHANCE = replace(USUAL, stated_db=0.0, least_db=0.0, false_alarm_probability=0.1)
N_TRIALS = 300
# Counts of chance leave this interval once in a thousand seeds.
SELDOM = 0.001
# Round-off of logarithms and powers of numbers of size one.
RTOL = 1e-9


def compared(
    spectrum: PatternSpectrum,
    reference: SpectrumStatistic,
    settings: LineSettings = USUAL,
    *,
    now_hz: float = SHAFT_HZ,
    was_hz: float = SHAFT_HZ,
) -> LineDifference:
    return line_difference(
        spectrum, reference, shaft_frequency_hz=now_hz, reference_shaft_hz=was_hz, settings=settings
    )


def at(difference: LineDifference, order: float) -> int:
    return int(np.argmin(np.abs(difference.order - order)))


def gathered(spectra: list[PatternSpectrum]) -> SpectrumStatistic:
    """Mean and spread of levels, written apart from the code that makes baselines."""
    above = np.array([20 * np.log10(s.amplitude / s.floor) for s in spectra])
    level = np.array([20 * np.log10(s.amplitude) for s in spectra])
    return SpectrumStatistic(
        kind=spectra[0].kind,
        unit=spectra[0].unit,
        order=spectra[0].order,
        amplitude=10 ** (np.mean(level, axis=0) / 20),
        above_floor_db=np.mean(above, axis=0),
        spread_db=np.std(above, axis=0, ddof=1) if len(spectra) > 1 else None,
        n_averages=spectra[0].n_averages,
        n_recordings=len(spectra),
        band_hz=spectra[0].band_hz,
    )


@pytest.fixture
def quiet(make_spectrum: Spectrum) -> Spectrum:
    """Exactly on the floor of 1, but for the lines given in dB."""

    def make(**facts: Any) -> PatternSpectrum:
        drawn = make_spectrum(n_averages=facts.pop("n_averages", 20.0), is_floor_known=True)
        amplitude = np.ones(drawn.order.size)
        for order, level_db in facts.pop("lines", {}).items():
            amplitude[np.argmin(np.abs(drawn.order - order))] = 10 ** (level_db / 20)
        return replace(drawn, amplitude=amplitude, **facts)

    return make


def test_chance_with_a_known_floor_is_as_often_as_stated(
    make_spectrum: Spectrum, make_flat: Flat
) -> None:
    """One of all lines beyond the limit: 1 - (1 - p / n)^n, both sides of the binomial law."""
    rng = np.random.default_rng(1)
    reference = make_flat()
    false = sum(
        bool(np.any(compared(drawn, reference, CHANCE).beyond_db > 0))
        for drawn in (make_spectrum(rng, is_floor_known=True) for _ in range(N_TRIALS))
    )
    n_lines = reference.order.size
    share = 1 - (1 - 0.1 / n_lines) ** n_lines
    low, high = stats.binom.ppf([SELDOM, 1 - SELDOM], N_TRIALS, share)
    assert low <= false <= high


@pytest.mark.parametrize("n_recordings", [3, 12])
def test_noise_against_its_own_baseline(make_spectrum: Spectrum, n_recordings: int) -> None:
    """A floor that is itself read from the spectrum; ten baselines, thirty spectra each."""
    rng = np.random.default_rng(n_recordings)
    false = 0
    for _ in range(10):
        reference = gathered([make_spectrum(rng) for _ in range(n_recordings)])
        for _ in range(N_TRIALS // 10):
            false += bool(np.any(compared(make_spectrum(rng), reference, CHANCE).beyond_db > 0))
    assert false <= stats.binom.ppf(1 - SELDOM, N_TRIALS, 0.1)


def test_limit_of_chance_of_single_values_is_a_logarithm(quiet: Spectrum, make_flat: Flat) -> None:
    """A single exponential value exceeds -ln(p) with probability p."""
    settings = replace(CHANCE, false_alarm_probability=0.01)
    found = compared(quiet(n_averages=1.0), make_flat(), settings)
    expected = 10 * np.log10(np.log(found.order.size / 0.01))
    np.testing.assert_allclose(found.allowed_db, expected, rtol=RTOL)


def test_chance_counts_from_the_floor_not_from_a_line_of_the_baseline(
    quiet: Spectrum, make_flat: Flat
) -> None:
    found = compared(quiet(n_averages=1.0), make_flat(lines={3.3: 8.0}), CHANCE)
    chance = 10 * np.log10(np.log(found.order.size / 0.1))
    assert found.allowed_db[at(found, 3.3)] == pytest.approx(chance - 8.0, rel=RTOL)


@pytest.mark.parametrize("n_recordings", [1, 9])
def test_fewer_than_ten_are_allowed_what_is_stated(
    quiet: Spectrum, make_flat: Flat, n_recordings: int
) -> None:
    reference = make_flat(n_recordings=n_recordings, spread_db=None if n_recordings == 1 else 5.0)
    found = compared(quiet(n_averages=400.0), reference)
    np.testing.assert_array_equal(found.allowed_db, 6.0)


def test_ten_and_more_are_allowed_their_tolerance_interval(
    quiet: Spectrum, make_flat: Flat
) -> None:
    """k * s with Bonferroni's share, one spread everywhere."""
    found = compared(quiet(n_averages=20.0), make_flat(n_recordings=10, spread_db=1.5))
    factor = one_sided_factor(10, share=1 - 0.01 / found.order.size, confidence=0.95)
    np.testing.assert_allclose(found.allowed_db, 1.5 * factor, rtol=RTOL)


def test_a_shorter_recording_is_allowed_its_own_scatter(quiet: Spectrum, make_flat: Flat) -> None:
    """Levels of a mean of n exponential values scatter by 10 / ln 10 / root n in dB."""
    reference = make_flat(n_recordings=10, spread_db=0.8, n_averages=20.0)
    short = compared(quiet(n_averages=5.0), reference)
    longer = compared(quiet(n_averages=80.0), reference)
    scatter = np.sqrt(0.8**2 + (10 / np.log(10)) ** 2 * (1 / 5 - 1 / 20))
    np.testing.assert_allclose(short.allowed_db / longer.allowed_db, scatter / 0.8, rtol=RTOL)


def test_a_line_that_never_moved_has_the_spread_of_its_neighbours(
    quiet: Spectrum, make_flat: Flat
) -> None:
    reference = make_flat(n_recordings=12, spread_db=1.0)
    assert reference.spread_db is not None
    still, wild = reference.spread_db.copy(), reference.spread_db.copy()
    still[200], wild[200] = 0.0, 4.0
    usual, of_still, of_wild = (
        compared(quiet(), replace(reference, spread_db=spread)).allowed_db
        for spread in (reference.spread_db, still, wild)
    )
    np.testing.assert_allclose(of_still, usual, rtol=RTOL)
    assert of_wild[200] == pytest.approx(4 * usual[200], rel=RTOL)
    np.testing.assert_allclose(np.delete(of_wild, 200), np.delete(usual, 200), rtol=RTOL)


def test_never_less_than_the_least(quiet: Spectrum, make_flat: Flat) -> None:
    reference = make_flat(n_recordings=12, spread_db=0.01)
    found = compared(quiet(n_averages=1e6), replace(reference, n_averages=1e6))
    np.testing.assert_array_equal(found.allowed_db, 3.0)


def test_widening_multiplies_what_is_stated(quiet: Spectrum, make_flat: Flat) -> None:
    found = compared(quiet(n_averages=400.0), make_flat(), replace(USUAL, widening=1.5))
    np.testing.assert_array_equal(found.allowed_db, 9.0)


def test_a_planted_line_is_told_at_its_order(make_spectrum: Spectrum) -> None:
    """18 dB over noise of 200 averages: every level scatters by 0.3 dB, the floor by less."""
    rng = np.random.default_rng(4)
    reference = gathered([make_spectrum(rng, n_averages=200.0) for _ in range(3)])
    worse = make_spectrum(rng, n_averages=200.0, lines={7.14: 18.0})
    (line,) = raised_lines([compared(worse, reference)], slip_percent=1.5)
    assert line.order == pytest.approx(7.14, abs=1e-9)
    assert line.frequency_hz == pytest.approx(7.14 * SHAFT_HZ)
    assert line.difference_db == pytest.approx(18.0, abs=1.0)
    assert line.amplitude == pytest.approx(10 ** (18 / 20), rel=1e-9)
    assert not line.is_locked
    assert (line.shown, line.of) == (1, 1)


def test_a_line_that_grew_is_told_by_its_growth(quiet: Spectrum, make_flat: Flat) -> None:
    found = compared(quiet(lines={7.14: 25.0, 9.3: 17.9}), make_flat(lines={7.14: 12.0, 9.3: 12.0}))
    (line,) = raised_lines([found], slip_percent=1.5)
    assert line.order == pytest.approx(7.14)
    assert line.difference_db == pytest.approx(13.0, rel=RTOL)
    assert line.allowed_db == pytest.approx(6.0)
    assert line.amplitude / line.baseline_amplitude == pytest.approx(10 ** (13 / 20), rel=RTOL)


def test_a_line_that_fell_or_vanished_is_not_told(quiet: Spectrum, make_flat: Flat) -> None:
    found = compared(quiet(lines={7.14: 4.0}), make_flat(lines={7.14: 25.0, 11.3: 25.0}))
    assert (found.beyond_db <= 0).all()


def test_a_factor_on_all_amplitudes_changes_nothing(make_spectrum: Spectrum) -> None:
    """Another mount, another sensor, counts in place of m/s^2: the floor goes along."""
    reference = gathered([make_spectrum([3, n]) for n in range(12)])
    one, two = (
        compared(make_spectrum(8, lines={7.14: 18.0}, gain=gain), reference) for gain in (1.0, 37.5)
    )
    np.testing.assert_allclose(two.difference_db, one.difference_db, rtol=0, atol=RTOL)
    np.testing.assert_allclose(two.allowed_db, one.allowed_db, rtol=0, atol=RTOL)


@pytest.mark.parametrize("order", [6.13, 13.7, 31.3])
@pytest.mark.parametrize("way", [-1, 1])
def test_a_line_that_wandered_by_slip_is_not_told(
    quiet: Spectrum, make_flat: Flat, order: float, way: int
) -> None:
    """Within 1.5 % of its order it is the line that was there; two lines beyond, it is new."""
    reference = make_flat(lines={order: 20.0})
    near, far = order * (1 + 0.015 * way), order * (1 + 0.015 * way) + 0.07 * way
    assert not raised_lines([compared(quiet(lines={near: 20.0}), reference)], slip_percent=1.5)
    (line,) = raised_lines([compared(quiet(lines={far: 20.0}), reference)], slip_percent=1.5)
    assert line.order == pytest.approx(far, abs=0.011)
    assert line.difference_db == pytest.approx(20.0, rel=RTOL)


@pytest.mark.parametrize(("order", "n_lines"), [(6.13, 6), (20.34, 17), (31.3, 25)])
@pytest.mark.parametrize("way", [-1, 1])
def test_wander_is_the_slip_and_one_line(
    quiet: Spectrum, make_flat: Flat, order: float, n_lines: int, way: int
) -> None:
    """1.5 % of the order in lines of 0.02, rounded up (5, 16, 24), and one for the grid."""
    for away, n_told in ((n_lines, 0), (n_lines + 1, 1)):
        reference = make_flat(lines={order + 0.02 * away * way: 20.0})
        found = raised_lines([compared(quiet(lines={order: 20.0}), reference)], slip_percent=1.5)
        assert len(found) == n_told


def test_a_line_fixed_in_hz_is_not_told_at_another_speed(quiet: Spectrum, make_flat: Flat) -> None:
    """Mains at 50 Hz: 3.12 orders of 16 Hz, 3.02 orders of 16.5 Hz, farther than a line wanders."""
    reference, now = make_flat(lines={3.12: 20.0}), quiet(lines={3.02: 20.0})
    at_same_speed = raised_lines([compared(now, reference)], slip_percent=1.5)
    at_other_speed = raised_lines([compared(now, reference, now_hz=16.5)], slip_percent=1.5)
    assert [round(line.order, 2) for line in at_same_speed] == [3.02]
    assert at_other_speed == ()


def test_a_line_of_a_turning_part_is_still_told_at_another_speed(
    quiet: Spectrum, make_flat: Flat
) -> None:
    found = compared(quiet(lines={7.14: 20.0}), make_flat(lines={3.12: 20.0}), now_hz=16.5)
    (line,) = raised_lines([found], slip_percent=1.5)
    assert line.frequency_hz == pytest.approx(7.14 * 16.5)


@pytest.mark.parametrize(
    ("order", "is_locked"),
    [(1.0, True), (2.5, True), (2.52, True), (2.56, False), (30.04, True), (30.08, False)],
)
def test_lines_of_the_shaft_are_marked(
    quiet: Spectrum, make_flat: Flat, order: float, is_locked: bool
) -> None:
    """About multiples of a half, by 0.03 orders and a thousandth of the order."""
    found = compared(quiet(lines={order: 20.0}), make_flat())
    (line,) = raised_lines([found], slip_percent=1.5)
    assert line.is_locked is is_locked


def test_the_shorter_of_both_is_compared(make_spectrum: Spectrum, make_flat: Flat) -> None:
    for spectrum, reference in (
        (make_spectrum(highest_order=10.0), make_flat()),
        (make_spectrum(), make_flat(highest_order=10.0)),
    ):
        found = compared(spectrum, reference)
        for values in (found.order, found.amplitude, found.difference_db, found.allowed_db):
            assert values.size == 496
        assert found.order[-1] == 10.0


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"kind": "envelope-spectrum"}, "envelope-spectrum in 1 of band (1000.0, 3900.0)"),
        ({"unit": "counts"}, "order-spectrum in counts"),
        ({"band_hz": (1000.0, 3900.0)}, "of band (1000.0, 3900.0)"),
    ],
)
def test_another_kind_unit_or_band_is_refused(
    make_spectrum: Spectrum, make_flat: Flat, change: dict[str, Any], names: str
) -> None:
    with pytest.raises(BaselineError, match="analyse both in one band and unit") as caught:
        compared(make_spectrum(**change), make_flat())
    assert names in str(caught.value)
    assert "with order-spectrum in m/s2 of band None" in str(caught.value)


def test_a_band_that_differs_by_round_off_is_the_same(
    make_spectrum: Spectrum, make_flat: Flat
) -> None:
    reference = make_flat(kind="envelope-spectrum", unit="1", band_hz=(1000.0, 3900.0))
    spectrum = make_spectrum(kind="envelope-spectrum", band_hz=(1000.0, 3900.0 * (1 + 1e-9)))
    assert compared(spectrum, reference).kind == "envelope-spectrum"
    with pytest.raises(BaselineError, match="3901"):
        compared(replace(spectrum, band_hz=(1000.0, 3901.0)), reference)


def test_lines_are_counted_over_the_recordings(quiet: Spectrum, make_flat: Flat) -> None:
    """Within slip it is one line; each number is the middle one of the recordings that show it."""
    orders, levels = (7.14, 7.20, 7.10), (20.0, 26.0, 23.0)
    rows = [quiet(lines={o: db}) for o, db in zip(orders, levels, strict=True)]
    rows.append(quiet(lines={7.14: 5.9}))
    found = raised_lines([compared(row, make_flat()) for row in rows], slip_percent=1.5)
    (line,) = found
    assert (line.shown, line.of) == (3, 4)
    assert line.order == pytest.approx(7.14)
    assert line.difference_db == pytest.approx(23.0, rel=RTOL)


def test_neighbours_are_one_line_and_others_their_own(quiet: Spectrum, make_flat: Flat) -> None:
    lines = {7.12: 14.0, 7.14: 20.0, 7.16: 14.0, 11.3: 26.0, 1.2: 9.0}
    found = raised_lines([compared(quiet(lines=lines), make_flat())], slip_percent=1.5)
    assert [round(line.order, 2) for line in found] == [11.3, 7.14, 1.2]
    assert [round(line.difference_db, 6) for line in found] == [26.0, 20.0, 9.0]


def test_at_most_forty_lines_are_told(quiet: Spectrum, make_flat: Flat) -> None:
    lines = {0.3 + 0.2 * n: 10.0 + 0.1 * n for n in range(60)}
    found = raised_lines([compared(quiet(lines=lines), make_flat())], slip_percent=0.0)
    assert len(found) == 40
    assert found[0].difference_db == pytest.approx(15.9, rel=RTOL)
    assert found[-1].difference_db == pytest.approx(12.0, rel=RTOL)


def test_no_recording_shows_no_line(quiet: Spectrum, make_flat: Flat) -> None:
    assert raised_lines([], slip_percent=1.5) == ()
    assert raised_lines([compared(quiet(), make_flat())], slip_percent=1.5) == ()
