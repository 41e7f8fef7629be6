"""Samples that stand still or occur twice."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from vibhealth.model import QualityFinding, Recording

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]


@pytest.mark.parametrize(("length", "expected"), [(7, "pass"), (8, "hold"), (400, "hold")])
@pytest.mark.parametrize("bits", [None, 16])
def test_a_stuck_stretch_holds(
    *,
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    length: int,
    expected: str,
    bits: int | None,
) -> None:
    x = feeder(seconds=10)
    x = x if bits is None else pcm(x, bits=bits, full_scale_g=10)
    x[2000 : 2000 + length] = x[2000]
    finding = findings(recording(x))["repeated-block"]
    assert finding.result == expected
    if expected == "hold":
        assert f"{length} equal samples in a row at 0.312 s" in finding.detail


@pytest.mark.parametrize("full_scale_g", [10.0, 1000.0, 20000.0])
def test_a_coarse_grid_is_not_stuck(
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    full_scale_g: float,
) -> None:
    """16 bit: a step of 0.3 mg, 31 mg and 0.6 g (six times the noise)."""
    x = pcm(feeder(seconds=30), bits=16, full_scale_g=full_scale_g)
    assert result(recording(x), "repeated-block") == "pass"


@pytest.mark.parametrize(("length", "expected"), [(63, "pass"), (64, "hold"), (512, "hold")])
@pytest.mark.parametrize("full_scale_g", [None, 10.0, 1000.0])
def test_a_stretch_that_occurs_twice_holds(
    *,
    feeder: Callable[..., Array],
    pcm: Callable[..., Array],
    recording: Callable[..., Recording],
    findings: Callable[..., Findings],
    length: int,
    expected: str,
    full_scale_g: float | None,
) -> None:
    x = feeder(seconds=10)
    x = x if full_scale_g is None else pcm(x, bits=16, full_scale_g=full_scale_g)
    x[30000 : 30000 + length] = x[10000 : 10000 + length]
    for edge in (-1, length):  # the neighbours differ, so that exactly `length` repeat
        x[30000 + edge] = x[10000 + edge] + 0.5
    finding = findings(recording(x))["repeated-block"]
    assert finding.result == expected
    if expected == "hold":
        assert f"About {length} samples" in finding.detail
        assert "4.688 s" in finding.detail  # 30000 / 6400


@example(seed=6883, step_g=0.1)  # fourteen zeros in a row, by chance
@given(seed=st.integers(0, 10_000), step_g=st.sampled_from([0.0, 0.003, 0.1, 0.3]))
def test_no_repeat_is_seen_in_noise_on_any_grid(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    result: Callable[..., str],
    seed: int,
    step_g: float,
) -> None:
    x = feeder(seconds=2, amplitude_g=0.0, noise_g=0.1, seed=seed)
    x = np.round(x / step_g) * step_g if step_g else x
    assert result(recording(x), "repeated-block") == "pass"
