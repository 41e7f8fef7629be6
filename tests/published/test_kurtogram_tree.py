"""The tree of band widths of the fast kurtogram.

J. Antoni, "Fast computation of the kurtogram for the detection of transient faults",
Mechanical Systems and Signal Processing 21 (2007) 108-124, from memory: level k divides the
spectrum into 2^k bands of fs / 2^(k+1), and the one-third-binary tree puts levels of 3, 6,
12, ... bands between them.
"""

import itertools
from collections import Counter

import pytest

from vibhealth.signal.band_bank import band_bank

RATE_HZ = 48_000.0
LOWEST_HZ = 1e-6  # a bank begins above 0; this moves a width by less than 1e-9 of it


def test_widths_and_counts_are_those_of_the_tree() -> None:
    binary = {2**k: RATE_HZ / 2 ** (k + 1) for k in range(5)}
    third = {3 * 2**k: RATE_HZ / (6 * 2**k) for k in range(3)}
    nyquist_hz = RATE_HZ / 2
    bands = band_bank((LOWEST_HZ, nyquist_hz), narrowest_hz=1.0, nyquist_hz=nyquist_hz)
    groups = [list(group) for _, group in itertools.groupby(bands, lambda b: round(b[1] - b[0]))]
    assert {len(group): group[0][1] - group[0][0] for group in groups} == {
        count: pytest.approx(width, rel=1e-8) for count, width in (binary | third).items()
    }
    # The same widths as printed shares of the sampling rate.
    shares = Counter(round(RATE_HZ / (high - low)) for low, high in bands)
    assert sorted(shares) == [2, 4, 6, 8, 12, 16, 24, 32]
