"""The free swing: exact recovery, what stands beside it, and refusals."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.errors import InputError
from vibhealth.signal.free_decay import (
    fit_free_decay,
    logarithmic_decrement,
    unbalance_amplification,
)

Array = NDArray[np.float64]
RATE_HZ = 200.0
# Without noise the fit ends where a step changes neither parameter by more than 1e-6.
EXACT = 1e-4
TIME_S = np.arange(round(6 * RATE_HZ)) / RATE_HZ


def swing(hz: float, zeta: float, *, size: float = 1.0, phase: float = 0.4) -> Array:
    omega = 2 * np.pi * hz
    damped = omega * np.sqrt(1 - zeta**2)
    return np.asarray(size * np.exp(-zeta * omega * TIME_S) * np.cos(damped * TIME_S + phase))


@settings(max_examples=25, deadline=None)
@given(
    hz=st.floats(2.0, 5.0), zeta=st.floats(0.02, 0.1), phase=st.floats(0, 6), size=st.floats(0.1, 9)
)
def test_a_free_swing_is_recovered(hz: float, zeta: float, phase: float, size: float) -> None:
    values = swing(hz, zeta, size=size, phase=phase) + 0.3
    found = fit_free_decay(values, RATE_HZ, range_hz=(1.0, 8.0))
    assert found.natural_frequency_hz == pytest.approx(hz, rel=EXACT)
    assert found.damping_ratio == pytest.approx(zeta, rel=20 * EXACT)
    assert found.amplitude == pytest.approx(size, rel=20 * EXACT)
    assert found.residual_share < EXACT
    assert np.allclose(found.free, values - 0.3, atol=1e-3 * size)


def test_a_forced_motion_with_drifting_size_does_not_disturb_it() -> None:
    wave = np.exp(2j * np.pi * (7.0 * TIME_S + 0.4 * TIME_S**2))
    drift = 1 - 0.3 * TIME_S / TIME_S[-1] + 0.2 * (TIME_S / TIME_S[-1]) ** 2
    values = swing(3.1, 0.05) + 2.0 * (drift * wave * np.exp(0.7j)).real
    found = fit_free_decay(values, RATE_HZ, range_hz=(1.0, 8.0), forced=wave)
    assert found.natural_frequency_hz == pytest.approx(3.1, rel=EXACT)
    assert found.damping_ratio == pytest.approx(0.05, rel=20 * EXACT)
    alone = fit_free_decay(values, RATE_HZ, range_hz=(1.0, 8.0))
    assert alone.residual_share > 0.5


def test_the_unit_does_not_matter() -> None:
    rng = np.random.default_rng(3)
    values = swing(3.1, 0.05) + 0.05 * rng.standard_normal(TIME_S.size)
    one = fit_free_decay(values, RATE_HZ, range_hz=(1.0, 8.0))
    other = fit_free_decay(1e-4 * values, RATE_HZ, range_hz=(1.0, 8.0))
    assert other.natural_frequency_hz == pytest.approx(one.natural_frequency_hz, rel=1e-4)
    assert other.damping_ratio == pytest.approx(one.damping_ratio, rel=1e-2)


def test_noise_alone_is_left_unexplained() -> None:
    values = np.random.default_rng(4).standard_normal(TIME_S.size)
    assert fit_free_decay(values, RATE_HZ, range_hz=(1.0, 8.0)).residual_share > 0.9


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"samples": np.zeros(8)}, "samples must hold at least 16 values"),
        ({"samples": np.full(100, np.nan)}, "samples must be finite"),
        ({"samples": np.zeros((2, 100))}, "need one channel and 0 < low < high < 100 Hz"),
        ({"sampling_rate_hz": 0.0}, "sampling_rate_hz must be a finite number above 0"),
        ({"range_hz": (3.0, 2.0)}, "need one channel and 0 < low < high < 100 Hz"),
        ({"range_hz": (1.0, 100.0)}, "need one channel and 0 < low < high < 100 Hz"),
        ({"forced": np.ones(5)}, "forced must have 1200 values, got shape (5,)"),
    ],
)
def test_refusals(changed: dict[str, object], message: str) -> None:
    arguments: dict[str, object] = {
        "samples": swing(3.0, 0.05),
        "sampling_rate_hz": RATE_HZ,
        "range_hz": (1.0, 8.0),
    }
    with pytest.raises(InputError, match=re.escape(message)):
        fit_free_decay(**(arguments | changed))  # type: ignore[arg-type]


def test_closed_forms_refuse_what_no_body_has() -> None:
    with pytest.raises(InputError, match="damping_ratio must be a finite number above 0"):
        unbalance_amplification(1.0, 0.0)
    with pytest.raises(InputError, match="frequency_ratio must be 0 or more, got -1"):
        unbalance_amplification([1.0, -1.0], 0.1)
    with pytest.raises(InputError, match="damping_ratio must lie below 1"):
        logarithmic_decrement(1.0)
