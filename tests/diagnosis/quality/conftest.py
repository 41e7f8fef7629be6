"""What the tests of recording faults share: an invented deck feeder and its recordings."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.quality import check_recording
from vibhealth.model import Calibration, QualityFinding, Recording
from vibhealth.units import STANDARD_GRAVITY_M_S2

Array = NDArray[np.float64]
Findings = dict[str, QualityFinding]

SAMPLING_RATE_HZ = 6400.0
SHAFT_HZ = 16.3


@pytest.fixture(scope="session")
def feeder() -> Callable[..., Array]:
    """1x with two harmonics and white noise, in g; 30 s are 489 turns."""

    def make(
        *,
        seconds: float = 30.0,
        amplitude_g: float = 5.0,
        noise_g: float = 0.1,
        seed: int = 0,
    ) -> Array:
        rng = np.random.default_rng(seed)
        t = np.arange(round(seconds * SAMPLING_RATE_HZ)) / SAMPLING_RATE_HZ
        turn = 2 * np.pi * SHAFT_HZ * t
        motion = np.sin(turn) + 0.03 * np.sin(2 * turn + 1) + 0.01 * np.sin(3 * turn)
        return np.asarray(amplitude_g * motion + noise_g * rng.standard_normal(t.size))

    return make


@pytest.fixture(scope="session")
def pcm() -> Callable[..., Array]:
    """Round to an integer converter's grid and limit to its range."""

    def convert(x_g: Array, *, bits: int, full_scale_g: float) -> Array:
        top = 2 ** (bits - 1)
        counts = np.clip(np.round(x_g / full_scale_g * top), -top, top - 1)
        return np.asarray(counts * full_scale_g / top)

    return convert


@pytest.fixture(scope="session")
def recording() -> Callable[..., Recording]:
    """A calibrated recording of samples in g."""

    def make(x_g: Array, **changes: Any) -> Recording:
        known: dict[str, Any] = {
            "samples": np.asarray(x_g, dtype=np.float64) * STANDARD_GRAVITY_M_S2,
            "sampling_rate_hz": SAMPLING_RATE_HZ,
            "unit": "m/s2",
            "path": "as-left/P1X.wav",
            "sha256": "",
            "calibration": Calibration(scale_m_s2=STANDARD_GRAVITY_M_S2, source="file in g"),
            "sensor_range_m_s2": 50 * STANDARD_GRAVITY_M_S2,
            "sensor_usable_hz": (1.0, 10000.0),
        }
        return Recording(**known | changes)

    return make


@pytest.fixture(scope="session")
def uncalibrated(recording: Callable[..., Recording]) -> Callable[..., Recording]:
    """A recording of file values that nobody knows the unit of."""

    def make(x: Array, **changes: Any) -> Recording:
        return recording(x, samples=np.asarray(x), unit="counts", calibration=None, **changes)

    return make


@pytest.fixture(scope="session")
def findings() -> Callable[..., Findings]:
    """All findings of a recording of the feeder, by id."""

    def check(item: Recording, **options: Any) -> Findings:
        needs: dict[str, Any] = {
            "shaft_frequency_hz": SHAFT_HZ,
            "bearing_band_hz": (1000.0, 3000.0),
        }
        return {finding.id: finding for finding in check_recording(item, **needs | options)}

    return check


@pytest.fixture(scope="session")
def result(findings: Callable[..., Findings]) -> Callable[..., str]:
    """The result of one check, by its id."""

    def check(item: Recording, name: str, **options: Any) -> str:
        return findings(item, **options)[name].result.value

    return check
