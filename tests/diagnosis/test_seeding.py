"""Seeds: the strikes of a defect, the ring they start, and the lines that both have together."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import fft, special

from vibhealth.diagnosis.comb import Comb, bearing_combs, shaft_lines
from vibhealth.diagnosis.envelope_bank import bank_bands, envelope_bank
from vibhealth.diagnosis.seeding import (
    DAMPING_RATIO,
    LOAD_FACTOR,
    PATH_LOSS,
    RING_REACH,
    StrikeLaw,
    draw_strikes,
    ring_lines,
    strike_law,
)
from vibhealth.diagnosis.seeding_bed import LimitedBlock, limited_block, seed_bed, seed_lines
from vibhealth.diagnosis.seeding_reading import Reading, place_of, read_family
from vibhealth.diagnosis.seeding_trials import (
    Found,
    Train,
    critical_size,
    size_for_share,
    tolerance_factor,
)
from vibhealth.diagnosis.sizes import modulation_depth
from vibhealth.model import BearingGeometry, Element, LoadCase, RollingBearing
from vibhealth.signal import record_spectrum, whiten
from vibhealth.signal.hit_limiting import limit_hits

Array = NDArray[np.float64]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
N_SAMPLES = 81_920  # 20 s, a length that no transform shortens
LOWEST_HZ = 12 * SHAFT_HZ
RING_HZ = 900.0
BEARING = RollingBearing(
    name="upper",
    geometry=BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04),
    element_count=9,
    load_case=LoadCase.STATIONARY,
)
REGULAR = StrikeLaw(load_order=None, path_order=None, scatter=0.0, walks=(1e-9, 1e-9))


def comb_of(element: Element, load_case: LoadCase) -> Comb:
    combs = bearing_combs([replace(BEARING, load_case=load_case)])
    return next(comb for comb in combs if comb.element is element)


def noise(seed: int = 0) -> Array:
    return np.random.default_rng(seed).standard_normal(N_SAMPLES)


def limited(samples: Array) -> LimitedBlock:
    return limited_block(record_spectrum(samples, RATE_HZ), lowest_hz=LOWEST_HZ)


@pytest.mark.parametrize(
    ("load_case", "element", "load", "path"),
    [
        (LoadCase.STATIONARY, Element.OUTER_RING, None, None),
        (LoadCase.STATIONARY, Element.INNER_RING, 1.0, 1.0),
        (LoadCase.ROTATING, Element.OUTER_RING, 1.0, None),
        (LoadCase.ROTATING, Element.INNER_RING, None, 1.0),
        (LoadCase.TWICE_PER_TURN, Element.OUTER_RING, 2.0, None),
        (LoadCase.STATIONARY, Element.CAGE, None, None),
    ],
)
def test_load_and_path_swing_as_the_card_says(
    load_case: LoadCase, element: Element, load: float | None, path: float | None
) -> None:
    law = strike_law(comb_of(element, load_case))
    assert (law.load_order, law.path_order) == (load, path)


def test_of_an_unknown_load_the_harder_case_is_taken() -> None:
    """An outer ring strikes evenly under a stationary load and swings under a turning one."""
    assert strike_law(comb_of(Element.OUTER_RING, LoadCase.UNKNOWN)).load_order == 1.0


def test_an_element_swings_with_the_cage_against_the_load() -> None:
    cage = 0.5 * (1 - 7.94 / 39.04)
    law = strike_law(comb_of(Element.ROLLING_ELEMENT, LoadCase.ROTATING))
    assert law.load_order == pytest.approx(1 - cage)
    assert law.path_order == pytest.approx(cage)


def draw(
    law: StrikeLaw, seed: int = 0, order: float = 3.6, duration_s: float = 200.0
) -> tuple[Array, Array]:
    strikes = draw_strikes(
        law,
        order,
        shaft_frequency_hz=SHAFT_HZ,
        duration_s=duration_s,
        walk_share=0.5,
        rng=np.random.default_rng(seed),
    )
    return strikes.time_s, strikes.strength


@settings(max_examples=20, deadline=None)
@given(order=st.floats(0.4, 12.0), seed=st.integers(0, 1000), walk=st.floats(1e-6, 0.02))
def test_the_mean_spacing_is_that_of_the_order(order: float, seed: int, walk: float) -> None:
    """The walk ends where it began. Jitter of 0.005 of a spacing: six of its deviations."""
    times, _ = draw(replace(REGULAR, walks=(walk, walk)), seed, order)
    spacings = (times[-1] - times[0]) * order * SHAFT_HZ
    # One strike at each end may be cut off: what the walk is off there is that of few steps.
    assert spacings == pytest.approx(times.size - 1, abs=6 * (math.sqrt(2) * 0.005 + 2 * walk))


def test_a_walk_adds_up_and_a_jitter_does_not() -> None:
    """Increments over n strikes: variance walk^2 n (1 - n / N) + 2 jitter^2 (a bridge)."""
    times, _ = draw(replace(REGULAR, walks=(0.005, 0.005)), 3, 9.0, 400.0)
    place = times * 9.0 * SHAFT_HZ
    for lag in (1, 100):
        steps = place[lag:] - place[:-lag] - lag
        expected = math.sqrt(0.005**2 * lag * (1 - lag / place.size) + 2 * 0.005**2)
        # 57 600 strikes, of which 576 stretches of 100 are independent: 3 % and its fourfold.
        assert np.std(steps) == pytest.approx(expected, rel=0.12)


@pytest.mark.parametrize(("share", "walk"), [(0.0, 0.001), (0.5, 0.003), (1.0, 0.009)])
def test_the_walk_lies_in_its_range_on_a_logarithmic_scale(share: float, walk: float) -> None:
    """Steps of one spacing: variance walk^2 + 2 jitter^2; 100 apart the walk is ten times that."""
    strikes = draw_strikes(
        replace(REGULAR, walks=(0.001, 0.009)),
        9.0,
        shaft_frequency_hz=SHAFT_HZ,
        duration_s=400.0,
        walk_share=share,
        rng=np.random.default_rng(4),
    )
    place = strikes.time_s * 9.0 * SHAFT_HZ
    steps = place[100:] - place[:-100] - 100
    assert np.std(steps) == pytest.approx(math.sqrt(100 * walk**2 + 2 * 0.005**2), rel=0.12)


def test_strength_is_that_of_the_load_zone_and_the_path() -> None:
    """Zero outside of the zone; inside it Harris's law; half as strong on the far side."""
    order = 2.0 + (math.sqrt(5) - 1) / 2  # strikes all round the zone, evenly
    _, strength = draw(replace(REGULAR, load_order=1.0), order=order)
    share = math.acos(1 - 2 * LOAD_FACTOR) / math.pi  # of the turn in the zone
    assert strength.size == pytest.approx(share * 200 * order * SHAFT_HZ, rel=0.01)
    assert strength.max() == pytest.approx(1.0, abs=1e-3)
    _, strength = draw(replace(REGULAR, path_order=1.0))
    assert strength.min() == pytest.approx(1 - PATH_LOSS, abs=1e-3)
    assert strength.max() == pytest.approx(1.0, abs=1e-3)
    _, strength = draw(replace(REGULAR, scatter=0.4))
    assert strength.mean() == pytest.approx(0.8, abs=0.01)


def test_one_draw_is_one_train() -> None:
    law = strike_law(comb_of(Element.INNER_RING, LoadCase.STATIONARY))
    np.testing.assert_array_equal(draw(law, 5)[0], draw(law, 5)[0])
    assert not np.array_equal(draw(law, 5)[0][:10], draw(law, 6)[0][:10])


def test_the_ring_is_a_decaying_oscillation_of_peak_one() -> None:
    """From its third period on it is the closed form: the taper rounds off the start alone."""
    rate, n = 64 * RING_HZ, 1 << 14
    time_s = np.arange(n) / rate
    ring = fft.irfft(ring_lines(fft.rfftfreq(n, 1 / rate), RING_HZ) * rate, n)
    omega = 2 * np.pi * RING_HZ
    exact = np.exp(-DAMPING_RATIO * omega * time_s) * np.sin(
        omega * math.sqrt(1 - DAMPING_RATIO**2) * time_s
    )
    exact /= exact.max()  # 64 points per period: 0.12 %
    late = slice(int(2 * rate / RING_HZ), int(8 * rate / RING_HZ))
    assert np.abs(ring[late] - exact[late]).max() < 0.03
    assert 0.7 < np.abs(ring).max() < 1.0


def test_the_ring_ends_on_both_sides() -> None:
    lines = np.abs(ring_lines(np.array([0.0, RING_HZ / RING_REACH, RING_HZ * RING_REACH]), RING_HZ))
    near = np.abs(ring_lines(np.array([RING_HZ]), RING_HZ))[0]
    assert lines.max() < 1e-12 * near


def test_what_limiting_does_is_known_where_nothing_is_limited_and_in_a_hit() -> None:
    block = limited(noise())
    assert np.median(block.gain) > 0.99
    assert block.gain.mean() > 0.98
    hit = noise()
    hit[40_000:40_008] += 300.0 * np.array([1, -1, 1, -1, 1, -1, 1, -1])
    gain = limited(hit).gain
    at = int(40_004 / N_SAMPLES * gain.size)
    assert gain[at] < 0.2
    assert np.median(gain) > 0.99


BANDS = bank_bands(RATE_HZ, SHAFT_HZ, fastest_strike_order=6.0)


def seeded_samples(times: Array, strength: Array) -> Array:
    """The train in the time domain: every ring from its own moment on."""
    frequency_hz = fft.rfftfreq(N_SAMPLES, 1 / RATE_HZ)
    fine = 64 * N_SAMPLES  # a strike is off by at most 2 microseconds: 0.006 turns of the ring
    moments = np.zeros(fine)
    np.add.at(moments, np.rint(times * RATE_HZ * 64).astype(np.int64) % fine, strength)
    turn = fft.rfft(moments)[: frequency_hz.size]
    return np.asarray(fft.irfft(turn * ring_lines(frequency_hz, RING_HZ) * RATE_HZ, N_SAMPLES))


def test_lines_of_a_seed_are_those_of_its_samples() -> None:
    """Straight lines on a twofold grid leave (x / (1 - x))^2 of what lies x off the middle, in
    parts of the grid's rate: a ninth at the slice's edge, a hundredth at 0.1."""
    block = limited(noise())
    bed = seed_bed([block], BANDS, ring_hz=RING_HZ)
    assert bed is not None
    law = replace(
        strike_law(comb_of(Element.INNER_RING, LoadCase.STATIONARY)), walks=(0.002, 0.002)
    )
    strikes = draw_strikes(
        law,
        5.4,
        shaft_frequency_hz=SHAFT_HZ,
        duration_s=2.0,
        walk_share=0.5,
        rng=np.random.default_rng(1),
    )
    ones = replace(bed.blocks[0], gain=np.ones(10))
    lines = seed_lines(bed, ones, strikes)
    samples = seeded_samples(strikes.time_s, strikes.strength)
    number = np.arange(bed.first, bed.first + lines.size)
    exact = fft.rfft(samples)[number] / block.curve[number - block.first]
    assert np.linalg.norm(lines - exact) < 0.05 * np.linalg.norm(exact)


def test_a_seeded_family_reads_as_the_search_reads_it() -> None:
    """Samples with the strikes in them through the search's own bank: evidence and depth."""
    block = limited(noise())
    bed = seed_bed([block], BANDS, ring_hz=RING_HZ)
    assert bed is not None
    order, amplitude, highest_order = 3.62, 1.6, 14.0
    comb = comb_of(Element.OUTER_RING, LoadCase.STATIONARY)
    strikes = draw_strikes(
        replace(REGULAR, walks=(0.002, 0.002)),
        order,
        shaft_frequency_hz=SHAFT_HZ,
        duration_s=bed.duration_s,
        walk_share=0.5,
        rng=np.random.default_rng(2),
    )
    samples = noise() + amplitude * seeded_samples(strikes.time_s, strikes.strength)
    whitened = whiten(limit_hits(record_spectrum(samples, RATE_HZ), lowest_hz=LOWEST_HZ))
    envelopes = list(
        envelope_bank(
            [whitened], bed.bands, shaft_frequency_hz=SHAFT_HZ, highest_order=highest_order
        )
    )
    spacing = envelopes[0].order_spacing
    n_lines = max(envelope.depth_power.size for envelope in envelopes)
    place = place_of(
        comb,
        order,
        order_spacing=spacing,
        masked=shaft_lines(np.arange(n_lines, dtype=np.float64) * spacing, spacing),
        widths=(3,),
        n_spectra=len(envelopes),
    )
    reading = read_family(
        bed,
        [seed_lines(bed, bed.blocks[0], strikes)],
        amplitude,
        place,
        highest_line=n_lines - 1,
    )
    depths = [
        modulation_depth(envelope, float(at), 3)
        for envelope in envelopes
        if envelope.detector == "squared"
        for at in place.orders
    ]
    # The limit of hard hits and the time grid differ a little: a twentieth of the depth.
    assert reading.depth == pytest.approx(max(depths), rel=0.1)
    assert reading.depth > 0.2
    assert reading.evidence > 20.0


def test_nothing_can_be_seeded_into_silence_or_beside_the_bank() -> None:
    assert seed_bed([limited(np.zeros(N_SAMPLES))], BANDS, ring_hz=RING_HZ) is None
    assert seed_bed([limited(noise())], BANDS, ring_hz=20.0) is None


def test_bands_about_the_resonance_are_read() -> None:
    bed = seed_bed([limited(noise())], BANDS, ring_hz=RING_HZ)
    assert bed is not None
    assert set(bed.bands) <= set(BANDS)
    assert all(low < RING_HZ * 1.2 and high > RING_HZ / 1.2 for low, high in bed.bands)
    assert min(high - low for low, high in bed.bands) < 0.5 * (BANDS[0][1] - BANDS[0][0])


FOUND = Found(evidence=20.0, depth=0.15)


@given(evidence=st.floats(0.0, 1e4), depth=st.floats(0.0, 3.5))
def test_found_means_both(evidence: float, depth: float) -> None:
    gap = FOUND.log_gap(Reading(evidence=evidence, depth=depth))
    assert (gap >= 0) == (evidence >= 20.0 and depth >= 0.15)


@settings(max_examples=40, deadline=None)
@given(needed=st.floats(-4.0, 4.0), power=st.floats(0.8, 3.5), limit=st.floats(0.2, 1.0))
def test_the_critical_size_is_where_a_reading_crosses(
    needed: float, power: float, limit: float
) -> None:
    """Readings that grow with any power and saturate; a gap of 0.15 at the flattest slope."""

    def read(amplitude: float) -> Reading:
        depth = min(0.15 * (amplitude / math.exp(needed)) ** power, 0.15 + limit)
        return Reading(evidence=1e6, depth=depth)

    critical = critical_size(Train(read=read, log_start=0.0), FOUND)
    assert critical.log_size == pytest.approx(needed, abs=0.15)
    assert read(math.exp(critical.log_read)).depth == critical.depth_read


def test_what_is_never_found_has_no_size() -> None:
    never = Train(read=lambda _: Reading(evidence=12.0, depth=1.0), log_start=0.0)
    assert critical_size(never, FOUND).log_size == math.inf


@pytest.mark.parametrize(
    ("n_values", "confidence", "factor"),
    [(3, 0.95, 7.655), (10, 0.95, 2.911), (10, 0.90, 2.568), (25, 0.90, 2.132), (50, 0.95, 2.065)],
)
def test_the_tolerance_factor_is_that_of_the_tables(
    n_values: int, confidence: float, factor: float
) -> None:
    """One-sided factors for 95 % of a normal population, both parameters unknown.

    M. G. Natrella, Experimental Statistics, NBS Handbook 91 (1963), table A-7, from memory.
    """
    found = tolerance_factor(n_values, 0.95, confidence=confidence)
    assert found == pytest.approx(factor, abs=1.1e-3)


def test_at_the_size_of_a_share_at_least_so_many_are_found() -> None:
    """In 90 of 100 sets of 24 the size suffices (1000 sets: +- 0.03)."""
    sets = 0.1 * np.random.default_rng(6).standard_normal((1000, 24))
    sizes = np.array([size_for_share([(1.0, row)], 0.95) for row in sets])
    found = special.ndtr(sizes / 0.1)
    assert np.mean(found >= 0.95) == pytest.approx(0.9, abs=0.03)


def test_few_alike_sizes_do_not_hide_a_scatter_that_is_known() -> None:
    alike = [0.0] * 16
    expected = 0.2 * tolerance_factor(16, 0.95)
    assert size_for_share([(1.0, alike)], 0.95, least_scatter=0.2) == pytest.approx(expected)


def test_rare_kinds_of_trains_count_as_often_as_they_occur() -> None:
    easy, hard = [0.0, 0.01, -0.01] * 5, [2.0, 2.01, 1.99] * 3
    assert size_for_share([(0.98, easy), (0.02, hard)], 0.95) < 0.1
    assert size_for_share([(0.9, easy), (0.1, hard)], 0.95) == pytest.approx(2.0, abs=0.02)
    never = [math.inf] * 8
    assert size_for_share([(0.98, easy), (0.02, never)], 0.95) < 0.1
    assert size_for_share([(0.9, easy), (0.1, never)], 0.95) == math.inf
    assert size_for_share([(1.0, never)], 0.95) == math.inf
