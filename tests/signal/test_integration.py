"""Integration in the frequency domain against closed forms."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.errors import InputError
from vibhealth.signal import integrate_samples, integrate_spectrum, lower_cut_weights
from vibhealth.units import STANDARD_GRAVITY_M_S2

RATE_HZ, N_SAMPLES = 1000.0, 4000  # line spacing 0.25 Hz
T = np.arange(N_SAMPLES) / RATE_HZ
# eps log2(n) of two FFTs, 100 times, for waveforms of order one.
ATOL_FFT = 100 * np.finfo(np.float64).eps * np.log2(N_SAMPLES)


def test_velocity_and_displacement_of_a_cosine() -> None:
    """a cos(wt + p) gives (a/w) sin(wt + p) and -(a/w^2) cos(wt + p), sample by sample."""
    omega, angle = 2 * np.pi * 16.25, 2 * np.pi * 16.25 * T + 0.7
    x = 30.0 * np.cos(angle)
    velocity = integrate_samples(x, RATE_HZ, times=1, lower_cut_hz=5.0)
    displacement = integrate_samples(x, RATE_HZ, times=2, lower_cut_hz=5.0)
    np.testing.assert_allclose(velocity, 30.0 / omega * np.sin(angle), rtol=0, atol=ATOL_FFT)
    np.testing.assert_allclose(
        displacement, -30.0 / omega**2 * np.cos(angle), rtol=0, atol=ATOL_FFT
    )


def test_stroke_of_five_g_at_the_working_speed() -> None:
    """2 * 5 g / (2 pi 16.3)^2; 16.3 Hz is no line of one second, so ten seconds are taken."""
    t = np.arange(10_000) / RATE_HZ
    x = 5 * STANDARD_GRAVITY_M_S2 * np.cos(2 * np.pi * 16.3 * t)
    displacement = integrate_samples(x, RATE_HZ, times=2, lower_cut_hz=4.0)
    expected = 2 * 5 * 9.80665 / (2 * np.pi * 16.3) ** 2
    # the highest sample stands up to half a sampling step from the crest: 1 - cos(pi f / rate)
    assert np.ptp(displacement) == pytest.approx(expected, rel=1 - np.cos(np.pi * 16.3 / 1000))


def test_lower_cut_is_a_half_cosine_from_half_the_cut() -> None:
    weights = lower_cut_weights([0.0, 4.9, 5.0, 7.5, 10.0, 400.0], 10.0)
    np.testing.assert_allclose(weights, [0.0, 0.0, 0.0, 0.5, 1.0, 1.0], atol=1e-15)
    quarter = lower_cut_weights([6.25], 10.0)[0]
    assert quarter == pytest.approx(0.5 - 0.5 * np.cos(np.pi / 4))


def test_offset_and_drift_below_the_cut_are_gone() -> None:
    x = 9.81 + np.cos(2 * np.pi * 0.5 * T)
    velocity = integrate_samples(x, RATE_HZ, times=1, lower_cut_hz=2.0)
    np.testing.assert_allclose(velocity, 0.0, atol=ATOL_FFT)


@given(frequency_hz=st.floats(10.0, 400.0), lower_cut_hz=st.floats(0.1, 10.0))
def test_twice_once_is_once_twice_and_the_cut_does_not_matter_above(
    frequency_hz: float, lower_cut_hz: float
) -> None:
    line = np.array([1.0 + 2.0j])
    once = integrate_spectrum(line, [frequency_hz], 1, lower_cut_hz)
    twice = integrate_spectrum(line, [frequency_hz], 2, lower_cut_hz)
    np.testing.assert_allclose(
        integrate_spectrum(once, [frequency_hz], 1, lower_cut_hz), twice, rtol=1e-12
    )
    np.testing.assert_allclose(once, line / (2j * np.pi * frequency_hz), rtol=1e-12)


def test_real_lines_stay_amplitudes() -> None:
    lines = integrate_spectrum(np.ones((2, 3)), [0.0, 10.0, 20.0], 2, 1.0)
    expected = [0.0, 1 / (2 * np.pi * 10.0) ** 2, 1 / (2 * np.pi * 20.0) ** 2]
    np.testing.assert_allclose(lines, [expected, expected], rtol=1e-12)
    assert not np.iscomplexobj(lines)


def test_refusals() -> None:
    for cut in (0.0, -1.0):
        message = re.escape(f"lower_cut_hz must be a finite number above 0, got {cut}")
        with pytest.raises(InputError, match=message):
            integrate_samples(T, RATE_HZ, times=1, lower_cut_hz=cut)
        with pytest.raises(InputError, match=message):
            integrate_spectrum([1.0], [10.0], 1, cut)
    with pytest.raises(InputError, match=re.escape("times must be 1 (velocity) or 2")):
        integrate_samples(T, RATE_HZ, times=3, lower_cut_hz=1.0)
    with pytest.raises(InputError, match=re.escape("must lie below 500 Hz (Nyquist), got 500.0")):
        integrate_samples(T, RATE_HZ, times=1, lower_cut_hz=500.0)
    with pytest.raises(InputError, match=re.escape("need as many frequencies, got (1,)")):
        integrate_spectrum([1.0, 2.0], [10.0], 1, 1.0)
