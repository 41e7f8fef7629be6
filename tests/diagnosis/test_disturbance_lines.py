"""Lines fixed in Hz are told from those of the shaft by how they spread, and by their order."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.disturbance_lines import FixedLines, fixed_lines
from vibhealth.errors import InputError
from vibhealth.signal import record_spectrum

RATE_HZ = 8192.0
DURATION_S = 20.0
BAND_HZ = (1000.0, 3500.0)
SHAFT_HZ = 16.3
WANDER = 0.0015  # peak to peak over the mean

TIME_S = np.arange(round(DURATION_S * RATE_HZ)) / RATE_HZ
NOISE = np.random.default_rng(1).standard_normal(TIME_S.size)


def shaft_turns(wander: float) -> NDArray[np.float64]:
    """One slow swing of the speed over the recording."""
    swing = 0.5 * wander * SHAFT_HZ * DURATION_S / (2 * np.pi)
    return np.asarray(SHAFT_HZ * TIME_S + swing * np.sin(2 * np.pi * TIME_S / DURATION_S))


def found(samples: NDArray[np.float64], wander: float = WANDER) -> FixedLines:
    turns = shaft_turns(wander)
    straight = np.linspace(turns[0], turns[-1], turns.size)
    return fixed_lines(
        record_spectrum(samples, RATE_HZ),
        BAND_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        stray_turns=float(np.ptp(turns - straight)),
        speed_spread=0.5 * wander,
    )


def tone(frequency_hz: float, amplitude: float = 1.0) -> NDArray[np.float64]:
    return np.asarray(amplitude * np.cos(2 * np.pi * frequency_hz * TIME_S))


def test_noise_shows_a_line_as_seldom_as_stated() -> None:
    rng = np.random.default_rng(2)
    counts = [found(rng.standard_normal(TIME_S.size)).energies.size for _ in range(20)]
    # 1 % each: two or more of 20 have a probability of 1.7 %, three of 0.1 %.
    assert np.count_nonzero(counts) < 3


@pytest.mark.parametrize("wander", [WANDER, 0.05])
def test_a_fixed_line_is_found_with_its_hz_and_energy(wander: float) -> None:
    lines = found(NOISE + tone(2009.7) + tone(2109.7, 0.5), wander)
    np.testing.assert_allclose(lines.frequencies_hz, [2009.7, 2109.7], atol=1 / DURATION_S)
    # 1/2 and 1/8 against noise of variance 1 in 2500 of 4096 Hz.
    power = np.array([0.5, 0.125])
    expected = power / (power.sum() + 2500 / 4096)
    np.testing.assert_allclose(lines.energies, expected, rtol=0.02)


@pytest.mark.parametrize("wander", [0.0, 0.0005, WANDER, 0.02])
@pytest.mark.parametrize("order", [100, 123, 200])
def test_a_line_of_the_shaft_is_not_fixed(wander: float, order: int) -> None:
    gear = np.cos(2 * np.pi * order * shaft_turns(wander))
    assert found(NOISE + 2 * gear, wander).energies.size == 0


def test_a_fixed_line_on_a_whole_order_needs_a_wandering_speed() -> None:
    line = NOISE + tone(100 * SHAFT_HZ)
    assert found(line, 0.0).energies.size == 0
    assert found(line, 0.02).energies.size == 1


def test_at_a_steady_speed_only_side_bands_of_the_mains_tell() -> None:
    alone = NOISE + tone(2009.7) + tone(2091.7)
    assert found(alone, 0.0).energies.size == 0
    sides = tone(1909.7, 0.5) + tone(2109.7, 0.5)
    np.testing.assert_allclose(
        found(alone + sides, 0.0).frequencies_hz, [1909.7, 2009.7, 2109.7], atol=1 / DURATION_S
    )


def test_without_a_speed_nothing_is_said() -> None:
    lines = fixed_lines(
        record_spectrum(NOISE + tone(2000.0), RATE_HZ),
        BAND_HZ,
        shaft_frequency_hz=None,
        stray_turns=0.0,
        speed_spread=0.0,
    )
    assert lines.energies.size == lines.frequencies_hz.size == 0


def test_a_band_outside_is_refused() -> None:
    message = "band_hz must satisfy 0 < low < high <= 4096, got (1000.0, 5000.0)"
    with pytest.raises(InputError, match=re.escape(message)):
        fixed_lines(
            record_spectrum(NOISE, RATE_HZ),
            (1000.0, 5000.0),
            shaft_frequency_hz=SHAFT_HZ,
            stray_turns=0.0,
            speed_spread=0.0,
        )
