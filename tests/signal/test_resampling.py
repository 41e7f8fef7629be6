"""Computed order tracking: error in dB, band limits, refusals."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal import AngleRecord, resample_to_angle

RATE_HZ, N_SAMPLES = 1000.0, 20_000
T = np.arange(N_SAMPLES) / RATE_HZ


def angles(record: AngleRecord) -> NDArray[np.float64]:
    return record.start_turns + np.arange(record.samples.size) / record.samples_per_turn


def error_db(found: NDArray[np.float64], expected: NDArray[np.float64]) -> float:
    return float(20 * np.log10(np.abs(found - expected).max()))


@pytest.mark.parametrize(("frequency_hz", "limit_db"), [(50.0, -90), (250.0, -90), (400.0, -90)])
@pytest.mark.parametrize("shaft_hz", [19.7, 20.0])
def test_a_sine_keeps_to_minus_90_db(frequency_hz: float, limit_db: float, shaft_hz: float) -> None:
    """Promised: -80 dB at a quarter of the sampling rate; kept: -90 dB up to 0.4 of it."""
    x = np.cos(2 * np.pi * frequency_hz * T + 0.3)
    record = resample_to_angle(x, RATE_HZ, shaft_phase_turns=shaft_hz * T, samples_per_turn=64)
    expected = np.cos(2 * np.pi * frequency_hz / shaft_hz * angles(record) + 0.3)
    assert error_db(record.samples, expected) < limit_db
    assert record.samples.size > 0.99 * shaft_hz * T[-1] * 64


def test_a_wandering_shaft_gives_a_clean_line() -> None:
    """5 % wander: order 7.25 in angle is a plain cosine though it is smeared in time."""
    turns = 20.0 * T + 0.25 * np.sin(2 * np.pi * 0.5 * T)
    x = np.cos(2 * np.pi * 7.25 * turns)
    record = resample_to_angle(x, RATE_HZ, shaft_phase_turns=turns, samples_per_turn=64)
    assert error_db(record.samples, np.cos(2 * np.pi * 7.25 * angles(record))) < -85.0


def test_a_run_up_keeps_order_and_amplitude() -> None:
    """2 to 30 Hz in 20 s; where the grid is coarser than the samples the sinc is stretched."""
    turns = 2.0 * T + 0.5 * 1.4 * T**2
    x = np.cos(2 * np.pi * 3.0 * turns)
    record = resample_to_angle(x, RATE_HZ, shaft_phase_turns=turns, samples_per_turn=32)
    assert error_db(record.samples, np.cos(2 * np.pi * 3.0 * angles(record))) < -70.0


@pytest.mark.parametrize("frequency_hz", [250.0, 300.0, 480.0])
def test_what_the_angle_grid_cannot_carry_does_not_alias(frequency_hz: float) -> None:
    """20 samples per turn at 20 Hz are 400 per second: everything from 240 Hz on is taken out."""
    x = np.cos(2 * np.pi * frequency_hz * T)
    record = resample_to_angle(x, RATE_HZ, shaft_phase_turns=20.0 * T, samples_per_turn=20)
    assert 20 * np.log10(np.abs(record.samples).max()) < -90.0


def test_the_pass_band_below_the_grid_is_flat() -> None:
    x = np.cos(2 * np.pi * 155.0 * T)  # 0.39 of 400 per second
    record = resample_to_angle(x, RATE_HZ, shaft_phase_turns=20.0 * T, samples_per_turn=20)
    expected = np.cos(2 * np.pi * 155.0 / 20.0 * angles(record))
    assert error_db(record.samples, expected) < -80.0


@pytest.mark.parametrize("swing", [0.0, 0.03])
def test_a_tone_near_the_upper_edge_keeps_its_level_and_does_not_smear(swing: float) -> None:
    """0.4 of the sampling rate on a grid of as many points per turn as samples, 3 % up and down.

    The level is kept to 0.1 dB and the error is below -60 dB, also where the shaft is slow, the
    grid 3 % coarser than the samples and the tone at 0.412 of the lower rate.
    """
    turns = 20.0 * (T + swing * 3.0 / (2 * np.pi) * np.sin(2 * np.pi * T / 3.0))
    per_turn = 50
    record = resample_to_angle(
        np.cos(2 * np.pi * 400.0 * T), RATE_HZ, shaft_phase_turns=turns, samples_per_turn=per_turn
    )
    time_s = np.interp(angles(record), turns, T)
    expected = np.cos(2 * np.pi * 400.0 * time_s)
    level_db = 20 * np.log10(record.samples.std() / expected.std())
    assert abs(level_db) < 0.1
    assert error_db(record.samples, expected) < -60.0


def test_linear_and_blind_to_whole_turns() -> None:
    x = np.random.default_rng(8).standard_normal(4000)
    turns = 13.0 * T[:4000]
    plain = resample_to_angle(x, RATE_HZ, shaft_phase_turns=turns, samples_per_turn=50)
    other = resample_to_angle(
        -2.5 * x + 1.0, RATE_HZ, shaft_phase_turns=turns + 7.0, samples_per_turn=50
    )
    shift = round((other.start_turns - 7.0 - plain.start_turns) * 50)  # round-off at the ends
    assert abs(shift) <= 1
    count = min(plain.samples.size, other.samples.size) - 2
    expected = -2.5 * plain.samples[1 + shift :][:count] + 1.0
    # the offset passes with the ripple of the stop band around the sampling rate, 1e-5
    np.testing.assert_allclose(other.samples[1:][:count], expected, rtol=0, atol=2e-5)


def test_a_phase_that_stands_still_is_refused() -> None:
    turns = 20.0 * T
    turns[101:] -= turns[101] - turns[100]
    message = re.escape(
        "shaft_phase_turns must rise from sample to sample, but does not after sample 100 "
        "(2 to 2 turns); cut the record to where the shaft turns"
    )
    with pytest.raises(InputError, match=message):
        resample_to_angle(T, RATE_HZ, shaft_phase_turns=turns, samples_per_turn=32)


def test_refusals() -> None:
    with pytest.raises(InputError, match=re.escape("one length, got (20000,) and (19999,)")):
        resample_to_angle(T, RATE_HZ, shaft_phase_turns=T[1:], samples_per_turn=32)
    with pytest.raises(InputError, match=re.escape("samples_per_turn must be 4 or more, got 3")):
        resample_to_angle(T, RATE_HZ, shaft_phase_turns=20 * T, samples_per_turn=3)
    with pytest.raises(InputError, match=re.escape("a record of 0.03 s is too short or too slow")):
        resample_to_angle(T[:30], RATE_HZ, shaft_phase_turns=20 * T[:30], samples_per_turn=64)
    with pytest.raises(InputError, match=re.escape("shaft_phase_turns must be finite, got nan")):
        resample_to_angle(T, RATE_HZ, shaft_phase_turns=T * np.nan, samples_per_turn=32)
