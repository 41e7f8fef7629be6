"""Shaft angle from pulses and from the 1x motion, against the angle they were made with."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.errors import InputError, RecordingError
from vibhealth.signal import phase_from_demodulation, tachometer_phase
from vibhealth.signal.shaft_phase import add_correction, demodulate_orders, refine_phase

RATE_HZ, SHAFT_HZ = 2000.0, 16.3
T = np.arange(40_000) / RATE_HZ  # 326 turns


def wandering_turns(wander: float, period_s: float = 10.0) -> NDArray[np.float64]:
    """Speed SHAFT_HZ (1 + wander sin(2 pi t / period))."""
    swing = wander * period_s / (2 * np.pi) * (1.0 - np.cos(2 * np.pi * T / period_s))
    return np.asarray(SHAFT_HZ * (T + swing))


def pulses(turns: NDArray[np.float64], per_turn: float = 1.0) -> NDArray[np.float64]:
    """A pulse with flanks of 2 % of a turn, so that a crossing lies between samples."""
    place = (turns * per_turn) % 1.0
    return np.clip(1.5 - np.abs(place - 0.5) / (0.02 * per_turn), 0.0, 1.0)


@pytest.mark.parametrize("per_turn", [1.0, 2.0, 2.5])
@pytest.mark.parametrize("wander", [0.0, 0.01, 0.1])
def test_pulses_give_the_angle(per_turn: float, wander: float) -> None:
    """The flank spans 2.4 samples, so linear interpolation of the crossing errs by its corners only:
    up to a tenth of a sample, 0.1 * 16.3 / 2000 = 8e-4 turns.
    """
    turns = wandering_turns(wander)
    found = tachometer_phase(pulses(turns, per_turn), RATE_HZ, pulses_per_turn=per_turn)
    difference = found - turns
    assert np.ptp(difference[200:-200]) < 2 * 8e-4
    assert np.ptp(difference) < 5e-3  # the ends go on at the speed of the last interval


def test_polarity_gain_offset_and_noise_do_not_matter() -> None:
    turns = wandering_turns(0.01)
    plain = tachometer_phase(pulses(turns), RATE_HZ)
    noisy = 3.0 - 7.0 * pulses(turns) + 0.2 * np.random.default_rng(2).standard_normal(T.size)
    found = tachometer_phase(noisy, RATE_HZ, hysteresis=0.4)
    np.testing.assert_allclose(np.diff(found).mean(), np.diff(plain).mean(), rtol=1e-3)
    assert np.ptp((found - turns)[200:-200]) < 5e-3


def test_a_missing_pulse_is_refused() -> None:
    tach = pulses(SHAFT_HZ * T)
    tach[(SHAFT_HZ * T > 100) & (SHAFT_HZ * T < 101)] = 0.0
    message = re.escape("a tachometer pulse is missing near 6.10")
    with pytest.raises(RecordingError, match=message):
        tachometer_phase(tach, RATE_HZ)


def test_a_surplus_pulse_is_refused() -> None:
    tach = pulses(SHAFT_HZ * T)
    tach[20_000 : 20_000 + 3] = 1.0 - tach[20_000 : 20_000 + 3]
    with pytest.raises(RecordingError, match=re.escape("a tachometer pulse is too many near ")):
        tachometer_phase(tach, RATE_HZ)


def test_pulses_must_reach_to_both_ends() -> None:
    tach = pulses(SHAFT_HZ * T)
    tach[:4000] = 0.0
    with pytest.raises(RecordingError, match=re.escape("tachometer pulses reach only from 2.0")):
        tachometer_phase(tach, RATE_HZ)


def test_a_dead_tachometer_is_refused() -> None:
    with pytest.raises(
        RecordingError,
        match=re.escape("the tachometer channel shows 0 pulses, 4 are needed; check its cable"),
    ):
        tachometer_phase(np.zeros(1000), RATE_HZ)
    with pytest.raises(InputError, match=re.escape("hysteresis must lie above 0 and below 1")):
        tachometer_phase(pulses(SHAFT_HZ * T), RATE_HZ, hysteresis=1.0)
    with pytest.raises(InputError, match=re.escape("pulses_per_turn must be a finite number")):
        tachometer_phase(pulses(SHAFT_HZ * T), RATE_HZ, pulses_per_turn=0.0)


@pytest.mark.parametrize("bandwidth_hz", [SHAFT_HZ, SHAFT_HZ / 2])
def test_the_phase_of_a_steady_motion(bandwidth_hz: float) -> None:
    """Given the wrong frequency by 1 %; harmonics, half order and offset on top.

    With the window off by 1 % they miss the zeros of the Hann response by 1 % of their distance:
    amplitude ratio times 1e-3 or less, here 0.05 * 1e-3 / (2 pi) turns and below.
    """
    turns = SHAFT_HZ * T + 0.2
    x = 30.0 * np.cos(2 * np.pi * turns) + 1.5 * np.cos(4 * np.pi * turns) + 9.0
    x += 0.3 * np.cos(np.pi * turns)
    found = phase_from_demodulation(x, RATE_HZ, 1.01 * SHAFT_HZ, bandwidth_hz=bandwidth_hz)
    assert np.abs(found - turns).max() < 1e-3


@pytest.mark.parametrize("wander", [0.003, 0.01])
def test_the_phase_of_a_wandering_motion(wander: float) -> None:
    """A Hann window of length L rounds phase by phi'' (1/24 - 1/(4 pi^2)) L^2.

    phi'' = f wander 2 pi / period turns per second squared; L = 4 / bandwidth = 8 turns. The
    factor 1.1 covers the next term; in the first and last half window twice five times as much.
    """
    turns = wandering_turns(wander)
    found = phase_from_demodulation(
        30.0 * np.cos(2 * np.pi * turns), RATE_HZ, SHAFT_HZ, bandwidth_hz=SHAFT_HZ / 2
    )
    bend = SHAFT_HZ * wander * 2 * np.pi / 10.0
    rounding = bend * (1 / 24 - 1 / (4 * np.pi**2)) * (8.0 / SHAFT_HZ) ** 2
    half = int(4.1 / SHAFT_HZ * RATE_HZ)
    inner = np.abs(found - turns)[half:-half]
    assert inner.max() < 1.1 * rounding
    assert inner.max() > 0.5 * rounding
    assert np.abs(found - turns).max() < 10 * rounding


def test_noise_moves_the_phase_as_its_bandwidth_says() -> None:
    """Phase error sd = sigma sqrt(1.5 / (n window)) 2 / sqrt(2) / A rad (Hann noise bandwidth)."""
    x = 10.0 * np.cos(2 * np.pi * SHAFT_HZ * T)
    x += 2.0 * np.random.default_rng(3).standard_normal(T.size)
    found = phase_from_demodulation(x, RATE_HZ, SHAFT_HZ, bandwidth_hz=SHAFT_HZ / 2)
    window = 8.0 / SHAFT_HZ * RATE_HZ
    expected = 2.0 * np.sqrt(2 * 1.5 / window) / 10.0 / (2 * np.pi)
    # 40 independent windows: relative standard error 11 %, three of them
    assert (found - SHAFT_HZ * T)[1000:-1000].std() == pytest.approx(expected, rel=0.33)


def test_a_motion_that_fades_is_refused() -> None:
    x = np.cos(2 * np.pi * SHAFT_HZ * T) * (np.abs(T - 10.0) > 1.0)
    with pytest.raises(RecordingError, match=re.escape("the 1x motion fades at ")):
        phase_from_demodulation(x, RATE_HZ, SHAFT_HZ, bandwidth_hz=SHAFT_HZ / 2)
    with pytest.raises(RecordingError, match=re.escape("its phase cannot be followed")):
        phase_from_demodulation(np.zeros(T.size), RATE_HZ, SHAFT_HZ, bandwidth_hz=8.0)


def test_settings_are_refused() -> None:
    x = np.cos(2 * np.pi * SHAFT_HZ * T)
    rule = "need 0 < bandwidth_hz <= shaft_frequency_hz < 500 (half Nyquist), got "
    for shaft_hz, bandwidth_hz in ((16.3, 0.0), (16.3, 17.0), (600.0, 8.0)):
        with pytest.raises(InputError, match=re.escape(f"{rule}{bandwidth_hz} and {shaft_hz}")):
            phase_from_demodulation(x, RATE_HZ, shaft_hz, bandwidth_hz=bandwidth_hz)
    with pytest.raises(InputError, match=re.escape("needs one channel of at least 1 s")):
        phase_from_demodulation(x[:1900], RATE_HZ, SHAFT_HZ, bandwidth_hz=8.0)
    with pytest.raises(
        InputError, match=re.escape("minimum_relative_amplitude must lie in [0, 1)")
    ):
        phase_from_demodulation(
            x, RATE_HZ, SHAFT_HZ, bandwidth_hz=8.0, minimum_relative_amplitude=1.0
        )


def test_orders_keep_amplitude_and_phase_and_do_not_see_each_other() -> None:
    turns = SHAFT_HZ * T
    x = 3.0 * np.cos(2 * np.pi * turns + 0.5) + 0.2 * np.cos(2 * np.pi * 2.5 * turns - 1.0)
    centre, found = demodulate_orders(
        np.stack([x, -2 * x]), phase_turns=turns, orders=[1.0, 2.5, 4.0], turns_per_window=8.0
    )
    assert found.shape == (2, 3, centre.size)
    # Whole windows of 123 samples per turn: a sample more or less moves it by 1 / 982 at most.
    np.testing.assert_allclose(found[0, 0], 3.0 * np.exp(0.5j), atol=3e-3)
    np.testing.assert_allclose(found[0, 1], 0.2 * np.exp(-1.0j), atol=3e-3)
    assert np.abs(found[0, 2]).max() < 3e-3
    np.testing.assert_allclose(found[1], -2 * found[0])
    assert np.diff(centre) == pytest.approx(1.0, rel=0.01)


@pytest.mark.parametrize("period_turns", [16.0, 24.0, 60.0])
def test_each_pass_leaves_one_minus_the_windows_response(period_turns: float) -> None:
    """Hann window of W turns at 1 / P per turn: H = sinc(W / P) / (1 - (W / P)^2)."""
    turns = SHAFT_HZ * T
    wrong = turns + 0.01 * np.sin(2 * np.pi * turns / period_turns)
    better = refine_phase(np.cos(2 * np.pi * turns), phase_turns=wrong, turns_per_window=8.0)
    ratio = 8.0 / period_turns
    left = 1 - np.sinc(ratio) / (1 - ratio**2)
    inner = (turns > 20) & (turns < turns[-1] - 20)
    share = np.std((better - turns)[inner]) / np.std((wrong - turns)[inner])
    # Eight windows per window length, joined by a spline: 1e-2 of what was there.
    assert share == pytest.approx(left, abs=0.01)


def test_a_higher_order_serves_as_well() -> None:
    turns = SHAFT_HZ * T
    wrong = turns + 0.01 * np.sin(2 * np.pi * turns / 60.0)
    better = refine_phase(np.cos(2 * np.pi * 3 * turns + 1.0), phase_turns=wrong, order=3.0)
    assert np.std((better - turns)[1000:-1000]) < 0.2 * np.std((wrong - turns)[1000:-1000])


def test_a_right_angle_stays_as_it_is() -> None:
    turns = SHAFT_HZ * T
    better = refine_phase(np.cos(2 * np.pi * turns + 2.0), phase_turns=turns)
    assert np.abs(better - turns).max() < 1e-3


def test_refusals_of_a_known_angle() -> None:
    turns = SHAFT_HZ * T
    x = np.cos(2 * np.pi * turns)
    with pytest.raises(InputError, match=re.escape("one length, got (40000,) and (39999,)")):
        demodulate_orders(x, phase_turns=turns[1:], orders=[1.0], turns_per_window=8.0)
    with pytest.raises(InputError, match=re.escape("over at least 16 turns, got 8.15 turns")):
        refine_phase(x[:1001], phase_turns=turns[:1001])
    with pytest.raises(InputError, match=re.escape("phase_turns must rise everywhere")):
        refine_phase(x, phase_turns=turns[::-1])
    with pytest.raises(InputError, match=re.escape("orders must lie above 0, got [0.0]")):
        demodulate_orders(x, phase_turns=turns, orders=[0.0], turns_per_window=8.0)
    with pytest.raises(RecordingError, match=re.escape("the corrected phase runs backwards at")):
        add_correction(turns, np.arange(4.0), np.array([0.0, -3.0, 0.0, 0.0]))
