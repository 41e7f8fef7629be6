"""Shaft speed, cage slip, jitter and walk: the truth agrees with itself and with kinematics."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.model import Element
from vibhealth.simulate import Defect, SimulatedRecording, SimulationSettings, simulate
from vibhealth.simulate._shaft import make_shaft_angle

# Turns of a minute are known to 1000 eps; a spline of speed integrates to about that.
RTOL_SPLINE = 1e-12


@given(wander_percent=st.floats(0.0, 5.0), seed=st.integers(0, 1000))
def test_time_of_inverts_turns_at(wander_percent: float, seed: int) -> None:
    shaft = make_shaft_angle(16.3, 30.0, wander_percent, np.random.default_rng(seed))
    time_s = np.linspace(0.0, 30.0, 997)
    np.testing.assert_allclose(shaft.time_of(shaft.turns_at(time_s)), time_s, rtol=0, atol=1e-11)


@given(wander_percent=st.floats(0.01, 5.0), seed=st.integers(0, 1000))
def test_mean_and_wander_of_the_speed_are_as_asked(wander_percent: float, seed: int) -> None:
    shaft = make_shaft_angle(16.3, 30.0, wander_percent, np.random.default_rng(seed))
    turned = float(np.diff(shaft.turns_at(np.array([0.0, 30.0])))[0])
    assert turned / 30.0 == pytest.approx(16.3, rel=RTOL_SPLINE)
    speed_hz = shaft.frequency_at(np.linspace(0.0, 30.0, 3001))
    # Peaks of a spline lie between the points at which either side looks.
    assert 100 * np.ptp(speed_hz) / 16.3 == pytest.approx(wander_percent, rel=0.05)


def test_the_true_mean_speed_is_that_of_the_phase_of_1x(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    quiet["speed_wander_percent"] = 1.0
    simulated = simulate(make_card(), settings=SimulationSettings(duration_s=20.0, **quiet))
    # 1x alone in quadrature: the phase of the displacement is that of x + i y.
    x, y = simulated.samples
    phase = np.unwrap(np.angle(-(x / 5.0 + 1j * y / 4.0)))
    seconds = (phase.size - 1) / simulated.sampling_rate_hz
    mean_hz = (phase[-1] - phase[0]) / (2 * np.pi * seconds)
    truth = simulated.truth
    # One sample of 512 000 more or less, at a speed 1 % off the mean.
    assert mean_hz == pytest.approx(truth.mean_shaft_frequency_hz, rel=1e-7)
    np.testing.assert_allclose(
        phase / (2 * np.pi) - phase[0] / (2 * np.pi),
        truth.shaft_turns - truth.shaft_turns[0],
        rtol=0,
        atol=1e-9,
    )
    slope_hz = np.gradient(truth.shaft_turns) * simulated.sampling_rate_hz
    np.testing.assert_allclose(slope_hz, truth.shaft_frequency_hz, rtol=1e-6)


def struck(card: MachineCard, element: Element, **changes: Any) -> SimulatedRecording:
    settings = SimulationSettings(duration_s=30.0, sampling_rate_hz=18_000.0, **changes)
    return simulate(card, defects=[Defect(element=element)], settings=settings)


def strike_order(simulated: SimulatedRecording) -> float:
    """Strikes per turn from the first strike to the last."""
    times_s = np.sort(simulated.truth.defects[0].strike_times_s)
    sample_s = np.arange(simulated.truth.shaft_turns.size) / simulated.sampling_rate_hz
    turns = np.interp(times_s[[0, -1]], sample_s, simulated.truth.shaft_turns)
    return float((times_s.size - 1) / (turns[1] - turns[0]))


@pytest.mark.parametrize("rotating_ring", ["inner", "outer"])
@pytest.mark.parametrize("load_case", ["rotating", "stationary"])
def test_one_cage_speed_explains_both_rings(
    make_card: Callable[..., MachineCard], rotating_ring: str, load_case: str
) -> None:
    """BPFO + BPFI = Z whatever the cage slips, in the strikes and not only in the formula."""
    card = make_card(load_case, rotating_ring)
    outer = struck(card, Element.OUTER_RING, cage_slip_percent=2.0, slip_walk_percent=1.0)
    inner = struck(card, Element.INNER_RING, cage_slip_percent=2.0, slip_walk_percent=1.0)
    # About 3000 strikes: the first and last are off by a jitter of 0.5 % and a walk of
    # 1 % of one spacing, which is 1e-5 of the whole.
    assert strike_order(outer) + strike_order(inner) == pytest.approx(13.0, rel=2e-5)
    orders = outer.truth.bearings[0].orders
    assert strike_order(outer) == pytest.approx(orders.outer_ring, rel=2e-5)
    assert strike_order(inner) == pytest.approx(orders.inner_ring, rel=2e-5)
    kinematic = defect_orders(card.rolling_bearings()[0])
    # 2 % mean slip; the walk of 1 % per spacing drifts by 1 / sqrt(3000) % over the record.
    assert orders.cage == pytest.approx(0.98 * kinematic.cage, rel=1e-3)
    assert outer.truth.bearings[0].slip_percent == pytest.approx(2.0, abs=0.1)


def test_an_element_strikes_twice_per_spin(make_card: Callable[..., MachineCard]) -> None:
    simulated = struck(make_card(), Element.ROLLING_ELEMENT, cage_slip_percent=0.0)
    spin = simulated.truth.bearings[0].orders.rolling_element
    assert spin is not None
    # Spin scales with c (1 - c) where the strikes follow c: with c known to 1e-4 the two
    # differ by less than that.
    assert strike_order(simulated) == pytest.approx(2 * spin, rel=2e-4)


@pytest.mark.parametrize(("load_case", "per_cage_turn"), [("stationary", 1.0), ("rotating", 2.45)])
def test_a_bad_pocket_strikes_once_per_pass_of_the_load_and_of_its_land(
    make_card: Callable[..., MachineCard], load_case: str, per_cage_turn: float
) -> None:
    """Stationary: one and the same event. Rotating: (1 - FTF) + FTF = 1 per shaft turn."""
    simulated = struck(make_card(load_case), Element.CAGE)
    truth = simulated.truth
    cage_turns = truth.bearings[0].orders.cage * np.ptp(truth.shaft_turns)
    n_strikes = truth.defects[0].strike_times_s.size
    # 240 turns of the cage, one strike more or less of each kind; 1 / 0.41 / 0.994 = 2.454.
    assert n_strikes / cage_turns == pytest.approx(per_cage_turn, rel=0.01)


def spacing_spread(simulated: SimulatedRecording, lag: int) -> float:
    """Standard deviation of the turns between strikes ``lag`` apart, over one spacing."""
    times_s = np.sort(simulated.truth.defects[0].strike_times_s)
    sample_s = np.arange(simulated.truth.shaft_turns.size) / simulated.sampling_rate_hz
    turns = np.interp(times_s, sample_s, simulated.truth.shaft_turns)
    spans = turns[lag:] - turns[:-lag]
    return float(np.std(spans) * lag / np.mean(spans))


def test_jitter_does_not_add_up_and_the_walk_does(
    make_card: Callable[..., MachineCard],
) -> None:
    """Jitter: spread sqrt(2) p at any lag. Walk: spread p sqrt(lag)."""
    # 3000 strikes know a standard deviation to 1 / sqrt(2 * 3000) = 1.3 %; at lag 25 there
    # are 120 independent spans, 6.5 %. Three times that.
    jitter = struck(make_card(), Element.OUTER_RING, slip_jitter_percent=1.0, slip_walk_percent=0.0)
    walk = struck(make_card(), Element.OUTER_RING, slip_jitter_percent=0.0, slip_walk_percent=1.0)
    assert spacing_spread(jitter, 1) == pytest.approx(0.01 * np.sqrt(2), rel=0.05)
    assert spacing_spread(jitter, 25) == pytest.approx(0.01 * np.sqrt(2), rel=0.2)
    # Four straight pieces per spacing smooth the walk by up to 1 - sqrt(7 / 8) = 6 %.
    assert spacing_spread(walk, 1) == pytest.approx(0.01, rel=0.1)
    assert spacing_spread(walk, 25) == pytest.approx(0.05, rel=0.2)
