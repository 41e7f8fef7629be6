"""Two families at once: each is judged where the lines of the other are no chance."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.diagnosis.test_family_search import (
    BEARING,
    N_TURNS,
    SAMPLES_PER_TURN,
    SLIP,
    bank,
)
from vibhealth.diagnosis.comb import bearing_combs
from vibhealth.diagnosis.family_bank import Bank, Place
from vibhealth.diagnosis.family_search import FoundFamily, beside_others
from vibhealth.model import Element

SIGNIFICANCE = 0.001
COMBS = {comb.element: comb for comb in bearing_combs([BEARING])}
OUTER_ORDER = 0.993 * COMBS[Element.OUTER_RING].strike_order
CAGE_ORDER = 1.004 * COMBS[Element.CAGE].strike_order


def swinging(outer: float, cage: float) -> NDArray[np.float64]:
    """Noise whose power swings with three lines of the outer ring and three of the cage."""
    n_samples = N_TURNS * SAMPLES_PER_TURN
    angle = 2 * np.pi * np.arange(n_samples) / SAMPLES_PER_TURN
    swing = sum(
        outer * np.cos(n * OUTER_ORDER * angle) + cage * np.cos(n * CAGE_ORDER * angle)
        for n in (1, 2, 3)
    )
    noise = np.random.default_rng(3).standard_normal(n_samples)
    return np.asarray(noise * np.sqrt(np.maximum(0.0, 1 + swing)))


def places(samples: NDArray[np.float64]) -> tuple[Bank, dict[Element, Place]]:
    combs = list(COMBS.values())
    whole = Bank(bank(samples, combs), combs, SLIP)
    scans = whole.scan(combs, whole.shaft)
    found = {
        comb.element: whole.place(
            comb, scans[comb.key], whole.window(comb, comb.strike_order, SLIP)
        )
        for comb in combs
    }
    return whole, found


def is_shown(family: FoundFamily) -> bool:
    return math.exp(family.log_probability) * len(COMBS) < SIGNIFICANCE


@pytest.mark.parametrize(
    ("outer", "cage", "both"), [(0.15, 0.12, True), (0.15, 0.0, False), (0.0, 0.15, False)]
)
def test_both_must_be_shown(outer: float, cage: float, both: bool) -> None:
    whole, found = places(swinging(outer, cage))
    first, second = found[Element.OUTER_RING], found[Element.CAGE]
    family = beside_others(whole, first, [second], whole.shaft, is_shown)
    assert (family is not None) == both
    if family is not None:
        assert family.order == pytest.approx(OUTER_ORDER, rel=1e-3)
        assert is_shown(family)


def test_the_second_family_is_no_chance_to_the_first() -> None:
    """Masking what really stands there takes it out of the decoys: their threshold falls."""
    whole, found = places(swinging(0.15, 0.3))
    first, second = found[Element.OUTER_RING], found[Element.CAGE]
    family = beside_others(whole, first, [second], whole.shaft, lambda _family: True)
    assert family is not None
    alone = beside_others(whole, first, [first], whole.shaft, lambda _family: True)
    assert alone is not None
    assert family.null.threshold < alone.null.threshold


def test_alone_there_is_nothing_to_stand_beside() -> None:
    whole, found = places(swinging(0.15, 0.0))
    assert beside_others(whole, found[Element.OUTER_RING], [], whole.shaft, is_shown) is None
