"""Windows: closed forms of the cosine sums, scaling, refusals."""

import re
from typing import get_args

import numpy as np
import pytest

from vibhealth.errors import InputError
from vibhealth.signal import overlap_correlation, window_gains, window_samples
from vibhealth.signal.windows import WindowName

N_SAMPLES = 1024
# Sums of 1024 terms of order one: eps * n.
ROUND_OFF = np.finfo(np.float64).eps * N_SAMPLES
# Cosine sums a0 - a1 cos + a2 cos ...; the published coefficients (Harris 1978; flat top: as in
# the five-term window of D'Antona and Ferrero 2006), from memory.
COEFFICIENTS: dict[WindowName, list[float]] = {
    "rectangular": [1.0],
    "hann": [0.5, 0.5],
    "hamming": [0.54, 0.46],
    "blackman": [0.42, 0.5, 0.08],
    "blackman-harris": [0.35875, 0.48829, 0.14128, 0.01168],
    "flat-top": [0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368],
}


@pytest.mark.parametrize("name", get_args(WindowName))
def test_gains_of_a_cosine_sum(name: WindowName) -> None:
    """Mean a0; noise bandwidth (a0^2 + sum a_j^2 / 2) / a0^2: exact for periodic windows."""
    first, *others = COEFFICIENTS[name]
    gains = window_gains(name, N_SAMPLES)
    assert gains.coherent_gain == pytest.approx(first, abs=ROUND_OFF)
    expected = 1.0 + 0.5 * sum(value**2 for value in others) / first**2
    assert gains.noise_bandwidth_lines == pytest.approx(expected, abs=10 * ROUND_OFF)


def test_hann_scallop_loss_has_a_closed_form() -> None:
    """Half a line off: 8 / (3 pi) of the amplitude (sinc(1/2) / (1 - 1/4)) for a long window.

    The finite window differs by O(1/n^2) = 1e-6.
    """
    loss = window_gains("hann", N_SAMPLES).scallop_loss_db
    assert loss == pytest.approx(-20 * np.log10(8 / (3 * np.pi)), abs=2e-5)


@pytest.mark.parametrize("name", get_args(WindowName))
def test_worst_case_is_scallop_plus_noise(name: WindowName) -> None:
    gains = window_gains(name, N_SAMPLES)
    assert gains.worst_case_loss_db - gains.scallop_loss_db == pytest.approx(
        10 * np.log10(gains.noise_bandwidth_lines), abs=1e-12
    )
    line = np.fft.fft(window_samples(name, N_SAMPLES), 2 * N_SAMPLES)  # odd lines: half-way
    assert gains.scallop_loss_db == pytest.approx(
        -20 * np.log10(abs(line[1]) / abs(line[0])), abs=1e-9
    )


@pytest.mark.parametrize("shift", [0, 1, 100, 1024, 5000])
def test_correlation_of_a_rectangle_falls_linearly(shift: int) -> None:
    window = window_samples("rectangular", N_SAMPLES)
    expected = max(0.0, 1.0 - shift / N_SAMPLES)
    assert overlap_correlation(window, shift) == pytest.approx(expected, abs=1e-12)


def test_refusals() -> None:
    known = "window must be one of rectangular, hann, hamming, blackman, blackman-harris, flat-top"
    with pytest.raises(InputError, match=re.escape(f"{known}, got 'kaiser'")):
        window_gains("kaiser", 64)  # type: ignore[arg-type]
    with pytest.raises(InputError, match=re.escape("a window needs at least 4 samples, got 3")):
        window_samples("hann", 3)
    with pytest.raises(InputError, match=re.escape("shift must be 0 or more, got -1")):
        overlap_correlation(window_samples("hann", 8), -1)
