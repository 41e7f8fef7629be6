"""The search: what a family explains, and how often noise alone is taken for one."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from vibhealth.diagnosis.comb import Comb, bearing_combs, harmonic_widths
from vibhealth.diagnosis.envelope_bank import (
    EnvelopeOrders,
    bank_bands,
    block_spectra,
    envelope_bank,
    split_blocks,
)
from vibhealth.diagnosis.evidence import log_tail_bound
from vibhealth.diagnosis.explained import LARGEST_MASKED_SHARE, explained_lines
from vibhealth.diagnosis.family_search import (
    FoundFamily,
    search_families,
)
from vibhealth.model import BearingGeometry, Element, LoadCase, RollingBearing

SPACING = 0.0025
SLIP = 0.015
BEARING = RollingBearing(
    name="upper",
    geometry=BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04),
    element_count=9,
    load_case=LoadCase.ROTATING,
)

# The rate of 80 samples per turn leaves orders 12 to 39: three bands.
SAMPLES_PER_TURN = 80
N_TURNS = 400
N_RECORDS = 200


def order_axis(highest: float = 30.0) -> NDArray[np.float64]:
    return np.asarray(np.arange(round(highest / SPACING)) * SPACING)


def masked_at(masked: NDArray[np.bool_], order: float) -> bool:
    return bool(masked[round(order / SPACING)])


def test_harmonics_with_all_shaft_orders_are_explained() -> None:
    masked = explained_lines(order_axis(), 3.585, order_spacing=SPACING, width_lines=1)
    for harmonic in (1, 2, 3):
        for shaft in range(-2, 6):
            assert masked_at(masked, harmonic * 3.585 + shaft)
    assert not masked_at(masked, 3.30)
    assert not masked_at(masked, 4.10)


def test_the_other_ring_is_the_mirror() -> None:
    """BPFO + BPFI = Z whatever the cage slips: the mirrored lines are those of the other ring."""
    for slip in (-0.01, 0.0, 0.01):
        outer = 3.585 * (1 + slip)
        inner = 9 - outer
        masked = explained_lines(order_axis(), outer, order_spacing=SPACING, width_lines=1)
        for harmonic in (1, 2, 3):
            assert masked_at(masked, harmonic * inner)
            assert masked_at(masked, harmonic * inner - 1)


@settings(max_examples=60, deadline=None)
@given(order=st.floats(0.3, 12.0), width=st.sampled_from([1, 3, 9]))
def test_a_family_never_explains_most_of_the_spectrum(order: float, width: int) -> None:
    masked = explained_lines(order_axis(), order, order_spacing=SPACING, width_lines=width)
    # The first harmonic is always masked: two stretches of twice its reach per order.
    first = 2 * (2 * (1.5 + 0.5 * width) + 1) * SPACING
    assert masked.mean() <= max(LARGEST_MASKED_SHARE, first)
    assert masked_at(masked, order)


def test_reach_grows_with_width_and_harmonic() -> None:
    order = order_axis()
    narrow, wide = (
        explained_lines(order, 3.31, order_spacing=SPACING, width_lines=width) for width in (1, 9)
    )
    # 1.5 + 0.5 n w lines: 6 of a first harmonic at width 9, 2 at width 1.
    assert masked_at(wide, 3.31 + 5 * SPACING)
    assert not masked_at(narrow, 3.31 + 5 * SPACING)


def bank(samples: NDArray[np.float64], combs: Sequence[Comb]) -> list[EnvelopeOrders]:
    rate_hz = float(SAMPLES_PER_TURN)  # one turn per second
    fastest = max(comb.strike_order for comb in combs)
    bands = bank_bands(rate_hz, 1.0, fastest_strike_order=fastest)
    _, whitened = block_spectra(samples, rate_hz, shaft_frequency_hz=1.0, lowest_hz=bands[0][0])
    return list(
        envelope_bank(whitened, bands, shaft_frequency_hz=1.0, highest_order=3 * fastest + 2.5)
    )


def search(samples: NDArray[np.float64]) -> tuple[FoundFamily, ...]:
    combs = bearing_combs([BEARING])
    return search_families(bank(samples, combs), combs, slip=SLIP, significance=0.001)


@pytest.fixture(scope="module")
def smallest_probabilities() -> NDArray[np.float64]:
    """The smallest corrected probability of each of 200 records of nothing but noise."""
    smallest = []
    for seed in range(N_RECORDS):
        rng = np.random.default_rng(seed)
        found = search(rng.standard_normal(N_TURNS * SAMPLES_PER_TURN))
        smallest.append(min(math.exp(family.log_probability) * len(found) for family in found))
    return np.array(smallest)


@pytest.mark.parametrize("probability", [0.05, 0.2])
def test_noise_is_taken_for_a_family_no_more_often_than_stated(
    smallest_probabilities: NDArray[np.float64], probability: float
) -> None:
    """The count of false alarms is at most the 99.9 % point of its binomial law."""
    allowed = stats.binom.ppf(0.999, N_RECORDS, probability)
    assert np.sum(smallest_probabilities <= probability) <= allowed


def test_probabilities_of_noise_are_not_all_one(
    smallest_probabilities: NDArray[np.float64],
) -> None:
    """A bound may be loose, but a search that says 1 to everything would be no search."""
    assert smallest_probabilities.min() < 0.5


def with_strikes(order: float, amplitude: float, seed: int = 1) -> NDArray[np.float64]:
    """Noise whose power swings with a comb of three equal lines at an order."""
    n_samples = N_TURNS * SAMPLES_PER_TURN
    angle = 2 * np.pi * np.arange(n_samples) / SAMPLES_PER_TURN
    swing = sum(np.cos(n * order * angle) for n in (1, 2, 3))
    noise = np.random.default_rng(seed).standard_normal(n_samples)
    return np.asarray(noise * np.sqrt(np.maximum(0.0, 1 + amplitude * swing)))


def test_a_family_is_found_at_its_order_with_its_probability() -> None:
    order = 3.585 * 0.992
    found = search(with_strikes(order, 0.3))
    first = found[0]
    assert first.comb.element is Element.OUTER_RING
    assert first.order == pytest.approx(order, rel=1e-3)
    assert first.slip == pytest.approx(-0.008, abs=1e-3)
    assert first.log_probability < math.log(1e-6)
    assert first.log_probability == max(first.log_probability_theory, first.log_probability_decoys)
    assert len(found) == 4
    others = [math.exp(family.log_probability) for family in found[1:]]
    assert min(others) > 0.001


def test_a_family_outside_the_slip_window_is_not_the_bearings() -> None:
    found = search(with_strikes(3.585 * 0.95, 0.3))
    outer = next(f for f in found if f.comb.element is Element.OUTER_RING)
    assert math.exp(outer.log_probability) > 0.001
    assert abs(outer.slip) <= SLIP + 1e-3


def test_a_window_narrows_the_search() -> None:
    combs = bearing_combs([BEARING])
    envelopes = bank(with_strikes(3.585 * 0.992, 0.3), combs)
    found = search_families(
        envelopes,
        combs,
        slip=SLIP,
        significance=0.001,
        windows=lambda comb, _explained: (comb.strike_order * 1.01, 0.002),
    )
    outer = next(f for f in found if f.comb.element is Element.OUTER_RING)
    assert outer.slip == pytest.approx(0.01, abs=0.0025)
    assert math.exp(outer.log_probability) > 0.001


def test_evidence_threshold_is_the_inverse_of_the_decoys_tail() -> None:
    family = search(np.random.default_rng(9).standard_normal(N_TURNS * SAMPLES_PER_TURN))[0]
    for level in (-4.0, -12.0):
        evidence = family.null_evidence(level)
        assert family.null.log_probability(evidence, family.n_orders) == pytest.approx(level)


def test_theory_falls_from_the_decoys_threshold_as_chernoff_says() -> None:
    """At the threshold theory and decoys agree; above it the bound of the comb's own lines counts,
    and the larger of the two is the family's."""
    found = search(with_strikes(3.585, 0.3))
    family = found[0]
    counts = harmonic_widths(family.width_lines)
    lines = [*counts, *(counts[i] for i in range(3) for _ in 2 * family.comb.spacings)]
    fall = log_tail_bound(family.evidence, lines) - log_tail_bound(family.null.threshold, lines)
    hung_up = family.null.log_probability(family.null.threshold, family.n_orders)
    assert family.log_probability_theory == pytest.approx(hung_up + fall)
    assert family.log_probability == max(
        family.log_probability_theory, family.log_probability_decoys
    )


def test_nothing_to_search_is_nothing_found() -> None:
    combs = bearing_combs([BEARING])
    assert search_families([], combs, slip=SLIP, significance=0.01) == ()
    noise = np.random.default_rng(0).standard_normal(4000)
    assert search_families(bank(noise, combs), [], slip=SLIP, significance=0.01) == ()


def test_too_few_decoys_make_nothing_significant() -> None:
    """Twelve turns: no line can be told from another, however strong."""
    n_samples = 12 * SAMPLES_PER_TURN
    found = search(with_strikes(3.585, 0.3)[:n_samples])
    assert min(math.exp(family.log_probability) for family in found) > 0.001


def test_blocks_are_equal_and_whole() -> None:
    blocks = split_blocks(np.arange(4_194_304 + 11.0))
    assert [block.size for block in blocks] == [2_097_157, 2_097_157]
    assert blocks[1][0] == 2_097_157.0
    assert len(split_blocks(np.zeros(4_194_304))) == 1


def test_bands_start_above_the_motion_and_end_below_the_sensors_limit() -> None:
    bands = bank_bands(20_000.0, 16.0, fastest_strike_order=6.0)
    assert bands[0] == (192.0, 9800.0)
    # 2.2 strikes of order 6 at 16 Hz: 211.2 Hz is the narrowest.
    assert min(high - low for low, high in bands) >= 211.2
    limited = bank_bands(20_000.0, 16.0, fastest_strike_order=6.0, usable_hz=(500.0, 4000.0))
    assert limited[0] == (500.0, 4000.0)
    assert bank_bands(800.0, 16.0, fastest_strike_order=6.0) == ()
