"""Waveform numbers: hand-computed cases, scaling laws, scipy as outside reference, refusals."""

import re

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.errors import InputError
from vibhealth.signal import (
    block_median_rms,
    crest_factor,
    kurtosis,
    peak,
    peak_to_peak,
    rms,
    skewness,
)

NOISE = np.random.default_rng(7).gamma(2.0, size=(3, 500))  # lopsided, so that skewness counts
RELATIVE = 1e-9  # sums of 500 terms, gains up to 1e3 and offsets up to 1e3: eps * 500 * 1e3


def test_by_hand() -> None:
    x = [1.0, -5.0, 2.0, 4.0]  # mean 0.5; squares 1 + 25 + 4 + 16 = 46
    assert rms(x) == pytest.approx(np.sqrt(46.0 / 4.0))
    assert peak(x) == 5.0
    assert peak_to_peak(x) == 9.0
    assert crest_factor(x) == pytest.approx(5.0 / np.sqrt(11.5))
    # deviations 0.5, -5.5, 1.5, 3.5: m2 = 11.25, m3 = -30, m4 = 267.5625
    assert kurtosis(x) == pytest.approx((0.0625 + 915.0625 + 5.0625 + 150.0625) / 4 / 11.25**2)
    assert skewness(x) == pytest.approx((0.125 - 166.375 + 3.375 + 42.875) / 4 / 11.25**1.5)


def test_agrees_with_scipy_along_the_last_axis() -> None:
    np.testing.assert_allclose(
        kurtosis(NOISE), scipy.stats.kurtosis(NOISE, axis=-1, fisher=False), rtol=RELATIVE
    )
    np.testing.assert_allclose(skewness(NOISE), scipy.stats.skew(NOISE, axis=-1), rtol=RELATIVE)
    assert rms(NOISE).shape == peak(NOISE).shape == crest_factor(NOISE).shape == (3,)


@given(gain=st.floats(1e-3, 1e3), offset=st.floats(-1e3, 1e3))
def test_scaling_laws(gain: float, offset: float) -> None:
    """rms, peaks scale; shape numbers do not; mean moves only what includes it."""
    np.testing.assert_allclose(rms(gain * NOISE), gain * rms(NOISE), rtol=RELATIVE)
    np.testing.assert_allclose(peak(-gain * NOISE), gain * peak(NOISE), rtol=RELATIVE)
    np.testing.assert_allclose(crest_factor(-gain * NOISE), crest_factor(NOISE), rtol=RELATIVE)
    shifted = NOISE + offset
    np.testing.assert_allclose(peak_to_peak(shifted), peak_to_peak(NOISE), rtol=RELATIVE)
    np.testing.assert_allclose(kurtosis(shifted), kurtosis(NOISE), rtol=RELATIVE)
    np.testing.assert_allclose(skewness(-gain * NOISE), -skewness(NOISE), rtol=RELATIVE)
    np.testing.assert_allclose(
        rms(shifted) ** 2,
        rms(NOISE) ** 2 + 2 * offset * NOISE.mean(axis=-1) + offset**2,
        rtol=1e-6,
    )


def test_block_median_ignores_strikes_and_the_rest_of_a_block() -> None:
    """7 blocks of rms 1; strikes in three of them; an unfinished block at the end."""
    x = np.tile([1.0, -1.0], 37)  # 74 samples at 200 Hz: 7 blocks of 10 and 4 samples
    x[[3, 14, 27]] = 1000.0
    x[70:] = 50.0
    assert block_median_rms(x, 200.0) == pytest.approx(1.0)
    assert block_median_rms(np.stack([x, 2 * x]), 200.0) == pytest.approx([1.0, 2.0])
    x[33] = 1000.0  # a fourth of seven blocks: now the median moves
    assert block_median_rms(x, 200.0) > 100.0


@pytest.mark.parametrize("value", [0.0, 7.3])
def test_a_constant_has_no_shape(value: float) -> None:
    message = re.escape("skewness and kurtosis need samples that vary, got a constant")
    for function in (kurtosis, skewness):
        with pytest.raises(InputError, match=message):
            function(np.full(1000, value))


def test_refusals() -> None:
    with pytest.raises(InputError, match=re.escape("a crest factor needs samples that are not")):
        crest_factor(np.zeros(10))
    for function in (rms, peak, peak_to_peak, crest_factor, kurtosis, skewness):
        with pytest.raises(InputError, match=re.escape("samples must be finite, got inf at flat")):
            function([1.0, np.inf, 2.0])
        with pytest.raises(InputError, match=re.escape("samples must hold at least 2 values")):
            function([1.0])
    for seconds in (0.01, 2.0):
        with pytest.raises(InputError, match=re.escape("must hold at least 2 samples and fit")):
            block_median_rms(np.ones(100), 100.0, seconds)
