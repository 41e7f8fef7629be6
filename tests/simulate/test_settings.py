"""Every setting refuses what it cannot mean, with its name, rule and value."""

import math
import re
from typing import Any

import pytest

from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate import Defect, Resonance, SimulationSettings


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"duration_s": 0.0}, "duration_s must lie in (0, 3600], got 0.0"),
        ({"duration_s": -1.0}, "duration_s must lie in (0, 3600], got -1.0"),
        ({"duration_s": math.nan}, "duration_s must lie in (0, 3600], got nan"),
        ({"duration_s": 1e-5}, "duration_s must give at least 2 samples at 25600 Hz, got 1e-05"),
        ({"sampling_rate_hz": 100.0}, "sampling_rate_hz must lie in [200, 1e+06], got 100.0"),
        ({"speed_rpm": 0.0}, "speed_rpm must lie in (0, 60000], got 0.0"),
        ({"speed_wander_percent": 11.0}, "speed_wander_percent must lie in [0, 10], got 11.0"),
        ({"cage_slip_percent": 6.0}, "cage_slip_percent must lie in [-5, 5], got 6.0"),
        ({"slip_jitter_percent": -0.1}, "slip_jitter_percent must lie in [0, 10], got -0.1"),
        ({"load_factor": 0.0}, "load_factor must lie in [0.05, 10], got 0.0"),
        ({"noise_modulation": math.inf}, "noise_modulation must lie in [0, 1], got inf"),
        ({"clip_g": 0.0}, "clip_g must lie in (0, 10000], got 0.0"),
        ({"harmonic_ratios": (0.1, -0.1)}, "harmonic_ratios must lie in [0, 1], got -0.1"),
        ({"first_order_g": {"x": -3.0}}, "first_order_g['x'] must lie in [0, 1000], got -3.0"),
        ({"seed": -1}, "seed must be at least 0, got -1"),
        ({"dropped_samples": -1}, "dropped_samples must be at least 0, got -1"),
        (
            {"duration_s": 1.0, "dropped_samples": 9000},
            "dropped_samples must be at most a third of the recording (8533), got 9000",
        ),
        ({"resonances": ()}, "resonances must hold at least one resonance, got none"),
        (
            {"sampling_rate_hz": 12_800.0},
            "resonances must lie below half the sampling rate (6400 Hz), got 8600 Hz: raise",
        ),
    ],
)
def test_a_setting_outside_its_range_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        SimulationSettings(**changes)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"frequency_hz": 0.0}, "frequency_hz must lie in (0, 500000], got 0.0"),
        ({"damping_ratio": 1.0}, "damping_ratio must lie in (0, 0.999], got 1.0"),
        ({"gain": -1.0}, "gain must lie in (0, 1e+06], got -1.0"),
    ],
)
def test_an_impossible_resonance_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        Resonance(**{"frequency_hz": 3000.0, **changes})


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"impact_m_s2": -0.5}, "impact_m_s2 must lie in (0, 100000], got -0.5"),
        ({"impact_m_s2": 0.0}, "impact_m_s2 must lie in (0, 100000], got 0.0"),
        ({"place_deg": 361.0}, "place_deg must lie in [-360, 360], got 361.0"),
        (
            {"element": Element.CAGE, "marks_at_every_element": True},
            "marks_at_every_element needs element outer-ring or inner-ring, got cage",
        ),
    ],
)
def test_an_impossible_defect_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(message)):
        Defect(**{"element": Element.OUTER_RING, **changes})


def test_the_ends_of_a_range_and_no_value_are_allowed() -> None:
    settings = SimulationSettings(
        duration_s=3600.0, cage_slip_percent=-5.0, speed_rpm=None, clip_g=None, mains_hz=None
    )
    assert settings.n_samples == 92_160_000
