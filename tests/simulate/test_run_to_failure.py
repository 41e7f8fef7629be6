"""The life of one invented machine: its course, what changes and what stays."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate import LifeRecording, SimulationSettings, run_to_failure
from vibhealth.simulate.settings import Resonance

SHORT = SimulationSettings(
    duration_s=1.0,
    sampling_rate_hz=4000.0,
    resonances=(Resonance(frequency_hz=1500.0),),
    speed_wander_percent=0.0,
)
START = datetime(2031, 1, 1, 6, 0, tzinfo=UTC)


@pytest.fixture
def life(make_card: Callable[..., MachineCard]) -> Callable[..., list[LifeRecording]]:
    def make(**options: Any) -> list[LifeRecording]:
        usual: dict[str, Any] = {
            "element": Element.OUTER_RING,
            "n_recordings": 20,
            "settings": SHORT,
            "start_time": START,
        }
        return list(run_to_failure(make_card(), **usual | options))

    return make


def test_sound_up_to_the_onset_then_exponential(life: Callable[..., list[LifeRecording]]) -> None:
    made = life(onset_share=0.35, first_impact_m_s2=0.1, last_impact_m_s2=10.0)
    assert [item.is_damaged for item in made] == [False] * 7 + [True] * 13
    assert all(len(item.simulated.truth.defects) == item.is_damaged for item in made)
    log10 = np.log10([item.impact_m_s2 for item in made[7:]])
    # Closed form: -1 to 1 in 12 even steps; 12 % scatter is 0.052 of the logarithm.
    off = log10 - np.linspace(-1.0, 1.0, 13)
    assert np.max(np.abs(off)) < 4 * 0.052
    assert np.std(off) > 0.01
    struck = [item.simulated.truth.defects[0].defect for item in made[7:]]
    assert [defect.impact_m_s2 for defect in struck] == [item.impact_m_s2 for item in made[7:]]
    assert {defect.element for defect in struck} == {Element.OUTER_RING}


def test_the_background_grows_in_the_last_third_only(
    life: Callable[..., list[LifeRecording]],
) -> None:
    made = life(n_recordings=31)
    ratios = np.array([item.background_ratio for item in made])
    assert np.max(np.abs(np.log(ratios[:21]))) < 0.2
    assert ratios[-1] == pytest.approx(4.0, rel=0.2)
    assert ratios[25] == pytest.approx(2.0, rel=0.2)
    noise = [item.simulated.settings.oil_noise_g_rms for item in made]
    assert noise == pytest.approx(SHORT.oil_noise_g_rms * ratios)


def test_dates_and_hours_are_even(life: Callable[..., list[LifeRecording]]) -> None:
    made = life(n_recordings=4, interval_days=3.5, running_hours_per_day=10.0)
    assert [item.index for item in made] == [0, 1, 2, 3]
    assert [item.recorded_at - START for item in made] == [
        timedelta(days=3.5 * i) for i in range(4)
    ]
    assert [item.running_hours_h for item in made] == [0.0, 35.0, 70.0, 105.0]


def test_the_machine_stays_and_its_state_varies_a_little(
    life: Callable[..., list[LifeRecording]],
) -> None:
    made = life()
    settings = [item.simulated.settings for item in made]
    assert {item.machine_seed for item in settings} == {1}
    assert len({item.seed for item in settings}) == 20
    speeds = np.array([item.speed_rpm or 0.0 for item in settings])
    usual_rpm = 0.995 * 1200.0
    assert np.ptp(speeds) / usual_rpm > 0.001
    assert np.max(np.abs(speeds / usual_rpm - 1)) <= 0.01 + 1e-9
    warm_c = np.array([item.temperature_c for item in made])
    assert np.ptp(warm_c) > 0.5
    assert np.max(np.abs(warm_c - 48.0)) <= 3.0
    still = {
        replace(item, seed=0, speed_rpm=None, oil_noise_g_rms=0.0).harmonic_ratios
        for item in settings
    }
    assert len(still) == 1
    one, two = (item.simulated.samples for item in made[:2])
    assert not np.array_equal(one, two)


def test_the_same_seed_gives_the_same_life_and_another_another(
    life: Callable[..., list[LifeRecording]],
) -> None:
    one, again, other = (life(n_recordings=3, seed=seed) for seed in (5, 5, 6))
    for first, second in zip(one, again, strict=True):
        assert np.array_equal(first.simulated.samples, second.simulated.samples)
        assert first.impact_m_s2 == second.impact_m_s2
    assert one[-1].impact_m_s2 != other[-1].impact_m_s2
    assert not np.array_equal(one[0].simulated.samples, other[0].simulated.samples)


def test_at_least_two_recordings_are_damaged(life: Callable[..., list[LifeRecording]]) -> None:
    assert [i.is_damaged for i in life(n_recordings=4, onset_share=0.95)] == [False] * 2 + [
        True
    ] * 2
    assert all(item.is_damaged for item in life(n_recordings=3, onset_share=0.0))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"n_recordings": 2}, "n_recordings must lie between 3 and 999, got 2"),
        ({"n_recordings": 1000}, "n_recordings must lie between 3 and 999, got 1000"),
        ({"seed": -1}, "seed must be at least 0, got -1"),
        ({"interval_days": 0.0}, "interval_days must lie in"),
        ({"onset_share": 0.96}, "onset_share must lie in"),
        ({"first_impact_m_s2": 0.0}, "first_impact_m_s2 must lie in"),
        ({"first_impact_m_s2": 2.0, "last_impact_m_s2": 2.0}, "last_impact_m_s2 must lie in"),
        ({"running_hours_per_day": 25.0}, "running_hours_per_day must lie in"),
        ({"start_time": datetime(2031, 1, 1)}, "must have a time zone"),  # noqa: DTZ001 (refused)
        ({"bearing": "lower"}, "'lower'"),
    ],
)
def test_a_broken_rule_is_refused_before_the_first_recording(
    make_card: Callable[..., MachineCard], options: dict[str, Any], words: str
) -> None:
    with pytest.raises(SettingsError, match=words):
        run_to_failure(make_card(), **{"element": Element.OUTER_RING, **options})
