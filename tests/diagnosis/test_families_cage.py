"""A cage's lines, a smooth swing at its rate, and the rolling element beside it."""

from collections.abc import Callable

import numpy as np
import pytest

from tests.diagnosis.family_cases import (
    FTF,
    ORDERS,
    SHAFT_HZ,
    TRUE_SLIP,
    Array,
    bearing,
    find,
    of,
    present,
)
from vibhealth.model import CriterionResult, DefectOrders, Element, LoadCase, RollingBearing

Train = Callable[..., Array]


def cage_noise(*, n_turns: int, per_turn: int = 256, seed: int = 5) -> Array:
    """Noise whose power swings at the cage's rate and its harmonics."""
    turns = np.arange(per_turn * n_turns) / per_turn
    swing = sum(np.cos(2 * np.pi * n * FTF * turns) for n in (1, 2, 3))
    noise = np.random.default_rng(seed).standard_normal(turns.size)
    return np.asarray(noise * np.sqrt(np.maximum(0.0, 1 + 0.6 * swing)))


@pytest.mark.parametrize("n_turns", [1000, 4000])
def test_a_cage_is_named_and_held_and_neither_ring_is(n_turns: int) -> None:
    report = find(
        cage_noise(n_turns=n_turns, per_turn=80),
        bearing(LoadCase.STATIONARY),
        rate_hz=80 * SHAFT_HZ,
    )
    named = [finding for finding in report.findings if finding.present]
    assert len(named) == 1
    assert "cage" in {named[0].element.value, *named[0].ambiguous_with}
    assert named[0].result is CriterionResult.HOLD
    cage = of(report, Element.CAGE)
    # Its line is narrow, but the widest neighbourhood that holds it may win: within 9 lines.
    assert cage.order == pytest.approx(FTF, abs=9 / n_turns)
    assert cage.false_alarm_probability < 1e-20
    others = [f for f in report.findings if f.element in {Element.OUTER_RING, Element.INNER_RING}]
    assert all(finding.result is CriterionResult.PASS for finding in others)


def swinging(element_share: float, *, n_turns: int = 2000, per_turn: int = 80) -> Array:
    """Noise whose power swings at the cage's rate, and a little at twice the spin."""
    strike = ORDERS.strike_order(Element.ROLLING_ELEMENT)
    assert strike is not None
    turn = 2 * np.pi * np.arange(per_turn * n_turns) / per_turn
    swing = sum(
        0.6 * np.cos(n * FTF * turn) + element_share * np.cos(n * strike * (1 + TRUE_SLIP) * turn)
        for n in (1, 2, 3)
    )
    noise = np.random.default_rng(5).standard_normal(turn.size)
    return np.asarray(noise * np.sqrt(np.maximum(0.0, 1 + swing)))


@pytest.mark.parametrize(
    ("element_share", "beside"), [(0.0, ("cage",)), (0.16, ())], ids=["silent", "striking"]
)
def test_a_smooth_swing_is_the_element_in_the_load_zone(
    element_share: float, beside: tuple[str, ...]
) -> None:
    """A defect of an element is carried at the cage's rate (W. A. Smith and R. B. Randall, MSSP
    64-65 (2015) 100-131): without lines of its own it may be the cage's too."""
    report = find(swinging(element_share), bearing(LoadCase.STATIONARY), rate_hz=80 * SHAFT_HZ)
    element = of(report, Element.ROLLING_ELEMENT)
    assert present(report) == [Element.ROLLING_ELEMENT]
    assert element.ambiguous_with == beside
    assert element.result is CriterionResult.HOLD
    # The finding has the size of the lines that were found, whichever are deeper.
    assert element.depth_whitened >= of(report, Element.CAGE).depth_whitened


@pytest.mark.parametrize("load_case", [LoadCase.STATIONARY, LoadCase.ROTATING])
def test_short_pulses_at_the_cage_rate_are_the_cage_alone(load_case: LoadCase) -> None:
    """A cage that strikes once per turn (against the load: 1 - FTF) makes lines that go on."""
    rate = FTF if load_case is LoadCase.STATIONARY else 1 - FTF
    n_turns, per_turn = 1500, 80
    turn = np.arange(per_turn * n_turns) / per_turn
    rng = np.random.default_rng(8)
    phase = (rate * turn) % 1.0
    gain = np.where(phase < 0.02, 5.0, 1.0)
    samples = gain * rng.standard_normal(turn.size)
    report = find(samples, bearing(load_case), rate_hz=per_turn * SHAFT_HZ)
    assert present(report) == [Element.CAGE]
    assert of(report, Element.CAGE).ambiguous_with == ()
    assert of(report, Element.CAGE).result is CriterionResult.HOLD


def test_without_its_order_the_element_is_named_beside_the_cage() -> None:
    item = RollingBearing(
        name="upper",
        given_orders=DefectOrders(
            cage=ORDERS.cage,
            outer_ring=ORDERS.outer_ring,
            inner_ring=ORDERS.inner_ring,
            rolling_element=None,
        ),
        element_count=9,
        load_case=LoadCase.STATIONARY,
    )
    report = find(swinging(0.0), item, rate_hz=80 * SHAFT_HZ)
    assert present(report) == [Element.CAGE]
    assert of(report, Element.CAGE).ambiguous_with == ("rolling-element",)
    assert "was not searched" in of(report, Element.CAGE).detail


def test_cage_lines_beside_the_rolling_elements_belong_to_both(spall_train: Train) -> None:
    strike = ORDERS.strike_order(Element.ROLLING_ELEMENT)
    assert strike is not None
    # 300 turns hold too few places beside the cage's comb for a null of its own: four differ.
    trains = [
        spall_train(strike * (1 + TRUE_SLIP), swings=((FTF, 1.0),), amplitude=4.0, seed=seed)
        for seed in range(4)
    ]
    samples = cage_noise(n_turns=1200) + np.concatenate(trains)
    report = find(samples, bearing(LoadCase.STATIONARY))
    assert present(report) == [Element.ROLLING_ELEMENT]
    assert of(report, Element.ROLLING_ELEMENT).ambiguous_with in {("cage",), ()}
    cage = of(report, Element.CAGE)
    assert not cage.present
    assert cage.ambiguous_with == ("rolling-element",)
