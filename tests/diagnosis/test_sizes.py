"""How big a family is: Fourier series of a periodic strike train, and exact line readings."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, block_spectra, envelope_orders
from vibhealth.diagnosis.sizes import (
    line_depth,
    line_to_floor_db,
    line_window,
    modulation_depth,
)
from vibhealth.signal import RecordSpectrum

Train = Callable[..., NDArray[np.float64]]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
DECAY = 2 * np.pi * 0.04 * 1000.0
ORDER = 3.6
STRIKE_HZ = ORDER * SHAFT_HZ
WIDE_HZ = (192.0, 2000.0)

ROUND_OFF = 1e-12


def flat(
    depth_power: dict[int, float],
    *,
    floor: float = 0.01,
    n_lines: int = 400,
    order_spacing: float = 0.05,
) -> EnvelopeOrders:
    """A spectrum that is its own floor except at the given lines."""
    values = np.full(n_lines, floor)
    for line, power in depth_power.items():
        values[line] = power
    return EnvelopeOrders(
        band_hz=WIDE_HZ,
        detector="squared",
        is_whitened=True,
        order_spacing=order_spacing,
        depth_power=values,
        floor=np.full(n_lines, floor),
        mean_square=1.0,
        n_averages=1,
    )


def test_depth_of_a_line_is_above_the_floor() -> None:
    envelope = flat({40: 0.26})
    assert line_depth(envelope, 2.0, 1) == pytest.approx(0.5, rel=ROUND_OFF)
    assert line_depth(envelope, 2.04, 1) == pytest.approx(0.5, rel=ROUND_OFF)  # one line beside
    assert line_depth(envelope, 2.1, 1) == 0.0  # two lines beside
    assert line_depth(envelope, 3.0, 1) == 0.0


def test_a_wandering_line_is_summed_over_its_width() -> None:
    envelope = flat({39: 0.05, 40: 0.06, 42: 0.02})
    assert line_depth(envelope, 2.0, 3) == pytest.approx(np.sqrt(0.09), rel=1e-9)
    assert line_depth(envelope, 2.0, 5) == pytest.approx(np.sqrt(0.10), rel=1e-9)
    assert line_depth(envelope, 2.0, 1) == pytest.approx(np.sqrt(0.05), rel=1e-9)


@pytest.mark.parametrize("side", [-1, 1])
def test_the_shafts_line_is_none_of_a_family_beside_it(side: int) -> None:
    """A guard's line at 2x, 1000 times the family's own, ten lines away: read as if it were not."""
    fine: dict[str, Any] = {"order_spacing": 0.001, "n_lines": 8000}
    family = {2000 + 10 * side: 0.01, 4000 + 20 * side: 0.01, 6000 + 30 * side: 0.01}
    beside = {2000: 10.0, 2000 + side: 1.0, 4000: 10.0, 6000: 10.0}
    order = 2.0 + 0.01 * side
    alone = modulation_depth(flat(family, floor=1e-4, **fine), order, 9)
    assert alone == pytest.approx(np.sqrt(3 * (0.01 - 1e-4)), rel=1e-9)
    for width in (1, 9, 25):
        both = modulation_depth(flat(family | beside, floor=1e-4, **fine), order, width)
        assert both == pytest.approx(alone, rel=1e-9)


def test_a_family_on_the_shafts_own_line_is_read_whole() -> None:
    envelope = flat({2000: 0.04, 2002: 0.03}, order_spacing=0.001, n_lines=8000)
    assert line_depth(envelope, 2.002, 5) == pytest.approx(np.sqrt(0.07 - 2 * 0.01), rel=1e-9)


@given(
    st.integers(1, 40), st.floats(0.003, 0.497), st.sampled_from([-1.0, 1.0]), st.integers(0, 300)
)
def test_a_window_never_reaches_halfway_to_the_shafts_line(
    whole: int, away: float, side: float, half_width: int
) -> None:
    long, short = (flat({}, order_spacing=0.001, n_lines=n_lines) for n_lines in (50_000, 10))
    lines = line_window(long, whole + side * away, half_width)
    at = round(1000 * (whole + side * away))
    assert lines.start <= at < lines.stop
    assert max(at - lines.start, lines.stop - 1 - at) <= half_width
    nearest = lines.start if side > 0 else lines.stop - 1
    assert abs(nearest - 1000 * whole) >= 500 * away - 1
    assert line_window(short, whole + away, half_width) == slice(0, 0)


def test_lines_outside_the_spectrum_have_no_depth() -> None:
    assert line_depth(flat({}), 0.0, 1) == 0.0
    assert line_depth(flat({}), 100.0, 1) == 0.0
    below = flat({40: 0.0})
    assert line_depth(below, 2.0, 3) == 0.0


def test_depth_of_a_family_is_the_root_of_summed_squares() -> None:
    envelope = flat({40: 0.10, 80: 0.05, 120: 0.02})
    assert modulation_depth(envelope, 2.0, 1) == pytest.approx(np.sqrt(0.14), rel=1e-9)


def test_level_over_the_floor_in_db() -> None:
    envelope = flat({40: 1.0, 81: 0.1})
    assert line_to_floor_db(envelope, 2.0, 1) == pytest.approx((20.0, 10.0, 0.0), abs=1e-9)
    assert line_to_floor_db(envelope, 9.0, 1)[2] == -60.0


@pytest.fixture(scope="module")
def spectra(spall_train: Train) -> list[RecordSpectrum]:
    """Strikes of amplitude 10 without noise, jitter or slip."""
    train = spall_train(ORDER, amplitude=10.0, jitter=0.0, slip_walk=0.0, noise=0.0)
    return block_spectra(train, RATE_HZ, shaft_frequency_hz=16.0, lowest_hz=0.0)[0]


def test_depth_of_a_periodic_train_is_its_fourier_series(spectra: list[RecordSpectrum]) -> None:
    """exp(-2 b t) repeated f times a second: line n over the mean is 2 / sqrt(1 + (pi n f / b)^2).

    Sharp edges of the band cut a little of the Lorentzian resonance, and a strike begins before
    the last has quite died away (exp(-b / f) = 1.3 %): 2 %.
    """
    envelope = envelope_orders(spectra, WIDE_HZ, shaft_frequency_hz=SHAFT_HZ, highest_order=14.0)
    lines = [2 / np.hypot(1, np.pi * n * STRIKE_HZ / DECAY) for n in (1, 2, 3)]
    found = [line_depth(envelope, n * ORDER, 1) for n in (1, 2, 3)]
    assert found == pytest.approx(lines, rel=0.02)
    whole = float(np.sqrt(np.sum(np.square(lines))))
    assert modulation_depth(envelope, ORDER, 1) == pytest.approx(whole, rel=0.02)
    # A^2 f / (2 b), less what the band cuts.
    assert envelope.mean_square == pytest.approx(100 * STRIKE_HZ / (2 * DECAY), rel=0.05)
