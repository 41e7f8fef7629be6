"""Power gathered into lines of equal width in orders: Parseval, size of a line, scatter, floor."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft
from scipy.stats import gamma

from vibhealth.errors import InputError
from vibhealth.signal.order_lines import (
    HANN_SHARED,
    ORDER_SPACING,
    gather_orders,
    hann_power,
    order_floor,
)

Array = NDArray[np.float64]

# Round-off of an FFT grows like eps * log2(n): a hundred times that bound for 2^16 samples.
RTOL_FFT = 100 * np.finfo(np.float64).eps * 16
# 450 turns: nine lines of the record in each line of 0.02 orders, none on the border of two.
N_TURNS, PER_TURN = 450, 100
SPACING_ORDER = 1 / N_TURNS
N_RECORDS = 16


def sinusoid(order: float, amplitude: float = 1.0, phase: float = 0.4) -> Array:
    turns = np.arange(N_TURNS * PER_TURN) / PER_TURN
    wave: Array = amplitude * np.cos(2 * np.pi * order * turns + phase)
    return wave


@pytest.mark.parametrize("phase", [0.0, 0.4, 2.0])
def test_a_sinusoid_sums_to_half_its_squared_amplitude(phase: float) -> None:
    """On a line of the record, Parseval: 3 lines, sixths and two thirds of the whole."""
    power = hann_power(sinusoid(7.0, 3.0, phase) + 5.0)
    place = 7 * N_TURNS
    np.testing.assert_allclose(power.sum(), 4.5, rtol=RTOL_FFT)
    np.testing.assert_allclose(power[place - 1 : place + 2], [0.75, 3.0, 0.75], rtol=1e3 * RTOL_FFT)
    assert power.size == N_TURNS * PER_TURN // 2 + 1


def test_lines_sum_to_the_windowed_mean_square() -> None:
    """Parseval for any samples: the squares under the window over the window's own."""
    samples = np.random.default_rng(1).standard_normal(4096) * np.linspace(0.5, 2.0, 4096)
    samples -= samples.mean()
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(4096) / 4096)
    expected = np.sum((samples * window) ** 2) / np.sum(window**2)
    power = hann_power(samples)
    # One-sided: the lines at both ends have no twin; each holds about 1 / 2048 of the whole.
    ends = 0.5 * (power[0] + power[-1])
    np.testing.assert_allclose(power.sum() - ends, expected, rtol=RTOL_FFT)
    assert ends < 0.01 * expected


def test_a_factor_goes_with_its_square_and_an_offset_not_at_all() -> None:
    samples = np.random.default_rng(2).standard_normal(5000)
    np.testing.assert_allclose(
        hann_power(3.0 * samples + 100.0), 9.0 * hann_power(samples), rtol=0, atol=1e-10
    )


def test_an_odd_length_is_cut_to_one_that_is_fast() -> None:
    """5003 is a prime; the docstring names the length that is used."""
    samples = np.random.default_rng(3).standard_normal(5003)
    size = fft.prev_fast_len(5003, real=True)
    assert size < 5003
    np.testing.assert_array_equal(hann_power(samples), hann_power(samples[:size]))


@pytest.mark.parametrize("order", [0.1, 1.0, 2.5, 7.14, 39.98])
def test_a_sinusoid_reads_its_amplitude_at_its_order(order: float) -> None:
    lines = gather_orders(hann_power(sinusoid(order, 3.0)), SPACING_ORDER, highest_order=40.0)
    place = round(order / ORDER_SPACING)
    assert lines.order[place] == pytest.approx(order, abs=1e-9)
    assert np.sqrt(2 * lines.power[place]) == pytest.approx(3.0, rel=1e-9)
    assert np.delete(lines.power, place).max() < 1e-20


def test_midway_between_two_lines_a_sinusoid_is_shared() -> None:
    """Half of its power in each: 3 dB less, and nothing lost."""
    lines = gather_orders(hann_power(sinusoid(7.15, 3.0)), SPACING_ORDER, highest_order=40.0)
    assert lines.power.sum() == pytest.approx(4.5, rel=1e-3)
    assert lines.power[357:359] == pytest.approx([2.25, 2.25], rel=0.34)


@pytest.mark.parametrize("n_turns", [450, 978.3, 3000])
def test_a_flat_spectrum_gives_equal_lines(n_turns: float) -> None:
    """Each line holds what fits into it on average, however many fell into it."""
    spacing = 1 / n_turns
    lines = gather_orders(np.full(round(45 / spacing), 2.0), spacing, highest_order=40.0)
    np.testing.assert_allclose(lines.power, 2.0 * ORDER_SPACING / spacing, rtol=1e-12)
    assert lines.per_line == pytest.approx(0.02 * n_turns, rel=1e-12)


def test_gathering_adds_up() -> None:
    """Linear in the powers."""
    one, two = np.random.default_rng(4).exponential(size=(2, 20000))
    together, first, second = (
        gather_orders(power, SPACING_ORDER, highest_order=40.0).power
        for power in (one + 2 * two, one, two)
    )
    np.testing.assert_allclose(together, first + 2 * second, rtol=1e-12)


def test_a_line_gathers_what_is_nearest_to_it() -> None:
    """A single line of the record of 450 turns, wherever it lies: found whole, at the nearest."""
    for place in (40, 44, 45, 49, 50, 3213, 3217, 3218):
        power = np.zeros(20000)
        power[place] = 1.0
        lines = gather_orders(power, SPACING_ORDER, highest_order=40.0)
        (found,) = np.flatnonzero(lines.power)
        assert abs(lines.order[found] - place * SPACING_ORDER) < ORDER_SPACING / 2


@pytest.mark.parametrize(
    ("n_lines", "highest", "last"),
    [(20000, 40.0, 40.0), (20000, 30.0, 30.0), (4501, 40.0, 9.98), (20000, 0.1, 0.1)],
)
def test_the_last_line_is_the_one_wanted_or_the_last_whole_one(
    n_lines: int, highest: float, last: float
) -> None:
    lines = gather_orders(np.ones(n_lines), SPACING_ORDER, highest_order=highest)
    assert lines.order[0] == 0.0
    assert lines.order[-1] == pytest.approx(last)
    np.testing.assert_allclose(lines.power, 9.0, rtol=1e-12)


@pytest.mark.parametrize("order", [7.14, 7.16])
def test_a_sinusoid_reads_its_amplitude_at_whole_hundreds_of_turns(order: float) -> None:
    """200 turns: four lines of the record in each; half a dB is what any odd number keeps to."""
    power = np.zeros(10000)
    power[round(200 * order) + np.array([-1, 0, 1])] = np.array([1, 4, 1]) / 6
    lines = gather_orders(power, 1 / 200, highest_order=40.0)
    level_db = 10 * np.log10(lines.power[round(order / ORDER_SPACING)])
    assert level_db == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("n_turns", [99.0, 50.0])
def test_fewer_than_a_hundred_turns_are_refused(n_turns: float) -> None:
    with pytest.raises(InputError) as caught:
        gather_orders(np.ones(10000), 1 / n_turns, highest_order=40.0)
    assert str(caught.value) == (
        f"line_spacing_order must be at most 0.01 (100 turns), got {1 / n_turns:g}; record longer"
    )


def test_a_hundred_turns_are_enough() -> None:
    lines = gather_orders(np.ones(10000), 0.01, highest_order=40.0)
    assert lines.per_line == pytest.approx(2.0)


@pytest.mark.parametrize("spacing", [0.0, -0.01, float("nan"), float("inf")])
def test_a_spacing_that_is_none_is_refused(spacing: float) -> None:
    with pytest.raises(InputError, match="line_spacing_order must be a finite number above 0"):
        gather_orders(np.ones(10000), spacing, highest_order=40.0)


@pytest.fixture(scope="module")
def noise_lines() -> tuple[Array, float]:
    """Gathered lines of white noise of mean square 1, 16 records, and their averages."""
    rng = np.random.default_rng(5)
    rows = [
        gather_orders(
            hann_power(rng.standard_normal(N_TURNS * PER_TURN)), SPACING_ORDER, highest_order=40.0
        )
        for _ in range(N_RECORDS)
    ]
    return np.array([row.power[5:] for row in rows]), rows[0].per_line / HANN_SHARED


def test_scatter_of_noise_shows_the_averages(noise_lines: tuple[Array, float]) -> None:
    """Variance is mean^2 / n. 32,000 values: the standard error of a variance is 1.5 % here.

    Neighbours inside a line of nine share 8/9 of what they would in a long one: 6 % are known.
    """
    power, n_averages = noise_lines
    assert power.mean() ** 2 / power.var() == pytest.approx(n_averages, rel=0.1)


def test_noise_spreads_evenly_over_the_orders(noise_lines: tuple[Array, float]) -> None:
    """A mean square of 1 over 50 orders on each side: 0.02 / 50 per line."""
    power, _ = noise_lines
    assert power.mean() == pytest.approx(ORDER_SPACING / (PER_TURN / 2), rel=0.01)


def test_floor_of_noise_is_unbiased(noise_lines: tuple[Array, float]) -> None:
    power, n_averages = noise_lines
    floors = np.array([order_floor(row, n_averages) for row in power])
    assert floors.mean() / power.mean() == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("n_averages", [1.0, 2.0, 4.6, 30.0])
def test_floor_is_the_mean_of_a_gamma_law(n_averages: float) -> None:
    """20,000 lines; a median of 51 of them scatters by up to 18 % and is skewed by a percent."""
    rng = np.random.default_rng(6)
    power = rng.gamma(n_averages, 7.0 / n_averages, 20000)
    assert order_floor(power, n_averages).mean() == pytest.approx(7.0, rel=0.02)


def test_floor_of_single_values_is_the_median_over_ln_2() -> None:
    power = np.full(200, 3.0)
    np.testing.assert_allclose(order_floor(power, 1.0), 3.0 / np.log(2), rtol=1e-12)
    np.testing.assert_allclose(order_floor(power, 1e6), 3.0, rtol=1e-6)
    np.testing.assert_allclose(order_floor(power, 4.5), 3.0 * 4.5 / gamma.median(4.5), rtol=1e-12)


def test_lines_do_not_lift_the_floor() -> None:
    """One in ten stands out by 60 dB: the median of 51 moves to a quantile of 0.56 at most."""
    rng = np.random.default_rng(7)
    power = rng.gamma(20.0, 1 / 20.0, 2000)
    with_lines = power.copy()
    with_lines[::10] *= 1e6
    ratio = order_floor(with_lines, 20.0) / order_floor(power, 20.0)
    assert ratio.min() >= 1.0 - 1e-12
    assert ratio.mean() == pytest.approx(gamma.ppf(0.5 / 0.9, 20.0) / gamma.median(20.0), rel=0.02)


def test_floor_follows_a_slope_and_a_factor() -> None:
    power = np.exp(-np.arange(2000) / 500.0)
    floor = order_floor(power, 1e6)
    np.testing.assert_allclose(floor[60:-60], power[60:-60], rtol=1e-5)
    np.testing.assert_allclose(order_floor(1e-9 * power, 1e6), 1e-9 * floor, rtol=1e-12)


def test_silence_has_a_floor_that_can_be_divided_by() -> None:
    floor = order_floor(np.zeros(100), 5.0)
    assert (floor > 0).all()


@pytest.mark.parametrize("n_averages", [0.0, -1.0, float("nan")])
def test_no_averages_are_refused(n_averages: float) -> None:
    with pytest.raises(InputError, match="n_averages must be a finite number above 0"):
        order_floor(np.ones(100), n_averages)
