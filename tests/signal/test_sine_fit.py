"""Sine fits against the sinusoids they were given."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal import (
    fit_harmonics,
    fit_sine,
    harmonic_samples,
    refine_sine,
    sine_fit,
    subtract_harmonics,
)

RATE_HZ = 500.0
# eps times the angle at the end of the record (1e3 rad here), times a condition number below 100.
ATOL = 1e-10


def time(n_samples: int) -> NDArray[np.float64]:
    return np.arange(n_samples) / RATE_HZ


@given(
    frequency_hz=st.floats(5.0, 240.0),
    amplitude=st.floats(0.01, 100.0),
    phase=st.floats(-3.1, 3.1),
    offset=st.floats(-10.0, 10.0),
)
def test_three_parameters_are_found_off_every_line(
    frequency_hz: float, amplitude: float, phase: float, offset: float
) -> None:
    x = offset + amplitude * np.cos(2 * np.pi * frequency_hz * time(777) + phase)
    fit = fit_sine(x, RATE_HZ, frequency_hz=frequency_hz)
    tolerance = ATOL * (1 + amplitude + abs(offset))
    assert fit.amplitude == pytest.approx(amplitude, abs=tolerance)
    assert fit.offset == pytest.approx(offset, abs=tolerance)
    assert amplitude * abs(np.exp(1j * fit.phase_rad) - np.exp(1j * phase)) < 2 * tolerance
    assert fit.residual_rms < tolerance


@settings(max_examples=50)
@given(frequency_hz=st.floats(12.0, 20.0), phase=st.floats(-3.1, 3.1))
def test_four_parameters_find_the_frequency(frequency_hz: float, phase: float) -> None:
    x = 2.0 + 3.0 * np.cos(2 * np.pi * frequency_hz * time(3000) + phase)
    fit = refine_sine(x, RATE_HZ, near_hz=16.0, half_width_hz=5.0)
    assert fit.frequency_hz == pytest.approx(frequency_hz, abs=1e-9)
    assert fit.amplitude == pytest.approx(3.0, abs=1e-8)
    assert fit.offset == pytest.approx(2.0, abs=1e-8)


def test_frequency_scatter_reaches_the_cramer_rao_bound() -> None:
    """var f >= 12 sigma^2 / (2 pi)^2 / (A^2/2) / (N^3 dt^2) / 2 (Rife and Boorstyn 1974, memory).

    200 trials: the relative standard error of a standard deviation is 5 %; four of them.
    """
    rng = np.random.default_rng(9)
    n, sigma = 500, 0.5
    x = np.cos(2 * np.pi * 40.3 * time(n) + 0.2)
    found = [
        refine_sine(
            x + sigma * rng.standard_normal(n), RATE_HZ, near_hz=40.0, half_width_hz=3.0
        ).frequency_hz
        for _ in range(200)
    ]
    bound = np.sqrt(6 * sigma**2 * RATE_HZ**2 / (np.pi**2 * n**3) / 1.0)
    assert np.std(found) == pytest.approx(bound, rel=0.2)
    assert np.mean(found) == pytest.approx(40.3, abs=4 * bound / np.sqrt(200))


ORDERS = np.array([0.5, 1.0, 1.5, 2.0, 3.0, 10.0])
LINES = np.array([0.05, 30.0, 0.02, 1.0, 0.5, 0.2]) * np.exp(1j * np.arange(6))


def family(n_samples: int, fundamental_hz: float = 16.3) -> NDArray[np.float64]:
    angle = 2 * np.pi * fundamental_hz * time(n_samples)
    return np.asarray(4.0 + np.real(LINES @ np.exp(1j * np.outer(ORDERS, angle))))


@pytest.mark.parametrize("n_samples", [701, 5000, 100_001])  # below, near and beyond one block
def test_all_orders_of_a_family(n_samples: int) -> None:
    fit = fit_harmonics(family(n_samples), RATE_HZ, 16.3, ORDERS)
    np.testing.assert_allclose(
        fit.amplitude * np.exp(1j * fit.phase_rad), LINES, rtol=0, atol=30 * ATOL
    )
    assert fit.offset == pytest.approx(4.0, abs=30 * ATOL)
    assert fit.residual_rms < 30 * ATOL
    np.testing.assert_allclose(
        harmonic_samples(fit, RATE_HZ, n_samples), family(n_samples), rtol=0, atol=300 * ATOL
    )


def test_blocks_do_not_change_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    x = family(4000) + np.random.default_rng(4).standard_normal(4000)
    whole = fit_harmonics(x, RATE_HZ, 16.3, ORDERS)
    monkeypatch.setattr(sine_fit, "_BLOCK", 333)
    parts = fit_harmonics(x, RATE_HZ, 16.3, ORDERS)
    np.testing.assert_allclose(parts.amplitude, whole.amplitude, rtol=0, atol=ATOL)
    np.testing.assert_allclose(parts.phase_rad, whole.phase_rad, rtol=0, atol=1e-7)


def test_agrees_with_dense_least_squares() -> None:
    """A short record on no line, where the columns are far from orthogonal."""
    x = np.random.default_rng(5).standard_normal(150)
    angle = 2 * np.pi * 16.3 * np.outer(time(150), ORDERS)
    columns = np.hstack([np.ones((150, 1)), np.cos(angle), np.sin(angle)])
    solution, *_ = np.linalg.lstsq(columns, x, rcond=None)
    fit = fit_harmonics(x, RATE_HZ, 16.3, ORDERS)
    expected = solution[1:7] - 1j * solution[7:]
    found = fit.amplitude * np.exp(1j * fit.phase_rad)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-9)
    left = x - columns @ solution
    np.testing.assert_allclose(subtract_harmonics(x, RATE_HZ, fit), left, rtol=0, atol=1e-9)
    assert fit.residual_rms == pytest.approx(np.sqrt(np.mean(left**2)), rel=1e-9)


def test_residual_of_a_fit_holds_nothing_of_the_family() -> None:
    """Least squares: what is left is orthogonal to every column, so a second fit finds 0."""
    x = family(3000) + np.random.default_rng(6).standard_normal(3000)
    left = subtract_harmonics(x, RATE_HZ, fit_harmonics(x, RATE_HZ, 16.3, ORDERS))
    again = fit_harmonics(left, RATE_HZ, 16.3, ORDERS)
    np.testing.assert_allclose(again.amplitude, 0.0, atol=30 * ATOL)
    assert again.residual_rms == pytest.approx(1.0, rel=0.06)  # 4 standard errors of 3000 samples


@pytest.mark.parametrize("orders", [[0.0], [1.0, 1.0], [-1.0], [1.0, 15.34], [], [[1.0]]])
def test_orders_are_refused(orders: list[float]) -> None:
    message = re.escape("orders must be distinct, above 0 and below 15.3374 (Nyquist frequency")
    with pytest.raises(InputError, match=message):
        fit_harmonics(np.ones(500), RATE_HZ, 16.3, orders)


def test_a_short_record_is_refused() -> None:
    """0.2 s is 3.3 turns: whole orders can be told apart, thousandths cannot."""
    x = family(100)
    assert fit_harmonics(x, RATE_HZ, 16.3, [1.0, 2.0]).amplitude.size == 2
    message = re.escape("a record of 0.2 s is too short to tell 2 orders of 16.3 Hz and the mean")
    with pytest.raises(InputError, match=message):
        fit_harmonics(x, RATE_HZ, 16.3, [1.0, 1.001])


def test_no_sinusoid_is_refused() -> None:
    """A silent record has no frequency to find: the search runs out of its range or stands still.

    Two equal sinusoids outside the range pull the fit out of it.
    """
    x = np.cos(2 * np.pi * 10.0 * time(3000)) + np.cos(2 * np.pi * 22.0 * time(3000))
    with pytest.raises(InputError, match=re.escape("no steady sinusoid within 0.4 Hz of 10.7 Hz")):
        refine_sine(x, RATE_HZ, near_hz=10.7, half_width_hz=0.4)


def test_bad_input_is_refused() -> None:
    with pytest.raises(InputError, match=re.escape("one channel, got samples of shape (2, 50)")):
        fit_sine(np.ones((2, 50)), RATE_HZ, frequency_hz=10.0)
    with pytest.raises(InputError, match=re.escape("samples must be finite, got nan")):
        fit_sine(np.full(50, np.nan), RATE_HZ, frequency_hz=10.0)
    with pytest.raises(InputError, match=re.escape("fundamental_hz must be a finite number")):
        fit_harmonics(np.ones(50), RATE_HZ, -1.0, [1.0])
    fit = fit_sine(np.ones(50), RATE_HZ, frequency_hz=100.0)
    assert fit.amplitude == pytest.approx(0.0, abs=ATOL)
    family_fit = fit_harmonics(np.ones(50), RATE_HZ, 100.0, [1.0])
    with pytest.raises(InputError, match=re.escape("n_samples must be 1 or more, got 0")):
        harmonic_samples(family_fit, RATE_HZ, 0)
