"""Lost samples as a phase step of 1x: found in wandering speed, never without a gap."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from vibhealth.diagnosis.quality_facts import Needs, Outcome, sample_facts
from vibhealth.diagnosis.quality_phase import (
    LARGEST_HIT_SHARE,
    dropped_samples,
    phase_steps,
    without_hits,
)
from vibhealth.model import Recording

Array = NDArray[np.float64]
RATE_HZ, SHAFT_HZ = 25600.0, 16.3
DEG_PER_SAMPLE = 360 * SHAFT_HZ / RATE_HZ  # 0.229


def wandering(
    *,
    wander: float,
    memory_s: float = 1.0,
    seconds: float = 25.0,
    noise_g: float = 0.5,
    amplitude_g: float = 5.0,
    shaft_hz: float = SHAFT_HZ,
    seed: int = 0,
) -> Array:
    """1x and harmonics whose speed wanders by this rms share; the body has inertia."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE_HZ)
    knots = rng.standard_normal(round(seconds * 100) + 1000)
    pole = np.exp(-0.01 / memory_s)
    slow = signal.lfilter([np.sqrt(1 - pole**2)], [1, -pole], knots)
    slow = signal.lfilter([0.2], [1, -0.8], slow)[900:]  # 50 ms of inertia
    speed_hz = shaft_hz * (
        1 + wander * np.interp(np.arange(n) * 100 / RATE_HZ, np.arange(slow.size), slow)
    )
    turn = 2 * np.pi * np.cumsum(speed_hz) / RATE_HZ
    motion = np.sin(turn) + 0.06 * np.sin(2 * turn + 1) + 0.02 * np.sin(3 * turn)
    return amplitude_g * motion + noise_g * rng.standard_normal(n)


def without(x: Array, gap: int, *, at: int = 400_000) -> Array:
    return np.delete(x, slice(at, at + gap))


@pytest.fixture
def dropped(recording: Callable[..., Recording]) -> Callable[..., Outcome]:
    """The outcome of the check on lost samples alone."""

    def check(x: Array, shaft_hz: float | None = SHAFT_HZ) -> Outcome:
        needs = Needs(
            shaft_frequency_hz=shaft_hz,
            bearing_band_hz=None,
            highest_needed_hz=None,
            minimum_turns=400,
            recommended_turns=1000,
            turns_source="test",
        )
        return dropped_samples(sample_facts(recording(x, sampling_rate_hz=RATE_HZ)), needs)

    return check


def measured(finding: Outcome) -> tuple[float, float, int]:
    """Degrees, second and samples in the words of a hold."""
    found = re.findall(r"jumps by (\S+) degrees at (\S+) s .* about (\d+) samples", finding.detail)[
        0
    ]
    return float(found[0]), float(found[1]), int(found[2])


@pytest.mark.parametrize("wander", [0.0, 0.001, 0.003])
@pytest.mark.parametrize("seed", range(3))
def test_no_gap_is_seen_in_a_wandering_speed(
    dropped: Callable[..., Outcome], wander: float, seed: int
) -> None:
    assert dropped(wandering(wander=wander, seed=seed)).result == "pass"


@pytest.mark.parametrize("gap", [30, 50, 87, 300, 785])
@pytest.mark.parametrize("seed", range(2))
def test_a_gap_is_found_with_its_size_and_place(
    dropped: Callable[..., Outcome], gap: int, seed: int
) -> None:
    """From 7 degrees to half a turn, in a speed that wanders by 0.1 %."""
    finding = dropped(without(wandering(wander=0.001, seed=seed), gap))
    assert finding.result == "hold"
    degrees, second, samples = measured(finding)
    # Scatter of the step is 0.7 degrees here (3 samples): three times that.
    assert degrees == pytest.approx(gap * DEG_PER_SAMPLE, abs=2.1)
    assert samples == pytest.approx(gap, abs=10)
    assert second == pytest.approx(400_000 / RATE_HZ, abs=1 / SHAFT_HZ + 0.05)


def test_ten_samples_are_found_in_a_steady_speed(dropped: Callable[..., Outcome]) -> None:
    x = wandering(wander=0.0001, noise_g=0.1)
    assert dropped(x).result == "pass"
    finding = dropped(without(x, 10))
    assert finding.result == "hold"
    assert measured(finding)[2] == pytest.approx(10, abs=2)


@pytest.mark.parametrize(("samples", "result"), [(0.38, "pass"), (2.0, "hold")])
def test_a_step_of_less_than_half_a_sample_is_no_lost_sample(
    dropped: Callable[..., Outcome], samples: float, result: str
) -> None:
    """Recorders lose whole samples; what a very quiet record shows below is the machine's."""
    turn = 2 * np.pi * SHAFT_HZ * np.arange(round(25 * RATE_HZ)) / RATE_HZ
    turn[400_000:] += np.radians(samples * DEG_PER_SAMPLE)
    noise = 0.00005 * np.random.default_rng(6).standard_normal(turn.size)
    assert dropped(5.0 * np.sin(turn) + noise).result == result


def test_samples_put_in_twice_are_found_too(dropped: Callable[..., Outcome]) -> None:
    x = wandering(wander=0.001)
    doubled = np.concatenate([x[:400_050], x[400_000:]])
    assert dropped(doubled).result == "hold"


@pytest.mark.parametrize("gap", [5, 15, 25])
def test_what_is_found_agrees_with_the_smallest_step_it_promises(
    dropped: Callable[..., Outcome], gap: int
) -> None:
    x = wandering(wander=0.001, seed=5)
    finding = dropped(without(x, gap))
    visible = int(re.findall(r"(\d+) samples[;)]", finding.detail)[0])
    # The step's own scatter, one sixth of the promise, decides near it.
    if gap > 4 / 3 * visible:
        assert finding.result == "hold"
    elif gap < 2 / 3 * visible:
        assert finding.result == "pass"
    else:
        assert finding.result in {"hold", "pass"}
    assert 10 < visible < 30


@pytest.mark.parametrize("amplitude_g", [0.2, 0.8, 1.6])
@pytest.mark.parametrize(("ratio", "width_s"), [(1.1, 0.3), (1.1, 0.6), (0.9, 0.3)])
def test_a_burst_of_disturbance_is_not_a_gap(
    dropped: Callable[..., Outcome], amplitude_g: float, ratio: float, width_s: float
) -> None:
    """A neighbouring frequency comes and goes: the phase moves by up to 18 degrees and back."""
    x = wandering(wander=0.0003)
    t = np.arange(x.size) / RATE_HZ
    shape = np.exp(-(((t - 15) / width_s) ** 2))
    x += amplitude_g * shape * np.sin(2 * np.pi * ratio * SHAFT_HZ * t)
    steps = phase_steps(x, RATE_HZ, shaft_frequency_hz=SHAFT_HZ)
    assert np.abs(steps.step_deg).max() > steps.visible_deg
    assert dropped(x).result == "pass"


def hits(n: int, *, seed: int, per_second: float = 3.0) -> Array:
    """Falling material: ringing at 1.9 kHz of 1 to 20 g, heavy-tailed, with a push to the body."""
    rng = np.random.default_rng(seed)
    out = np.zeros(n)
    t = np.arange(round(0.02 * RATE_HZ)) / RATE_HZ
    ring = np.exp(-t / 0.002) * np.sin(2 * np.pi * 1900 * t)
    for start in rng.integers(0, n - t.size, rng.poisson(per_second * n / RATE_HZ)):
        out[start : start + t.size] += min(20.0, 1 + rng.pareto(1.5)) * ring
    return out


@pytest.mark.parametrize("seed", range(4))
def test_falling_material_is_not_a_gap_and_hides_none(
    dropped: Callable[..., Outcome], seed: int
) -> None:
    x = wandering(wander=0.0002, noise_g=0.05, seed=seed)
    struck = x + hits(x.size, seed=seed)
    assert dropped(struck).result == "pass"
    assert dropped(without(struck, 30)).result == "hold"


def test_a_hit_is_bridged_by_the_motion_around_it() -> None:
    x = wandering(wander=0.0002, noise_g=0.02, seed=1)
    struck = x + hits(x.size, seed=1)
    bridged = without_hits(struck, RATE_HZ, SHAFT_HZ) + struck.mean()
    changed = bridged != struck
    assert 0.001 < changed.mean() < LARGEST_HIT_SHARE
    # The noise and what the spline makes of it; the hits reach 20 g.
    assert np.abs(bridged - x)[changed].max() < 0.3
    np.testing.assert_array_equal(without_hits(x, RATE_HZ, SHAFT_HZ), x)


def test_a_beating_neighbour_is_not_a_gap(dropped: Callable[..., Outcome]) -> None:
    x = wandering(wander=0.0003)
    t = np.arange(x.size) / RATE_HZ
    assert dropped(x + 0.5 * np.sin(2 * np.pi * 16.05 * t)).result == "pass"


def test_a_speed_one_per_cent_off_does_no_harm(dropped: Callable[..., Outcome]) -> None:
    x = wandering(wander=0.001)
    assert dropped(x, 1.01 * SHAFT_HZ).result == "pass"
    assert dropped(without(x, 60), 1.01 * SHAFT_HZ).result == "hold"


@pytest.mark.parametrize(("noise_g", "is_judged"), [(2.0, True), (20.0, False)])
def test_a_weak_shaft_line_is_not_judged_and_says_so(
    dropped: Callable[..., Outcome], noise_g: float, is_judged: bool
) -> None:
    finding = dropped(wandering(wander=0.0003, noise_g=noise_g))
    assert finding.result == ("pass" if is_judged else "not-judged")
    if not is_judged:
        assert "too weak or too unsteady" in finding.detail


def test_a_machine_that_stops_is_not_judged(dropped: Callable[..., Outcome]) -> None:
    x = wandering(wander=0.0003)
    t = np.arange(x.size) / RATE_HZ
    noise = 0.01 * np.random.default_rng(11).standard_normal(x.size)
    finding = dropped(np.where((t > 10) & (t < 12), noise, x))
    assert finding.result == "not-judged"
    assert "vanishes" in finding.detail


def test_a_run_down_is_not_judged(dropped: Callable[..., Outcome]) -> None:
    t = np.arange(round(40 * RATE_HZ)) / RATE_HZ
    turn = 2 * np.pi * SHAFT_HZ * (t - 0.012 * t**2 / 2)
    finding = dropped(5 * np.sin(turn) + 0.1 * np.random.default_rng(12).standard_normal(t.size))
    assert finding.result == "not-judged"
    assert re.search(r"speed changes|too unsteady|vanishes", finding.detail)


def test_what_cannot_be_followed_is_not_judged_with_its_reason(
    dropped: Callable[..., Outcome],
) -> None:
    x = wandering(wander=0.0, seconds=10)
    assert "No shaft speed" in dropped(x, None).detail
    assert "16 samples per turn" in dropped(x, RATE_HZ / 15).detail
    assert "31 turns are too few" in dropped(x[: round(31.4 / SHAFT_HZ * RATE_HZ)]).detail
    for shaft_hz in (None, RATE_HZ / 15):
        assert dropped(x, shaft_hz).result == "not-judged"


@pytest.mark.parametrize("gap", [20, 200])
def test_the_step_of_an_exact_sine_is_exact(gap: int) -> None:
    turn = 2 * np.pi * SHAFT_HZ * np.arange(round(20 * RATE_HZ)) / RATE_HZ
    steps = phase_steps(
        without(np.sin(turn + 0.4), gap, at=250_000), RATE_HZ, shaft_frequency_hz=SHAFT_HZ
    )
    worst = int(np.argmax(steps.strength))
    # The mean that is taken off, block edges on whole samples: 1e-3 of a degree.
    assert steps.step_deg[worst] == pytest.approx(gap * DEG_PER_SAMPLE, abs=0.02)
    assert steps.time_s[worst] == pytest.approx(250_000 / RATE_HZ, abs=1.0)


@pytest.mark.parametrize("gap", [5, 50, 333, 785])
@pytest.mark.parametrize("place", [0, 0.03, 0.07, 0.11])
def test_a_quiet_steady_machine_shows_every_gap_wherever_it_lies(
    dropped: Callable[..., Outcome], gap: int, place: float
) -> None:
    """Low noise must not make the fit so strict that a gap between two points is lost."""
    x = wandering(wander=0.0, noise_g=0.02, seconds=20)
    at = round((130 + place) / SHAFT_HZ * RATE_HZ)
    finding = dropped(without(x, gap, at=at))
    assert finding.result == "hold"
    assert measured(finding)[2] == pytest.approx(gap, abs=1)


def test_a_speed_that_wanders_by_0_3_per_cent_still_shows_70_samples(
    dropped: Callable[..., Outcome],
) -> None:
    """The cubic takes the wandering: a straight line would leave half as much scatter again."""
    finding = dropped(without(wandering(wander=0.003), 70))
    assert finding.result == "hold"
    assert measured(finding)[2] == pytest.approx(70, abs=20)
    assert int(re.findall(r"(\d+) samples\)", finding.detail)[0]) < 55
