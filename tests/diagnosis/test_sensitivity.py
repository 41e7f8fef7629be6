"""The stated detectable depth is found as often as stated; strikes are those that would hold."""

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import HARMONICS, Comb, bearing_combs, harmonic_widths
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import line_evidence, log_tail_bound
from vibhealth.diagnosis.family_search import FoundFamily
from vibhealth.diagnosis.seeding import SeedBed, seed_bed, strike_for_whitened_depth
from vibhealth.diagnosis.sensitivity import (
    N_TRIALS,
    PROBABILITY,
    detectable_depth,
    detectable_families,
)
from vibhealth.model import BearingGeometry, Element, LoadCase, RollingBearing, SensitivityFinding

BAND_HZ = (500.0, 1500.0)
SHAFT_HZ = 16.0
THRESHOLD = 25.0
BEARING = RollingBearing(
    name="upper",
    geometry=BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04),
    element_count=9,
    load_case=LoadCase.STATIONARY,
)


def spectrum(floor: float, *, slope: float = 0.0, n_averages: int = 1) -> EnvelopeOrders:
    """A floor that may fall with the order; 0.01 orders apart, up to order 20."""
    floors = floor * np.exp(-slope * np.arange(2000) * 0.01)
    return EnvelopeOrders(
        band_hz=BAND_HZ,
        detector="squared",
        is_whitened=True,
        order_spacing=0.01,
        depth_power=floors.copy(),
        floor=floors,
        mean_square=2.0,
        n_averages=n_averages,
    )


def found_share(
    envelope: EnvelopeOrders, order: float, depth: float, width: int, n_trials: int = 3000
) -> float:
    """Share of trials in which three tones of equal depth in noise lines reach the threshold.

    Each trial is a stretch of 61 complex Gaussian lines, its tone split evenly over the width
    at random phases; evidence is read as the search reads it.
    """
    rng = np.random.default_rng(77)
    total = np.zeros(n_trials)
    for harmonic, lines in zip(HARMONICS, harmonic_widths(width), strict=True):
        floor = envelope.floor[round(harmonic * order / envelope.order_spacing)]
        shape = (envelope.n_averages, n_trials, 61)
        noise = (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)) / np.sqrt(2)
        half = lines // 2
        tone = math.sqrt(depth**2 / len(HARMONICS) / lines / floor)
        phase = np.exp(2j * np.pi * rng.random((envelope.n_averages, n_trials, lines)))
        noise[..., 30 - half : 30 + half + 1] += tone * phase
        power: NDArray[np.float64] = np.mean(np.abs(noise) ** 2, axis=0).ravel()
        evidence = line_evidence(power, width_lines=lines, n_averages=envelope.n_averages)
        total += evidence.reshape(n_trials, 61)[:, 30]
    return float(np.mean(total >= THRESHOLD))


@pytest.mark.parametrize("n_averages", [1, 3])
@pytest.mark.parametrize("width", [1, 3, 9])
@pytest.mark.parametrize(("floor", "slope"), [(1e-3, 0.0), (1e-2, 0.1)])
def test_the_stated_depth_is_found_in_95_of_100(
    floor: float, slope: float, width: int, n_averages: int
) -> None:
    """Two simulations meet, of 2000 and 3000 trials: four joint binomial standard errors."""
    envelope = spectrum(floor, slope=slope, n_averages=n_averages)
    depth = detectable_depth(envelope, 3.6, threshold=THRESHOLD, width_lines=width)
    scatter = math.sqrt(PROBABILITY * (1 - PROBABILITY) * (1 / N_TRIALS + 1 / 3000))
    assert found_share(envelope, 3.6, depth, width) == pytest.approx(PROBABILITY, abs=4 * scatter)
    assert found_share(envelope, 3.6, 0.5 * depth, width) < 0.5


@settings(max_examples=10, deadline=None)
@given(gain=st.floats(1.2, 100.0))
def test_depth_grows_with_the_root_of_the_floor(gain: float) -> None:
    """Only depth squared over floor counts. The search halves 4.0 up to 24 times: 2.4e-7."""
    low, high = (
        detectable_depth(spectrum(f), 3.6, threshold=THRESHOLD, width_lines=3)
        for f in (1e-4, gain * 1e-4)
    )
    assert high == pytest.approx(math.sqrt(gain) * low, rel=2e-5)


def test_depth_grows_with_the_threshold_and_falls_with_averages() -> None:
    depths = [
        detectable_depth(spectrum(1e-3), 3.6, threshold=t, width_lines=3) for t in (10, 20, 40)
    ]
    assert depths == sorted(depths)
    assert depths[0] < depths[-1]
    averaged = detectable_depth(spectrum(1e-3, n_averages=4), 3.6, threshold=20, width_lines=3)
    assert averaged < depths[1]


def test_what_cannot_be_found_is_infinite() -> None:
    assert detectable_depth(spectrum(1e-3), 7.0, threshold=20, width_lines=3) == math.inf
    assert detectable_depth(spectrum(10.0), 3.6, threshold=20, width_lines=3) == math.inf


@pytest.fixture(scope="module")
def bed() -> SeedBed:
    """Twenty seconds of nothing but unit noise to seed into."""
    return seed_bed(
        np.random.default_rng(8).standard_normal(20 * 4096),
        4096.0,
        bands=[(192.0, 2000.0), BAND_HZ],
        band_hz=BAND_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        highest_order=20.0,
    )


def families(
    combs: tuple[Comb, ...],
    families_found: tuple[FoundFamily, ...] = (),
    *,
    bed: SeedBed | None = None,
    n_trials: float = 1e5,
    depth_hold: float = 0.3,
    floor: float = 1e-3,
) -> dict[Element, SensitivityFinding]:
    rows = detectable_families(
        combs,
        families_found,
        spectrum(floor),
        bed=bed,
        false_alarm_probability=0.001,
        depth_hold=depth_hold,
        n_trials=n_trials,
    )
    return {finding.element: finding for finding in rows}


def test_threshold_is_the_bound_with_all_that_was_searched() -> None:
    """Evidence whose Chernoff bound is 0.001 / (4 families x 100 000 places)."""
    combs = bearing_combs([BEARING])
    target = math.log(0.001 / 4 / 1e5)
    low, high = 0.0, 1000.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (
            (middle, high) if log_tail_bound(middle, harmonic_widths(3)) > target else (low, middle)
        )
    outer = families(combs)[Element.OUTER_RING]
    order = next(comb.strike_order for comb in combs if comb.element is Element.OUTER_RING)
    expected = detectable_depth(spectrum(1e-3), order, threshold=high, width_lines=3)
    assert outer.detectable_depth == pytest.approx(expected, rel=1e-6)
    assert families(combs, n_trials=1e8)[Element.OUTER_RING].detectable_depth > expected


def found(comb: Comb, *, null_threshold: float) -> FoundFamily:
    """What the search made of a comb whose decoys reach far: its tail begins at a threshold."""
    return FoundFamily(
        comb=comb,
        order=comb.strike_order,
        evidence=5.0,
        width_lines=3,
        envelope=spectrum(1e-3),
        band_evidence=(),
        log_probability=0.0,
        log_probability_theory=0.0,
        log_probability_decoys=0.0,
        n_trials=1e5,
        null_threshold=null_threshold,
        null_scale=2.0,
        null_log_share=0.0,
    )


def test_decoys_that_reach_far_raise_the_detectable_depth() -> None:
    """The larger of the two thresholds counts; without decoys nothing can be found at all."""
    combs = bearing_combs([BEARING])
    outer = next(comb for comb in combs if comb.element is Element.OUTER_RING)

    def depth(*families_found: FoundFamily) -> float:
        return families(combs, families_found)[Element.OUTER_RING].detectable_depth

    threshold = 60.0 - 2.0 * math.log(0.001 / 4)
    expected = detectable_depth(
        spectrum(1e-3), outer.strike_order, threshold=threshold, width_lines=3
    )
    assert depth(found(outer, null_threshold=60.0)) == pytest.approx(expected, rel=1e-6)
    assert depth(found(outer, null_threshold=1.0)) == depth()
    assert depth(found(outer, null_threshold=math.inf)) == math.inf
    other = next(comb for comb in combs if comb.element is Element.INNER_RING)
    assert depth(found(other, null_threshold=math.inf)) == depth()


def order_of(combs: tuple[Comb, ...], element: Element) -> float:
    return next(comb.strike_order for comb in combs if comb.element is element)


def test_the_strike_is_that_of_a_defect_that_would_hold(bed: SeedBed) -> None:
    """The larger of the two depths counts: significant, and big enough to hold."""
    combs = bearing_combs([BEARING])
    strike = partial(
        strike_for_whitened_depth,
        bed,
        strike_order=order_of(combs, Element.OUTER_RING),
        swing_order=None,
    )
    outer = families(combs, bed=bed)[Element.OUTER_RING]
    assert outer.detectable_depth < 0.3
    assert outer.detectable_impact_m_s2 == strike(target_depth=0.3)
    coarse = families(combs, bed=bed, depth_hold=0.01)[Element.OUTER_RING]
    assert coarse.detectable_impact_m_s2 == strike(target_depth=outer.detectable_depth)
    assert strike(target_depth=outer.detectable_depth) < strike(target_depth=0.3)


@pytest.mark.parametrize(
    ("load_case", "swings", "stays"),
    [
        (LoadCase.STATIONARY, Element.INNER_RING, Element.OUTER_RING),
        (LoadCase.ROTATING, Element.OUTER_RING, Element.INNER_RING),
    ],
)
def test_only_strong_side_bands_swing_the_seed(
    bed: SeedBed, load_case: LoadCase, swings: Element, stays: Element
) -> None:
    """A ring that stands still under the load, or turns with it, swings weakly or not at all."""
    combs = bearing_combs([replace(BEARING, load_case=load_case)])
    rows = families(combs, bed=bed)
    for element, swing in ((swings, 1.0), (stays, None)):
        expected = strike_for_whitened_depth(
            bed, strike_order=order_of(combs, element), swing_order=swing, target_depth=0.3
        )
        assert rows[element].detectable_impact_m_s2 == expected


def test_without_calibration_there_is_no_amplitude() -> None:
    rows = families(bearing_combs([BEARING]))
    assert {f.detectable_impact_m_s2 for f in rows.values()} == {None}
    assert all(math.isfinite(f.detectable_depth) for f in rows.values())


def test_every_element_has_a_row_that_says_how() -> None:
    rows = families(bearing_combs([BEARING]))
    assert set(rows) == set(Element)
    for finding in rows.values():
        assert finding.probability == 0.95
        assert "500 to 1500 Hz" in finding.method
        assert "depth of 0.30" in finding.method
