"""What recorders do wrong, on samples of any unit."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft

from vibhealth.errors import SettingsError
from vibhealth.simulate import RECORDING_FAULTS
from vibhealth.simulate import recording_faults as spoil
from vibhealth.simulate._warp import warped

Samples = NDArray[np.float64]
RATE_HZ = 8000.0
SECONDS = 10.0
SHAFT_HZ = 20.0


@pytest.fixture
def samples() -> Samples:
    """Two axes of a 20 Hz motion with a line at 2 kHz and a little noise."""
    time_s = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(5).standard_normal((2, time_s.size))
    angle = 2 * np.pi * SHAFT_HZ * time_s
    high = 0.1 * np.cos(2 * np.pi * 2000 * time_s)
    return np.stack([30 * np.cos(angle), 20 * np.sin(angle)]) + high + 0.01 * noise


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(7)


def line(values: Samples, frequency_hz: float, rate_hz: float = RATE_HZ) -> float:
    time_s = np.arange(values.size) / rate_hz
    return float(abs(2 * np.mean(values * np.exp(-2j * np.pi * frequency_hz * time_s))))


@pytest.mark.parametrize("name", RECORDING_FAULTS)
def test_each_keeps_what_it_was_given_and_repeats_by_its_seed(name: str, samples: Samples) -> None:
    spoil_it: Callable[..., Samples] = RECORDING_FAULTS[name][1]
    before = samples.copy()
    first = spoil_it(samples, RATE_HZ, np.random.default_rng(1))
    again = spoil_it(samples, RATE_HZ, np.random.default_rng(1))
    np.testing.assert_array_equal(samples, before)
    np.testing.assert_array_equal(first, again)
    assert first.shape[0] == samples.shape[0]
    assert np.all(np.isfinite(first))
    assert not np.shares_memory(first, samples)


@pytest.mark.parametrize("name", sorted(set(RECORDING_FAULTS) - {"sensitivity-wrong"}))
def test_each_is_the_same_in_any_unit(name: str, samples: Samples) -> None:
    spoil_it = RECORDING_FAULTS[name][1]
    whole = spoil_it(samples, RATE_HZ, np.random.default_rng(2))
    scaled = spoil_it(1e-3 * samples, RATE_HZ, np.random.default_rng(2))
    np.testing.assert_allclose(1e3 * scaled, whole, rtol=1e-7, atol=1e-7)


def test_sensitivity_scales_everything(samples: Samples, rng: np.random.Generator) -> None:
    np.testing.assert_array_equal(
        spoil.wrong_sensitivity(samples, RATE_HZ, rng, factor=2.54), 2.54 * samples
    )


def test_axes_swap_as_ordered_or_drawn(samples: Samples, rng: np.random.Generator) -> None:
    np.testing.assert_array_equal(spoil.swap_axes(samples, RATE_HZ, rng), samples[::-1])
    three = np.arange(6.0).reshape(3, 2)
    ordered = spoil.swap_axes(three, RATE_HZ, rng, order=(2, 0, 1))
    np.testing.assert_array_equal(ordered, three[[2, 0, 1]])


@pytest.mark.parametrize(
    ("count", "order", "message"),
    [
        (1, None, "swap_axes needs samples of at least two points, got 1"),
        (2, (0, 0), "order must hold each of 0 to 1 once, got [0, 0]"),
    ],
)
def test_impossible_swaps_are_refused(
    count: int, order: tuple[int, ...] | None, message: str, rng: np.random.Generator
) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        spoil.swap_axes(np.zeros((count, 4)), RATE_HZ, rng, order=order)


def test_the_converter_makes_flat_tops(samples: Samples, rng: np.random.Generator) -> None:
    clipped = spoil.clip_at_converter(samples, RATE_HZ, rng, share=0.9)
    limit = 0.9 * np.max(np.abs(samples[0]))
    # cos stays above 0.9 for 2 arccos(0.9) of each half turn
    at_limit = np.mean(np.abs(clipped[0]) == limit)
    assert at_limit == pytest.approx(2 * np.arccos(0.9) / np.pi, rel=0.05)


def test_a_saturated_sensor_bends_and_its_baseline_jumps(
    samples: Samples, rng: np.random.Generator
) -> None:
    bent = spoil.saturate_sensor(samples, RATE_HZ, rng, share=0.8, jumps=0)
    peak = np.max(np.abs(samples), axis=1)
    assert np.all(np.max(np.abs(bent), axis=1) < 0.8 * peak)
    assert len(np.unique(bent[0])) > 0.9 * bent.shape[1]  # no flat tops
    jumped = spoil.saturate_sensor(samples, RATE_HZ, rng, jumps=1, recovery_s=0.5)
    baseline = jumped - spoil.saturate_sensor(samples, RATE_HZ, rng, jumps=0)
    at = int(np.argmax(np.abs(np.diff(baseline[0], prepend=0.0))))
    assert abs(baseline[0, at]) == pytest.approx(0.4 * peak[0], rel=1e-6)
    later = at + round(0.5 * RATE_HZ)
    if later < baseline.shape[1]:
        assert baseline[0, later] / baseline[0, at] == pytest.approx(np.exp(-1), rel=1e-3)


def test_settling_falls_to_an_eth_in_its_time(samples: Samples, rng: np.random.Generator) -> None:
    trend = spoil.settle_at_start(samples, RATE_HZ, rng, share=0.5, time_constant_s=2.0) - samples
    assert np.abs(trend[:, 0]) == pytest.approx(0.5 * np.std(samples, axis=1))
    assert trend[0, 16000] / trend[0, 0] == pytest.approx(np.exp(-1))


def test_a_dead_sensor_hums(samples: Samples, rng: np.random.Generator) -> None:
    dead = spoil.dead_with_hum(samples, RATE_HZ, rng, share=0.01, mains_hz=60.0)
    assert line(dead[0], 60.0) == pytest.approx(0.01 * np.std(samples[0]), rel=0.02)
    assert line(dead[0], SHAFT_HZ) < 0.01 * line(dead[0], 60.0)


def test_a_loose_mount_loses_the_high_end_and_bends_the_motion(
    samples: Samples, rng: np.random.Generator
) -> None:
    smooth = spoil.loosen_mount(samples, RATE_HZ, rng, rattle_share=0.0, asymmetry=0.1)
    assert line(smooth[0], SHAFT_HZ) == pytest.approx(30.0, rel=0.01)
    assert line(smooth[0], 2 * SHAFT_HZ) == pytest.approx(0.05 * 30, rel=0.05)  # cos^2
    # Butterworth of second order, warped by the bilinear transform
    ratio = np.tan(np.pi * 2000 / RATE_HZ) / np.tan(np.pi * 1000 / RATE_HZ)
    expected = 0.1 / np.sqrt(1 + ratio**4)
    assert line(smooth[0], 2000.0) == pytest.approx(expected, rel=0.05)
    rattling = spoil.loosen_mount(samples, RATE_HZ, rng, rattle_share=0.3)
    assert np.max(np.abs(rattling - smooth)) > 2.0


def test_lost_samples_break_the_phase(samples: Samples, rng: np.random.Generator) -> None:
    short = spoil.drop_samples(samples, RATE_HZ, rng, gap_s=0.03)
    assert short.shape[1] == samples.shape[1] - 240
    differs = np.flatnonzero(np.any(short != samples[:, : short.shape[1]], axis=0))
    np.testing.assert_array_equal(short[:, differs[0] :], samples[:, differs[0] + 240 :])


def test_without_a_filter_lines_fold_down(samples: Samples, rng: np.random.Generator) -> None:
    kept = spoil.alias(samples, RATE_HZ, rng, keep_every=5)  # 1600 Hz: 2000 Hz shows at 400
    assert line(kept[0], 400.0, RATE_HZ / 5) == pytest.approx(0.1, rel=0.05)


def test_mains_are_added_below_half_the_rate(samples: Samples, rng: np.random.Generator) -> None:
    hum = spoil.pick_up_mains(samples, RATE_HZ, rng, share=0.2, mains_hz=50.0) - samples
    assert line(hum[0], 50.0) == pytest.approx(0.2 * np.sqrt(2) * np.std(samples[0]), rel=1e-6)


def test_a_slower_machine_is_slower_and_weaker(samples: Samples) -> None:
    slow = warped(samples, np.full(samples.shape[1], 0.9))
    kept = slow[:, 400:-400]
    time_s = np.arange(kept.shape[1]) / RATE_HZ
    spectrum = np.abs(fft.rfft(kept[0] * np.hanning(kept.shape[1])))
    assert np.argmax(spectrum) * RATE_HZ / kept.shape[1] == pytest.approx(18.0, abs=0.15)
    angle = 2 * np.pi * 18.0 * time_s
    assert 2 * np.hypot(
        np.mean(kept[0] * np.cos(angle)), np.mean(kept[0] * np.sin(angle))
    ) == pytest.approx(0.81 * 30.0, rel=0.01)


def test_no_change_of_speed_changes_nothing(samples: Samples) -> None:
    same = warped(samples, np.ones(samples.shape[1]))
    np.testing.assert_allclose(
        same[:, 100:-100], samples[:, 100:-100], atol=1e-3
    )  # of 0.1 at 2 kHz


def test_the_speed_wanders_by_its_percentage(samples: Samples, rng: np.random.Generator) -> None:
    made = spoil.wander_speed(samples, RATE_HZ, rng, percent=8.0)
    angle = np.unwrap(np.angle(made[0] / 30 + 1j * made[1] / 20))
    window = round(RATE_HZ / SHAFT_HZ)
    speed_hz = (angle[window:] - angle[:-window]) / (2 * np.pi) * SHAFT_HZ
    assert np.ptp(speed_hz) / SHAFT_HZ == pytest.approx(0.08, abs=0.015)


def test_short_duplicate_and_cold(samples: Samples, rng: np.random.Generator) -> None:
    assert spoil.shorten(samples, RATE_HZ, rng, seconds=3.0).shape == (2, 24_000)
    np.testing.assert_array_equal(spoil.duplicate(samples, RATE_HZ, rng), samples)
    levels = [
        line(spoil.warm_up(samples, RATE_HZ, rng, number=n, count=3, fall=0.4)[0], 2000.0)
        for n in range(3)
    ]
    np.testing.assert_allclose(np.array(levels) / 0.1, [1.0, np.sqrt(0.6), 0.6], rtol=0.01)
    last = spoil.warm_up(samples, RATE_HZ, rng, number=2)
    assert line(last[0], SHAFT_HZ) == pytest.approx(30.0, rel=1e-3)


def test_material_strikes_at_random(samples: Samples, rng: np.random.Generator) -> None:
    loaded = spoil.load_with_material(samples, RATE_HZ, rng, per_second=5.0)
    high = loaded[0] - np.convolve(loaded[0], np.ones(8) / 8, mode="same")
    assert np.max(np.abs(high)) > 20 * np.std(samples[0] * 0.005)
    empty = spoil.load_with_material(samples, RATE_HZ, rng, per_second=0.0)
    expected = 0.95 * warped(samples, np.full(samples.shape[1], 0.99))
    np.testing.assert_allclose(empty, expected)


def test_a_whipping_cable_spikes_once_per_turn_in_its_own_channel(
    samples: Samples, rng: np.random.Generator
) -> None:
    whipped = spoil.whip_cable(
        samples, RATE_HZ, rng, share=0.5, turn_share=1.0, swing_share=0.0, row=1
    )
    np.testing.assert_array_equal(whipped[0], samples[0])
    spikes = np.abs(whipped[1] - samples[1])
    at = np.flatnonzero((spikes[1:] > 0.1 * spikes.max()) & (spikes[:-1] <= 0.1 * spikes.max()))
    assert at.size == pytest.approx(SHAFT_HZ * SECONDS, abs=2)
    # a standard deviation of 0.5 % of a turn at either end of a distance, and one sample
    turn = RATE_HZ / SHAFT_HZ
    assert np.std(np.diff(at)) == pytest.approx(np.sqrt(2) * 0.005 * turn, rel=0.25)
    assert np.median(spikes[at + 1]) == pytest.approx(0.5 * np.abs(samples[1]).max(), rel=0.25)
