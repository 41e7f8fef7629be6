"""The depth's interval: closed forms on drawn lines, coverage on simulated trains."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis.comb import HARMONICS
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, block_spectra, envelope_orders
from vibhealth.diagnosis.size_intervals import (
    SizedDepth,
    depth_with_interval,
    strike_scatter,
)
from vibhealth.signal import RecordSpectrum, record_spectrum, squared_envelope

Array = NDArray[np.float64]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
ORDER = 3.5731
BAND_HZ = (500.0, 1500.0)
N_TRIALS = 35
# Five cases of N_TRIALS; stated are 90 %, wanted 85 to 95 %, and the binomial standard error of
# all trials is 2.3 %: twice. Of one case it is 5 %: three times.
LEAST_COVERED, MOST_COVERED = 0.80, 1.0
LEAST_COVERED_IN_ONE = 0.70


def whitened(samples: Array) -> list[RecordSpectrum]:
    return block_spectra(samples, RATE_HZ, shaft_frequency_hz=SHAFT_HZ, lowest_hz=192.0)[1]


def read(spectra: list[RecordSpectrum]) -> SizedDepth:
    return depth_with_interval(
        envelope_orders(spectra, BAND_HZ, shaft_frequency_hz=SHAFT_HZ, highest_order=14.0),
        spectra,
        order=ORDER,
        width_lines=3,
        shaft_frequency_hz=SHAFT_HZ,
    )


def strike_places(order: float, walk: float, rng: np.random.Generator) -> Array:
    count = int(order * 330)
    steps = (1 + walk * rng.standard_normal(count)) / order
    return np.asarray(np.cumsum(steps) - rng.random() / order)


def train(amplitude: float, walk: float, rng: np.random.Generator) -> tuple[Array, Array]:
    """300 turns of strikes of scattering strength in unit noise; strikes counted at each sample."""
    turns = strike_places(ORDER, walk, rng)
    decay = 2 * np.pi * 0.04 * 1000.0
    start_s = (turns + 0.005 / ORDER * rng.standard_normal(turns.size)) / SHAFT_HZ
    n_samples = round(300 / SHAFT_HZ * RATE_HZ)
    index = np.ceil(start_s * RATE_HZ).astype(np.int64)[:, None] + np.arange(163)
    since_s = index / RATE_HZ - start_s[:, None]
    heights = amplitude * (1 - 0.1 * rng.random(turns.size))
    pulse = heights[:, None] * np.exp(-decay * since_s) * np.sin(2 * np.pi * 1000 * since_s)
    out = rng.standard_normal(n_samples)
    inside = (index >= 0) & (index < n_samples)
    np.add.at(out, index[inside], pulse[inside])
    number = np.interp(np.arange(n_samples) / RATE_HZ * SHAFT_HZ, turns, np.arange(turns.size))
    return out, number


def true_lines(spectrum: RecordSpectrum, number: Array) -> NDArray[np.complex128]:
    """Amplitudes of the three lines when the cage's wander is known and taken out."""
    envelope = squared_envelope(spectrum, BAND_HZ)
    at = np.arange(envelope.size) * spectrum.n_samples / envelope.size
    strike = np.interp(at, np.arange(number.size), number)
    lines = [np.mean(envelope * np.exp(-2j * np.pi * h * strike)) for h in HARMONICS]
    return np.asarray(np.array(lines) * 2 / envelope.mean())


def covered(amplitude: float, walk: float) -> float:
    """Share of trials whose interval holds the true depth.

    Truth: all trials' lines summed in phase with the true strikes, so that noise averages out.
    """
    readings, lines = [], []
    for seed in range(N_TRIALS):
        samples, number = train(amplitude, walk, np.random.default_rng([7, seed]))
        spectra = whitened(samples)
        readings.append(read(spectra))
        lines.append(true_lines(spectra[0], number))
    truth = float(np.linalg.norm(np.mean(lines, axis=0)))
    assert np.median([reading.depth for reading in readings]) == pytest.approx(truth, rel=0.06)
    # Neither so wide as to say nothing: twice the scatter of the readings, both ways.
    width = np.median([reading.high - reading.low for reading in readings])
    assert width < 2 * 2 * 1.645 * np.std([reading.depth for reading in readings])
    return float(np.mean([reading.low <= truth <= reading.high for reading in readings]))


def test_the_interval_covers_the_true_depth() -> None:
    """Depths of 0.12 to 1.5, of a steady cage and of ones that wander by 0.5 and 1 % per element."""
    cases = [(1.8, 0.0), (8.0, 0.0), (2.0, 0.005), (20.0, 0.005), (3.0, 0.01)]
    shares = [covered(amplitude, walk) for amplitude, walk in cases]
    assert min(shares) >= LEAST_COVERED_IN_ONE
    assert LEAST_COVERED <= np.mean(shares) <= MOST_COVERED


def lines_of(power: Array, floor: float, n_averages: int = 1) -> EnvelopeOrders:
    return EnvelopeOrders(
        band_hz=BAND_HZ,
        detector="squared",
        is_whitened=True,
        order_spacing=0.002,
        depth_power=power,
        floor=np.full(power.size, floor),
        mean_square=1.0,
        n_averages=n_averages,
    )


def drawn(envelope: EnvelopeOrders, width_lines: int = 3) -> SizedDepth:
    """Interval of drawn lines; the scatter is that of a record of noise, about nothing."""
    samples = np.random.default_rng(5).standard_normal(2**14)
    return depth_with_interval(
        envelope,
        [record_spectrum(samples, RATE_HZ)],
        order=2.0,
        width_lines=width_lines,
        shaft_frequency_hz=SHAFT_HZ,
    )


def test_a_line_spread_over_its_window_is_summed_whole() -> None:
    """Eleven lines of 0.02; what is allowed for beyond them is three times the noise of a window."""
    power = np.full(3500, 1e-4)
    power[995:1006] += 0.02
    found = drawn(lines_of(power, 1e-4))
    assert found.depth == pytest.approx(np.sqrt(0.22), rel=0.02)
    assert 11 <= found.width_lines <= 15


def test_tails_of_a_wandering_line_are_added() -> None:
    """A Lorentzian line of power 0.3 and half width 4: its tails outside 31 lines are a sixth."""
    power = np.full(3500, 1e-5)
    offset = np.arange(-400, 401)
    power[600:1401] += 0.3 * 4 / np.pi / (16 + offset**2)
    assert drawn(lines_of(power, 1e-5)).depth == pytest.approx(np.sqrt(0.3), rel=0.02)


def test_nothing_above_the_floor_is_no_depth_but_has_an_upper_bound() -> None:
    nothing = drawn(lines_of(np.full(3500, 0.9e-4), 1e-4))
    assert nothing.depth == nothing.low == 0.0
    assert 0.0 < nothing.high < 0.1


def test_averages_narrow_the_interval() -> None:
    power = np.full(3500, 1e-2)
    power[1000] += 0.05
    one, four = (drawn(lines_of(power, 1e-2, n)) for n in (1, 4))
    assert four.depth == one.depth
    assert four.high - four.low < one.high - one.low


def test_lines_outside_the_spectrum_count_nothing() -> None:
    power = np.full(2500, 1e-4)
    power[[1000, 2000]] += 0.01
    assert drawn(lines_of(power, 1e-4)).depth == pytest.approx(np.sqrt(0.02), rel=1e-9)
    nowhere = drawn(lines_of(np.full(900, 1e-4), 1e-4))
    assert nowhere.depth == nowhere.low == nowhere.high == 0.0


@settings(max_examples=5, deadline=None)
@given(gain=st.floats(1e-3, 1e3))
def test_gain_changes_nothing(gain: float) -> None:
    """Whitening keeps phases alone: round-off of two transforms."""
    samples, _ = train(5.0, 0.002, np.random.default_rng(3))
    plain, louder = read(whitened(samples)), read(whitened(gain * samples))
    assert (louder.low, louder.depth, louder.high) == pytest.approx(
        (plain.low, plain.depth, plain.high), rel=1e-6
    )


def test_stronger_strikes_read_deeper() -> None:
    depths = [
        read(whitened(train(amplitude, 0.002, np.random.default_rng(4))[0]))
        for amplitude in (2.0, 4.0, 8.0)
    ]
    for weak, strong in pairwise(depths):
        assert strong.low > weak.high


def test_scatter_of_known_strength() -> None:
    """A carrier whose squared envelope is 1 + 0.4 (1 + g) cos, with a new g of standard deviation
    0.2 every turn: the mean of 300 of them has the standard error 0.2 / sqrt(300). It is read from
    90 lines: a chi-square scatter of 1 / sqrt(180) = 7 % of the root, three times."""
    rng = np.random.default_rng(11)
    n_samples = 300 * 256
    time_s = np.arange(n_samples) / RATE_HZ
    slow = np.repeat(0.2 * rng.standard_normal(300), 256)  # a new strength every turn
    squared = 1 + 0.4 * (1 + slow) * np.cos(2 * np.pi * ORDER * SHAFT_HZ * time_s)
    samples = np.sqrt(squared) * np.cos(2 * np.pi * 1000 * time_s)
    spectrum = record_spectrum(samples, RATE_HZ, taper=0.0)
    error = strike_scatter(
        [spectrum],
        BAND_HZ,
        strike_hz=ORDER * SHAFT_HZ,
        width_hz=3 * spectrum.line_spacing_hz,
        shaft_frequency_hz=SHAFT_HZ,
    )
    assert error == pytest.approx(0.2 / np.sqrt(300), rel=0.25)
