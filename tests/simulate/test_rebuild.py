"""Start-ups of invented rebuilds: what each mistake shows, when and where it is written."""

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.errors import OutputError, SettingsError
from vibhealth.model import Moment, Stage
from vibhealth.recording import ChannelRequest, read_recording, read_sidecar
from vibhealth.simulate import (
    FAULTS,
    CourseTruth,
    SimulatedRecording,
    draw_fault,
    rebuild_recordings,
    write_rebuild,
)

CardMaker = Callable[..., MachineCard]

SECONDS = 4.0
RATE_HZ = 6400.0
SEEDS = (1, 2)
ONLY_AT_START_AND_STOP = {"drags", "guard-strikes-at-start", "slow-start"}


@pytest.fixture
def card(make_card: CardMaker) -> MachineCard:
    point = {"sensor": "A1"}
    return make_card(
        point=[
            {"name": "P1X", "direction": "x", "channel": 1, **point},
            {"name": "P1Y", "direction": "y", "channel": 2, **point},
            {"name": "P1Z", "direction": "z", "channel": 3, **point},
            {"name": "P4", "direction": "z", "channel": 4, "mounted_on": "base", **point},
        ]
    )


def steady(card: MachineCard, fault: str | None, seed: int, **how: Any) -> SimulatedRecording:
    """First steady recording of a start-up."""
    settings = {"seconds": SECONDS, "sampling_rate_hz": RATE_HZ, "n_recordings": 1, **how}
    made = rebuild_recordings(card, fault=fault, seed=seed, with_start_and_stop=False, **settings)
    return made[0].simulated


def courses(card: MachineCard, fault: str | None, seed: int) -> tuple[CourseTruth, CourseTruth]:
    """Run-up and coast-down of a start-up."""
    made = rebuild_recordings(
        card, fault=fault, seed=seed, seconds=1.0, sampling_rate_hz=RATE_HZ, n_recordings=1
    )
    up, down = made[0].simulated.truth.course, made[-1].simulated.truth.course
    assert up is not None
    assert down is not None
    return up, down


def order(made: SimulatedRecording, number: float) -> NDArray[np.complex128]:
    """Complex amplitude per point at an order of the shaft."""
    turns = made.truth.shaft_turns - made.truth.shaft_turns[0]
    whole = turns < 2 * np.floor(turns[-1] / 2)  # half orders come out even
    wave = np.exp(-2j * np.pi * number * made.truth.shaft_turns[whole])
    return np.asarray(2 * np.mean(made.samples[:, whole] * wave, axis=1))


def high(made: SimulatedRecording, low_hz: float = 2000.0) -> NDArray[np.float64]:
    """Level per point above a frequency."""
    lines = np.fft.rfft(made.samples * np.hanning(made.samples.shape[1]))
    frequency_hz = np.fft.rfftfreq(made.samples.shape[1], 1 / made.sampling_rate_hz)
    return np.asarray(np.sqrt(np.sum(np.abs(lines[:, frequency_hz > low_hz]) ** 2, axis=1)))


def test_a_rebuild_is_recorded_in_the_order_of_time(card: MachineCard) -> None:
    made = rebuild_recordings(
        card,
        fault=None,
        seed=4,
        seconds=1.0,
        checks=("1h", "7d"),
        with_as_found=True,
        sampling_rate_hz=RATE_HZ,
    )
    assert [(item.stage, item.moment) for item in made] == [
        *[(Stage.AS_FOUND, None)] * 3,
        (Stage.AS_LEFT, Moment.RUN_UP),
        *[(Stage.AS_LEFT, Moment.HOUR_1)] * 3,
        *[(Stage.AS_LEFT, Moment.DAY_7)] * 3,
        (Stage.AS_LEFT, Moment.COAST_DOWN),
    ]
    times = [item.start_time for item in made]
    assert times == sorted(times)
    assert len({item.name for item in made}) == len(made)
    run_up = made[3].simulated
    assert run_up.truth.shaft_frequency_hz[0] == 0
    assert made[-1].simulated.truth.shaft_frequency_hz[-1] == 0
    speeds = [np.mean(item.simulated.truth.shaft_frequency_hz) for item in made[4:7]]
    assert len(set(speeds)) == 3
    assert np.ptp(speeds) < 0.1


def test_one_seed_is_one_machine(card: MachineCard) -> None:
    how: dict[str, Any] = {"seconds": 2.0, "with_start_and_stop": False, "n_recordings": 2}
    first = rebuild_recordings(card, fault=None, seed=5, **how)
    second = rebuild_recordings(card, fault=None, seed=6, **how)[0]
    again = rebuild_recordings(card, fault=None, seed=5, **how)[0]
    np.testing.assert_array_equal(again.simulated.samples, first[0].simulated.samples)
    assert not np.array_equal(first[0].simulated.samples, first[1].simulated.samples)
    shapes = [
        order(item.simulated, 2)[0] / order(item.simulated, 1)[0] ** 2
        for item in (first[0], first[1], second)
    ]
    # 2x against 1x, in size and phase, is the machine's: wander and noise leave a per cent
    assert abs(shapes[1] / shapes[0] - 1) < 0.02
    assert abs(shapes[2] / shapes[0] - 1) > 0.05


def test_a_good_machine_moves_as_its_card_says(card: MachineCard) -> None:
    for seed in SEEDS:
        made = steady(card, None, seed)
        shaft_hz = float(np.mean(made.truth.shaft_frequency_hz))
        stroke_mm = 2e3 * np.abs(order(made, 1)) / (2 * np.pi * shaft_hz) ** 2
        np.testing.assert_allclose(stroke_mm[:2], [5.0, 4.0], rtol=0.06)
        base = np.abs(order(made, 1)[3]) / np.abs(order(made, 1)[0])
        assert 0.008 < base < 0.03


@pytest.mark.parametrize("fault", sorted(set(FAULTS) - ONLY_AT_START_AND_STOP))
def test_every_mistake_changes_the_recordings(card: MachineCard, fault: str) -> None:
    bad, good = (steady(card, name, 7, seconds=1.0) for name in (fault, None))
    assert np.all(np.isfinite(bad.samples))
    assert bad.fault == fault
    assert np.max(np.abs(bad.samples - good.samples)) > 0.1


@pytest.mark.parametrize("fault", sorted(ONLY_AT_START_AND_STOP))
def test_some_mistakes_show_only_at_start_and_stop(card: MachineCard, fault: str) -> None:
    bad, good = (
        rebuild_recordings(
            card, fault=name, seed=7, seconds=1.0, sampling_rate_hz=RATE_HZ, n_recordings=1
        )
        for name in (fault, None)
    )
    np.testing.assert_array_equal(bad[1].simulated.samples, good[1].simulated.samples)
    first, second = bad[0].simulated.samples, good[0].simulated.samples
    n_samples = min(first.shape[1], second.shape[1])
    assert np.all(np.isfinite(first))
    assert np.max(np.abs(first[:, :n_samples] - second[:, :n_samples])) > 1.0


@pytest.mark.parametrize("seed", SEEDS)
class TestWhatAMistakeShows:
    """Signs that practice names for each mistake, against the good machine of the same seed."""

    def test_brace(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "shipping-brace-left-in", seed)
        ratio = np.abs(order(bad, 1) / order(good, 1))
        assert 0.38 < min(ratio[0], ratio[1]) < 0.82
        assert 2.8 < ratio[3] < 10.5

    def test_stop(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "locating-stop-not-released", seed)
        assert abs(order(bad, 1)[0]) < 0.95 * abs(order(good, 1)[0])
        second = [abs(order(made, 2)[0] / order(made, 1)[0]) for made in (good, bad)]
        assert second[1] > 2 * second[0]

    def test_loose_bolts(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "unit-bolts-loose", seed)
        assert abs(order(bad, 0.5)[0]) > 0.01 * abs(order(bad, 1)[0])
        assert abs(order(bad, 5)[0]) > 2 * abs(order(good, 5)[0])

    def test_reversal(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "turns-the-wrong-way", seed)
        senses = [np.sign((order(made, 1)[1] / order(made, 1)[0]).imag) for made in (good, bad)]
        assert senses[0] == -senses[1]
        np.testing.assert_allclose(np.abs(order(bad, 1)), np.abs(order(good, 1)), rtol=1e-3)

    def test_eccentric(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "eccentric-set-wrong", seed)
        ratio = np.abs(order(bad, 1) / order(good, 1))
        assert 0.59 < ratio[0] < 0.81 or 1.19 < ratio[0] < 1.46
        np.testing.assert_allclose(ratio, ratio[0], rtol=0.01)

    def test_oil(self, card: MachineCard, seed: int) -> None:
        good = high(steady(card, None, seed))[0]
        made = rebuild_recordings(
            card,
            fault="oil-starved",
            seed=seed,
            seconds=SECONDS,
            sampling_rate_hz=RATE_HZ,
            with_start_and_stop=False,
        )
        levels = [high(item.simulated)[0] for item in made]
        assert levels[0] > 2 * good
        assert levels[2] > 1.1 * levels[0]
        assert made[2].temperature_c > made[0].temperature_c + 1

    def test_grit(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "grit", seed)
        assert high(bad)[0] > 1.2 * high(good)[0]
        rest = bad.samples[0] - good.samples[0]
        assert np.max(np.abs(rest)) > 10 * np.std(rest)

    def test_cocked_seat(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "seat-cocked", seed)
        for number, factor in ((1, 2.0), (2, 4.0)):
            assert abs(order(bad, number)[2]) > factor * abs(order(good, number)[2])

    def test_coupling(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "coupling-misfit", seed)
        assert abs(order(bad, 1)[2]) > 1.8 * abs(order(good, 1)[2])
        assert abs(order(bad, 3)[2]) > 2 * abs(order(good, 3)[2])
        assert abs(order(bad, 2)[0]) > 1.8 * abs(order(good, 2)[0])
        assert abs(order(bad, 2)[3]) == pytest.approx(abs(order(good, 2)[3]), rel=0.05)

    def test_isolator(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "isolator-broken", seed)
        assert abs(order(bad, 1)[2]) > 2.5 * abs(order(good, 1)[2])
        lag = np.angle(order(bad, 1)[1] / order(bad, 1)[0])
        assert abs(abs(lag) - np.pi / 2) > np.deg2rad(2)  # a tilted orbit
        plan = draw_fault(card, fault="isolator-broken", seed=seed)
        assert 0.69 < plan.settings["fault"].isolator_factor < 0.88

    def test_drive(self, card: MachineCard, seed: int) -> None:
        good, bad = steady(card, None, seed), steady(card, "drive-at-wrong-frequency", seed)
        speed = bad.truth.mean_shaft_frequency_hz / 20.0
        assert 0.035 < abs(speed - 1) < 0.125
        relative = bad.truth.mean_shaft_frequency_hz / good.truth.mean_shaft_frequency_hz
        ratio = np.abs(order(bad, 1) / order(good, 1))[0]
        assert ratio == pytest.approx(relative**2, rel=0.01)  # the same stroke

    def test_sensitivity_and_axes(self, card: MachineCard, seed: int) -> None:
        good = steady(card, None, seed)
        scaled = steady(card, "sensitivity-wrong", seed).samples / good.samples
        np.testing.assert_allclose(scaled, scaled[0, 0])
        assert not 0.5 < scaled[0, 0] < 2
        swapped = steady(card, "axes-swapped", seed).samples
        rows = [
            next(i for i, row in enumerate(good.samples) if np.array_equal(row, values))
            for values in swapped
        ]
        assert sorted(rows) == [0, 1, 2, 3]
        assert rows != [0, 1, 2, 3]
        assert rows[3] == 3

    def test_drag_and_slow_start(self, card: MachineCard, seed: int) -> None:
        good_up, good_down = courses(card, None, seed)
        up, down = courses(card, "drags", seed)
        slow_up, _ = courses(card, "slow-start", seed)
        assert 0.4 <= down.course.coast_down_s / good_down.course.coast_down_s <= 0.65
        assert up.course.run_up_s > 1.2 * good_up.course.run_up_s
        assert max(slow_up.swing_ratios) > 1.3 * max(good_up.swing_ratios)

    def test_beat(self, card: MachineCard, seed: int) -> None:
        plan = draw_fault(card, fault="shafts-beat", seed=seed).settings["fault"]
        bad = steady(card, "shafts-beat", seed)
        turns = bad.truth.shaft_turns
        per_turn = round(bad.sampling_rate_hz / 20)
        demodulated = bad.samples[0] * np.exp(-2j * np.pi * turns)
        smooth = np.abs(np.convolve(demodulated, np.ones(per_turn) / per_turn, mode="valid"))
        depth = np.ptp(smooth) / (np.max(smooth) + np.min(smooth))
        assert depth <= 1.1 * plan.beat_depth
        if plan.beat_hz * SECONDS >= 1.2:
            assert depth == pytest.approx(plan.beat_depth, rel=0.1)


def test_a_base_hears_little_of_the_bearing(card: MachineCard) -> None:
    bad, good = steady(card, "brinelled", 3), steady(card, None, 3)
    strikes = np.max(np.abs(bad.samples - good.samples), axis=1)
    assert strikes[3] < 0.1 * strikes[0]
    assert strikes[3] > 0


def test_a_rebuild_is_written_and_read_again(card: MachineCard, tmp_path: Any) -> None:
    made = rebuild_recordings(
        card, fault="grit", seed=2, seconds=1.0, n_recordings=1, with_as_found=True
    )
    written = write_rebuild(made, tmp_path)
    assert [path.relative_to(tmp_path).as_posix() for path in written] == [
        "as-found/as-found-1.flac",
        "as-left/run-up/run-up.flac",
        "as-left/1h/1h-1.flac",
        "as-left/coast-down/coast-down.flac",
    ]
    sidecar = read_sidecar(written[2])
    assert sidecar is not None
    facts = sidecar.of_channel(1)
    assert facts["start_time"] == made[2].start_time
    assert facts["temperature_c"] == made[2].temperature_c
    assert facts["load"] == "empty"
    assert "INVENTED" in facts["remarks"]
    again = read_recording(written[2], requests=[ChannelRequest(channel=2)])[0]
    step_m_s2 = 50 * 9.80665 / 2**23
    np.testing.assert_allclose(again.samples, made[2].simulated.samples[1], atol=step_m_s2)
    with pytest.raises(OutputError):
        write_rebuild(made, tmp_path)


@pytest.mark.parametrize(
    ("how", "message"),
    [
        ({"fault": "gremlins"}, "fault must be one of shipping-brace-left-in, "),
        ({"fault": None, "checks": ("2h",)}, "checks must be of 1h, 8h, 24h, 7d, got '2h'"),
        ({"fault": None, "n_recordings": 0}, "n_recordings must be at least 1, got 0"),
    ],
)
def test_unknown_rebuilds_are_refused(card: MachineCard, how: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        rebuild_recordings(card, seed=1, **how)


def test_axes_cannot_be_swapped_on_one_point(make_card: CardMaker) -> None:
    one = make_card(point=[{"name": "P1X", "direction": "x", "sensor": "A1"}])
    with pytest.raises(SettingsError, match="needs two points on the body, the card has 1"):
        draw_fault(one, fault="axes-swapped", seed=1)
