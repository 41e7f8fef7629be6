"""Material, a loose guard and an inverter are told; a bearing and a healthy machine are none."""

import math
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.diagnosis.disturbances import find_disturbances, masking_reason
from vibhealth.errors import InputError
from vibhealth.model import Disturbance, Element
from vibhealth.simulate import Defect, Resonance, SimulatedRecording, SimulationSettings, simulate

BAND_HZ = (1000.0, 10_000.0)


def card(load_case: str = "rotating") -> MachineCard:
    """Deck feeder F3 of the invented salt works."""
    return MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {"id": "F3", "nominal_speed_rpm": 978.0},
            "exciter": {"stroke_mm": {"x": 6.0}, "orbit_direction": "counter-clockwise"},
            "bearing": [
                {
                    "name": "upper",
                    "element_count": 17,
                    "element_diameter_mm": 26.0,
                    "pitch_diameter_mm": 160.0,
                    "rotating_ring": "inner",
                    "load_case": load_case,
                }
            ],
            "sensor": [{"name": "A1", "unit": "m/s2"}],
            "point": [{"name": "P1X", "direction": "x", "sensor": "A1", "channel": 1}],
        }
    )


def recorded(load_case: str = "rotating", defect: Defect | None = None, **k: Any) -> Any:
    settings = SimulationSettings(**{"duration_s": 12.0, "seed": 5, **k})
    return simulate(card(load_case), defects=() if defect is None else (defect,), settings=settings)


def told(
    simulated: SimulatedRecording, scale: float = 1.0, band_hz: tuple[float, float] = BAND_HZ
) -> dict[str, Disturbance]:
    found = find_disturbances(
        scale * simulated.samples[0],
        simulated.sampling_rate_hz,
        shaft_frequency_hz=simulated.truth.mean_shaft_frequency_hz,
        bearing_band_hz=band_hz,
    )
    return {item.id: item for item in found}


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"noise_modulation": 0.8, "oil_noise_g_rms": 0.1},
        {"starvation": 1.0, "speed_wander_percent": 1.0},
        {"gear_teeth": 97, "gear_g": 0.1},
        {"gear_teeth": 97, "speed_wander_percent": 0.0},
        {"coupling_modulation": 0.4},
        {"looseness": 1.0},
    ],
)
def test_a_healthy_machine_has_none(changes: dict[str, Any]) -> None:
    assert told(recorded(**changes)) == {}


def test_a_defect_at_a_perfectly_steady_speed_is_no_hum() -> None:
    defect = Defect(element=Element.INNER_RING, impact_m_s2=10.0)
    assert told(recorded(defect=defect, speed_wander_percent=0.0, slip_walk_percent=0.1)) == {}


@pytest.mark.parametrize("load_case", ["rotating", "stationary"])
@pytest.mark.parametrize("impact", [1.5, 20.0])
@pytest.mark.parametrize("element", list(Element))
def test_a_defect_is_none(load_case: str, element: Element, impact: float) -> None:
    assert told(recorded(load_case, Defect(element=element, impact_m_s2=impact))) == {}


@pytest.mark.parametrize("rate", [5.0, 20.0, 100.0])
def test_material_is_told_with_its_rate(rate: float) -> None:
    found = told(recorded(material_strikes_per_second=rate))
    assert set(found) == {"material-strikes"}
    # 12 s: Poisson scatter of 13 % at 5 per second; the smaller hits stay below the level, and at
    # 100 per second many fall into one another.
    assert 0.5 * rate < found["material-strikes"].value < 1.2 * rate
    assert re.match(
        r"[\d.]+ hard hits per second, at random: falling material; \d+ %",
        (found["material-strikes"].detail),
    )
    assert "empty" in found["material-strikes"].advice


def test_a_few_hits_are_told_per_minute() -> None:
    found = told(
        recorded(material_strikes_per_second=0.8, material_strike_m_s2=5.0, duration_s=25.0)
    )
    assert "hard hits per minute" in found["material-strikes"].detail


def test_the_unit_of_the_samples_does_not_matter() -> None:
    simulated = recorded(material_strikes_per_second=20.0, rattle_m_s2=8.0)
    one, other = told(simulated), told(simulated, 1e-3)
    assert set(one) == {"material-strikes", "strikes-at-1x"}
    for kind, item in one.items():
        assert other[kind].value == pytest.approx(item.value, rel=1e-6)


@pytest.mark.parametrize("rattle", [5.0, 30.0])
def test_a_guard_that_hits_every_turn_is_told_and_is_no_material(rattle: float) -> None:
    found = told(recorded(rattle_m_s2=rattle))
    assert set(found) == {"strikes-at-1x"}
    assert found["strikes-at-1x"].value > 4
    assert "never record with a guard off" in found["strikes-at-1x"].advice


@pytest.mark.parametrize("rattle", [20.0, 60.0])
def test_a_guard_that_rings_until_far_into_the_turn_is_told(rattle: float) -> None:
    ringing = (
        Resonance(frequency_hz=1800.0, damping_ratio=0.04, gain=1.0),
        Resonance(frequency_hz=3000.0, damping_ratio=0.03, gain=0.6),
    )
    simulated = recorded(
        rattle_m_s2=rattle, speed_rpm=1200.0, sampling_rate_hz=8000.0, resonances=ringing
    )
    found = told(simulated, band_hz=(1000.0, 3900.0))
    assert set(found) == {"strikes-at-1x"}


@pytest.mark.parametrize("wander", [0.0, 0.15, 2.0])
def test_an_inverter_is_told(wander: float) -> None:
    found = told(recorded(inverter_hz=3950.0, inverter_supply_hz=50.0, speed_wander_percent=wander))
    assert set(found) == {"lines-fixed-in-hz"}
    assert "the strongest at 3950 Hz" in found["lines-fixed-in-hz"].detail
    # 0.05 g of carrier (and side bands, 1.9 times its power) against 0.02 g of noise: about 90 %.
    assert 70 < found["lines-fixed-in-hz"].value < 95


def test_without_a_speed_material_is_told_all_the_same() -> None:
    simulated = recorded(material_strikes_per_second=20.0)
    found = find_disturbances(
        simulated.samples[0],
        simulated.sampling_rate_hz,
        shaft_frequency_hz=None,
        bearing_band_hz=BAND_HZ,
    )
    assert [item.id for item in found] == ["material-strikes"]


def test_a_given_angle_is_used() -> None:
    simulated = recorded(rattle_m_s2=5.0, first_order_g={"x": 0.0}, speed_wander_percent=0.5)
    found = find_disturbances(
        simulated.samples[0],
        simulated.sampling_rate_hz,
        shaft_frequency_hz=simulated.truth.mean_shaft_frequency_hz,
        bearing_band_hz=BAND_HZ,
        shaft_phase_turns=simulated.truth.shaft_turns,
    )
    assert [item.id for item in found] == ["strikes-at-1x"]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"sampling_rate_hz": 0.0}, "sampling_rate_hz must be a finite number above 0, got 0.0"),
        ({"shaft_frequency_hz": -1.0}, "shaft_frequency_hz must be a finite number above 0"),
        ({"bearing_band_hz": (500.0, 600.0)}, "band_hz must satisfy 0 < low < high <= 500"),
        ({"samples": np.zeros((2, 999))}, "samples must be one channel, got shape (2, 999)"),
        ({"samples": np.zeros(9999)}, "band_hz (100.0, 400.0) must hold some signal, got silence"),
        (
            {"shaft_phase_turns": np.zeros(3)},
            "shaft_phase_turns must have shape (9999,), got (3,)",
        ),
    ],
)
def test_what_cannot_be_searched_is_refused(changes: dict[str, Any], message: str) -> None:
    samples: NDArray[np.float64] = np.random.default_rng(0).standard_normal(9999)
    arguments: dict[str, Any] = {
        "samples": samples,
        "sampling_rate_hz": 1000.0,
        "shaft_frequency_hz": 10.0,
        "bearing_band_hz": (100.0, 400.0),
        **changes,
    }
    with pytest.raises(InputError, match=re.escape(message)):
        find_disturbances(arguments.pop("samples"), arguments.pop("sampling_rate_hz"), **arguments)


HITS = Disturbance(id="material-strikes", title="", value=12.0, unit="1/s", detail="")
GUARD = Disturbance(id="strikes-at-1x", title="", value=7.0, unit="times the noise", detail="")
HUM = Disturbance(id="lines-fixed-in-hz", title="", value=40.0, unit="%", detail="")


def test_a_recording_too_coarse_under_a_disturbance_is_masked() -> None:
    assert masking_reason([HITS], [0.1, 0.4], 0.3) == (
        "Masked: falling material (12 hard hits per second) hides the bearing."
    )
    assert masking_reason([HITS, GUARD, HUM], [0.4], 0.3) == (
        "Masked: falling material (12 hard hits per second) and a guard or bolt that hits every "
        "turn (7 times the noise) and lines fixed in Hz (40 % of the band's energy) hide the "
        "bearing."
    )
    assert masking_reason([HUM], [0.4], 0.3).endswith("hide the bearing.")


@pytest.mark.parametrize("detectable", [[], [None], [0.1, None], [0.1, math.inf]])
def test_what_is_not_known_to_be_fine_enough_is_masked(detectable: list[float | None]) -> None:
    assert masking_reason([GUARD], detectable, 0.3)
    assert masking_reason([], detectable, 0.3) == ""


@given(st.lists(st.floats(0.0, 1.0), min_size=1), st.floats(0.01, 1.0))
def test_masked_exactly_where_the_coarsest_is_beyond_the_limit(
    detectable: list[float], limit: float
) -> None:
    assert bool(masking_reason([HITS], detectable, limit)) is (max(detectable) > limit)


@pytest.mark.parametrize(
    ("detectable", "limit", "message"),
    [
        ([0.1], 0.0, "limit must be a finite number above 0, got 0.0"),
        ([-0.1], 0.3, "detectable must hold numbers of at least 0, inf or None, got -0.1"),
        ([math.nan], 0.3, "detectable must hold numbers of at least 0, inf or None, got nan"),
    ],
)
def test_an_impossible_limit_is_refused(
    detectable: list[float], limit: float, message: str
) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        masking_reason([HITS], detectable, limit)
