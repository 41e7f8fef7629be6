"""A bank of bands covers its range once per width, without gap or overlap."""

import itertools
import re
from collections import defaultdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.errors import InputError
from vibhealth.signal.band_bank import BAND_DIVISORS, band_bank

# Edges are sums of up to 16 equal widths.
ROUND_OFF = 1e-9


@given(
    low=st.floats(1.0, 5000.0),
    span=st.floats(10.0, 20_000.0),
    share=st.floats(0.01, 2.0),
)
def test_every_width_tiles_the_range(low: float, span: float, share: float) -> None:
    high, narrowest = low + span, share * span
    bands = band_bank((low, high), narrowest_hz=narrowest, nyquist_hz=high)
    assert bands[0] == (low, high)
    tilings = defaultdict(list)
    for band in bands:
        tilings[round((high - low) / (band[1] - band[0]))].append(band)
    wanted = [d for d in BAND_DIVISORS if d == 1 or span / d >= narrowest * (1 + ROUND_OFF)]
    assert set(wanted) <= set(tilings) <= set(BAND_DIVISORS)
    for divisor, tiles in tilings.items():
        assert len(tiles) == divisor
        assert tiles[0][0] == pytest.approx(low, rel=ROUND_OFF)
        assert tiles[-1][1] == pytest.approx(high, rel=ROUND_OFF)
        for left, right in itertools.pairwise(tiles):
            assert left[1] == pytest.approx(right[0], rel=ROUND_OFF)
        if divisor > 1:
            assert span / divisor >= narrowest * (1 - ROUND_OFF)


def test_widths_are_binary_and_one_third_binary() -> None:
    bands = band_bank((1.0, 4801.0), narrowest_hz=1.0, nyquist_hz=6000.0)
    widths = sorted({round(high - low) for low, high in bands}, reverse=True)
    assert widths == [4800, 2400, 1600, 1200, 800, 600, 400, 300]
    assert len(bands) == sum(BAND_DIVISORS)


def test_the_range_itself_is_kept_however_narrow() -> None:
    assert band_bank((10.0, 20.0), narrowest_hz=50.0, nyquist_hz=100.0) == ((10.0, 20.0),)


@pytest.mark.parametrize(
    ("range_hz", "narrowest", "message"),
    [
        ((0.0, 50.0), 10.0, "band_hz must satisfy 0 < low < high <= 100, got (0.0, 50.0)"),
        ((10.0, 101.0), 10.0, "band_hz must satisfy 0 < low < high <= 100, got (10.0, 101.0)"),
        ((10.0, 50.0), 0.0, "narrowest_hz must be a finite number above 0, got 0.0"),
    ],
)
def test_refusals(range_hz: tuple[float, float], narrowest: float, message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        band_bank(range_hz, narrowest_hz=narrowest, nyquist_hz=100.0)
