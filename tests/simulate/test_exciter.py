"""The working motion against the card, random streams, and what a card must give."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate import Defect, SimulationSettings, simulate
from vibhealth.units import STANDARD_GRAVITY_M_S2

SHORT = SimulationSettings(duration_s=2.0)


def first_order(acceleration: np.ndarray, turns: np.ndarray) -> complex:
    """Complex amplitude of 1x by least squares on the true shaft angle."""
    basis = np.stack([np.cos(2 * np.pi * turns), np.sin(2 * np.pi * turns)], axis=1)
    cosine, sine = np.linalg.lstsq(basis, acceleration, rcond=None)[0]
    return complex(cosine, -sine)


@pytest.mark.parametrize("orbit_direction", ["clockwise", "counter-clockwise"])
@pytest.mark.parametrize("speed_rpm", [1200.0, 900.0])
def test_stroke_and_orbit_are_those_of_the_card(
    make_card: Callable[..., MachineCard],
    quiet: dict[str, Any],
    orbit_direction: str,
    speed_rpm: float,
) -> None:
    settings = SimulationSettings(duration_s=2.0, speed_rpm=speed_rpm, **quiet)
    simulated = simulate(make_card(orbit_direction=orbit_direction), settings=settings)
    lines = [first_order(row, simulated.truth.shaft_turns) for row in simulated.samples]
    omega = 2 * np.pi * speed_rpm / 60
    strokes_mm = [2e3 * abs(line) / omega**2 for line in lines]
    np.testing.assert_allclose(strokes_mm, [5.0, 4.0], rtol=1e-9)
    # At shaft angle 0 the body stands at +x, so its acceleration points to -x.
    assert np.angle(-lines[0]) == pytest.approx(0.0, abs=1e-9)
    # Displacement counter-clockwise: x = cos, y = sin, so y lags x by a quarter turn.
    lag_turns = np.angle(lines[0] / lines[1]) / (2 * np.pi)
    sign = 1 if orbit_direction == "counter-clockwise" else -1
    assert lag_turns == pytest.approx(0.25 * sign, abs=1e-9)


def test_the_acceleration_of_a_stroke_grows_with_the_square_of_the_speed(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet["speed_wander_percent"] = 10.0
    simulated = simulate(make_card(), settings=SimulationSettings(duration_s=5.0, **quiet))
    x, y = simulated.samples
    omega = 2 * np.pi * simulated.truth.shaft_frequency_hz
    np.testing.assert_allclose(np.hypot(x / 5.0, y / 4.0), 0.5e-3 * omega**2, rtol=1e-9)


def test_the_motion_follows_the_given_amplitudes_and_harmonics(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet |= {"harmonic_ratios": (0.1, 0.0, 0.03), "half_order_ratio": 0.02}
    settings = SimulationSettings(
        duration_s=3.0, speed_rpm=1200.0, first_order_g={"x": 4.0}, **quiet
    )
    simulated = simulate(make_card(), settings=settings)
    lines = 2 * np.abs(np.fft.rfft(simulated.samples[0])) / settings.n_samples
    found = [lines[round(order * 20 * 3)] for order in (0.5, 1, 1.5, 2, 2.5, 3, 4, 5)]
    shares = np.array([0.02, 1.0, 0.012, 0.1, 0.008, 0.0, 0.03, 0.0])
    # 60 whole turns: every order stands on a line, only round-off is left.
    np.testing.assert_allclose(found, 4.0 * STANDARD_GRAVITY_M_S2 * shares, rtol=0, atol=1e-8)


def test_loose_bolts_raise_harmonics_and_add_half_orders(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet |= {"harmonic_ratios": (0.02,), "looseness": 1.0}
    settings = SimulationSettings(duration_s=3.0, speed_rpm=1200.0, **quiet)
    simulated = simulate(make_card(), settings=settings)
    lines = np.abs(np.fft.rfft(simulated.samples[0]))
    assert lines[30] / lines[60] == pytest.approx(0.1, rel=1e-6)
    assert lines[120] / lines[60] == pytest.approx(0.12, rel=1e-6)


def test_the_same_seed_gives_the_same_bits_and_another_seed_does_not(
    make_card: Callable[..., MachineCard],
) -> None:
    defects = [Defect(element=Element.OUTER_RING), Defect(element=Element.CAGE)]
    settings = replace(
        SHORT, material_strikes_per_second=5.0, rattle_m_s2=3.0, mains_hz=50.0, dropped_samples=7
    )
    one, again = (
        simulate(make_card(), defects=defects, settings=settings).samples for _ in range(2)
    )
    assert one.tobytes() == again.tobytes()
    other = simulate(make_card(), defects=defects, settings=replace(settings, seed=2)).samples
    assert np.max(np.abs(one - other)) > 1.0


def test_the_axes_have_their_own_noise(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet |= {"first_order_g": {"x": 0.0, "y": 0.0}, "oil_noise_g_rms": 0.02}
    settings = SimulationSettings(duration_s=2.0, **quiet)
    rows = simulate(make_card(), settings=settings).samples
    # 50 000 independent samples correlate by 0.0045 (one sigma); the noise is coloured,
    # which leaves fewer of them.
    assert abs(np.corrcoef(rows[0], rows[1]).flat[1]) < 0.05


def test_a_defect_only_adds_to_an_otherwise_unchanged_recording(
    make_card: Callable[..., MachineCard],
) -> None:
    clean = simulate(make_card(), settings=SHORT)
    struck = simulate(make_card(), defects=[Defect(element=Element.OUTER_RING)], settings=SHORT)
    first_strike = int(struck.truth.defects[0].strike_times_s[0] * SHORT.sampling_rate_hz)
    np.testing.assert_array_equal(struck.samples[:, :first_strike], clean.samples[:, :first_strike])
    assert np.any(struck.samples != clean.samples)


def test_a_far_point_and_the_axial_direction_hear_less(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    bearing = make_card().bearings[0].model_dump(exclude_none=True)
    bearing.pop("bearings", None)
    points = [
        {"name": "near", "direction": "x", "sensor": "A1", "bearings": ["upper"]},
        {"name": "far", "direction": "x", "sensor": "A1", "bearings": ["lower"]},
        {"name": "along", "direction": "z", "sensor": "A1"},
    ]
    card = make_card(bearing=[bearing, {**bearing, "name": "lower"}], point=points)
    quiet |= {"first_order_g": {"x": 0.0, "z": 0.0}, "path_modulation": 0.0}
    settings = SimulationSettings(duration_s=1.0, **quiet)
    defect = Defect(element=Element.OUTER_RING, bearing="upper")
    simulated = simulate(card, defects=[defect], settings=settings)
    near, far, along = np.max(np.abs(simulated.samples), axis=1)
    assert far / near == pytest.approx(0.3)
    assert along / near == pytest.approx(0.6)
    assert simulated.truth.defects[0].bearing == "upper"
    lower = simulate(card, defects=[replace(defect, bearing="lower")], settings=settings)
    assert lower.samples[1].max() > lower.samples[0].max()


def test_without_a_stroke_the_machine_hardly_moves(make_card: Callable[..., MachineCard]) -> None:
    simulated = simulate(make_card(exciter=None), settings=SHORT)
    line = first_order(simulated.samples[0], simulated.truth.shaft_turns)
    # Noise of 0.02 g rms over 51 200 samples moves the fit by 0.02 sqrt(2 / 51200) g.
    assert abs(line) == pytest.approx(0.05 * STANDARD_GRAVITY_M_S2, rel=0.02)


def refused(message: str) -> Any:
    return pytest.raises(SettingsError, match=re.escape(message))


def test_a_bearing_that_the_card_does_not_have_is_refused(
    make_card: Callable[..., MachineCard],
) -> None:
    defect = Defect(element=Element.CAGE, bearing="lower")
    with refused("bearing of a defect must be one of upper, got 'lower'"):
        simulate(make_card(), defects=[defect], settings=SHORT)


def test_a_defect_of_a_machine_without_bearings_is_refused(
    make_card: Callable[..., MachineCard],
) -> None:
    with refused("a defect needs a [[bearing]] on the machine card, got none"):
        simulate(make_card(bearing=[]), defects=[Defect(element=Element.CAGE)], settings=SHORT)


def test_a_defect_under_an_unknown_load_is_refused(
    make_card: Callable[..., MachineCard],
) -> None:
    card = make_card("unknown")
    with refused("load_case of bearing 'upper' must be rotating, stationary or twice-per-turn"):
        simulate(card, defects=[Defect(element=Element.CAGE)], settings=SHORT)
    assert simulate(card, settings=SHORT).truth.defects == ()


def test_a_rolling_element_of_unknown_order_is_refused(
    make_card: Callable[..., MachineCard],
) -> None:
    orders = {"outer_ring": 5.33, "inner_ring": 7.67}
    card = make_card(bearing=[{"name": "upper", "orders": orders, "load_case": "rotating"}])
    with refused("bearing 'upper' gives no order of the rolling element"):
        simulate(card, defects=[Defect(element=Element.ROLLING_ELEMENT)], settings=SHORT)
    simulated = simulate(card, defects=[Defect(element=Element.OUTER_RING)], settings=SHORT)
    # The card's order, 0.6 % of slip, and the walk of two seconds: 0.5 % / sqrt(200).
    found = simulated.truth.bearings[0].orders.outer_ring
    assert found == pytest.approx(0.994 * 5.33, rel=2e-3)


@pytest.mark.parametrize(
    ("point", "message"),
    [
        ([], "a simulation needs a [[point]] on the machine card, got none"),
        (
            [{"name": "P1", "direction": "radial", "sensor": "A1"}],
            "direction of point 'P1' must be x, y or z to be simulated, got 'radial'",
        ),
    ],
)
def test_points_that_cannot_be_simulated_are_refused(
    make_card: Callable[..., MachineCard], point: list[dict[str, str]], message: str
) -> None:
    with refused(message):
        simulate(make_card(point=point), settings=SHORT)
